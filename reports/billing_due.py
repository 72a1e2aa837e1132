"""What is still to be paid, by age; a line in question is not chased meanwhile."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Sum

from reports.models import Bill, BillLine, CreditLine, CreditNote, Payment

AGES = (
    (0, "not due yet"),
    (30, "up to 30 days late"),
    (60, "31 to 60 days late"),
    (90, "61 to 90 days late"),
)
OLDEST = "more than 90 days late"


@dataclass(frozen=True)
class Due:
    """How an issued bill stands today, in cents of its currency."""

    bill: Bill
    credited_cents: int
    paid_cents: int
    in_question_cents: int  # of what is open
    late_days: int  # 0: not due yet

    @property
    def open_cents(self) -> int:
        """What is owed; below zero, the shop owes it back."""
        return self.bill.total_cents - self.credited_cents - self.paid_cents

    @property
    def chased_cents(self) -> int:
        """What may be asked for now."""
        return max(0, self.open_cents - self.in_question_cents)

    @property
    def age(self) -> str:
        if self.late_days <= 0:
            return AGES[0][1]
        return next((words for days, words in AGES[1:] if self.late_days <= days), OLDEST)

    @property
    def state(self) -> str:
        """One word on a list: open, paid, taken back, to pay back."""
        if self.bill.total_cents and self.credited_cents == self.bill.total_cents:
            return "taken back" if not self.paid_cents else "to pay back"
        if self.open_cents < 0:
            return "to pay back"
        return "paid" if not self.open_cents else "open"


def due_of(bills: Iterable[Bill], today: date) -> list[Due]:
    """How bills stand, in the order given; four queries for any number of them."""
    listed = list(bills)
    keys = [bill.pk for bill in listed]
    credited: dict[int, int] = defaultdict(int)
    for note in CreditNote.objects.filter(bill__in=keys, issued_at__isnull=False):
        credited[note.bill_id] += note.total_cents
    paid = dict(
        Payment.objects.filter(bill__in=keys).values_list("bill").annotate(sum=Sum("amount_cents")).order_by()
    )
    asked = in_question(keys)
    return [
        Due(
            bill=bill,
            credited_cents=credited[bill.pk],
            paid_cents=paid.get(bill.pk, 0),
            in_question_cents=asked.get(bill.pk, 0),
            late_days=max(0, (today - bill.due_on).days),
        )
        for bill in listed
    ]


def in_question(bills: Iterable[int]) -> dict[int, int]:
    """Cents, with tax, of lines with an unanswered question that still stand, by bill."""
    asked = list(
        BillLine.objects.filter(
            bill__in=list(bills), questions__isnull=False, questions__answer=None
        ).distinct()
    )
    back: dict[int, int] = defaultdict(int)
    for credit in CreditLine.objects.filter(bill_line__in=asked, credit_note__issued_at__isnull=False):
        back[credit.bill_line_id] += credit.amount_cents + credit.tax_cents
    found: dict[int, int] = defaultdict(int)
    for line in asked:
        found[line.bill_id] += line.amount_cents + line.tax_cents - back[line.pk]
    return found


def aged_list(today: date) -> list[Due]:
    """Bills on which something may be asked for today, the latest ones on top."""
    bills = Bill.objects.filter(issued_at__isnull=False).select_related("payer").order_by("due_on", "pk")
    return [due for due in due_of(bills, today) if due.chased_cents]


def by_age(dues: Iterable[Due]) -> dict[str, dict[str, int]]:
    """Cents to be asked for, by age and currency; every age is there."""
    found: dict[str, dict[str, int]] = {words: {} for words in (*(words for _days, words in AGES), OLDEST)}
    for due in dues:
        of_age = found[due.age]
        of_age[due.bill.currency] = of_age.get(due.bill.currency, 0) + due.chased_cents
    return found


def due_soon(today: date, within_days: int = 7) -> list[Due]:
    """Unpaid bills that fall due within so many days."""
    last = today + timedelta(days=within_days)
    return [due for due in aged_list(today) if today <= due.bill.due_on <= last]
