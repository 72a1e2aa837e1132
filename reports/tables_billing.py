"""The list of bills as a table."""

from datetime import date
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.exporting import FileColumn
from kits.templatetags.kitperch import day, word
from reports.billing.calendar import MONTHS
from reports.billing_lines_out import in_units
from reports.billing_list import days_late, state_tone, state_word
from reports.billing_words import amount_text, counted
from reports.models import Bill

BILL_COLUMNS = (
    FileColumn("Number", lambda bill: bill.number),
    FileColumn("Payer number", lambda bill: bill.payer_id),
    FileColumn("Payer", lambda bill: bill.payer_name),
    FileColumn("Month", lambda bill: f"{bill.month:%Y-%m}"),
    FileColumn("Issued at", lambda bill: bill.issued_at),
    FileColumn("To be paid by", lambda bill: bill.due_on),
    FileColumn("Amount without tax", lambda bill: in_units(bill.amount_cents)),
    FileColumn("Tax", lambda bill: in_units(bill.tax_cents)),
    FileColumn("Total", lambda bill: in_units(bill.total_cents)),
    FileColumn("Given back", lambda bill: in_units(bill.credited)),
    FileColumn("Paid", lambda bill: in_units(bill.paid)),
    FileColumn("Open", lambda bill: in_units(bill.open_cents)),
    FileColumn("Currency", lambda bill: bill.currency),
    FileColumn("State", state_word),
)
NUMERAL = {"td": {"class": "numeral"}, "th": {"class": "numeral"}}


class BillTable(tables.Table):
    """Expects bills from `listed_bills`."""

    caption = "Bills"
    counted = "bill,bills"
    exports = ("csv", "xlsx")
    file_columns = BILL_COLUMNS
    teach = "A month that is over is closed into bills, one for each payer. You see every line before anything is issued."

    number = tables.Column(linkify=True, verbose_name="Bill", order_by=("year", "serial"))
    payer_name = tables.Column(verbose_name="Payer")
    month = tables.Column(order_by=("month", "year", "serial"))
    total = tables.Column(attrs=NUMERAL, empty_values=())
    paid = tables.Column(attrs=NUMERAL, empty_values=())
    open_cents = tables.Column(verbose_name="Open", attrs=NUMERAL, empty_values=())
    due_on = tables.Column(verbose_name="To be paid by", empty_values=())
    state = tables.Column(empty_values=())

    class Meta:
        empty_text = "No bill was issued yet."
        order_by = ("-number",)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def row_class(self, bill: Bill) -> str:
        return "is-late" if days_late(bill, self.today) else ""

    def render_payer_name(self, record: Bill) -> SafeString:
        return format_html('<a href="{}">{}</a>', record.payer.get_absolute_url(), record.payer_name)

    def render_month(self, record: Bill) -> str:
        return f"{MONTHS[record.month.month - 1]} {record.month.year}"

    def render_total(self, record: Bill) -> str:
        return amount_text(record.total_cents, record.currency)

    def render_paid(self, record: Bill) -> str:
        return amount_text(record.paid)  # type: ignore[attr-defined]

    def render_open_cents(self, record: Bill) -> str:
        return amount_text(record.open_cents)  # type: ignore[attr-defined]

    def render_due_on(self, record: Bill) -> SafeString | str:
        late = days_late(record, self.today)
        if late:
            return format_html("{} {}", day(record.due_on), word(f"{counted(late, 'day')} late", "late"))
        return day(record.due_on)

    def render_state(self, record: Bill) -> SafeString:
        return word(state_word(record), state_tone(record))
