"""The stylesheet is written in a few files and served as one: a phone on a slow line asks once."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

SOURCES = ("tokens", "elements", "components", "forms", "bench", "shell")
SHEET = "css/kitperch.css"
STATIC = Path(__file__).parent / "static" / "css"
Found = list[str] | str


def joined_sheet() -> Path:
    """The one file, written anew when a part of it has changed."""
    text = "\n".join((STATIC / f"{name}.css").read_text() for name in SOURCES)
    sheet: Path = settings.STYLES_ROOT / SHEET
    if not sheet.exists() or sheet.read_text() != text:
        sheet.parent.mkdir(parents=True, exist_ok=True)
        draft = sheet.with_suffix(".draft")
        draft.write_text(text)
        draft.replace(sheet)
    return sheet


class StyleFinder(BaseFinder):
    """Finds css/kitperch.css for static files."""

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Found:  # type: ignore[override]
        found = [str(joined_sheet())] if path.replace("\\", "/") == SHEET else []
        return found if find_all else (found[0] if found else [])

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, FileSystemStorage]]:
        joined_sheet()
        yield SHEET, FileSystemStorage(location=str(settings.STYLES_ROOT))
