"""Label stock as data: sheets of equal die-cut labels, and tape that is cut into pieces.

Geometry of the sheets follows the public template database named in `tests/outside/label_stock.json`; printable widths of
tape follow the print heads listed there. Another stock is another entry here and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    largest_module_mm: float
    outline_all_round: bool
    """True where the tag's outline goes round the whole label, False where it would touch the symbol's quiet zone."""

    @property
    def count(self) -> int:
        return self.columns * self.rows

    def corner_mm(self, position: int) -> tuple[float, float]:
        """Top left corner of a label, counted along the rows from 0."""
        if not 0 <= position < self.count:
            raise ValueError(f"{self.title} has {self.count} labels; there is no label {position + 1}.")
        row, column = divmod(position, self.columns)
        return self.left_mm + column * self.pitch_x_mm, self.top_mm + row * self.pitch_y_mm


def _inches(length: float) -> float:
    return length * MM_PER_INCH


LETTER_30 = LabelStock(
    key="letter-30up",
    title="US Letter, 30 labels of 2 5/8 by 1 in",
    page_width_mm=_inches(8.5),
    page_height_mm=_inches(11),
    label_width_mm=_inches(2.625),
    label_height_mm=_inches(1),
    columns=3,
    rows=10,
    left_mm=_inches(0.1875),
    top_mm=_inches(0.5),
    pitch_x_mm=_inches(2.75),
    pitch_y_mm=_inches(1),
    inset_x_mm=1.7,
    inset_y_mm=1.7,
    dpi=300,
    largest_module_mm=0.6,
    outline_all_round=True,
)

TAPE_24 = LabelStock(
    key="tape-24",
    title="24 mm tape",
    page_width_mm=72.0,
    page_height_mm=24.0,
    label_width_mm=72.0,
    label_height_mm=24.0,
    inset_x_mm=2.0,
    inset_y_mm=2.969,
    dpi=180,
    largest_module_mm=0.75,
    outline_all_round=False,
)

STOCKS: dict[str, LabelStock] = {stock.key: stock for stock in (LETTER_30, TAPE_24)}
