"""The list of bills: what each has come to, told by the database, and the one word for it."""

from datetime import date
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce

from reports.models import Bill, BillSent, CreditNote, LineQuestion, Payment, StoredPaper

TAKEN_BACK, TO_PAY_BACK, PAID, IN_QUESTION, PART_PAID, SENT, ISSUED = range(7)
STATES = ("taken back", "to pay back", "paid", "in question", "part paid", "sent", "issued")
TONES = ("plain", "attention", "good", "attention", "plain", "plain", "plain")
UNFINISHED = (TO_PAY_BACK, IN_QUESTION, PART_PAID, SENT, ISSUED)


def sum_of(rows: QuerySet[Any], *columns: str) -> Coalesce:
    """The sum of `columns` over the rows of a bill, nought when there are none."""
    total = sum((F(column) for column in columns[1:]), start=F(columns[0]))
    added = rows.order_by().values("bill").annotate(cents_in_all=Sum(total)).values("cents_in_all")
    return Coalesce(Subquery(added, output_field=BigIntegerField()), Value(0))


def with_state(rows: "QuerySet[Bill]") -> "QuerySet[Bill]":
    """Bills with `credited`, `paid`, `open_cents`, and `state`, the number of their word."""
    of_bill = {"bill": OuterRef("pk")}
    asked = LineQuestion.objects.filter(line__bill=OuterRef("pk"), answer=None)
    rows = rows.annotate(
        total=F("amount_cents") + F("tax_cents"),
        credited=sum_of(
            CreditNote.objects.filter(issued_at__isnull=False, **of_bill), "amount_cents", "tax_cents"
        ),
        paid=sum_of(Payment.objects.filter(**of_bill), "amount_cents"),
    ).annotate(open_cents=F("total") - F("credited") - F("paid"))
    return rows.annotate(
        state=Case(
            When(~Q(total=0) & Q(credited=F("total"), paid=0), then=TAKEN_BACK),
            When(open_cents__lt=0, then=TO_PAY_BACK),
            When(open_cents=0, then=PAID),
            When(Exists(asked), then=IN_QUESTION),
            When(~Q(paid=0), then=PART_PAID),
            When(Exists(BillSent.objects.filter(**of_bill)), then=SENT),
            default=ISSUED,
            output_field=IntegerField(),
        )
    )


def listed_bills() -> "QuerySet[Any]":
    """Every issued bill with its state and its payer."""
    return with_state(Bill.objects.filter(issued_at__isnull=False).select_related("payer"))


def state_word(bill: Bill) -> str:
    return STATES[bill.state]  # type: ignore[attr-defined]


def state_tone(bill: Bill) -> str:
    return TONES[bill.state]  # type: ignore[attr-defined]


def days_late(bill: Bill, today: date) -> int:
    """How many days something that is owed is past its day; 0 when nothing is."""
    if bill.state in {TAKEN_BACK, TO_PAY_BACK, PAID, IN_QUESTION}:  # type: ignore[attr-defined]
        return 0
    return max(0, (today - bill.due_on).days)


def undrawn_bills() -> "QuerySet[Bill]":
    """Issued bills without a stored paper, in the order of their numbers."""
    rows = Bill.objects.filter(issued_at__isnull=False, storedpapers=None)
    return rows.order_by("year", "serial")


def undrawn_notes() -> "QuerySet[CreditNote]":
    """Issued credit notes without a stored paper, in the order of their numbers."""
    rows = CreditNote.objects.filter(issued_at__isnull=False, storedpapers=None)
    return rows.order_by("year", "serial")


def paper_of(paper: Bill | CreditNote) -> StoredPaper | None:
    """The stored paper without its bytes."""
    return paper.storedpapers.defer("content").first()
