"""What the pages of a bill and of a credit note show: lines house by house, tax by rate, money, questions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from reports.billing_due import Due, due_of
from reports.gather_bills import taxes_of
from reports.models import Bill, BillLine, CreditLine, CreditNote, LineQuestion, Payment
from reports.papers.bill_records import TaxRow


@dataclass(frozen=True)
class ShownLine:
    """A line of a bill with what happened to it since."""

    line: BillLine
    back_cents: int  # given back by credit notes, with tax
    questions: list[LineQuestion]

    @property
    def asked(self) -> LineQuestion | None:
        """The question that waits for its answer."""
        return next((question for question in self.questions if not hasattr(question, "answer")), None)

    @property
    def answered(self) -> list[LineQuestion]:
        return [question for question in self.questions if hasattr(question, "answer")]


@dataclass(frozen=True)
class ShownBill:
    """A bill as its page shows it."""

    bill: Bill
    houses: list[tuple[str, list[ShownLine]]]
    taxes: list[TaxRow]
    notes: list[CreditNote]
    payments: list[Payment]
    due: Due
    asked: int  # how many lines wait for an answer


def shown_bill(bill: Bill, today: date) -> ShownBill:
    lines = list(
        bill.lines.select_related("deployment__kit", "agreement").prefetch_related(
            "questions__answer__answered_by", "questions__recorded_by"
        )
    )
    back: dict[int, int] = {}
    for credit in CreditLine.objects.filter(bill_line__bill=bill, credit_note__issued_at__isnull=False):
        cents = credit.amount_cents + credit.tax_cents
        back[credit.bill_line_id] = back.get(credit.bill_line_id, 0) + cents
    shown = []
    for line in lines:
        line.bill = bill
        shown.append(ShownLine(line, back.get(line.pk, 0), list(line.questions.all())))
    return ShownBill(
        bill=bill,
        houses=by_house(shown),
        taxes=[tax for tax in taxes_of(lines) if tax.rate],
        notes=list(bill.credit_notes.order_by("year", "serial")),
        payments=list(bill.payments.select_related("recorded_by")),
        due=due_of([bill], today)[0],
        asked=sum(line.asked is not None for line in shown),
    )


def by_house(lines: Sequence[ShownLine]) -> list[tuple[str, list[ShownLine]]]:
    return [(house, list(rows)) for house, rows in groupby(lines, key=lambda shown: shown.line.site_words)]


def credit_lines_by_house(lines: Iterable[CreditLine]) -> list[tuple[str, list[CreditLine]]]:
    return [(house, list(rows)) for house, rows in groupby(lines, key=lambda line: line.bill_line.site_words)]


def answer_to(due: Due, today: date) -> str:
    """The heading of a bill's page, after the payer's name: what became of it."""
    from reports.billing_words import amount_text

    currency = due.bill.currency
    match due.state:
        case "taken back":
            return "owes nothing: it was taken back"
        case "to pay back":
            return f"is owed {amount_text(-due.open_cents, currency)}"
        case "paid":
            return f"has paid {amount_text(due.paid_cents, currency)}" if due.paid_cents else "owes nothing"
    return f"owes {amount_text(due.open_cents, currency)}"
