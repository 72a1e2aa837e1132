"""The second label, inside a kit's lid: the code once more, which sensor is on which terminal, and the power it takes.

Where the words leave no room for a second symbol, the label does without: the one on the box is there to be scanned.
"""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fitting import cut, draw_fitted, lines_of
from reports.papers.fonts import MONO, MONO_SEMIBOLD, SANS, SANS_SEMIBOLD, printable
from reports.papers.labels import Place, Room, Slip, draw_room, mm, room_with_code, room_without_code
from reports.papers.palette import INK, QUIET_INK
from reports.papers.records import LidLabel, LidSensor
from reports.papers.stock import LabelStock

SIZES = (13.0, 11.5, 10.0, 9.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0)
LEADING = 1.12
NO_SENSORS = "No sensors yet"


@dataclass(frozen=True, kw_only=True)
class _Layout:
    """Words at one size: the head (code, name), the power beneath it, the rows below or beside them."""

    size: float
    beside: bool
    rows_width: float
    name: str
    power: list[str]

    @property
    def code_size(self) -> float:
        return self.size * 1.4

    def head_height(self) -> float:
        name = self.size * LEADING if self.name else 0
        return self.code_size * 0.95 + name

    def height(self, rows: int) -> float:
        table = max(rows, 1) * self.size * LEADING
        power = len(self.power) * self.size * LEADING
        if self.beside:
            return max(self.head_height() + power, table)
        return self.head_height() + table + power


def draw_lid_label(canvas: Canvas, label: LidLabel, stock: LabelStock, place: Place) -> None:
    """Code, name and power, terminal by terminal the tag and the end of the ROM ID, and the symbol where it fits."""
    room, layout = _plan(label, stock, place)
    draw_room(canvas, room, has_hole=False)
    box = _box(room)
    canvas.setFillColor(INK)
    y = box.high - layout.code_size * 0.76
    canvas.setFont(MONO_SEMIBOLD, layout.code_size)
    canvas.drawString(box.left + 0.8 * mm, y, printable(label.code, MONO), charSpace=layout.code_size * 0.06)
    if layout.name:
        y -= layout.size * LEADING
        canvas.setFont(SANS_SEMIBOLD, layout.size)
        canvas.drawString(box.left, y, layout.name)
    if layout.beside:
        left, first = box.right - layout.rows_width, box.high - layout.size * 0.8 - 0.4 * mm
    else:
        left, first = box.left, y - layout.size * (LEADING + 0.1)
    _draw_rows(canvas, label.sensors, layout, left, first)
    canvas.setFillColor(QUIET_INK)
    canvas.setFont(SANS, layout.size)
    for above, line in zip(range(len(layout.power) - 1, -1, -1), layout.power, strict=True):
        canvas.drawString(box.left, box.low + above * layout.size * LEADING, line)
    canvas.setFillColor(INK)


def _box(room: Room) -> Slip:
    """Where the words stand inside the outline."""
    words, pad = room.words, 1.3 * mm
    return Slip(
        left=words.left + pad, low=words.low + pad, right=words.right - pad / 2, high=words.high - 1.0 * mm
    )


def _plan(label: LidLabel, stock: LabelStock, place: Place) -> tuple[Room, _Layout]:
    """With the symbol if it scans and leaves room for the words, else without; ValueError when neither does."""
    try:
        room = room_with_code(label.text, stock, place)
    except ValueError:
        pass
    else:
        if layout := _layout(label, _box(room)):
            return room, layout
    room = room_without_code(stock, place)
    if layout := _layout(label, _box(room)):
        return room, layout
    raise ValueError(
        f"{stock.title} has no room for what stands inside the lid of {label.code}: use larger labels for it."
    )


def _layout(label: LidLabel, box: Slip) -> _Layout | None:
    """The largest type at which every row fits, beside the code or below it."""
    rows, gap = len(label.sensors), 2.5 * mm
    for size in SIZES:
        for beside in (True, False):
            rows_width = min((box.width - gap) * 0.54, 40 * mm) if beside else box.width
            head_width = box.width - gap - rows_width if beside else box.width
            power = lines_of(printable(label.power), SANS, size, head_width)
            name = cut(printable(label.name), SANS_SEMIBOLD, size, head_width)
            for kept_name in (name, ""):
                layout = _Layout(size=size, beside=beside, rows_width=rows_width, name=kept_name, power=power)
                code = stringWidth(label.code, MONO_SEMIBOLD, layout.code_size) * 1.1 + 0.8 * mm
                widest = max((_row_width(row, size) for row in label.sensors), default=0.0)
                if code <= head_width and widest <= rows_width and layout.height(rows) <= box.height:
                    return layout
    return None


def _tag_left(size: float) -> float:
    return size * 1.0


def _row_width(row: LidSensor, size: float) -> float:
    """Terminal, at least four letters of the tag, and the tail."""
    shortest = min(stringWidth(printable(row.tag), SANS, size), size * 2.2)
    return _tag_left(size) + shortest + size * 0.4 + stringWidth(f"…{row.tail}", MONO, size)


def _draw_rows(
    canvas: Canvas, rows: tuple[LidSensor, ...], layout: _Layout, left: float, first: float
) -> None:
    size = layout.size
    if not rows:
        draw_fitted(canvas, NO_SENSORS, SANS, (size, 6.0, 5.5), left, first, layout.rows_width)
    for number, row in enumerate(rows):
        y = first - number * size * LEADING
        canvas.setFont(MONO_SEMIBOLD, size)
        canvas.drawString(left, y, str(row.terminal))
        canvas.setFont(MONO, size)
        canvas.drawRightString(left + layout.rows_width, y, f"…{row.tail}")
        room = layout.rows_width - _tag_left(size) - size * 0.4 - stringWidth(f"…{row.tail}", MONO, size)
        colour = "" if row.tag_colour.casefold() in row.tag.casefold() else f" {row.tag_colour}"
        words = printable(f"{row.tag}{colour}" if row.tag else row.tag_colour or "no tag")
        if stringWidth(words, SANS, size) > room and row.tag:
            words = printable(row.tag)
        draw_fitted(canvas, words, SANS, (size,), left + _tag_left(size), y, room)
