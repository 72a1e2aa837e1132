"""Words made to fit a label: wrapped, set smaller, at last cut with an ellipsis. Lengths in points."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas


def wrapped(text: str, font: str, width: float, sizes: Sequence[float]) -> tuple[float, list[str]]:
    """The largest size at which a text takes at most two lines; at the smallest the second line is cut with an ellipsis."""
    for size in sizes:
        lines = lines_of(text, font, size, width)
        if len(lines) <= 2:
            return size, lines
    size = sizes[-1]
    lines = lines_of(text, font, size, width)
    return size, [lines[0], cut(" ".join(lines[1:]), font, size, width)]


def lines_of(text: str, font: str, size: float, width: float) -> list[str]:
    """A text in lines no longer than `width`; a word that is longer is broken."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and stringWidth(joined, font, size) <= width:
            lines[-1] = joined
            continue
        while stringWidth(word, font, size) > width and len(word) > 1:
            fits = next(
                n for n in range(len(word) - 1, 0, -1) if n == 1 or stringWidth(word[:n], font, size) <= width
            )
            lines.append(word[:fits])
            word = word[fits:]
        lines.append(word)
    return lines


def cut(text: str, font: str, size: float, width: float) -> str:
    """A text on one line, cut with an ellipsis where it is too long."""
    if stringWidth(text, font, size) <= width:
        return text
    while text and stringWidth(text + "…", font, size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def draw_fitted(
    canvas: Canvas, text: str, font: str, sizes: Sequence[float], x: float, y: float, width: float
) -> None:
    """Draw a text at the largest of `sizes` that fits, cut where none does."""
    size = next((s for s in sizes if stringWidth(text, font, s) <= width), sizes[-1])
    canvas.setFont(font, size)
    canvas.drawString(x, y, cut(text, font, size, width))
