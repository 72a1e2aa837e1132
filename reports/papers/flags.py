"""The flag round a sensor's lead: the same words on two panels, which stick back to back. Lengths in points, y upward."""

from __future__ import annotations

from functools import cache

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fitting import draw_fitted, lines_of
from reports.papers.fonts import MONO, MONO_SEMIBOLD, SANS, SANS_SEMIBOLD, printable
from reports.papers.labels import Place, mm
from reports.papers.palette import INK, QUIET_INK, SPRUCE
from reports.papers.records import SensorFlag
from reports.papers.stock import LabelStock

TAG_SIZES = (28, 24, 20, 17, 14, 12, 10, 9, 8, 7)
FOLD_GAP_MM = 14.0
"""Round a lead of 4 to 5 mm: the strip between the two panels of a flag."""
LOW_PANEL_MM = 12.0
"""A panel lower than this has room for two lines only."""


def draw_sensor_flag(canvas: Canvas, flag: SensorFlag, stock: LabelStock, place: Place) -> None:
    """The flag of a lead: two equal panels with a gap between, which goes round the lead; the backs stick together.

    Folded about the lead both panels stand upright, so neither is mirrored.
    """
    low, high = (place.y + d * mm for d in (stock.inset_y_mm, stock.label_height_mm - stock.inset_y_mm))
    left = place.x + stock.inset_x_mm * mm
    panel = (stock.label_width_mm - 2 * stock.inset_x_mm - FOLD_GAP_MM) / 2 * mm
    draw = _low_panel if high - low < LOW_PANEL_MM * mm else _panel
    for x in (left, left + panel + FOLD_GAP_MM * mm):
        draw(canvas, flag, stock, x, low, panel, high - low)
    _fold_marks(canvas, left + panel + FOLD_GAP_MM * mm / 2, low, high)


def _fold_marks(canvas: Canvas, middle: float, low: float, high: float) -> None:
    canvas.setStrokeColor(QUIET_INK)
    canvas.setLineWidth(0.5)
    canvas.setDash(1, 2)
    canvas.line(middle, low, middle, high)
    canvas.setDash()


def _tail(flag: SensorFlag) -> str:
    tail = "".join(c for c in flag.rom if c.isalnum())[-4:].upper()
    return f"…{tail}" if tail else "no ROM"


def _colour(flag: SensorFlag) -> str:
    """The colour's word, unless the tag says it already."""
    colour = printable(flag.tag_colour.strip())
    return "" if colour.casefold() in flag.tag.casefold() else colour


def _panel(
    canvas: Canvas, flag: SensorFlag, stock: LabelStock, left: float, low: float, width: float, height: float
) -> None:
    """Tag and colour above a rule, the tail of the ROM ID and the kit beneath it."""
    foot = 7.6 * mm
    margin = 1.2 * mm if width > 16 * mm else 0.5 * mm
    x, inner = left + margin, width - 2 * margin
    colour = _colour(flag)
    size, lines = _tag_lines(
        printable(flag.tag.strip()), inner, height - foot - (3.2 * mm if colour else 0), stock
    )
    canvas.setFillColor(INK)
    canvas.setFont(SANS_SEMIBOLD, size)
    for number, line in enumerate(lines):
        canvas.drawString(x, low + height - size * 0.74 - 0.8 * mm - number * size, line)
    if colour:
        draw_fitted(canvas, colour, SANS, (8.5, 7.5, 6.5), x, low + foot + 1.0 * mm, inner)
    canvas.setStrokeColor(SPRUCE)
    canvas.setLineWidth(0.9)
    canvas.line(x, low + foot, x + inner, low + foot)
    draw_fitted(canvas, _tail(flag), MONO_SEMIBOLD, (9.5, 8.5, 7.5), x, low + foot - 3.5 * mm, inner)
    kit = f"kit {flag.kit_code}" if flag.kit_code else "spare"
    if flag.kit_code and stringWidth(kit, MONO, 6.5) > inner:
        kit = flag.kit_code
    draw_fitted(canvas, printable(kit, MONO), MONO, (7.5, 7.0, 6.5, 6.0), x, low + foot - 6.7 * mm, inner)


def _low_panel(
    canvas: Canvas, flag: SensorFlag, stock: LabelStock, left: float, low: float, width: float, height: float
) -> None:
    """Two lines: the tag with its colour, then the tail of the ROM ID and the kit."""
    x, inner = left + 1.0 * mm, width - 2.0 * mm
    rule = low + 3.9 * mm
    colour = _colour(flag)
    colour_width = stringWidth(colour, SANS, 7.5) + 1.5 * mm if colour else 0.0
    size, lines = _tag_lines(printable(flag.tag.strip()), inner - colour_width, height - 4.2 * mm, stock)
    canvas.setFillColor(INK)
    canvas.setFont(SANS_SEMIBOLD, size)
    for number, line in enumerate(lines):
        canvas.drawString(x, rule + 1.0 * mm + (len(lines) - 1 - number) * size, line)
    canvas.setFont(SANS, 7.5)
    canvas.drawRightString(x + inner, rule + 1.0 * mm, colour)
    canvas.setStrokeColor(SPRUCE)
    canvas.setLineWidth(0.9)
    canvas.line(x, rule, x + inner, rule)
    canvas.setFont(MONO_SEMIBOLD, 8.5)
    canvas.drawString(x, low + 1.1 * mm, _tail(flag))
    kit = f"kit {flag.kit_code}" if flag.kit_code else "spare"
    canvas.setFont(MONO, 6.5)
    canvas.drawRightString(x + inner, low + 1.1 * mm, printable(kit, MONO))


@cache
def _tag_lines(tag: str, width: float, height: float, stock: LabelStock) -> tuple[float, list[str]]:
    if not tag:
        raise ValueError("A flag needs a tag, and this sensor has none: give it a number or a colour first.")
    for size in TAG_SIZES:
        words = max(stringWidth(word, SANS_SEMIBOLD, size) for word in tag.split())
        lines = lines_of(tag, SANS_SEMIBOLD, size, width)
        if words <= width and len(lines) * size <= height and len(lines) <= 3:
            return size, lines
    raise ValueError(
        f"The tag “{tag}” is too long for a flag on {stock.title}: shorten it to a number or one word."
    )
