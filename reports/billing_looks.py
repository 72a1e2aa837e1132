"""What a manager looks at: included days used and left, work not billed yet, what was given away, what ends soon."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef

from reports.billing.allowance import YearUse, by_contract, segments, years_of
from reports.billing.lines import Line
from reports.billing_books import Books, read_books
from reports.models import DayMark, MarkKind
from sites.days import day_of
from sites.free import shop_zone
from sites.models import Agreement, Customer, Deployment


def years_used(agreements: Iterable[Agreement], today: date) -> dict[int, list[YearUse]]:
    """Every contract year so far of agreements that include days, the present one last, by the agreement's id."""
    chosen = list(agreements)
    keys = {agreement.pk for agreement in chosen}
    stays = Deployment.objects.filter(installed_at__isnull=False, call__agreement__in=keys) | (
        Deployment.objects.filter(installed_at__isnull=False, unit__site__agreements__in=keys)
    )
    tomorrow = today + timedelta(days=1)
    books = read_books(tomorrow, stays=set(stays.values_list("pk", flat=True)))
    parts = [part for stay in books.stays for part in segments(stay, tomorrow)]
    used = {contract.key: years_of(contract, mine, tomorrow) for contract, mine in by_contract(parts)}
    for key in keys - set(used):
        contract = books.contracts[key]
        if contract.counts_years and contract.start <= today:
            used[key] = years_of(contract, [], tomorrow)
    return {key: years for key, years in used.items() if key in keys}


@dataclass(frozen=True)
class Unbilled:
    """Work of one payer that stands on no bill yet."""

    payer: Customer | None  # None: nobody pays there
    currency: str
    lines: list[Line]

    @property
    def amount_cents(self) -> int:
        return sum(line.amount_cents for line in self.lines)

    @property
    def stays(self) -> list[int]:
        return sorted({line.stay for line in self.lines})


def unbilled_to_date(now: datetime) -> tuple[list[Unbilled], Books]:
    """What would be billed if every month ended today, the most first; minimums come when a stay is over."""
    books = read_books(day_of(now, shop_zone()))
    groups: dict[tuple[int | None, str], list[Line]] = defaultdict(list)
    for line in (*books.comparison.new, *books.comparison.waiting):
        groups[line.payer, line.currency].append(line)
    payers = Customer.objects.in_bulk({payer for payer, _currency in groups if payer is not None})
    found = [
        Unbilled(None if payer is None else payers[payer], currency, lines)
        for (payer, currency), lines in groups.items()
        if any(line.amount_cents for line in lines)
    ]
    return sorted(found, key=lambda one: -one.amount_cents), books


@dataclass(frozen=True)
class GivenAway:
    """Monitoring that was paid for by nobody: included days that lapsed unused, and days waived by whom."""

    lapsed: list[tuple[Agreement, YearUse]]
    waived: list[DayMark]

    @property
    def lapsed_days(self) -> int:
        return sum(year.left for _agreement, year in self.lapsed)


def given_away(since: date, today: date) -> GivenAway:
    """Contract years that ended in [since, today] with days left, and days waived in that time."""
    agreements = list(Agreement.objects.select_related("customer"))
    by_key = {agreement.pk: agreement for agreement in agreements}
    lapsed = [
        (by_key[key], year)
        for key, years in years_used(agreements, today).items()
        for year in years
        if year.left and since <= year.until <= today and not carries_over(by_key[key], year.until)
    ]
    later = DayMark.objects.filter(
        deployment=OuterRef("deployment"), day=OuterRef("day"), pk__gt=OuterRef("pk")
    )
    waived = DayMark.objects.filter(~Exists(later), kind=MarkKind.WAIVED, day__gte=since, day__lte=today)
    waived = waived.select_related("marked_by", "deployment__kit", "deployment__unit__site")
    return GivenAway(lapsed, list(waived))


def carries_over(agreement: Agreement, day: date) -> bool:
    terms = agreement.dated_terms.filter(from_day__lt=day).order_by("from_day").last()
    return bool(terms and terms.carry_over)


def ending_soon(today: date, within_days: int = 60) -> list[Agreement]:
    """Agreements that end within so many days, the next one first."""
    last = today + timedelta(days=within_days)
    found = Agreement.objects.filter(until__gt=today, until__lte=last).select_related("customer")
    return list(found.order_by("until", "pk"))
