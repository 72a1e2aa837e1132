"""QR symbols as vectors: one PDF path of runs of dark modules, placed on whole printer dots."""

from __future__ import annotations

import re
from dataclasses import dataclass

from qrcode.constants import ERROR_CORRECT_Q
from qrcode.exceptions import DataOverflowError
from qrcode.main import QRCode
from reportlab.pdfgen.canvas import Canvas

MM_PER_INCH = 25.4

QUIET_MODULES = 4
"""Clear modules on every side (the symbol's maker asks for four)."""
SMALLEST_MODULE_MM = 0.4
"""Below this a phone held at hand's distance begins to miss."""

ALPHANUMERIC = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
_LABEL_MASK = 4
_DARK_RUN = re.compile(rb"\x01+")


@dataclass(frozen=True, kw_only=True)
class Symbol:
    """The dark and light modules of one symbol, row by row from the top, without its quiet zone."""

    version: int
    modules: tuple[tuple[bool, ...], ...]

    @property
    def side(self) -> int:
        return len(self.modules)

    @property
    def side_with_quiet(self) -> int:
        return self.side + 2 * QUIET_MODULES


def symbol_of(text: str, *, fixed_mask: bool = False) -> Symbol:
    """The symbol that holds a text at level Q, in the smallest version that does.

    With `fixed_mask` the eight masks are not compared; every mask decodes, and a sheet of labels is made six times
    faster.
    """
    maker = QRCode(
        error_correction=ERROR_CORRECT_Q, border=0, mask_pattern=_LABEL_MASK if fixed_mask else None
    )
    maker.add_data(text, optimize=0)
    try:
        maker.make(fit=True)
    except (DataOverflowError, ValueError) as overflow:
        raise ValueError(
            f"{len(text)} characters are more than any QR symbol holds: shorten the text."
        ) from overflow
    return Symbol(version=maker.version, modules=tuple(tuple(row) for row in maker.modules))


def label_symbol(text: str) -> Symbol:
    """The symbol of a label: capitals, digits and a few signs only, since lower case would need a larger one."""
    if not text:
        raise ValueError("A label needs the text of its QR symbol, and it is empty.")
    for character in text:
        if character not in ALPHANUMERIC:
            raise ValueError(
                f"The QR text of a label holds capitals, digits and $ % * + - . / : only; {character!r} in {text!r} is none"
                " of them. Write the address in capitals, without underscores or accents."
            )
    return symbol_of(text, fixed_mask=True)


# A rectangle ends a fiftieth of a module short of the dots it fills: many printers blacken every dot that a shape so much
# as touches, and a rounded last digit would then make each dark module a dot wider.
_STEPS = 50


def runs_path(symbol: Symbol) -> str:
    """PDF path operators: one rectangle for each run of dark modules in a row, in fiftieths of a module, y upward."""
    return " ".join(
        f"{run.start() * _STEPS + 1} {y} {(run.end() - run.start()) * _STEPS - 2} {_STEPS - 2} re"
        for y, row in zip(range((symbol.side - 1) * _STEPS + 1, 0, -_STEPS), symbol.modules, strict=True)
        for run in _DARK_RUN.finditer(bytes(row))
    )


def draw_symbol(canvas: Canvas, symbol: Symbol, x: float, y: float, module: float) -> None:
    """Draw the modules with their lower left corner at (x, y); `module` is the length of one, all in points."""
    canvas.saveState()
    canvas.setFillGray(0)
    step = module / _STEPS
    # reportlab has no call for a path in raw operators; one short string is a tenth of the time and size of rects
    canvas._code.append(f"{step:.7f} 0 0 {step:.7f} {x:.4f} {y:.4f} cm {runs_path(symbol)} f")
    canvas.restoreState()
