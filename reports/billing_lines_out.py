"""Lines of bills and credit notes for whoever keeps the books: one row a line, under names that stay as they are.

The names are told in docs/bookkeeper.md; what is given back stands below zero, so that a column can simply be added up.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from kits.exporting import Cell, FileColumn
from reports.models import Bill, BillLine, CreditLine, CreditNote, Payment
from sites.days import day_of, start_of_day
from sites.free import shop_zone


@dataclass(frozen=True)
class OutLine:
    """A line of a paper as it goes out. `about` is the bill's line it bills or takes back."""

    paper: Bill | CreditNote
    line: BillLine | CreditLine
    about: BillLine
    issued_on: date

    @property
    def sign(self) -> int:
        return 1 if isinstance(self.paper, Bill) else -1

    @property
    def bill(self) -> Bill:
        return self.paper if isinstance(self.paper, Bill) else self.paper.bill

    @property
    def days(self) -> int:
        return self.line.days if isinstance(self.line, BillLine) else -len(self.line.days)


def in_units(cents: int) -> Decimal:
    """Whole cents as an amount with two decimals: 650 is 6.50."""
    return Decimal(cents).scaleb(-2)


def only_of_bills(value: Callable[[BillLine], Cell]) -> Callable[[OutLine], Cell]:
    return lambda row: value(row.line) if isinstance(row.line, BillLine) else None


LINE_COLUMNS = (
    FileColumn("Paper", lambda row: "bill" if isinstance(row.paper, Bill) else "credit note"),
    FileColumn("Number", lambda row: row.paper.number),
    FileColumn("Of bill", lambda row: row.bill.number),
    FileColumn("Issued on", lambda row: row.issued_on),
    FileColumn("To be paid by", lambda row: row.paper.due_on if isinstance(row.paper, Bill) else None),
    FileColumn("Month", lambda row: f"{row.bill.month:%Y-%m}"),
    FileColumn("Payer number", lambda row: row.paper.payer_id),
    FileColumn("Payer", lambda row: row.paper.payer_name),
    FileColumn("Line", lambda row: row.line.place),
    FileColumn("Line of bill", lambda row: row.about.place),
    FileColumn("What", lambda row: row.line.get_kind_display()),
    FileColumn("House", lambda row: row.about.site_words),
    FileColumn("Kit code", lambda row: row.about.kit_code),
    FileColumn("Stay", lambda row: row.about.deployment_id),
    FileColumn("Agreement", lambda row: row.about.agreement_id),
    FileColumn("First day", lambda row: row.line.start),
    FileColumn("Last day", lambda row: row.line.until - timedelta(days=1)),
    FileColumn("Days", lambda row: row.days),
    FileColumn("Days included", only_of_bills(lambda line: line.covered)),
    FileColumn("Quantity", only_of_bills(lambda line: line.quantity)),
    FileColumn("Price of one", only_of_bills(lambda line: (line.unit_cents / 100).normalize())),
    FileColumn("Amount without tax", lambda row: row.sign * in_units(row.line.amount_cents)),
    FileColumn("Tax code", lambda row: row.line.tax_code),
    FileColumn("Tax percent", lambda row: (row.line.tax_rate * 100).normalize()),
    FileColumn("Tax", lambda row: row.sign * in_units(row.line.tax_cents)),
    FileColumn(
        "Amount with tax", lambda row: row.sign * in_units(row.line.amount_cents + row.line.tax_cents)
    ),
    FileColumn("Currency", lambda row: row.paper.currency),
    FileColumn("Reason", lambda row: row.line.reason),
)

PAYMENT_COLUMNS = (
    FileColumn("Bill", lambda row: row.bill.number),
    FileColumn("Payer number", lambda row: row.bill.payer_id),
    FileColumn("Payer", lambda row: row.bill.payer_name),
    FileColumn("Paid on", lambda row: row.paid_on),
    FileColumn("Amount", lambda row: in_units(row.amount_cents)),
    FileColumn("Currency", lambda row: row.bill.currency),
    FileColumn("Reference", lambda row: row.reference),
    FileColumn("Written down by", lambda row: row.recorded_by.name),
)


def issued_between(rows: Any, path: str, start: date | None, until: date | None) -> Any:
    """Rows whose paper was issued on the shop's days [start, until)."""
    rows = rows.filter(**{f"{path}issued_at__isnull": False})
    if start:
        rows = rows.filter(**{f"{path}issued_at__gte": start_of_day(start, shop_zone())})
    if until:
        rows = rows.filter(**{f"{path}issued_at__lt": start_of_day(until, shop_zone())})
    return rows


def lines_out(start: date | None = None, until: date | None = None) -> Iterator[OutLine]:
    """Every line of papers issued on the days [start, until), bills first, in the order of their numbers."""
    zone = shop_zone()

    def on(paper: Bill | CreditNote) -> date:
        return day_of(paper.issued_at, zone)  # type: ignore[arg-type]

    bills = issued_between(BillLine.objects.select_related("bill"), "bill__", start, until)
    for line in bills.order_by("bill__year", "bill__serial", "place"):
        yield OutLine(line.bill, line, line, on(line.bill))
    backs = CreditLine.objects.select_related("credit_note__bill", "bill_line")
    backs = issued_between(backs, "credit_note__", start, until)
    for back in backs.order_by("credit_note__year", "credit_note__serial", "place"):
        yield OutLine(back.credit_note, back, back.bill_line, on(back.credit_note))


def payments_out(start: date | None = None, until: date | None = None) -> Iterable[Payment]:
    """Every payment of the days [start, until), in their order."""
    rows = Payment.objects.select_related("bill", "recorded_by").order_by("paid_on", "pk")
    if start:
        rows = rows.filter(paid_on__gte=start)
    if until:
        rows = rows.filter(paid_on__lt=until)
    return rows
