"""One label: a kit's tag with its QR symbol, or the flag round a sensor's lead. Lengths in points, y upward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fonts import MONO, MONO_SEMIBOLD, SANS, SANS_SEMIBOLD, printable
from reports.papers.palette import INK, QUIET_INK, SPRUCE
from reports.papers.pdf import POINTS_PER_MM
from reports.papers.qr import (
    MM_PER_INCH,
    QUIET_MODULES,
    SMALLEST_MODULE_MM,
    Symbol,
    draw_symbol,
    label_symbol,
)
from reports.papers.records import KitLabel, SensorFlag
from reports.papers.stock import LabelStock

mm = POINTS_PER_MM

CODE_SIZES = (22, 21, 20, 19, 18, 17, 16, 15, 14)
NAME_SIZES = (9.0, 8.0, 7.0)
TAG_SIZES = (28, 24, 20, 17, 14, 12, 10, 9)
PHONE_BASE_MM = 1.9
FOLD_GAP_MM = 14.0
"""Round a lead of 4 to 5 mm: the strip between the two panels of a flag."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a label goes: its lower left corner on the page, the page's height, the dots an inch to keep to."""

    x: float
    y: float
    page_height: float
    dpi: int


def module_dots(symbol: Symbol, stock: LabelStock, dpi: int) -> int:
    """How many whole dots a module takes on a stock: as many as fit; a sentence when too few do.

    With an outline all round, the quiet zone ends inside the outline. Without one, the white edge that the
    print head cannot reach counts as quiet zone.
    """
    printable_mm = stock.label_height_mm - 2 * stock.inset_y_mm
    if stock.outline_all_round:
        limit_mm = (printable_mm - 0.3) / symbol.side_with_quiet
    else:
        limit_mm = min(printable_mm / symbol.side, stock.label_height_mm / symbol.side_with_quiet)
    dots = int(min(limit_mm, stock.largest_module_mm) * dpi / MM_PER_INCH + 1e-6)
    if dots * MM_PER_INCH / dpi < SMALLEST_MODULE_MM:
        raise ValueError(
            f"The QR text is too long for {stock.title}: its symbol has {symbol.side} modules a side, and they would be"
            f" smaller than {SMALLEST_MODULE_MM} mm. Use a shorter host name or larger labels."
        )
    return dots


def draw_kit_label(canvas: Canvas, label: KitLabel, stock: LabelStock, place: Place) -> None:
    """The kit's tag: hole, name, code and the shop's phone on the left, the symbol on the right."""
    symbol = label_symbol(label.text)
    dot = 72 / place.dpi
    module = module_dots(symbol, stock, place.dpi) * dot
    width, height = stock.label_width_mm * mm, stock.label_height_mm * mm
    left, low = place.x + stock.inset_x_mm * mm, place.y + stock.inset_y_mm * mm
    right, high = place.x + width - stock.inset_x_mm * mm, place.y + height - stock.inset_y_mm * mm

    quiet = QUIET_MODULES * module
    edge = right - (0.15 * mm if stock.outline_all_round else 0)
    symbol_x = _to_dot(edge - quiet - symbol.side * module, dot)
    top = place.page_height - (place.y + height / 2 + symbol.side * module / 2)
    symbol_y = place.page_height - _to_dot(top, dot) - symbol.side * module
    draw_symbol(canvas, symbol, symbol_x, symbol_y, module)

    text_right = symbol_x - quiet
    _tag_outline(canvas, left, low, right if stock.outline_all_round else text_right - 0.3 * mm, high)
    _tag_words(
        canvas, label, left, low, text_right - (0 if stock.outline_all_round else 1.2 * mm), high, stock
    )


def _to_dot(length: float, dot: float) -> float:
    """The whole dot at or before a length."""
    return int(length / dot + 1e-6) * dot


def _tag_outline(canvas: Canvas, left: float, low: float, right: float, high: float) -> None:
    """The slip with its clipped corner and ringed hole; drawn once in the file and placed from then on."""
    width, height = round(right - left, 3), round(high - low, 3)
    form = f"tag-{width}-{height}".replace(".", "_")
    if not canvas.hasForm(form):
        canvas.beginForm(form, -2, -2, width + 2, height + 2)
        _draw_outline(canvas, width, height)
        canvas.endForm()
    canvas.saveState()
    canvas.translate(left, low)
    canvas.doForm(form)
    canvas.restoreState()


def _hole_depth(height: float) -> float:
    """How far the hole's centre lies from the top and the left edge of the slip."""
    return 0.215 * height


def _draw_outline(canvas: Canvas, width: float, height: float) -> None:
    hole = _hole_depth(height)
    clip = 0.86 * hole
    slip = canvas.beginPath()
    slip.moveTo(clip, height)
    for x, y in ((width, height), (width, 0), (0, 0), (0, height - clip)):
        slip.lineTo(x, y)
    slip.close()
    canvas.setLineWidth(0.6)
    canvas.setStrokeColor(INK)
    canvas.drawPath(slip)
    canvas.setStrokeColor(SPRUCE)
    canvas.setLineWidth(2.2)
    canvas.circle(hole, height - hole, 1.75 * mm)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    canvas.circle(hole, height - hole, 1.2 * mm)


def _tag_words(
    canvas: Canvas, label: KitLabel, left: float, low: float, right: float, high: float, stock: LabelStock
) -> None:
    canvas.setFillColor(INK)
    hole = _hole_depth(high - low)
    beside_hole, text_left = left + hole + 3.2 * mm, left + 2.6 * mm
    name_size, lines = _wrapped(printable(label.name), SANS_SEMIBOLD, right - beside_hole, NAME_SIZES)
    first = high - hole + name_size * (0.62 if len(lines) > 1 else 0.0) - name_size * 0.34
    for number, line in enumerate(lines):
        canvas.setFont(SANS_SEMIBOLD, name_size)
        canvas.drawString(beside_hole, first - number * name_size * 1.05, line)

    phone_base = low + PHONE_BASE_MM * mm
    size, tracking, base = _code_size(label.code, right - text_left, high - low - hole - 3.3 * mm, stock)
    canvas.setFont(MONO_SEMIBOLD, size)
    canvas.drawString(text_left, phone_base + base, printable(label.code, MONO), charSpace=tracking)

    if label.shop_phone:
        canvas.setFillColor(QUIET_INK)
        words = printable(f"Found it? Call {label.shop_phone}")
        if stringWidth(words, SANS, 7.5) > right - text_left:
            words = printable(label.shop_phone)
        _draw_fitted(canvas, words, SANS, (7.5, 6.5, 6.0), text_left, phone_base, right - text_left)
    canvas.setFillColor(INK)


@cache
def _code_size(code: str, width: float, height: float, stock: LabelStock) -> tuple[float, float, float]:
    """Size, space between the characters, and height of the base line above the phone's, for a code below the hole."""
    for size in CODE_SIZES:
        tracking = size * 0.1
        base = 7.5 + size * 0.21  # clear of the phone's capitals, with room for the tail of a Q
        length = stringWidth(printable(code, MONO), MONO_SEMIBOLD, size) + tracking * (len(code) - 1)
        if length <= width and PHONE_BASE_MM * mm + base + size * 0.7 <= height:
            return size, tracking, base
    raise ValueError(f"The code {code} is too long for {stock.title}: use larger labels.")


def _wrapped(text: str, font: str, width: float, sizes: Sequence[float]) -> tuple[float, list[str]]:
    """The largest size at which a text takes at most two lines; at the smallest the second line is cut with an ellipsis."""
    for size in sizes:
        lines = _lines(text, font, size, width)
        if len(lines) <= 2:
            return size, lines
    size = sizes[-1]
    lines = _lines(text, font, size, width)
    return size, [lines[0], _cut(" ".join(lines[1:]), font, size, width)]


def _lines(text: str, font: str, size: float, width: float) -> list[str]:
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


def _cut(text: str, font: str, size: float, width: float) -> str:
    if stringWidth(text, font, size) <= width:
        return text
    while text and stringWidth(text + "…", font, size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def _draw_fitted(
    canvas: Canvas, text: str, font: str, sizes: Sequence[float], x: float, y: float, width: float
) -> None:
    size = next((s for s in sizes if stringWidth(text, font, s) <= width), sizes[-1])
    canvas.setFont(font, size)
    canvas.drawString(x, y, _cut(text, font, size, width))


def draw_sensor_flag(canvas: Canvas, flag: SensorFlag, stock: LabelStock, place: Place) -> None:
    """The flag of a lead: two equal panels with a gap between, which goes round the lead; the backs stick together.

    Folded about the lead both panels stand upright, so neither is mirrored.
    """
    low, high = (place.y + d * mm for d in (stock.inset_y_mm, stock.label_height_mm - stock.inset_y_mm))
    left = place.x + stock.inset_x_mm * mm
    panel = (stock.label_width_mm - 2 * stock.inset_x_mm - FOLD_GAP_MM) / 2 * mm
    for x in (left, left + panel + FOLD_GAP_MM * mm):
        _flag_panel(canvas, flag, stock, x, low, panel, high - low)
    _fold_marks(canvas, left + panel + FOLD_GAP_MM * mm / 2, low, high)


def _fold_marks(canvas: Canvas, middle: float, low: float, high: float) -> None:
    canvas.setStrokeColor(QUIET_INK)
    canvas.setLineWidth(0.5)
    canvas.setDash(1, 2)
    canvas.line(middle, low, middle, high)
    canvas.setDash()


def _flag_panel(
    canvas: Canvas, flag: SensorFlag, stock: LabelStock, left: float, low: float, width: float, height: float
) -> None:
    foot = 7.6 * mm
    inner = width - 2.4 * mm
    x = left + 1.2 * mm
    colour = printable(flag.tag_colour.strip())
    if colour.casefold() in flag.tag.casefold():
        colour = ""
    size, lines = _tag_lines(
        printable(flag.tag.strip()), inner, height - foot - (3.2 * mm if colour else 0), stock
    )
    canvas.setFillColor(INK)
    canvas.setFont(SANS_SEMIBOLD, size)
    for number, line in enumerate(lines):
        canvas.drawString(x, low + height - size * 0.74 - 0.8 * mm - number * size, line)
    if colour:
        _draw_fitted(canvas, colour, SANS, (8.5, 7.5, 6.5), x, low + foot + 1.0 * mm, inner)
    canvas.setStrokeColor(SPRUCE)
    canvas.setLineWidth(0.9)
    canvas.line(x, low + foot, x + inner, low + foot)
    tail = "".join(c for c in flag.rom if c.isalnum())[-4:].upper()
    canvas.setFont(MONO_SEMIBOLD, 9.5)
    canvas.drawString(x, low + foot - 3.5 * mm, f"…{tail}" if tail else "no ROM")
    canvas.setFont(MONO, 7.5)
    canvas.drawString(x, low + foot - 6.7 * mm, printable(f"kit {flag.kit_code}", MONO))


@cache
def _tag_lines(tag: str, width: float, height: float, stock: LabelStock) -> tuple[float, list[str]]:
    if not tag:
        raise ValueError("A flag needs a tag, and this sensor has none: give it a number or a colour first.")
    for size in TAG_SIZES:
        words = max(stringWidth(word, SANS_SEMIBOLD, size) for word in tag.split())
        lines = _lines(tag, SANS_SEMIBOLD, size, width)
        if words <= width and len(lines) * size <= height and len(lines) <= 3:
            return size, lines
    raise ValueError(
        f"The tag “{tag}” is too long for a flag on {stock.title}: shorten it to a number or one word."
    )
