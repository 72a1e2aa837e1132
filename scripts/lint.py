"""Every check that reads the code without running it. Each one runs even if another failed; any failure fails all.

.venv/bin/python scripts/lint.py
"""

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TEMPLATES = [app for app in ("config", "kits", "sites", "reports") if (ROOT / app / "templates").is_dir()]

CHECKS = {
    "ruff check": ["ruff", "check", "."],
    "ruff format": ["ruff", "format", "--check", "."],
    "mypy": ["mypy"],
    "djlint": ["djlint", "--lint", "--quiet", *(f"{app}/templates" for app in TEMPLATES)],
    "import-linter": ["lint-imports"],
    "migrations": ["python", "manage.py", "makemigrations", "--check", "--dry-run"],
}


def main() -> int:
    programs = Path(sys.executable).parent

    failed = []
    for name, (program, *arguments) in CHECKS.items():
        began = time.monotonic()
        print(f"-- {name}", flush=True)
        command = [str(programs / program), *arguments]
        if subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL).returncode:
            failed.append(name)
        print(f"   {time.monotonic() - began:.1f} s", flush=True)
    print(f"lint failed: {', '.join(failed)}" if failed else "lint: nothing found")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
