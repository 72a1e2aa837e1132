"""Why a line says what it says: which days, which rule, which arithmetic."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from reports.billing import prices
from reports.billing.calendar import say, say_span
from reports.billing.money import Cents, half_up, money_text
from reports.billing.terms import DayCount, LostRule, Proration, Shape, Terms

if TYPE_CHECKING:
    from reports.billing.account import Meter
    from reports.billing.allowance import Segment
    from reports.billing.stays import Stay


def count(number: int, one: str, many: str = "") -> str:
    """
    >>> count(1, "day"), count(4, "started week")
    ('1 day', '4 started weeks')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def quantity_of(terms: Terms, priority: bool, clock: int, charged: int) -> tuple[int, Cents]:
    """How many of what a line of days charges, and the price of one."""
    if terms.shape == Shape.WEEK:
        weeks = prices.weeks_begun(clock + charged) - prices.weeks_begun(clock)
        return weeks, prices.priced(terms.week_cents or 0, terms, priority)
    if terms.shape == Shape.MONTH:
        return charged, prices.priced(terms.month_cents or 0, terms, priority)
    return charged, prices.priced(terms.day_cents or 0, terms, priority)


def of_days(
    part: Segment,
    start: date,
    until: date,
    days: int,
    covered: int,
    clock: int,
    meter: Meter,
    cents: int,
) -> str:
    """ "8-14 May: 7 days, 3 of your 14 included, 4 x 6.50"."""
    stay, terms, charged = part.stay, part.terms, days - covered
    told = [f"{say_span(start, until)}: {count(days, 'day')}"]
    if covered:
        told.append(f"{covered} of your {terms.included_days} included")
    if charged:
        told.append(arithmetic(terms, stay.priority, clock, charged, meter, cents))
    if stay.uncounted:
        skipped: dict[str, list[date]] = {}
        for day, why in stay.uncounted:
            if start <= day < until:
                skipped.setdefault(why, []).append(day)
        told += [f"not charged: {', '.join(map(say, gone))} ({why})" for why, gone in skipped.items()]
    if floor_of_one(stay):
        told.append("a stay counts at least one day")
    return ", ".join(told)


def floor_of_one(stay: Stay) -> bool:
    ends = [day for day in (stay.removed_on, stay.asked_on, stay.agreed_end, stay.lost_on) if day is not None]
    if not ends or stay.day_count == DayCount.BOTH:
        return False
    return (min(ends) - stay.installed_on).days <= (stay.day_count == DayCount.NEITHER)


def arithmetic(terms: Terms, priority: bool, clock: int, charged: int, meter: Meter, cents: int) -> str:
    quantity, unit_cents = quantity_of(terms, priority, clock, charged)
    price = money_text(unit_cents)
    if terms.shape == Shape.WEEK:
        if not quantity:
            return "of a week already charged"
        return f"{count(quantity, 'started week')} × {price}"
    if terms.shape == Shape.MONTH:
        _months, gone, length = prices.month_of(terms, clock, meter.anchor)
        return month_arithmetic(terms, gone, charged, length, price, cents)
    return f"{charged} × {price}"


def month_arithmetic(terms: Terms, gone: int, charged: int, length: int, price: str, cents: int) -> str:
    if charged == length:
        return f"a whole month, {price}"
    if gone + charged == length and terms.proration != Proration.ACTUAL:
        return f"the rest of a month of {price}: {money_text(cents)}"
    if terms.proration == Proration.THIRTY:
        return f"{charged}/30 of {price}"
    if terms.proration == Proration.YEAR_365:
        return f"{charged} × 12/365 of {price}"
    return f"{charged}/{length} of {price}"


def of_cheaper(meter: Meter, cents: int) -> str:
    days = count(meter.days, "day")
    return (
        f"{days} so far cost {money_text(half_up(meter.mixed))} by weeks or months "
        f"instead of {money_text(half_up(meter.base))} by single days: {money_text(-cents)} taken off"
    )


def of_cap(terms: Terms, stay: Stay, cents: int) -> str:
    cap = terms.cap_for(stay.priority) or 0
    return f"a stay costs {money_text(cap)} at most: {money_text(-cents)} taken off"


def of_set_up(day: date, terms: Terms) -> str:
    return f"set-up on {say(day)}, once a stay: {money_text(terms.set_up_cents or 0)}"


def of_minimum(lowest: int, due_cents: int) -> str:
    return (
        f"a stay costs {money_text(lowest)} at least, its days came to {money_text(due_cents)}: "
        f"{money_text(lowest - due_cents)} added"
    )


def of_lost_kit(day: date, terms: Terms, replacement_cents: int, age_months: int) -> str:
    if terms.lost_rule == LostRule.LIST:
        return f"kit not recovered, {say(day)}: its replacement value {money_text(replacement_cents)}"
    left = max(0, terms.life_months - age_months)
    return (
        f"kit not recovered, {say(day)}: {count(left, 'month')} of its {terms.life_months} left, "
        f"{money_text(replacement_cents)} × {left}/{terms.life_months}"
    )


def of_inspection(day: date, terms: Terms, price: int) -> str:
    percent = f"{terms.inspection_percent.normalize():f}"
    return f"kit found on {say(day)}: inspection, {percent} % of {money_text(price)}"


def of_deposit(cents: int) -> str:
    return f"deposit we hold, set against the kit: {money_text(cents)}"


def of_cut_leads(terms: Terms, leads: int) -> str:
    return f"{count(leads, 'lead')} cut, {leads} × {money_text(terms.cut_lead_cents or 0)}"


def of_no_access(day: date, terms: Terms) -> str:
    return f"no access after two written offers, {say(day)}: {money_text(terms.no_access_cents or 0)}"
