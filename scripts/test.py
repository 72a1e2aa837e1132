"""Run every test in groups, tell the seconds of each, and fail if a group fails or runs nothing.

.venv/bin/python scripts/test.py            what `make test` runs
.venv/bin/python scripts/test.py --soak     the long tests alone, what `make soak` runs
.venv/bin/python scripts/test.py --group postgresql
"""

import argparse
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from postgres import throwaway_postgresql

ROOT = Path(__file__).resolve().parent.parent
BUDGET_SECONDS = 780
DOCTESTED = ["config", "kits", "sites", "reports"]
COUNT = re.compile(r"(\d+) (passed|failed|errors?|skipped)")


@dataclass(frozen=True)
class Outcome:
    """How one group ended: its closing line as pytest printed it, and what that line counts."""

    group: str
    seconds: float
    exit_code: int
    closing_line: str

    def count(self, *words: str) -> int:
        return sum(int(number) for number, word in COUNT.findall(self.closing_line) if word in words)

    @property
    def is_good(self) -> bool:
        return self.exit_code == 0 and self.count("passed") > 0


def pytest(*arguments: str, url: str = "") -> tuple[int, str]:
    """Run pytest, pass its output on as it comes, and give its exit code and closing line."""
    workers = str(min(os.cpu_count() or 1, 4))
    command = [sys.executable, "-m", "pytest", "-q", "-n", workers, "--dist", "worksteal", *arguments]
    environment = {**os.environ, "DATABASE_URL": url, "PYTHONUNBUFFERED": "1"}
    closing_line = ""
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as run:
        assert run.stdout is not None
        for line in run.stdout:
            print(line, end="", flush=True)
            if re.search(r"\bin [\d.]+s\b", line) and (COUNT.search(line) or "no tests ran" in line):
                closing_line = line.strip().strip("=").strip()
    return run.returncode, closing_line


def on_sqlite(which: str) -> tuple[int, str]:
    return pytest(
        "-m", f"{which} and not browser", "--doctest-modules", "--ignore=config/wsgi.py", "tests", *DOCTESTED
    )


def on_postgresql(which: str) -> tuple[int, str]:
    # What is about pages and not about the database waits for the long run; test_access.py opens every page here too.
    these = "soak or one_database" if which == "soak" else f"{which} and not one_database"
    with throwaway_postgresql() as url:
        return pytest("-m", f"({these}) and not browser", "--database-only", "tests", url=url)


def in_browser(which: str) -> tuple[int, str]:
    return pytest("-m", f"{which} and browser", "tests/browser")


GROUPS: dict[str, Callable[[str], tuple[int, str]]] = {
    "sqlite": on_sqlite,
    "postgresql": on_postgresql,
    "browser": in_browser,
}


def run_group(group: str, which: str) -> Outcome:
    print(f"\n-- {group}", flush=True)
    began = time.monotonic()
    exit_code, closing_line = GROUPS[group](which)
    return Outcome(group, time.monotonic() - began, exit_code, closing_line)


def main() -> int:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--soak", action="store_true")
    arguments.add_argument("--group", choices=GROUPS, action="append")
    given = arguments.parse_args()
    # A stop from outside must still take the PostgreSQL server down.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    groups = given.group or list(GROUPS)
    outcomes = [run_group(group, "soak" if given.soak else "not soak") for group in groups]

    print()
    for outcome in outcomes:
        verdict = "" if outcome.is_good else "   <- NOT GOOD"
        print(
            f"{outcome.group:<11} {outcome.seconds:6.1f} s   {outcome.closing_line or 'no result'}{verdict}"
        )
    total = sum(outcome.seconds for outcome in outcomes)
    over = (
        f"   <- over the {BUDGET_SECONDS} s it may take" if total > BUDGET_SECONDS and not given.soak else ""
    )
    print(f"{'together':<11} {total:6.1f} s{over}")
    passed = sum(outcome.count("passed") for outcome in outcomes)
    failed = sum(outcome.count("failed", "error", "errors") for outcome in outcomes)
    print(f"{passed} passed, {failed} failed", flush=True)
    return 0 if all(outcome.is_good for outcome in outcomes) else 1


if __name__ == "__main__":
    raise SystemExit(main())
