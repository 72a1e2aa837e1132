"""Tax on the lines of one paper: rounded on each line or once for all lines of one rate, half a cent upwards."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from reports.billing.money import half_up
from reports.billing.terms import Tax, TaxRounding


class TaxedLine(Protocol):
    @property
    def amount_cents(self) -> int: ...
    @property
    def tax(self) -> Tax: ...
    @property
    def tax_rounding(self) -> TaxRounding: ...


@dataclass(frozen=True, slots=True)
class TaxTotal:
    """What one rate comes to on a paper."""

    tax: Tax
    base_cents: int
    tax_cents: int


def tax_cents(amount_cents: int, rate: Decimal) -> int:
    """Tax on one amount: the third decimal decides, and a 5 there goes up.

    >>> tax_cents(1210, Decimal("0.0725")), tax_cents(3500, Decimal("0.0725"))
    (88, 254)
    """
    return half_up(amount_cents * rate) if rate else 0


def tax_of_lines(lines: Sequence[TaxedLine]) -> list[int]:
    """The tax of each line, in order. Where it is rounded once for the paper, the lines' parts still add up to it."""
    told: list[int] = []
    so_far: dict[Tax, int] = {}
    for line in lines:
        if line.tax_rounding == TaxRounding.LINE:
            told.append(tax_cents(line.amount_cents, line.tax.rate))
            continue
        before = so_far.get(line.tax, 0)
        so_far[line.tax] = before + line.amount_cents
        told.append(tax_cents(so_far[line.tax], line.tax.rate) - tax_cents(before, line.tax.rate))
    return told


def tax_totals(lines: Sequence[TaxedLine]) -> list[TaxTotal]:
    """Base and tax by rate, in the order in which the rates first appear; untaxed lines make none."""
    totals: dict[Tax, tuple[int, int]] = {}
    for line, cents in zip(lines, tax_of_lines(lines), strict=True):
        if line.tax.rate:
            base, tax = totals.get(line.tax, (0, 0))
            totals[line.tax] = (base + line.amount_cents, tax + cents)
    return [TaxTotal(tax, base, cents) for tax, (base, cents) in totals.items()]
