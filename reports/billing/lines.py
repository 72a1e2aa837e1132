"""One line of a bill, with its reason."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from reports.billing.money import Cents
from reports.billing.terms import NO_TAX, Tax, Taxed, TaxRounding

ONE_DAY = timedelta(days=1)


class Kind(StrEnum):
    """What a line charges or takes off."""

    SET_UP = "set_up"
    MONITORING = "monitoring"
    CHEAPER = "cheaper"  # taken off, because a mix of weeks and months is cheaper than single days
    CAP = "cap"  # taken off, because a stay costs no more than that
    MINIMUM = "minimum"  # added, because a stay costs no less than that
    LOST_KIT = "lost_kit"
    DEPOSIT = "deposit"  # taken off, because the shop holds it
    INSPECTION = "inspection"
    CUT_LEADS = "cut_leads"
    NO_ACCESS = "no_access"


TAXED_AS = {
    Kind.SET_UP: Taxed.SET_UP,
    Kind.MONITORING: Taxed.MONITORING,
    Kind.CHEAPER: Taxed.MONITORING,
    Kind.CAP: Taxed.MONITORING,
    Kind.MINIMUM: Taxed.MONITORING,
    Kind.LOST_KIT: Taxed.LOST_KIT,
    Kind.INSPECTION: Taxed.VISIT,
    Kind.CUT_LEADS: Taxed.PARTS,
    Kind.NO_ACCESS: Taxed.VISIT,
}
# Charged once a stay: the database lets none of them stand twice.
ONCE = (
    Kind.SET_UP,
    Kind.MINIMUM,
    Kind.LOST_KIT,
    Kind.DEPOSIT,
    Kind.INSPECTION,
    Kind.CUT_LEADS,
    Kind.NO_ACCESS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What one payer owes for one stay by one rule, in one stretch of time."""

    stay: int
    contract: int  # 0: the price list
    terms: int
    payer: int | None  # None: nobody pays there that day, so it cannot be billed
    cell: date  # the first day of the month (or other stretch) it belongs to
    kind: Kind
    start: date
    until: date
    days: int = 0  # days that count; only monitoring has some
    covered: int = 0  # of these, included in the agreement
    holes: tuple[date, ...] = ()  # days in between that do not count
    quantity: int = 1
    unit_cents: Cents = 0
    amount_cents: int = 0
    tax: Tax = NO_TAX
    tax_rounding: TaxRounding = TaxRounding.LINE
    currency: str = "USD"
    reason: str = ""

    def claimed(self) -> Iterator[date]:
        """The days this line takes for itself; no other line may have them."""
        if not self.days:
            return
        day = self.start
        while day < self.until:
            if day not in self.holes:
                yield day
            day += ONE_DAY
