"""What is not billed yet: the month to close next, and what the running one comes to so far."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Max

from reports.billing.calendar import first_of_month, next_month
from reports.billing.lines import Line
from reports.billing.tax import tax_of_lines
from reports.billing_books import Books
from reports.billing_looks import unbilled_to_date
from reports.billing_words import sums_of
from reports.models import MonthClaim
from sites.days import day_of
from sites.free import shop_zone
from sites.models import Customer


@dataclass
class Share:
    """What one payer has not been billed for yet, in one currency."""

    payer: Customer
    currency: str
    over: list[Line]  # of months that are over
    running: list[Line]  # of the month that is not
    houses: list[str]

    @property
    def over_cents(self) -> int:
        return with_tax(self.over)

    @property
    def running_cents(self) -> int:
        return with_tax(self.running)

    @property
    def total_cents(self) -> int:
        return self.over_cents + self.running_cents


@dataclass
class Unbilled:
    """All that was not billed by a day, with what a close of the next month comes to."""

    today: date
    shares: list[Share]
    nobody: dict[str, int]  # by house: cents on days on which nobody pays there
    month: date | None  # the month to close next; None: everything that is over is closed
    bills: int  # how many bills closing it makes
    by_currency: dict[str, int]  # what they come to
    credits: dict[str, int]  # bill number to what is due back, without tax
    last_closed: date | None

    @property
    def so_far(self) -> dict[str, int]:
        """The running month by currency, with tax."""
        return sums_of((share.currency, share.running_cents) for share in self.shares if share.running)

    @property
    def of_earlier(self) -> dict[str, int]:
        """Days of months that are over, found after their bill: the payer's next bill takes them up."""
        found = [(one.currency, one.over_cents) for one in self.shares if one.over_cents > 0]
        return sums_of(found)

    @property
    def in_all(self) -> dict[str, int]:
        return sums_of((share.currency, share.total_cents) for share in self.shares)


def with_tax(lines: list[Line]) -> int:
    return sum(line.amount_cents for line in lines) + sum(tax_of_lines(lines))


def unbilled(now: datetime) -> Unbilled:
    """Computed afresh from the stays; today is not counted yet."""
    today = day_of(now, shop_zone())
    running = first_of_month(today)
    found, books = unbilled_to_date(now)
    told = books.comparison
    shares: list[Share] = []
    nobody: dict[str, int] = defaultdict(int)
    for one in found:
        houses = list(dict.fromkeys(books.told[line.stay].site_words for line in one.lines))
        if one.payer is None:
            for line in one.lines:
                nobody[books.told[line.stay].site_words] += line.amount_cents
            continue
        over = [line for line in one.lines if line.cell < running]
        rest = [line for line in one.lines if line.cell >= running]
        shares.append(Share(one.payer, one.currency, over, rest, houses))
    month = month_to_close(books, running)
    closing = lines_to_close(told.new, month) if month else {}
    credits: dict[str, int] = defaultdict(int)
    for correction in told.corrections:
        credits[correction.number] += correction.amount_cents
    return Unbilled(
        today=today,
        shares=shares,
        nobody={house: cents for house, cents in nobody.items() if cents},
        month=month,
        bills=len(closing),
        by_currency=sums_of((currency, with_tax(lines)) for (_payer, currency), lines in closing.items()),
        credits=dict(credits),
        last_closed=last_closed(),
    )


def last_closed() -> date | None:
    """The last month somebody has a bill for."""
    return MonthClaim.objects.filter(released_by=None).aggregate(month=Max("month"))["month"]


def month_to_close(books: Books, running: date) -> date | None:
    """The first month that is over in which somebody has something to pay and no bill yet."""
    has_bill = set(MonthClaim.objects.filter(released_by=None).values_list("month", "payer_id", "currency"))
    open_months = {
        line.cell
        for line in books.comparison.new
        if line.payer is not None
        and line.amount_cents
        and line.cell < running
        and (line.cell, line.payer, line.currency) not in has_bill
    }
    return min(open_months, default=None)


def lines_to_close(lines: Iterable[Line], month: date) -> dict[tuple[int, str], list[Line]]:
    """Payer and currency to the lines that closing `month` bills, as `reports.billing_close.look_at` finds them."""
    has_bill = set(
        MonthClaim.objects.filter(month=month, released_by=None).values_list("payer_id", "currency")
    )
    found: dict[tuple[int, str], list[Line]] = defaultdict(list)
    for line in lines:
        if (
            line.payer is not None
            and line.cell < next_month(month)
            and (line.payer, line.currency) not in has_bill
        ):
            found[line.payer, line.currency].append(line)
    return {key: mine for key, mine in found.items() if any(line.amount_cents for line in mine)}


def months_over(now: datetime, count: int = 18) -> list[date]:
    """The last months that are over, the latest first."""
    month = first_of_month(day_of(now, shop_zone()))
    found = []
    for _ in range(count):
        month = first_of_month(month - timedelta(days=1))
        found.append(month)
    return found


def month_offered(now: datetime) -> date:
    """The month after the last that was closed, when that is over; else the last one that is over."""
    latest = months_over(now, 1)[0]
    last = last_closed()
    return latest if last is None or last >= latest else next_month(last)
