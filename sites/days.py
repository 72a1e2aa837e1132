"""Instants and the calendar days of a place (pure)."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo


def start_of_day(day: date, zone: ZoneInfo) -> datetime:
    """The instant at which `day` begins in `zone`, in UTC.

    >>> start_of_day(date(2026, 3, 9), ZoneInfo("America/New_York")).isoformat()
    '2026-03-09T04:00:00+00:00'
    """
    return datetime.combine(day, time(), zone).astimezone(UTC)


def day_of(instant: datetime, zone: ZoneInfo) -> date:
    """The calendar day that `instant` falls on in `zone`.

    >>> day_of(datetime(2026, 3, 9, 3, 30, tzinfo=UTC), ZoneInfo("America/New_York"))
    datetime.date(2026, 3, 8)
    """
    return instant.astimezone(zone).date()


def say_day(day: date, today: date | None = None) -> str:
    """A day as people write it, with the year where it is not today's.

    >>> say_day(date(2026, 4, 14), date(2026, 5, 1)), say_day(date(2025, 4, 14), date(2026, 5, 1))
    ('Tue 14 Apr', 'Mon 14 Apr 2025')
    """
    text = f"{day:%a} {day.day} {day:%b}"
    return text if today is not None and day.year == today.year else f"{text} {day.year}"
