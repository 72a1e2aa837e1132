"""Credits that are due: what stands on issued bills against what is known now."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db.models import Max

from reports.billing.calendar import next_month
from reports.billing.compare import Comparison, Correction, Standing, TakenBack, all_back, compare
from reports.billing.money import money_text
from reports.billing_books import Books, read_books
from reports.billing_standing import standing_lines
from reports.models import Bill, BillLine, DayClaim


@dataclass(frozen=True)
class Proposed:
    """The credit that is due on one bill, by the difference; or nothing is due and all of it may still be taken back."""

    bill: Bill
    corrections: list[Correction]
    now: list[Standing]  # the lines of the bill as they stand, before the credit

    @property
    def lines(self) -> list[TakenBack]:
        return [line for correction in self.corrections for line in correction.lines]

    @property
    def amount_cents(self) -> int:
        return sum(line.amount_cents for line in self.lines)

    @property
    def tax_cents(self) -> int:
        return sum(line.tax_cents for line in self.lines)

    @property
    def total_cents(self) -> int:
        return self.amount_cents + self.tax_cents

    @property
    def is_billed_anew(self) -> bool:
        """Whether what is taken back is more than the difference, so that the next close bills some of it again."""
        return any(correction.whole for correction in self.corrections)

    @property
    def sentence(self) -> str:
        if not self.lines:
            return f"{self.bill} is right by what is known now."
        return f"{money_text(self.total_cents)} {self.bill.currency} of {self.bill} is due back."

    def whole(self) -> Correction | None:
        """Everything that still stands of the bill; None when nothing does."""
        rows = [row for row in self.now if row.amount_cents or row.days]
        return all_back(rows) if rows else None


def last_billed(stays: Collection[int] | None = None) -> date | None:
    """The end of the last month that anything was billed for."""
    rows = BillLine.objects.filter(bill__issued_at__isnull=False)
    if stays is not None:
        rows = rows.filter(deployment__in=stays)
    found = rows.aggregate(cell=Max("cell"), month=Max("bill__month"))
    return next_month(max(found["cell"], found["month"])) if found["cell"] else None


def comparison_of(books: Books) -> Comparison:
    """The comparison with the tax of whole bills in view, for credits."""
    bills = {row.bill for row in books.standing}
    return compare(books.lines, books.standing, standing_lines(bills=bills))


def proposed(bills: Collection[Bill] | None = None) -> list[Proposed]:
    """Every bill something is due back on; with `bills`, each of those, whether or not anything is due."""
    if bills is None:
        stays = None
    else:
        stays = set(
            BillLine.objects.filter(bill__in=[bill.pk for bill in bills]).values_list(
                "deployment_id", flat=True
            )
        )
    through = last_billed(stays)
    if through is None:
        return []
    books = read_books(through, stays=stays)
    by_bill: dict[int, list[Correction]] = defaultdict(list)
    for correction in comparison_of(books).corrections:
        by_bill[correction.bill].append(correction)
    if bills is None:
        bills = list(Bill.objects.filter(pk__in=by_bill).select_related("payer").order_by("year", "serial"))
    rows: dict[int, list[Standing]] = defaultdict(list)
    for row in standing_lines(bills=[bill.pk for bill in bills]):
        rows[row.bill].append(row)
    return [Proposed(bill, by_bill.get(bill.pk, []), rows[bill.pk]) for bill in bills]


def days_standing(bill: Bill) -> int:
    """How many days of stays stand on a bill."""
    return DayClaim.objects.filter(line__bill=bill, released_by=None).count()
