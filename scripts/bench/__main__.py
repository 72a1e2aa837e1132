"""Measure the product beside its floors: one run, one table.

    make bench                     SQLite and PostgreSQL, the demo and 10,000 kits
    python -m scripts.bench --only sqlite      one of the databases
    BENCH_KITS=200 ...                         a smaller large shop, to try the bench itself

Takes some minutes; everything is made in a temporary folder and removed again.
"""

import argparse
import json
import os
import platform
import subprocess
import sys
import time
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from scripts.bench import closing, shops
from scripts.bench.timing import Line, as_table
from scripts.postgres import throwaway_postgresql

ROOT = Path(__file__).resolve().parent.parent.parent
VISITED = ["/", "/kits/", "/calls/", "/sites/", "/sensors/", "/bench/", "/papers/labels/"]


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", choices=["sqlite", "postgresql"])
    parser.add_argument("--inside", help=argparse.SUPPRESS)  # a run of our own within one database
    given = parser.parse_args()
    if given.inside:
        return inside(given.inside)
    lines: list[Line] = []
    with ExitStack() as stack:
        folder = Path(stack.enter_context(TemporaryDirectory(prefix="kitperch-bench-")))
        folder.chmod(0o700)
        if given.only != "postgresql":
            lines += of_database("SQLite", folder, None)
        if given.only != "sqlite":
            lines += of_database("PostgreSQL", folder, stack.enter_context(throwaway_postgresql()))
    lines.sort(key=lambda line: line.section)
    print(f"\n{machine()}\n\n{as_table(lines)}")
    return 0


def of_database(name: str, folder: Path, url: str | None) -> list[Line]:
    """Make the shops, then measure in a process of its own."""
    for kind in shops.KINDS:
        began = time.monotonic()
        if url:
            create_database(url, kind.name)
        shops.make(kind, shops.environment_for(kind.name, folder=folder, url=url))
        print(f"{name}: {kind.words} made in {time.monotonic() - began:.0f} s", flush=True)
    environment = shops.environment_for(shops.DEMO.name, folder=folder, url=url)
    subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"],
        cwd=ROOT,
        env=environment,
        check=True,
    )
    environment |= {"DJANGO_SETTINGS_MODULE": "scripts.bench.settings"}
    command = [sys.executable, "-m", "scripts.bench", "--inside", str(folder)]
    done = subprocess.run(command, cwd=ROOT, env=environment, check=True, stdout=subprocess.PIPE, text=True)
    for size in closing.SIZES if url else ():
        create_database(str(url), closing.name_of(size))
    closes = closing.of_database(name, folder, url)
    return [Line(**row) for row in json.loads(done.stdout.splitlines()[-1])] + closes


def create_database(url: str, name: str) -> None:
    import psycopg

    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}"')


def inside(folder: str) -> int:
    """Measure within the database that the environment names, and print the lines as JSON."""
    import django

    django.setup()
    from django.db import connection

    from scripts.bench import pages, papers, starting

    sqlite = connection.vendor == "sqlite"
    name = "SQLite" if sqlite else "PostgreSQL"
    lines = pages.measure(name, Path(folder))
    if sqlite:  # papers are drawn from plain records, the same on either
        lines += papers.measure()
    shops.turn_to(shops.DEMO, folder=Path(folder))
    cookie = pages.Visitor(role="manager").cookie
    connection.close()
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "config.settings"}
    lines += starting.measure(name, environment, VISITED, cookie)
    print(json.dumps([vars(line) for line in lines]))
    return 0


def machine() -> str:
    """What it was measured on, and by which command."""
    import sqlite3

    import django

    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    busy = ", ".join(f"{load:.1f}" for load in os.getloadavg())
    return (
        f"`make bench`, {datetime.now(UTC):%Y-%m-%d %H:%M} UTC, {os.cpu_count()} cores, {memory:.0f} GiB, "
        f"{platform.system()} {platform.release()}, Python {platform.python_version()}, Django {django.__version__}, "
        f"SQLite {sqlite3.sqlite_version}; load {busy}. Lower quartiles of runs taken in turn; on SQLite the processor's time."
    )


if __name__ == "__main__":
    raise SystemExit(main())
