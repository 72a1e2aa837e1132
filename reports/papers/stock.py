"""Label stock as data: sheets of equal die-cut labels, and tape or roll that is cut into pieces.

Geometry of the sheets follows the public template database named in `tests/outside/label_stock.json`; what a print head
reaches of a tape follows the printer libraries named there. Another stock is another entry here and a key in
`kits.models.LabelStock`, and nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from reports.papers.qr import MM_PER_INCH


@dataclass(frozen=True, kw_only=True)
class LabelStock:
    """Equal labels on a page. Lengths in mm from the page's top left corner; a piece of tape is a page of one label."""

    key: str
    title: str
    page_width_mm: float
    page_height_mm: float
    label_width_mm: float
    label_height_mm: float
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    pitch_x_mm: float = 0.0
    pitch_y_mm: float = 0.0
    inset_x_mm: float
    """Strip along the short edges that stays free of print."""
    inset_y_mm: float
    """Strip along the long edges: feed tolerance of a sheet, or what the print head of a tape cannot reach."""
    dpi: int
    """Dots an inch of the printers this stock goes through; modules are whole numbers of them."""
    heads: Mapping[int, float] = field(default_factory=dict, hash=False)
    """Of tape: for each kind of print head, by its dots an inch, the strip along the long edges it cannot reach."""
    largest_module_mm: float
    outline_all_round: bool
    """True where the tag's outline goes round the whole label, False where it would touch the symbol's quiet zone."""
    has_hole: bool = True
    """False where the ringed hole would take the room of the words."""

    @property
    def count(self) -> int:
        return self.columns * self.rows

    def at(self, dpi: int | None) -> LabelStock:
        """The same stock in a printer of other dots; a tape's head may reach further there."""
        if dpi is None or dpi == self.dpi:
            return self
        return replace(self, dpi=dpi, inset_y_mm=self.heads.get(dpi, self.inset_y_mm))

    def corner_mm(self, position: int) -> tuple[float, float]:
        """Top left corner of a label, counted along the rows from 0."""
        if not 0 <= position < self.count:
            raise ValueError(f"{self.title} has {self.count} labels; there is no label {position + 1}.")
        row, column = divmod(position, self.columns)
        return self.left_mm + column * self.pitch_x_mm, self.top_mm + row * self.pitch_y_mm


FREE_EDGE_MM = 1.7
"""Free of print inside a die-cut edge: 1.5 mm for the feed, and half the stroke of the outline."""


def _sheet(
    key: str,
    title: str,
    *,
    page: tuple[float, float],
    label: tuple[float, float],
    grid: tuple[int, int],
    corner: tuple[float, float],
    pitch: tuple[float, float],
    unit_mm: float = 1.0,
    largest_module_mm: float = 0.6,
    small: bool = False,
) -> LabelStock:
    """A sheet of columns by rows; pairs are (across, down) in units of `unit_mm`. On `small` labels words come first."""
    return LabelStock(
        key=key,
        title=title,
        page_width_mm=page[0] * unit_mm,
        page_height_mm=page[1] * unit_mm,
        label_width_mm=label[0] * unit_mm,
        label_height_mm=label[1] * unit_mm,
        columns=grid[0],
        rows=grid[1],
        left_mm=corner[0] * unit_mm,
        top_mm=corner[1] * unit_mm,
        pitch_x_mm=pitch[0] * unit_mm,
        pitch_y_mm=pitch[1] * unit_mm,
        inset_x_mm=FREE_EDGE_MM,
        inset_y_mm=FREE_EDGE_MM,
        dpi=300,
        largest_module_mm=largest_module_mm,
        outline_all_round=not small,
        has_hole=not small,
    )


def _tape(
    key: str, title: str, *, width_mm: float, heads: Mapping[int, float], module_mm: float
) -> LabelStock:
    """Tape cut into pieces of 72 mm; its title gives its width. The first head is the usual one."""
    dpi, inset_mm = next(iter(heads.items()))
    return LabelStock(
        key=key,
        title=title,
        page_width_mm=72.0,
        page_height_mm=width_mm,
        label_width_mm=72.0,
        label_height_mm=width_mm,
        inset_x_mm=2.0,
        inset_y_mm=inset_mm,
        dpi=dpi,
        heads=heads,
        largest_module_mm=module_mm,
        outline_all_round=False,
    )


US_LETTER, A4 = (8.5, 11.0), (210.0, 297.0)

LETTER_30 = _sheet(
    "letter-30up",
    "US Letter, 30 labels of 2 5/8 by 1 in",
    page=US_LETTER,
    label=(2.625, 1),
    grid=(3, 10),
    corner=(0.1875, 0.5),
    pitch=(2.75, 1),
    unit_mm=MM_PER_INCH,
)
LETTER_30_WIDE_GAP = _sheet(
    "letter-30up-alt",
    "US Letter, 30 labels of 2 5/8 by 1 in, 5/32 in apart",
    page=US_LETTER,
    label=(2.625, 1),
    grid=(3, 10),
    corner=(0.15625, 0.5),
    pitch=(2.78125, 1),
    unit_mm=MM_PER_INCH,
)
LETTER_10 = _sheet(
    "letter-10up",
    "US Letter, 10 labels of 4 by 2 in",
    page=US_LETTER,
    label=(4, 2),
    grid=(2, 5),
    corner=(0.15625, 0.5),
    pitch=(4.1875, 2),
    unit_mm=MM_PER_INCH,
    largest_module_mm=1.02,
)
LETTER_10_NARROW_GAP = _sheet(
    "letter-10up-alt",
    "US Letter, 10 labels of 4 by 2 in, 1/8 in apart",
    page=US_LETTER,
    label=(4, 2),
    grid=(2, 5),
    corner=(0.1875, 0.5),
    pitch=(4.125, 2),
    unit_mm=MM_PER_INCH,
    largest_module_mm=1.02,
)
A4_21 = _sheet(
    "a4-21up",
    "A4, 21 labels of 63.5 by 38.1 mm",
    page=A4,
    label=(63.5, 38.1),
    grid=(3, 7),
    corner=(7.21, 15.15),
    pitch=(66.04, 38.1),
    largest_module_mm=0.77,
)
A4_65 = _sheet(
    "a4-65up",
    "A4, 65 labels of 38.1 by 21.2 mm",
    page=A4,
    label=(38.1, 21.2),
    grid=(5, 13),
    corner=(4.75, 10.7),
    pitch=(40.6, 21.2),
    largest_module_mm=0.51,
    small=True,
)
A4_65_NO_GAP = _sheet(
    "a4-65up-no-gap",
    "A4, 65 labels of 38 by 21.2 mm without gaps",
    page=A4,
    label=(38.0, 21.2),
    grid=(5, 13),
    corner=(10.0, 10.7),
    pitch=(38.0, 21.2),
    largest_module_mm=0.51,
    small=True,
)
TAPE_24 = _tape("tape-24", "24 mm tape", width_mm=24.0, heads={180: 2.969, 360: 0.711}, module_mm=0.75)
TAPE_18 = _tape("tape-18", "18 mm tape", width_mm=18.0, heads={180: 1.098, 360: 0.745}, module_mm=0.75)
TAPE_12 = _tape("tape-12", "12 mm tape", width_mm=12.0, heads={180: 1.061, 360: 0.708}, module_mm=0.75)
ROLL_62 = LabelStock(
    key="roll-62",
    title="62 mm roll, cut at 29 mm",
    page_width_mm=62.0,
    page_height_mm=29.0,
    label_width_mm=62.0,
    label_height_mm=29.0,
    inset_x_mm=1.9,  # the head leaves 1.536 mm white; the outline's stroke keeps clear of that
    inset_y_mm=3.0,  # 35 dots of feed, rounded up
    dpi=300,
    largest_module_mm=0.6,
    outline_all_round=True,
)

STOCKS: dict[str, LabelStock] = {
    stock.key: stock
    for stock in (
        LETTER_30,
        LETTER_30_WIDE_GAP,
        LETTER_10,
        LETTER_10_NARROW_GAP,
        A4_21,
        A4_65,
        A4_65_NO_GAP,
        TAPE_24,
        TAPE_18,
        TAPE_12,
        ROLL_62,
    )
}
