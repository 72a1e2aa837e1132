"""What the first so many charged days of a stay cost together, under one set of terms.

Everything is told as a sum from the first day on. The price of a part is the difference of two such sums, so it does not
matter into how many bills a stay is cut.
"""

from datetime import date
from decimal import Decimal

from reports.billing.calendar import anniversary
from reports.billing.money import Cents
from reports.billing.terms import Proration, Shape, Terms

FINEST = Decimal("1e-12")


def base(terms: Terms, days: int, anchor: date) -> Cents:
    """Cents for `days` charged days by the price of the terms' shape; where the cheapest is agreed, by single days."""
    if terms.shape == Shape.WEEK:
        return weeks_begun(days) * (terms.week_cents or 0)
    if terms.shape == Shape.MONTH:
        return by_month(terms, days, anchor)
    return days * (terms.day_cents or 0)


def weeks_begun(days: int) -> int:
    return -(-days // 7)


def by_month(terms: Terms, days: int, anchor: date) -> Cents:
    """Whole months at the month's price, the days beyond them as a part of it. Rounded by nobody here."""
    price, months, rest, length = terms.month_cents or 0, *month_of(terms, days, anchor)
    if not rest:
        return price * months
    return price * months + part_of_month(terms, rest, length)


def part_of_month(terms: Terms, days: int, length: int) -> Cents:
    """Cents for the first `days` of a month of `length` days."""
    price = terms.month_cents or 0
    if days >= length:
        return price
    if terms.proration == Proration.THIRTY:
        return min(Decimal(price), Decimal(price * days) / 30)
    if terms.proration == Proration.YEAR_365:
        return min(Decimal(price), Decimal(price * 12 * days) / 365)
    return Decimal(price * days) / length


def month_of(terms: Terms, days: int, anchor: date) -> tuple[int, int, int]:
    """How many whole months `days` are, how many days are left over, and how long that next month is.

    Months run from `anchor` and hold charged days only: a day that is not charged costs nothing of the month either.
    """
    number = 0
    start = anchor
    while True:
        following = anniversary(anchor, number + 1, terms.month_anchor)
        length = (following - start).days
        if days < length:
            return number, days, length
        days -= length
        number, start = number + 1, following


def cheapest(terms: Terms, days: int, anchor: date) -> int:
    """Cents for the cheapest mix of started months, started weeks and single days that holds so many days."""
    best = cheapest_in_weeks(terms, days)
    if terms.month_cents is None:
        return best
    months = 0
    while True:
        months += 1
        held = (anniversary(anchor, months, terms.month_anchor) - anchor).days
        best = min(best, months * terms.month_cents + cheapest_in_weeks(terms, max(0, days - held)))
        if held >= days:
            return best


def cheapest_in_weeks(terms: Terms, days: int) -> int:
    day_cents = terms.day_cents or 0
    best = days * day_cents
    if terms.week_cents is None:
        return best
    weeks, rest = divmod(days, 7)
    return min(
        best,
        weeks * terms.week_cents + rest * day_cents,
        (weeks + bool(rest)) * terms.week_cents,
    )


def priced(cents: Cents, terms: Terms, priority: bool) -> Cents:
    """The price with the priority multiplier, where the stay has priority.

    Thirds and the like end at the twelfth decimal of a cent, far beyond any that decides a rounding. So sums and
    differences of prices are exact from here on, however a stay is cut.
    """
    if priority and terms.priority_multiplier != 1:
        cents = cents * terms.priority_multiplier
    return cents if isinstance(cents, int) else cents.quantize(FINEST)
