"""Billing once more, day by day and by brute force: slow, plain, and written without a look at `reports.billing`'s sums.

Each day is walked through, each stay asked whether the day counts, the included days are ticked off one by one, and the
price of the first n days is found by trying everything. Fractions, no Decimals.
"""

from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import cache
from itertools import pairwise
from math import floor

from dateutil.relativedelta import relativedelta

from reports.billing.stays import Stay
from reports.billing.terms import AllowanceOrder, Contract, DayCount, Proration, Shape, Terms

ONE = timedelta(days=1)


def rounded(value: Fraction) -> int:
    """Half up, away from zero."""
    return floor(value + Fraction(1, 2)) if value >= 0 else -floor(-value + Fraction(1, 2))


@dataclass
class Told:
    """What one stay came to."""

    counted: list[date] = field(default_factory=list)
    included: list[date] = field(default_factory=list)
    charged: list[date] = field(default_factory=list)
    due: Fraction = Fraction(0)
    set_up: int = 0
    top_up: int = 0

    @property
    def total(self) -> int:
        return rounded(self.due) + self.set_up + self.top_up


def counts(stay: Stay, day: date, today: date) -> bool:
    """Whether `day` counts, seen on the morning of `today`."""
    if day >= today or day in dict(stay.uncounted):
        return False
    if stay.sold_on and day >= stay.sold_on:
        return False
    ends = [end for end in (stay.removed_on, stay.asked_on, stay.agreed_end, stay.lost_on) if end]
    end = min(ends, default=None)
    rule = stay.day_count
    inside = day >= stay.installed_on and (end is None or day <= end)
    if day == stay.installed_on and rule == DayCount.NEITHER:
        inside = False
    if end is not None and day == end and rule != DayCount.BOTH:
        inside = False
    if inside:
        return True
    # At least one day: the day of the install, when no other is left.
    if day != stay.installed_on or end is None:
        return False
    first = stay.installed_on + (ONE if rule == DayCount.NEITHER else 0 * ONE)
    last = end if rule == DayCount.BOTH else end - ONE
    return last < first


def terms_of(stay: Stay, day: date) -> tuple[Contract | None, Terms | None]:
    for cover in stay.covers:
        if cover.since <= day and (cover.until is None or day < cover.until):
            found = [terms for since, terms in cover.contract.history if since <= day]
            return cover.contract, found[-1] if found else None
    return None, None


def contract_year(contract: Contract, day: date) -> int:
    clamped = contract.history[0][1].year_anchor == "last_day"
    number = 0
    while True:
        begins = contract.start + relativedelta(years=number + 1)
        if begins.day != contract.start.day and not clamped:
            begins += ONE
        if day < begins:
            return number
        number += 1


@cache
def cheapest(
    days: int, day_cents: int, week_cents: int | None, month_ends: tuple[int, ...], month_cents: int | None
) -> int:
    """The least for `days` days: every mix of months first, then single days and weeks in any order."""

    def in_weeks(count: int) -> int:
        best = [0] * (count + 1)
        for n in range(1, count + 1):
            best[n] = best[n - 1] + day_cents
            if week_cents is not None:
                best[n] = min(best[n], best[max(0, n - 7)] + week_cents)
        return best[count]

    found = [in_weeks(days)]
    if month_cents is not None:
        found += [
            number * month_cents + in_weeks(max(0, days - end))
            for number, end in enumerate(month_ends, start=1)
        ]
    return min(found)


prices_known: dict[tuple[int, int, date, bool], Fraction] = {}


def price_of(terms: Terms, days: int, anchor: date, priority: bool) -> Fraction:
    """The first `days` charged days."""
    key = (id(terms), days, anchor, priority)
    if key not in prices_known:
        prices_known[key] = work_out_price(terms, days, anchor, priority)
    return prices_known[key]


def work_out_price(terms: Terms, days: int, anchor: date, priority: bool) -> Fraction:
    cents = Fraction(0)
    if terms.shape == Shape.DAY:
        cents = Fraction(days * terms.day_cents)
    elif terms.shape == Shape.WEEK:
        cents = Fraction(sum(terms.week_cents for n in range(days) if n % 7 == 0))
    else:
        marks, number = [anchor], 1
        while (marks[-1] - anchor).days < days:
            mark = anchor + relativedelta(months=number)
            if mark.day != anchor.day and terms.month_anchor != "last_day":
                mark += ONE
            marks.append(mark)
            number += 1
        if terms.shape == Shape.CHEAPEST:
            ends = tuple((mark - anchor).days for mark in marks[1:])
            cents = Fraction(cheapest(days, terms.day_cents, terms.week_cents, ends, terms.month_cents))
        else:
            for start, end in pairwise(marks):
                length = (end - start).days
                inside = min(length, days - (start - anchor).days)
                price = Fraction(terms.month_cents)
                part = {
                    Proration.ACTUAL: price * inside / length,
                    Proration.THIRTY: price * inside / 30,
                    Proration.YEAR_365: price * 12 * inside / 365,
                }[terms.proration]
                cents += price if inside == length else min(price, part)
    return cents * Fraction(terms.priority_multiplier) if priority else cents


def by_brute_force(stays: list[Stay], today: date) -> dict[int, Told]:
    """Every stay's bill up to the morning of `today`."""
    prices_known.clear()
    told = {stay.key: Told() for stay in stays}
    clocks: dict[int, tuple[Shape, int, date]] = {}
    used: dict[tuple[int, int], int] = defaultdict(int)
    allowed_at_end: dict[tuple[int, int], int] = {}
    first = min((stay.installed_on for stay in stays), default=today)
    starts = [cover.contract.start for stay in stays for cover in stay.covers if cover.contract.history]
    day = min([first, *starts])
    while day < today:
        there: dict[int, list[tuple[Stay, Contract, Terms]]] = defaultdict(list)
        for stay in stays:
            contract, terms = terms_of(stay, day)
            if contract and terms and counts(stay, day, today):
                there[contract.key].append((stay, contract, terms))
        for kits in there.values():
            tick_off(day, kits, used, told)
            for stay, _contract, terms in kits:
                charge(day, stay, terms, told[stay.key], clocks)
        for stay in stays:
            for cover in stay.covers:
                contract = cover.contract
                terms = [t for since, t in contract.history if since <= day]
                if terms:
                    allowed_at_end[contract.key, contract_year(contract, day)] = terms[-1].included_days
        day += ONE
    for stay in stays:
        finish(stay, told[stay.key], today)
    return told


def carried(contract: Contract, year: int, used: dict[tuple[int, int], int]) -> int:
    """Included days left over from the years before, where they are carried over."""
    left = 0
    for number in range(year):
        last = contract.start + relativedelta(years=number + 1)
        if last.day != contract.start.day and contract.history[0][1].year_anchor != "last_day":
            last += ONE
        terms = [terms for since, terms in contract.history if since < last]
        if terms and terms[-1].carry_over:
            left = max(0, terms[-1].included_days + left - used[contract.key, number])
        else:
            left = 0
    return left


def tick_off(
    day: date,
    kits: list[tuple[Stay, Contract, Terms]],
    used: dict[tuple[int, int], int],
    told: dict[int, Told],
) -> None:
    _stay, contract, terms = kits[0]
    year = contract_year(contract, day)
    allowance = terms.included_days + carried(contract, year, used)
    if terms.allowance_order == AllowanceOrder.PRIORITY_FIRST:
        kits = sorted(kits, key=lambda k: (not k[0].priority, k[0].installed_on, k[0].order, k[0].key))
    else:
        kits = sorted(kits, key=lambda k: (k[0].installed_on, k[0].order, k[0].key))
    if terms.kits_share_a_day:
        if used[contract.key, year] < allowance:
            used[contract.key, year] += 1
            for stay, _c, _t in kits:
                told[stay.key].included.append(day)
        return
    for stay, _c, _t in kits:
        if used[contract.key, year] < allowance:
            used[contract.key, year] += 1
            told[stay.key].included.append(day)


def charge(
    day: date, stay: Stay, terms: Terms, told: Told, clocks: dict[int, tuple[Shape, int, date]]
) -> None:
    told.counted.append(day)
    if day in told.included:
        return
    told.charged.append(day)
    shape, count, anchor = clocks.get(stay.key, (None, 0, day))
    if shape != terms.shape:
        count, anchor = 0, day
    step = price_of(terms, count + 1, anchor, stay.priority) - price_of(terms, count, anchor, stay.priority)
    clocks[stay.key] = (terms.shape, count + 1, anchor)
    limit = terms.cap_cents
    if limit is None:
        told.due += step
    else:
        limit = Fraction(limit)
        if stay.priority and terms.priority_scales_cap:
            limit = Fraction(rounded(limit * Fraction(terms.priority_multiplier)))
        told.due = max(told.due, min(told.due + step, limit))


def finish(stay: Stay, told: Told, today: date) -> None:
    _contract, terms = terms_of(stay, stay.installed_on)
    sold_before = stay.sold_on is not None and stay.sold_on <= stay.installed_on
    if terms and terms.set_up_cents and stay.installed_on < today and not sold_before:
        told.set_up = terms.set_up_cents
    if not told.counted:
        return
    ends = [end for end in (stay.removed_on, stay.asked_on, stay.agreed_end, stay.lost_on) if end]
    # Over: whatever else may be marked, no day from today on counts any more.
    unmarked = replace(stay, uncounted=())
    last_possible = max([*ends, stay.sold_on or today, today]) + 3 * ONE
    to_come = [today + timedelta(days=n) for n in range((last_possible - today).days)]
    over = (bool(ends) or bool(stay.sold_on)) and not any(
        counts(unmarked, day, last_possible) for day in to_come
    )
    _contract, last = terms_of(stay, told.counted[-1])
    if over and told.charged and last and last.minimum_cents:
        told.top_up = max(0, last.minimum_cents - rounded(told.due))
