"""What bills, credit notes and their day lists are drawn from: frozen records without a model, a request or a clock.

Money is whole cents of `currency`; days are the site's; `until` is the first day no longer meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from reports.papers.records import Shop


@dataclass(frozen=True, kw_only=True)
class LineRow:
    """One line with its reason."""

    house: str
    """ "14 Alder Ct, Larkfield: upstairs system" """
    what: str
    reason: str
    start: date
    until: date
    amount_cents: int
    tax_rate: Decimal


@dataclass(frozen=True, kw_only=True)
class TaxRow:
    """What one rate comes to."""

    code: str
    rate: Decimal
    base_cents: int
    tax_cents: int


@dataclass(frozen=True, kw_only=True)
class CreditRow:
    """A credit note given to the payer since the bill before."""

    number: str
    on: date
    of_bill: str
    total_cents: int


@dataclass(frozen=True, kw_only=True)
class BillPaper:
    """A bill; or, with `of_bill`, the credit note that takes back all or part of that bill."""

    shop: Shop
    number: str
    payer_lines: tuple[str, ...]
    """The payer's name, then where a letter goes, if that is known."""
    month: date
    issued_on: date
    currency: str
    lines: tuple[LineRow, ...]
    taxes: tuple[TaxRow, ...]
    amount_cents: int
    tax_cents: int
    due_on: date | None = None
    of_bill: str = ""
    of_bill_issued_on: date | None = None
    whole: bool = False
    why: str = ""
    credits: tuple[CreditRow, ...] = ()

    @property
    def total_cents(self) -> int:
        return self.amount_cents + self.tax_cents

    @property
    def is_credit(self) -> bool:
        return bool(self.of_bill)


@dataclass(frozen=True, kw_only=True)
class DayRow:
    """One day of a stay, and how it was counted."""

    on: date
    words: str


@dataclass(frozen=True, kw_only=True)
class StayDays:
    """The days of one stay that stand on a bill."""

    house: str
    days: tuple[DayRow, ...]


@dataclass(frozen=True, kw_only=True)
class DayListPaper:
    """The day list that may go with a bill."""

    shop: Shop
    number: str
    payer_lines: tuple[str, ...]
    month: date
    issued_on: date
    stays: tuple[StayDays, ...]
