"""The shops that are measured, each in a database of its own, and turning from one to the other in one process."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scripts.bench.filler import Size

ROOT = Path(__file__).resolve().parent.parent.parent


@dataclass(frozen=True)
class Kind:
    """A shop to be made: the demo, or one of a given size."""

    name: str
    size: Size | None = None

    @property
    def words(self) -> str:
        return (
            "8 kits (demo)"
            if self.size is None
            else f"{self.size.kits:,} kits, {self.size.kits * self.size.stays:,} past stays"
        )


DEMO = Kind("demo")
FEW_STAYS = Kind("few", Size(kits=3, stays=50))
LARGE = Kind("large", Size(kits=int(os.environ.get("BENCH_KITS", "10000")), stays=51))
KINDS = (DEMO, FEW_STAYS, LARGE)


def make(kind: Kind, environment: dict[str, str]) -> None:
    """Migrate and fill the database that the environment names, in processes of their own."""

    def run(*arguments: str) -> None:
        subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, env=environment, check=True, stdin=subprocess.DEVNULL
        )

    run("manage.py", "migrate", "--verbosity", "0")
    if kind.size is None:
        run("manage.py", "load_demo")
    else:
        run("-m", "scripts.bench.filler", "--kits", str(kind.size.kits), "--stays", str(kind.size.stays))


def environment_for(name: str, *, folder: Path, url: str | None) -> dict[str, str]:
    """An environment in which `manage.py` works on the database called `name`, with no other setting of the shop's."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("KITPERCH_")}
    kept |= {"KITPERCH_STATIC": str(folder / "static"), "KITPERCH_SECRET_KEY": "only for measuring " * 3}
    kept.pop("DATABASE_URL", None)
    if url is None:
        return kept | {"KITPERCH_DATABASE": str(folder / f"{name}.sqlite3")}
    return kept | {"DATABASE_URL": url.replace("/postgres?", f"/{name}?")}


def turn_to(kind: Kind, *, folder: Path) -> None:
    """From here on this process works on another shop of the same kind of database."""
    from django.db import connection

    connection.close()
    sqlite = connection.vendor == "sqlite"
    name: Any = folder / f"{kind.name}.sqlite3" if sqlite else kind.name
    connection.settings_dict["NAME"] = name
    connection.ensure_connection()
