"""Whether a kit's code fits a stock, how large it becomes, and how short a host must be: known before anything is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from kits.codes import CODE_LENGTH, QR_CAPACITY_LEVEL_Q, label_text
from reports.papers.qr import MM_PER_INCH, QUIET_MODULES, SMALLEST_MODULE_MM, Symbol, label_symbol
from reports.papers.stock import LabelStock

AROUND_THE_HOST = len(label_text("", "0" * CODE_LENGTH))
"""Characters of a label's text that are not the host."""


@dataclass(frozen=True, kw_only=True)
class CodeFit:
    """How a symbol comes out on a stock: its version and the whole printer dots of one module."""

    version: int
    side: int
    dots: int
    dpi: int

    @property
    def module_mm(self) -> float:
        return self.dots * MM_PER_INCH / self.dpi

    @property
    def symbol_mm(self) -> float:
        """Side of the printed square without its clear margin."""
        return self.side * self.module_mm


def side_of_version(version: int) -> int:
    """Modules a side of a QR version."""
    return 17 + 4 * version


def most_dots(side: int, stock: LabelStock, dpi: int) -> int:
    """How many whole dots a module of a symbol can take on a stock, whether or not a phone could still read it.

    With an outline all round, the quiet zone ends inside the outline. Without one, the white edge that the
    print head cannot reach counts as quiet zone.
    """
    stock = stock.at(dpi)
    printable_mm = stock.label_height_mm - 2 * stock.inset_y_mm
    side_with_quiet = side + 2 * QUIET_MODULES
    if stock.outline_all_round:
        limit_mm = (printable_mm - 0.3) / side_with_quiet
    else:
        limit_mm = min(printable_mm / side, stock.label_height_mm / side_with_quiet)
    return int(min(limit_mm, stock.largest_module_mm) * dpi / MM_PER_INCH + 1e-6)


def _readable(dots: int, dpi: int) -> bool:
    return dots * MM_PER_INCH / dpi >= SMALLEST_MODULE_MM


def longest_host(stock: LabelStock, dpi: int | None = None) -> int:
    """Characters of the longest host whose labels fit a stock; 0 where not even the smallest code does."""
    dpi = dpi or stock.dpi
    fitting = [
        capacity - AROUND_THE_HOST
        for version, capacity in QR_CAPACITY_LEVEL_Q.items()
        if _readable(most_dots(side_of_version(version), stock, dpi), dpi)
    ]
    return max(fitting, default=0)


def takes_codes(stock: LabelStock, dpi: int | None = None) -> bool:
    """Whether a kit's code can stand on a stock at all; one that is too narrow takes flags only."""
    return longest_host(stock, dpi) > 0


def code_fit(text: str, stock: LabelStock, dpi: int | None = None) -> CodeFit:
    """How a label's text comes out on a stock. ValueError with a sentence when its modules would be too small."""
    dpi = dpi or stock.dpi
    return symbol_fit(label_symbol(text), stock, dpi)


def symbol_fit(symbol: Symbol, stock: LabelStock, dpi: int) -> CodeFit:
    """How a symbol that is made already comes out on a stock; refuses like `code_fit`."""
    dots = most_dots(symbol.side, stock, dpi)
    if not _readable(dots, dpi):
        raise ValueError(too_small(symbol.side, dots, stock, dpi))
    return CodeFit(version=symbol.version, side=symbol.side, dots=dots, dpi=dpi)


def too_small(side: int, dots: int, stock: LabelStock, dpi: int) -> str:
    """Why a code cannot stand on a stock, and what would."""
    host = longest_host(stock, dpi)
    least = f"a phone needs {SMALLEST_MODULE_MM} mm"
    if not host:
        side = side_of_version(min(QR_CAPACITY_LEVEL_Q))
        size = most_dots(side, stock, dpi) * MM_PER_INCH / dpi
        return (
            f"{stock.title} takes flags only: even the smallest code has {side} squares a side, and at {dpi} dots an inch"
            f" each would be {size:.2f} mm; {least}. Print kit labels on something wider."
        )
    size = dots * MM_PER_INCH / dpi
    return (
        f"{stock.title} is too small for this code: with {side} squares a side, at {dpi} dots an inch each would be"
        f" {size:.2f} mm; {least}. A host of {host} characters or fewer fits, or choose larger labels."
    )
