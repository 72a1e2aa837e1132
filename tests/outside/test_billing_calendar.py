"""Months and years counted from a day, against python-dateutil's relativedelta: the last day of a month where the day
itself is missing, always from the original start.
"""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import MONTHLY, rrule

from reports.billing.calendar import Anchor, anniversary, first_of_month, months_between, next_month

pytestmark = pytest.mark.outside

# Every day of a leap year and of the year after it: each month end, 29 February, the turn of years.
STARTS = [date(2024, 1, 1) + timedelta(days=number) for number in range(731)]
MONTHS = [*range(26), 47, 48, 49, 120, 1199, 1200]


def test_the_last_day_of_a_month_as_relativedelta_gives_it() -> None:
    wrong = [
        (start, months)
        for start in STARTS
        for months in MONTHS[:: 1 if start.day > 27 else 7]
        if anniversary(start, months) != start + relativedelta(months=months)
    ]
    assert wrong == []


def test_chained_steps_drift_where_ours_do_not() -> None:
    """What relativedelta does when it is added month by month: the reason why we count from the start."""
    chained = date(2026, 1, 31)
    for _ in range(3):
        chained += relativedelta(months=1)
    assert chained == date(2026, 4, 28)
    assert anniversary(date(2026, 1, 31), 3) == date(2026, 4, 30)


@pytest.mark.parametrize(
    "start", [date(2024, 2, 29), date(2026, 1, 29), date(2026, 1, 30), date(2026, 8, 31)]
)
def test_the_first_of_the_next_month_where_the_day_is_missing(start: date) -> None:
    for months in MONTHS:
        clamped = start + relativedelta(months=months)
        expected = clamped if clamped.day == start.day else clamped + timedelta(days=1)
        assert anniversary(start, months, Anchor.NEXT_DAY) == expected


def test_whole_months_between_days_as_relativedelta_counts_them() -> None:
    for start in STARTS[::13]:
        for days in (0, 1, 27, 28, 29, 30, 31, 59, 60, 365, 366, 1000):
            end = start + timedelta(days=days)
            # The most months that, added to the start, do not go beyond the end.
            expected = max(n for n in range(40) if start + relativedelta(months=n) <= end)
            assert months_between(start, end) == expected, (start, end)


def test_firsts_of_months_as_rrule_lists_them() -> None:
    firsts = [at.date() for at in rrule(MONTHLY, dtstart=date(2024, 1, 1), count=40, bymonthday=1)]
    for first, following in pairwise(firsts):
        for number in range((following - first).days):
            inside = first + timedelta(days=number)
            assert (first_of_month(inside), next_month(inside)) == (first, following)
