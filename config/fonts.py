"""Serves the fonts of the papers to the pages too: they come in Python packages, so no font file lives in the tree."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

from reports.papers.fonts import font_path

FOLDER = "fonts"
SERVED = ("sans", "sans-semibold", "mono-semibold")
Found = list[str] | str


def served_faces() -> list[Path]:
    """The font files the pages may ask for."""
    return [font_path(name) for name in SERVED]


class FontFinder(BaseFinder):
    """Finds fonts/NAME.ttf for static files, for those faces the stylesheet asks for."""

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Found:  # type: ignore[override]
        folder, _, name = path.replace("\\", "/").partition("/")
        found = [str(face) for face in served_faces() if folder == FOLDER and face.name == name]
        return found if find_all else (found[0] if found else [])

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, FileSystemStorage]]:
        for face in served_faces():
            storage = FileSystemStorage(location=str(face.parent))
            storage.prefix = FOLDER  # type: ignore[attr-defined]  # collectstatic puts the file beneath it
            yield face.name, storage
