"""What the papers are put together from: the tag, boxes, tables, ticks, signature lines, a QR symbol."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from reportlab.lib.colors import Color, white
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from reports.papers.fonts import MONO, MONO_SEMIBOLD, SANS, SANS_SEMIBOLD, printable
from reports.papers.palette import (
    BRASS,
    BRASS_GROUND,
    BRICK,
    BRICK_GROUND,
    GROUND,
    HAIRLINE,
    INK,
    MANILA,
    MANILA_EDGE,
    QUIET_INK,
    SPRUCE,
    SPRUCE_GROUND,
)
from reports.papers.qr import QUIET_MODULES, draw_symbol, symbol_of
from reports.papers.type import TypeScale, say

BOX_COLOURS: dict[str, tuple[Color, Color]] = {
    "plain": (QUIET_INK, GROUND),
    "spruce": (SPRUCE, SPRUCE_GROUND),
    "attention": (BRASS, BRASS_GROUND),
    "late": (BRICK, BRICK_GROUND),
}


FACE = ("FONTNAME", (0, 0), (-1, -1), SANS)
"""Said in every table, or reportlab names a font in it that is not in the file."""


def cut_to(text: str, font: str, size: float, width: float) -> str:
    """A line of text that keeps within a width, with an ellipsis where it was cut."""
    if stringWidth(text, font, size) <= width:
        return text
    while text and stringWidth(text + "…", font, size) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def draw_tag(
    canvas: Canvas,
    left: float,
    low: float,
    width: float,
    height: float,
    *,
    code: str,
    name: str,
    word: str,
    sheet_top: float,
) -> None:
    """The kit as a paper tag on its string: clipped corner, ringed hole, name, code, and a word for how it stands.

    The string goes up over `sheet_top`, the upper edge of the paper (or of the half that will be cut off).
    """
    unit = height / 74
    clip, hole_x, hole_y = 17 * unit, left + 20 * unit, low + height - 20 * unit
    _draw_string(canvas, hole_x, hole_y, low + height, sheet_top)
    slip = canvas.beginPath()
    slip.moveTo(left + clip, low + height)
    for x, y in ((left + width, low + height), (left + width, low), (left, low), (left, low + height - clip)):
        slip.lineTo(x, y)
    slip.close()
    canvas.setFillColor(MANILA)
    canvas.setStrokeColor(MANILA_EDGE)
    canvas.setLineWidth(0.9)
    canvas.drawPath(slip, fill=1)
    canvas.setStrokeColor(SPRUCE)
    canvas.setFillColor(white)
    canvas.setLineWidth(3 * unit)
    canvas.circle(hole_x, hole_y, 6 * unit, fill=1)

    canvas.setFillColor(INK)
    text_left, right = left + 12 * unit, left + width - 10 * unit
    size, tracking = 29 * unit, 6 * unit
    printed = printable(code, MONO)
    while (
        size > 8
        and stringWidth(printed, MONO_SEMIBOLD, size) + tracking * (len(code) - 1) > right - text_left
    ):
        size, tracking = size * 0.95, tracking * 0.9
    canvas.setFont(MONO_SEMIBOLD, size)
    canvas.drawString(text_left, low + 20.5 * unit, printed, charSpace=tracking)
    beside_hole = left + 34 * unit
    canvas.setFont(SANS_SEMIBOLD, 10.5 * unit)
    canvas.drawString(
        beside_hole,
        hole_y - 3.6 * unit,
        cut_to(printable(name), SANS_SEMIBOLD, 10.5 * unit, right - beside_hole),
    )
    canvas.setFont(SANS, 9 * unit)
    canvas.setFillColor(QUIET_INK)
    canvas.drawString(text_left, low + 7 * unit, cut_to(printable(word), SANS, 9 * unit, right - text_left))
    canvas.setFillColor(INK)


def _draw_string(canvas: Canvas, hole_x: float, hole_y: float, tag_top: float, sheet_top: float) -> None:
    """Two strands from behind the hole up over the top of the sheet."""
    canvas.setStrokeColor(MANILA_EDGE)
    canvas.setLineWidth(0.9)
    for lean in (-5, 3):
        strand = canvas.beginPath()
        strand.moveTo(hole_x, hole_y)
        strand.curveTo(
            hole_x + lean * 0.2, tag_top, hole_x + lean * 1.6, tag_top + 8, hole_x + lean * 2 + 9, sheet_top
        )
        canvas.drawPath(strand)


class PositionMark(Flowable):
    """Two letters in an outlined square, then the position's name; a place of the shop's own has the name alone.

    The square is a little higher than a line and stands out above and below it, so that the row keeps its base line.
    """

    def __init__(self, code: str, name: str, scale: TypeScale) -> None:
        super().__init__()
        self._code = printable(code)
        self._name = say(name, scale.cell)
        self._square = 15.0 * scale.scale

    @property
    def _indent(self) -> float:
        return self._square + 6 if self._code else 0.0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        self.width = available_width
        _, self.height = self._name.wrap(available_width - self._indent, available_height)
        return self.width, self.height

    def draw(self) -> None:
        self._name.drawOn(self.canv, self._indent, 0)
        if not self._code:
            return
        low = self.height - self._name.style.leading / 2 - self._square / 2 - 0.4
        self.canv.setStrokeColor(INK)
        self.canv.setFillColor(INK)
        self.canv.setLineWidth(0.9)
        self.canv.rect(0.5, low, self._square - 1, self._square - 1)
        self.canv.setFont(SANS_SEMIBOLD, self._square * 0.53)
        self.canv.drawCentredString(self._square / 2, low + self._square * 0.28, self._code)


class Tick(Flowable):
    """A box ticked (yes), struck (no) or left for a pen (nobody has said), and its sentence beside it."""

    def __init__(self, state: bool | None, words: Paragraph, *, side: float = 9.5) -> None:
        super().__init__()
        self._state, self._words, self._side = state, words, side
        self.spaceAfter = side * 0.32

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        _, height = self._words.wrap(available_width - self._side * 1.75, available_height)
        self.width, self.height = available_width, max(height, self._side + 1)
        return self.width, self.height

    def draw(self) -> None:
        side, canvas = self._side, self.canv
        low = self.height - side - max(0.0, (self._words.style.leading - side) / 2)
        colour = {True: SPRUCE, False: BRICK, None: QUIET_INK}[self._state]
        canvas.setStrokeColor(colour)
        canvas.setFillColor(colour)
        canvas.setLineWidth(0.9)
        canvas.rect(0.5, low, side, side, fill=self._state is True)
        if self._state is True:
            canvas.setStrokeColor(white)
            canvas.setLineWidth(side * 0.15)
            canvas.lines(
                [
                    (0.5 + side * 0.2, low + side * 0.5, 0.5 + side * 0.42, low + side * 0.26),
                    (0.5 + side * 0.42, low + side * 0.26, 0.5 + side * 0.82, low + side * 0.76),
                ]
            )
        elif self._state is False:
            canvas.setLineWidth(side * 0.13)
            a, b = 0.5 + side * 0.22, 0.5 + side * 0.78
            canvas.lines(
                [(a, low + side * 0.22, b, low + side * 0.78), (a, low + side * 0.78, b, low + side * 0.22)]
            )
        self._words.drawOn(canvas, side * 1.75, self.height - self._words.height)


class SymbolBox(Flowable):
    """A QR symbol of about `side` points in whole 1/300 in dots a module, a caption below it.

    Its box is the symbol itself; whoever places it leaves `quiet` points clear above and on both sides.
    """

    def __init__(self, text: str, side: float, caption: Paragraph | None = None) -> None:
        super().__init__()
        self._symbol = symbol_of(text, fixed_mask=True)
        dot = 72 / 300
        self._module = max(5, int(side / self._symbol.side / dot)) * dot
        self._side = self._symbol.side * self._module
        self.quiet = QUIET_MODULES * self._module
        self._caption = caption

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        self._below = 0.0
        if self._caption:
            _, self._below = self._caption.wrap(self._side, available_height)
        self.width, self.height = self._side, self._side + self.quiet + self._below
        return self.width, self.height

    def draw(self) -> None:
        draw_symbol(self.canv, self._symbol, 0, self.quiet + self._below, self._module)
        if self._caption:
            self._caption.drawOn(self.canv, 0, 0)


class SignatureLine(Flowable):
    """A line to sign on with what belongs below it, or the name of who has signed above it."""

    def __init__(self, role: str, signed: str, scale: TypeScale, *, room: float = 34) -> None:
        super().__init__()
        self._role, self._signed = say(role, scale.caption), say(signed, scale.body_bold) if signed else None
        self._room = room * scale.scale

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        _, self._below = self._role.wrap(available_width, available_height)
        self._above = self._room
        if self._signed:
            self._above = max(self._room, self._signed.wrap(available_width, available_height)[1] + 4)
        self.width, self.height = available_width, self._above + self._below + 3
        return self.width, self.height

    def draw(self) -> None:
        line = self._below + 3
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.7)
        self.canv.line(0, line, self.width, line)
        self._role.drawOn(self.canv, 0, 0)
        if self._signed:
            self._signed.drawOn(self.canv, 0, line + 1)


def box(kind: str, heading: str, lines: Sequence[Flowable], width: float, scale: TypeScale) -> Table:
    """A tinted box with a bar on its left: "plain", "spruce", "attention" or "late"."""
    bar, ground = BOX_COLOURS[kind]
    style = scale.body_bold.clone(f"box-{kind}-{scale.body.fontSize}", textColor=bar, spaceAfter=2)
    cells: list[Flowable] = [say(heading, style), *lines] if heading else list(lines)
    table = Table([[cells]], colWidths=[width])
    table.setStyle(
        TableStyle(
            [
                FACE,
                ("BACKGROUND", (0, 0), (-1, -1), ground),
                ("LINEBEFORE", (0, 0), (0, -1), 3, bar, 0),
                ("LEFTPADDING", (0, 0), (-1, -1), 12),
                ("RIGHTPADDING", (0, 0), (-1, -1), 10),
                ("TOPPADDING", (0, 0), (-1, -1), 6 * scale.scale),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 7 * scale.scale),
            ]
        )
    )
    return table


Cell: TypeAlias = Flowable | Sequence[Flowable] | str


def listing(
    heads: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    widths: Sequence[float],
    scale: TypeScale,
    *,
    right: Sequence[int] = (),
) -> Table:
    """A table under one spruce line, hairlines between the rows, its head repeated on every page; `right` columns align right."""
    head = [say(text, scale.caption_right if n in right else scale.caption) for n, text in enumerate(heads)]
    table = Table([head, *rows], colWidths=widths, repeatRows=1)
    last = len(widths) - 1
    pad = 3.2 * scale.scale
    table.setStyle(
        TableStyle(
            [
                FACE,
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                ("LINEBELOW", (0, 0), (-1, 0), 0.9, SPRUCE),
                ("LINEBELOW", (0, 1), (-1, -1), 0.4, HAIRLINE),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (last, -1), 8),
                ("RIGHTPADDING", (last, 0), (last, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), pad),
                ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
                ("BOTTOMPADDING", (0, 0), (-1, 0), 2),
            ]
        )
    )
    return table


def facts(
    pairs: Sequence[tuple[str, Cell]], width: float, scale: TypeScale, *, caption_width: float = 74
) -> Table:
    """Captions on the left, what they name on the right."""
    rows = [[say(caption, scale.caption), value] for caption, value in pairs]
    table = Table(rows, colWidths=[caption_width * scale.scale, width - caption_width * scale.scale])
    table.setStyle(_bare([("TOPPADDING", (0, 0), (-1, -1), 1.6), ("TOPPADDING", (0, 0), (0, -1), 2.4)]))
    return table


def beside(columns: Sequence[Cell], widths: Sequence[float], *, gap: float = 16) -> Table:
    """Columns side by side."""
    table = Table([list(columns)], colWidths=widths)
    table.setStyle(_bare([("RIGHTPADDING", (0, 0), (-2, -1), gap)]))
    return table


def _bare(extra: list[tuple[object, ...]]) -> TableStyle:
    zero: list[tuple[object, ...]] = [
        (f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")
    ]
    return TableStyle([FACE, *zero, ("VALIGN", (0, 0), (-1, -1), "TOP"), *extra])
