"""When a sensor is to be checked again: from its last check, how much it moved, and what happened to it since."""

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from kits.measuring.trouble import CannotCompute

DRIFT_SHARE = 0.5
"""Moved by more than this share of the limit between two checks, a sensor is checked twice as often."""
SOON_DAYS = 14

What = Literal["lead repaired", "dropped", "lead swapped", "out of limit as found"]
DueState = Literal["in date", "due soon", "due"]

_SENTENCES: dict[What, str] = {
    "lead repaired": "Its lead was repaired on {day} and it has not been checked since.",
    "dropped": "It was dropped on {day} and has not been checked since.",
    "lead swapped": "Its lead was swapped on {day} and it has not been checked since.",
    "out of limit as found": "It was out of limit on {day} and has not passed since.",
}


@dataclass(frozen=True)
class Happening:
    """Something after which an offset is not to be relied on."""

    at: datetime
    what: What


@dataclass(frozen=True, kw_only=True)
class Due:
    """When, and why then. `now`: whatever the date says, it is due already."""

    on: date | None
    """The last day it is in date; None when it was never checked."""
    shortened: bool
    now: bool
    sentence: str

    def in_date(self, day: date) -> bool:
        """Whether its check still holds on this day (the due day itself counts)."""
        return not self.now and self.on is not None and day <= self.on

    def state(self, today: date, soon_days: int = SOON_DAYS) -> DueState:
        if not self.in_date(today):
            return "due"
        return "due soon" if self.on is not None and (self.on - today).days <= soon_days else "in date"


def due(
    *,
    last_checked_at: datetime | None,
    interval_months: int,
    limit_kelvin: float,
    drift_kelvin: float | None = None,
    drift_share: float = DRIFT_SHARE,
    happenings: Sequence[Happening] = (),
) -> Due:
    """The due date. Instants are given in the shop's zone: the day of the check is its day there.

    `drift_kelvin`: how far the bare sensor moved between its last two checks; None when there was one only.
    """
    if interval_months < 1:
        raise CannotCompute("Sensors are checked every one month or more.")
    if last_checked_at is None:
        return Due(on=None, shortened=False, now=True, sentence="It was never checked.")
    day = last_checked_at.date()
    on = add_months(day, interval_months)
    shortened = drift_kelvin is not None and abs(drift_kelvin) > drift_share * limit_kelvin
    sentence = (
        f"Checked {day:%Y-%m-%d}, every {interval_months} {'month' if interval_months == 1 else 'months'}."
    )
    if shortened:
        on = day + (on - day) // 2
        sentence += (
            f" It moved by more than {drift_share:.0%} of the limit since the check before, so half of that."
        )
    since = [happening for happening in happenings if happening.at > last_checked_at]
    if since:
        last = max(since, key=lambda happening: happening.at)
        sentence = _SENTENCES[last.what].format(day=f"{last.at:%Y-%m-%d}")
    return Due(on=on, shortened=shortened, now=bool(since), sentence=sentence)


def add_months(day: date, months: int) -> date:
    """The same day of a later month, or that month's last day: 31 August and 6 months is 28 (29) February."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    month += 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
