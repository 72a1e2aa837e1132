"""How every paper begins: a canvas with fonts, title and language, whose bytes depend on nothing but what is drawn."""

from __future__ import annotations

from io import BytesIO

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fonts import SANS, printable, register_fonts

rl_config.useA85 = 0  # binary streams: a fifth smaller, and every reader and mail server of today takes them

POINTS_PER_MM = 72 / 25.4


def new_canvas(
    size: tuple[float, float], *, title: str, author: str = "", subject: str = "", true_size: bool = False
) -> tuple[Canvas, BytesIO]:
    """An empty canvas and the buffer it saves into. `true_size` asks the reader not to scale when printing."""
    register_fonts()
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=size, invariant=1, pageCompression=1, lang="en-US", initialFontName=SANS)
    canvas.setTitle(printable(title))
    canvas.setAuthor(printable(author))
    canvas.setSubject(printable(subject))
    canvas.setCreator("Kitperch")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    if true_size:
        canvas.setViewerPreference("PrintScaling", "None")
    return canvas, buffer
