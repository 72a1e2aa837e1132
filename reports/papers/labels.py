"""A kit's tag on its label: hole, name, code and phone beside the QR symbol. Lengths in points, y upward."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fit import symbol_fit
from reports.papers.fitting import draw_fitted, wrapped
from reports.papers.fonts import MONO, MONO_SEMIBOLD, SANS, SANS_SEMIBOLD, printable
from reports.papers.palette import INK, QUIET_INK, SPRUCE
from reports.papers.pdf import POINTS_PER_MM
from reports.papers.qr import QUIET_MODULES, Symbol, draw_symbol, label_symbol
from reports.papers.records import KitLabel
from reports.papers.stock import LabelStock

mm = POINTS_PER_MM

CODE_SIZES = (30, 28, 26, 24, 22, 21, 20, 19, 18, 17, 16, 15, 14, 13, 12, 11, 10, 9)
NAME_SIZES = (9.0, 8.0, 7.0, 6.5)
PHONE_BASE_MM = 1.9
OUTLINE_WIDTH = 0.6


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a label goes: its lower left corner on the page, the page's height, the dots an inch to keep to."""

    x: float
    y: float
    page_height: float
    dpi: int


@dataclass(frozen=True, kw_only=True)
class Slip:
    """The part of a label left for words, beside the symbol."""

    left: float
    low: float
    right: float
    high: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.high - self.low


@dataclass(frozen=True, kw_only=True)
class Room:
    """How a label is shared out: the outline of the slip, the words inside it, the symbol at its right if there is one."""

    outline: Slip
    words: Slip
    symbol: Symbol | None = None
    module: float = 0.0
    symbol_x: float = 0.0
    symbol_y: float = 0.0


def draw_kit_label(canvas: Canvas, label: KitLabel, stock: LabelStock, place: Place) -> None:
    """The kit's tag: hole, name, code and the shop's phone on the left, the symbol on the right."""
    room = room_with_code(label.text, stock, place)
    draw_room(canvas, room, has_hole=stock.has_hole)
    _tag_words(canvas, label, room.words, stock)


def _inside(stock: LabelStock, place: Place) -> Slip:
    """The label without the strips that stay free of print."""
    return Slip(
        left=place.x + stock.inset_x_mm * mm,
        low=place.y + stock.inset_y_mm * mm,
        right=place.x + (stock.label_width_mm - stock.inset_x_mm) * mm,
        high=place.y + (stock.label_height_mm - stock.inset_y_mm) * mm,
    )


def room_without_code(stock: LabelStock, place: Place) -> Room:
    """The whole label for words."""
    inside = _inside(stock, place)
    return Room(outline=_on_the_head(inside), words=inside)


def _on_the_head(slip: Slip) -> Slip:
    """An outline whose stroke stays where a print head reaches: up to the inset and no further."""
    half = OUTLINE_WIDTH / 2
    return replace(slip, low=slip.low + half, high=slip.high - half)


def room_with_code(text: str, stock: LabelStock, place: Place) -> Room:
    """The symbol on whole dots at the right, the rest for words. ValueError when the symbol would not scan."""
    symbol = label_symbol(text)
    dot = 72 / place.dpi
    module = symbol_fit(symbol, stock, place.dpi).dots * dot
    inside = _inside(stock, place)
    quiet, side = QUIET_MODULES * module, symbol.side * module
    # Inside an outline the clear margin ends before it; without one, the label's own white edge is part of the margin.
    if stock.outline_all_round:
        edge = inside.right - 0.15 * mm - quiet
    else:
        edge = min(inside.right, place.x + stock.label_width_mm * mm - quiet)
    symbol_x = _to_dot(edge - side, dot)
    top = place.page_height - (place.y + stock.label_height_mm * mm / 2 + side / 2)
    text_right = symbol_x - quiet
    if stock.outline_all_round:
        outline, words = inside, replace(inside, right=text_right)
    else:
        outline = _on_the_head(replace(inside, right=text_right - 0.3 * mm))
        words = replace(inside, right=text_right - 1.2 * mm)
    return Room(
        outline=outline,
        words=words,
        symbol=symbol,
        module=module,
        symbol_x=symbol_x,
        symbol_y=place.page_height - _to_dot(top, dot) - side,
    )


def draw_room(canvas: Canvas, room: Room, *, has_hole: bool) -> None:
    """The symbol and the slip's outline; the words are still to come."""
    if room.symbol:
        draw_symbol(canvas, room.symbol, room.symbol_x, room.symbol_y, room.module)
    _tag_outline(canvas, room.outline, has_hole=has_hole)


def _to_dot(length: float, dot: float) -> float:
    """The whole dot at or before a length."""
    return int(length / dot + 1e-6) * dot


def _tag_outline(canvas: Canvas, slip: Slip, *, has_hole: bool) -> None:
    """The slip with its clipped corner and ringed hole; drawn once in the file and placed from then on."""
    width, height = round(slip.width, 3), round(slip.height, 3)
    form = f"tag-{width}-{height}-{int(has_hole)}".replace(".", "_")
    if not canvas.hasForm(form):
        canvas.beginForm(form, -2, -2, width + 2, height + 2)
        _draw_outline(canvas, width, height, has_hole)
        canvas.endForm()
    canvas.saveState()
    canvas.translate(slip.left, slip.low)
    canvas.doForm(form)
    canvas.restoreState()


def _hole_depth(height: float) -> float:
    """How far the hole's centre lies from the top and the left edge of the slip."""
    return min(0.215 * height, 6 * mm)


def _draw_outline(canvas: Canvas, width: float, height: float, has_hole: bool) -> None:
    hole = _hole_depth(height)
    clip = 0.86 * hole if has_hole else 1.8 * mm
    path = canvas.beginPath()
    path.moveTo(clip, height)
    for x, y in ((width, height), (width, 0), (0, 0), (0, height - clip)):
        path.lineTo(x, y)
    path.close()
    canvas.setLineWidth(OUTLINE_WIDTH)
    canvas.setStrokeColor(INK)
    canvas.drawPath(path)
    if not has_hole:
        return
    canvas.setStrokeColor(SPRUCE)
    canvas.setLineWidth(2.2)
    canvas.circle(hole, height - hole, 1.75 * mm)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(OUTLINE_WIDTH)
    canvas.circle(hole, height - hole, 1.2 * mm)


def _tag_words(canvas: Canvas, label: KitLabel, slip: Slip, stock: LabelStock) -> None:
    canvas.setFillColor(INK)
    text_left = slip.left + (2.6 if stock.has_hole else 1.4) * mm
    name_used = _draw_name(canvas, label.name, slip, text_left, stock)

    phone_base = slip.low + (PHONE_BASE_MM if stock.has_hole else 1.4) * mm
    room = slip.high - phone_base - name_used
    size, tracking, base = _code_size(label.code, slip.right - text_left, room, stock)
    canvas.setFont(MONO_SEMIBOLD, size)
    canvas.drawString(text_left, phone_base + base, printable(label.code, MONO), charSpace=tracking)

    if label.shop_phone:
        canvas.setFillColor(QUIET_INK)
        words = printable(f"Found it? Call {label.shop_phone}")
        if stringWidth(words, SANS, 7.5) > slip.right - text_left:
            words = printable(label.shop_phone)
        draw_fitted(
            canvas, words, SANS, (7.5, 7.0, 6.5, 6.0, 5.5), text_left, phone_base, slip.right - text_left
        )
    canvas.setFillColor(INK)


def _draw_name(canvas: Canvas, name: str, slip: Slip, text_left: float, stock: LabelStock) -> float:
    """The kit's name beside the hole, or across a slip without one; returns how much of the height is spoken for."""
    hole = _hole_depth(slip.height)
    left = slip.left + hole + 3.2 * mm if stock.has_hole else text_left
    size, lines = wrapped(printable(name), SANS_SEMIBOLD, slip.right - left, NAME_SIZES)
    if stock.has_hole:
        first = slip.high - hole + size * (0.62 if len(lines) > 1 else 0.0) - size * 0.34
        used = hole + 3.3 * mm
    else:
        first = slip.high - 1.5 * mm - size * 0.72
        used = 1.5 * mm + size * (0.95 + 1.05 * (len(lines) - 1))
    for number, line in enumerate(lines):
        canvas.setFont(SANS_SEMIBOLD, size)
        canvas.drawString(left, first - number * size * 1.05, line)
    return used


@cache
def _code_size(code: str, width: float, height: float, stock: LabelStock) -> tuple[float, float, float]:
    """Size, space between the characters, and height of the base line above the phone's, below the name."""
    for size in CODE_SIZES:
        tracking = size * 0.1
        base = 7.5 + size * 0.21  # clear of the phone's capitals, with room for the tail of a Q
        length = stringWidth(printable(code, MONO), MONO_SEMIBOLD, size) + tracking * (len(code) - 1)
        if length <= width and base + size * 0.7 <= height:
            return size, tracking, base
    raise ValueError(f"The code {code} is too long for {stock.title}: use larger labels.")
