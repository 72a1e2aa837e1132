"""Months and years counted from a day, and how days are written on a bill."""

from calendar import monthrange
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache

MONTH_NAMES = [
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
]
MONTHS = [name[:3] for name in MONTH_NAMES]


class Anchor(StrEnum):
    """Where a month or year begins that lacks the day it should begin on: 29 February, the 31st."""

    LAST_DAY = "last_day"  # on the last day of that month
    NEXT_DAY = "next_day"  # on the first of the next


def anniversary(start: date, months: int, anchor: Anchor = Anchor.LAST_DAY) -> date:
    """`start` and so many months later, computed from `start` itself: chained steps would drift to the 28th.

    >>> [anniversary(date(2026, 1, 31), n).isoformat() for n in (1, 2, 3)]
    ['2026-02-28', '2026-03-31', '2026-04-30']
    >>> anniversary(date(2024, 2, 29), 12, Anchor.NEXT_DAY).isoformat()
    '2025-03-01'
    """
    years, month = divmod(start.month - 1 + months, 12)
    year, month = start.year + years, month + 1
    last = monthrange(year, month)[1]
    if start.day <= last:
        return date(year, month, start.day)
    end = date(year, month, last)
    return end if anchor == Anchor.LAST_DAY else end + timedelta(days=1)


def months_between(start: date, day: date) -> int:
    """Whole months from `start` to `day`.

    >>> months_between(date(2025, 1, 31), date(2025, 2, 28)), months_between(date(2025, 1, 15), date(2026, 3, 14))
    (1, 13)
    """
    months = (day.year - start.year) * 12 + day.month - start.month
    return max(0, months - (anniversary(start, months) > day))


@lru_cache(4_096)  # the same days come again and again
def first_of_month(day: date) -> date:
    return day.replace(day=1)


@lru_cache(4_096)
def next_month(day: date) -> date:
    """The first of the month after `day`'s."""
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1)


@lru_cache(4_096)
def say_span(start: date, until: date) -> str:
    """The days [start, until) as they stand on a line.

    >>> say_span(date(2026, 5, 8), date(2026, 5, 15)), say_span(date(2026, 5, 30), date(2026, 6, 3))
    ('8-14 May', '30 May - 2 Jun')
    >>> say_span(date(2026, 5, 8), date(2026, 5, 9)), say_span(date(2025, 12, 30), date(2026, 1, 2))
    ('8 May', '30 Dec 2025 - 1 Jan 2026')
    """
    last = until - timedelta(days=1)
    if start.year != last.year:
        return f"{say(start)} {start.year} - {say(last)} {last.year}"
    if start.month != last.month:
        return f"{say(start)} - {say(last)}"
    return say(start) if start >= last else f"{start.day}-{say(last)}"


def say(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]}"


def say_month(month: date) -> str:
    """
    >>> say_month(date(2026, 6, 1))
    'June 2026'
    """
    return f"{MONTH_NAMES[month.month - 1]} {month.year}"
