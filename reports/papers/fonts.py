"""The two type families of the product, for the papers and for the web pages alike.

Words are set in Source Sans Pro, codes and ROM IDs in IBM Plex Mono; both come from Python packages (see
`FACES`), so no font file lives in the tree. `font_path("sans")` gives the file, for a page to serve or a PDF to embed.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

SANS = "Paper-Sans"
SANS_SEMIBOLD = "Paper-Sans-Semibold"
SANS_ITALIC = "Paper-Sans-Italic"
MONO = "Paper-Mono"
MONO_SEMIBOLD = "Paper-Mono-Semibold"


@dataclass(frozen=True, kw_only=True)
class Face:
    """One font file: the package that ships it, the file in it, the name it has inside our PDFs."""

    package: str
    file_name: str
    pdf_name: str

    @property
    def path(self) -> Path:
        spec = find_spec(self.package)
        if spec is None or not spec.submodule_search_locations:
            raise LookupError(
                f"The font package {self.package} is not installed: install the requirements again."
            )
        return Path(next(iter(spec.submodule_search_locations))) / "files" / self.file_name


_SANS_PACKAGE, _MONO_PACKAGE = "font_source_sans_pro", "fontpkg_ibm_plex_mono"
FACES = {
    "sans": Face(package=_SANS_PACKAGE, file_name="SourceSansPro-Regular.ttf", pdf_name=SANS),
    "sans-semibold": Face(
        package=_SANS_PACKAGE, file_name="SourceSansPro-Semibold.ttf", pdf_name=SANS_SEMIBOLD
    ),
    "sans-italic": Face(package=_SANS_PACKAGE, file_name="SourceSansPro-It.ttf", pdf_name=SANS_ITALIC),
    "mono": Face(package=_MONO_PACKAGE, file_name="IBMPlexMono-Regular.ttf", pdf_name=MONO),
    "mono-semibold": Face(
        package=_MONO_PACKAGE, file_name="IBMPlexMono-SemiBold.ttf", pdf_name=MONO_SEMIBOLD
    ),
}


def font_path(name: str) -> Path:
    """The TrueType file of a face: "sans", "sans-semibold", "sans-italic", "mono", "mono-semibold"."""
    return FACES[name].path


@cache
def register_fonts() -> None:
    """Make the faces known to reportlab; called by every paper, costs something only the first time."""
    for face in FACES.values():
        pdfmetrics.registerFont(TTFont(face.pdf_name, str(face.path)))
    pdfmetrics.registerFontFamily(
        SANS, normal=SANS, bold=SANS_SEMIBOLD, italic=SANS_ITALIC, boldItalic=SANS_SEMIBOLD
    )
    pdfmetrics.registerFontFamily(
        MONO, normal=MONO, bold=MONO_SEMIBOLD, italic=MONO, boldItalic=MONO_SEMIBOLD
    )


@cache
def _glyphs(font_name: str) -> frozenset[int]:
    register_fonts()
    return frozenset(pdfmetrics.getFont(font_name).face.charToGlyph)


# Blanks that differ only in width become the one that does not break; marks that steer other text are not drawn.
_BLANKS = dict.fromkeys((0x00A0, 0x2007, 0x2009, 0x202F), "\u00a0") | {0x3000: " ", 0x09: " "}
_SILENT = dict.fromkeys([0x0D, 0x200B, 0x200C, 0x200D, 0x2060, 0xFE0E, 0xFE0F, 0xFEFF])


@cache
def _drawable(character: str, font_name: str) -> str:
    """What stands for a character in a font: itself, its plain letters, or its number in brackets."""
    glyphs = _glyphs(font_name)
    if ord(character) in glyphs:
        return character
    plain = "".join(c for c in unicodedata.normalize("NFKD", character) if not unicodedata.combining(c))
    if plain and all(ord(c) in glyphs for c in plain):
        return plain
    if unicodedata.category(character) in {"Cc", "Cf", "Mn", "Cs", "Co"}:
        return ""
    return f"[U+{ord(character):04X}]"


def printable(text: str, font_name: str = SANS) -> str:
    """The text with every character the font lacks replaced, so that nothing prints as an empty box.

    Accents are composed first (a phone may send them apart); a letter the font lacks loses its accent; a
    character of another script prints as its number, "[U+5C71]", so that the reader sees that something stood there.
    """
    glyphs = _glyphs(font_name)
    composed = unicodedata.normalize("NFC", text).translate(_BLANKS | _SILENT)
    if all(ord(c) in glyphs for c in composed if c != "\n"):
        return composed
    return "".join(c if c == "\n" else _drawable(c, font_name) for c in composed)
