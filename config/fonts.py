"""Serves the fonts of the papers to the pages too: they come in Python packages, so no font file lives in the tree.

A page gets the letters of the Latin scripts only, packed for the web: a third of the bytes, and no jump on a slow line.
"""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

from reports.papers.fonts import font_path

FOLDER = "fonts"
SERVED = ("sans", "sans-semibold", "mono-semibold")
# Latin with accents (Vietnamese too), punctuation, money, arrows, the real minus and the trade mark sign.
LETTERS = (
    *range(0x20, 0x250),
    *range(0x1E00, 0x1F00),
    *range(0x2000, 0x2070),
    *range(0x20A0, 0x20C0),
    *range(0x2190, 0x21A0),
    0x2122,
    0x2212,
)
Found = list[str] | str


def served_face(name: str) -> Path:
    """The face as pages get it, packed anew when the package's font is newer."""
    source = font_path(name)
    packed: Path = settings.STYLES_ROOT / FOLDER / f"{source.stem}.woff2"
    if not packed.exists() or packed.stat().st_mtime < source.stat().st_mtime:
        from fontTools import subset  # only where fonts are packed: it takes a moment to load

        options = subset.Options(flavor="woff2", layout_features=["kern", "liga", "tnum", "lnum"])
        face = subset.load_font(str(source), options)
        chosen = subset.Subsetter(options)
        chosen.populate(unicodes=LETTERS)
        chosen.subset(face)
        packed.parent.mkdir(parents=True, exist_ok=True)
        draft = packed.with_suffix(".draft")
        subset.save_font(face, str(draft), options)
        draft.replace(packed)
    return packed


def served_faces() -> list[Path]:
    """The font files the pages may ask for."""
    return [served_face(name) for name in SERVED]


class FontFinder(BaseFinder):
    """Finds fonts/NAME.woff2 for static files, for those faces the stylesheet asks for."""

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Found:  # type: ignore[override]
        folder, _, name = path.replace("\\", "/").partition("/")
        found = [str(face) for face in served_faces() if face.name == name] if folder == FOLDER else []
        return found if find_all else (found[0] if found else [])

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, FileSystemStorage]]:
        storage = FileSystemStorage(location=str(settings.STYLES_ROOT))
        for face in served_faces():
            yield f"{FOLDER}/{face.name}", storage
