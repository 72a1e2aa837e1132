"""What a stay costs so far, its last charged day and why, and its days with their marks, for the stay's page."""

from dataclasses import dataclass
from datetime import date, timedelta

from reports.billing.lines import Line
from reports.billing.stays import Stay
from reports.billing.tax import tax_of_lines
from reports.billing_books import read_books
from reports.models import AccessOffer, CutLeads, DayMark
from sites.models import Deployment


@dataclass(frozen=True)
class Cost:
    """Computed afresh, as bills are."""

    lines: list[Line]
    tax_cents: int
    last_day: date | None
    ended_by: str
    days: list[tuple[date, str, str]]  # day, word, tone: the days that are marked
    offers: list[AccessOffer]
    cut: CutLeads | None

    @property
    def currency(self) -> str:
        return self.lines[0].currency if self.lines else ""

    @property
    def total_cents(self) -> int:
        return sum(line.amount_cents for line in self.lines) + self.tax_cents


def cost_of(stay: Deployment, today: date) -> Cost | None:
    """None before the install."""
    if stay.installed_at is None:
        return None
    books = read_books(today, stays=[stay.pk])  # today is not over, so not counted yet
    lines = [line for line in books.lines if line.stay == stay.pk]
    found = next((one for one in books.stays if one.key == stay.pk), None)
    end, why = ended_by(found) if found else (None, "")
    marks: dict[date, DayMark] = {mark.day: mark for mark in stay.day_marks.order_by("pk")}
    days = [(day, mark_words(mark), "attention") for day, mark in sorted(marks.items())]
    return Cost(
        lines,
        sum(tax_of_lines(lines)),
        end,
        why,
        days,
        list(stay.access_offers.all()),
        stay.cut_leads.order_by("pk").last(),
    )


def mark_words(mark: DayMark) -> str:
    if mark.hours is None:
        return f"{mark.get_kind_display().lower()}: {mark.why}"
    return f"{mark.hours.normalize():f} h of readings, {mark.get_cause_display().lower()}: {mark.why}"


def ended_by(stay: Stay) -> tuple[date | None, str]:
    """The last day that counts, and which event made it the last."""
    _start, end = stay.span
    if end is None:
        return None, ""
    reasons = [
        (stay.removed_on, "the kit was taken out"),
        (stay.asked_on, "the customer asked for it to be taken out"),
        (stay.agreed_end, "that was the agreed end"),
        (stay.lost_on, "the kit was given up as lost"),
    ]
    told = [(day, words) for day, words in reasons if day is not None]
    first = min(told, key=lambda one: one[0], default=None)
    if stay.sold_on is not None and (first is None or stay.sold_on < first[0]):
        first = (stay.sold_on, "the house changed hands")
    return end - timedelta(days=1), f"{first[1]} ({first[0]:%d %b %Y})" if first else ""
