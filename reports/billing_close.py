"""A month before it is closed: the bills that would be issued, what is unusual about each, and what cannot be billed."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from kits.promises import Refused
from reports.billing.calendar import first_of_month, next_month, say_month
from reports.billing.compare import Correction
from reports.billing.lines import Kind, Line
from reports.billing.tax import TaxTotal, tax_of_lines, tax_totals
from reports.billing_books import Books, Told, read_books
from reports.many_rows import many_records
from reports.models import Bill, DayMark, MarkKind, MonthClaim
from sites.days import day_of, start_of_day
from sites.free import shop_zone
from sites.models import Customer, Site


@dataclass(frozen=True)
class Draft:
    """A bill as it would be issued now. Nothing of it is stored."""

    payer: Customer
    month: date
    currency: str
    lines: list[Line]
    taxes: list[int]  # of each line
    unusual: list[str]  # in words, the gravest first; empty: a bill like any other

    @property
    def amount_cents(self) -> int:
        return sum(line.amount_cents for line in self.lines)

    @property
    def tax_cents(self) -> int:
        return sum(self.taxes)

    @property
    def total_cents(self) -> int:
        return self.amount_cents + self.tax_cents

    @property
    def tax_totals(self) -> list[TaxTotal]:
        return tax_totals(self.lines)


@dataclass
class Close:
    """What closing a month comes to: drafts (unusual ones first), and why some days are on none."""

    month: date
    drafts: list[Draft]
    nothing_due: list[Draft]  # every line is nought: no bill, the lines go along with the payer's next one
    problems: list[str]
    corrections: list[Correction]
    told: dict[int, Told] = field(default_factory=dict)

    @property
    def total_cents(self) -> int:
        return sum(draft.total_cents for draft in self.drafts)

    def seen(self) -> dict[int, int]:
        """Payer to total, to be handed back when the drafts are issued: nothing else is issued than was looked at."""
        totals: dict[int, int] = defaultdict(int)
        for draft in self.drafts:
            totals[draft.payer.pk] += draft.total_cents
        return dict(totals)


def check_month(month: date, now: datetime) -> date:
    """The first of the month, which must be over in the shop and at every site."""
    month = first_of_month(month)
    after = next_month(month)
    if day_of(now, shop_zone()) < after:
        raise Refused(
            {"month": [f"{say_month(month)} is not over yet. It can be closed from {after:%d %b %Y} on."]},
            code="month_not_over",
        )
    if (now - start_of_day(after, shop_zone())) < timedelta(days=1):
        for name in Site.objects.values_list("time_zone", flat=True).distinct():
            if day_of(now, ZoneInfo(name)) < after:
                raise Refused(
                    {
                        "month": [
                            f"It is still {say_month(month)} in {name}. Close it when that day is over there."
                        ]
                    },
                    code="month_not_over",
                )
    return month


@many_records()
def look_at(
    month: date, now: datetime, *, payers: Collection[int] | None = None, books: Books | None = None
) -> Close:
    """The drafts of a month, of all payers or of some, computed afresh from the stays."""
    month = check_month(month, now)
    books = books or read_books(next_month(month))
    told = books.comparison
    billed_already = set(
        MonthClaim.objects.filter(month=month, released_by=None).values_list("payer_id", "currency")
    )
    groups: dict[tuple[int, str], list[Line]] = defaultdict(list)
    unpaid: list[Line] = []
    for line in told.new:
        if line.payer is None:
            unpaid.append(line)
        elif (payers is None or line.payer in payers) and (line.payer, line.currency) not in billed_already:
            groups[line.payer, line.currency].append(line)
    customers = Customer.objects.in_bulk({payer for payer, _currency in groups})
    marked = days_marked(month)
    with_bills = set(Bill.objects.filter(payer__in=customers).values_list("payer_id", flat=True))
    credits_due = {correction.payer for correction in told.corrections}
    drafts = []
    for (payer, currency), lines in groups.items():
        ordered = in_order(lines, books.told)
        unusual = what_is_unusual(ordered, month, books, marked)
        if payer in credits_due:
            unusual.insert(0, "a credit is due to this payer first")
        if payer not in with_bills:
            unusual.append("first bill")
        drafts.append(Draft(customers[payer], month, currency, ordered, tax_of_lines(ordered), unusual))
    drafts.sort(key=lambda draft: (not draft.unusual, draft.payer.name, draft.payer.pk, draft.currency))
    return Close(
        month=month,
        drafts=[draft for draft in drafts if any(line.amount_cents for line in draft.lines)],
        nothing_due=[draft for draft in drafts if not any(line.amount_cents for line in draft.lines)],
        problems=problems(books, unpaid, told.corrections),
        corrections=told.corrections,
        told=books.told,
    )


def in_order(lines: Iterable[Line], told: dict[int, Told]) -> list[Line]:
    """House by house, stay by stay, in the order of their days."""
    places = {kind: place for place, kind in enumerate(Kind)}
    return sorted(
        lines,
        key=lambda line: (
            told[line.stay].site_words,
            line.stay,
            line.cell,
            line.start,
            places[line.kind],
        ),
    )


def days_marked(month: date) -> dict[int, int]:
    """How many days of the month are marked as lacking readings, by stay."""
    found: dict[int, int] = defaultdict(int)
    rows = DayMark.objects.filter(day__gte=month, day__lt=next_month(month), kind=MarkKind.NO_READINGS)
    for stay in rows.values_list("deployment_id", flat=True):
        found[stay] += 1
    return found


def what_is_unusual(lines: list[Line], month: date, books: Books, marked: dict[int, int]) -> list[str]:
    """What somebody should look at before this is issued."""
    kinds = {line.kind for line in lines}
    stays = {line.stay for line in lines}
    found = []
    if sum(line.amount_cents for line in lines) < 0:
        found.append("comes out below nothing")
    if kinds & {Kind.LOST_KIT, Kind.INSPECTION}:
        found.append("kit not recovered")
    if Kind.NO_ACCESS in kinds:
        found.append("no-access charge")
    if Kind.CAP in kinds:
        found.append("the most a stay costs is reached")
    if Kind.MINIMUM in kinds:
        found.append("the least a stay costs is charged")
    if any(line.cell < month for line in lines):
        found.append("lines of earlier months")
    if any(marked.get(stay) for stay in stays):
        found.append("days without readings")
    after = next_month(month)
    if any((end := books.stay(stay).span[1]) is None or end > after for stay in stays):
        found.append("a stay goes on")
    return found


def problems(books: Books, unpaid: list[Line], corrections: list[Correction]) -> list[str]:
    """Why some days stand on no draft, in sentences that say how to mend it."""
    found = []
    for stay in sorted({line.stay for line in unpaid}):
        first = min(line.start for line in unpaid if line.stay == stay)
        found.append(
            f"Nobody pays at {books.told[stay].site_words} on {first:%d %b %Y}. "
            "Write down who pays there; then its days are billed."
        )
    found += [
        f"Agreement {key} has no terms yet, so nothing is billed under it. Write down its terms."
        for key in sorted(books.without_price)
    ]
    if corrections:
        bills = sorted({correction.number for correction in corrections})
        found.append(
            f"What is known now differs from {', '.join(bills)}. Give the credits first; what follows from them "
            "is billed after that."
        )
    return found
