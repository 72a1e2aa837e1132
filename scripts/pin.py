"""Write the pinned requirements from what is installed and tested now.

    .venv/bin/python scripts/pin.py

requirements.txt is what serving needs; requirements-dev.txt adds what tests and checks need. Both name exact versions
and nothing about where they are fetched from: that is the machine's own affair.
"""

import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent


def closure(wanted: list[str]) -> dict[str, str]:
    """Every package that `wanted` pulls in here, by name, with the version installed."""
    found: dict[str, str] = {}
    walked: set[tuple[str, str]] = set()
    waiting = [(Requirement(text), "") for text in wanted]
    while waiting:
        requirement, extra_of_parent = waiting.pop()
        if requirement.marker and not requirement.marker.evaluate({"extra": extra_of_parent}):
            continue
        name = canonicalize_name(requirement.name)
        for extra in {"", *requirement.extras}:
            if (name, extra) in walked:
                continue
            walked.add((name, extra))
            try:
                installed = distribution(name)
            except PackageNotFoundError as missing:
                raise SystemExit(f"{name} is asked for in pyproject.toml but not installed.") from missing
            found[name] = f"{installed.metadata['Name']}=={installed.version}"
            waiting += [(Requirement(text), extra) for text in installed.requires or []]
    return found


def main() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    serving = closure(project["project"]["dependencies"])
    everything = closure(project["project"]["dependencies"] + project["dependency-groups"]["dev"])
    note = "# Written by scripts/pin.py from pyproject.toml. Do not edit by hand.\n"
    (ROOT / "requirements.txt").write_text(note + "".join(f"{serving[name]}\n" for name in sorted(serving)))
    extra = sorted(everything.keys() - serving.keys())
    lines = "".join(f"{everything[name]}\n" for name in extra)
    (ROOT / "requirements-dev.txt").write_text(f"{note}-r requirements.txt\n{lines}")


if __name__ == "__main__":
    main()
