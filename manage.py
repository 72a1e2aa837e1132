#!/usr/bin/env python
"""Django's command line for this project."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as missing:
        raise SystemExit(
            "Django is not installed here. Run `make run` once, then use .venv/bin/python manage.py."
        ) from missing
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
