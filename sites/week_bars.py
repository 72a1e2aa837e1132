"""Bars of a calendar strip: where a kit is promised, away and late over some weeks, as lengths along days (pure)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

DAY_WIDTH = 16
ROW_HEIGHT = 36
BAR_HEIGHT = 22
LABEL_UNITS_A_CHARACTER = 7.5


@dataclass(frozen=True, kw_only=True)
class StaySpan:
    """What the strip needs of one stay. Instants are aware; `home_from` is when the kit must be, or was, home."""

    url: str
    label: str
    holds_from: datetime
    home_from: datetime
    loaded_at: datetime | None
    ended_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Bar:
    """One bar: what it means in a word, where it begins and how long it is, in drawing units."""

    kind: str
    x: float
    width: float
    label: str
    url: str
    says: str
    shows_label: bool


@dataclass(frozen=True, kw_only=True)
class Strip:
    """The days a strip shows, in one zone."""

    first: date
    days: int
    zone: ZoneInfo
    now: datetime

    @property
    def width(self) -> int:
        return self.days * DAY_WIDTH

    def x(self, instant: datetime) -> float:
        """Where an instant falls, kept within the strip.

        >>> strip = Strip(first=date(2026, 3, 2), days=7, zone=ZoneInfo("UTC"), now=datetime(2026, 3, 4, tzinfo=ZoneInfo("UTC")))
        >>> strip.x(datetime(2026, 3, 3, 12, tzinfo=ZoneInfo("UTC")))
        24.0
        """
        local = instant.astimezone(self.zone)
        # By the calendar, not by elapsed hours: a day with a clock change is as wide as any other.
        into_day = local.hour / 24 + local.minute / 1440
        return min(max(((local.date() - self.first).days + into_day) * DAY_WIDTH, 0.0), float(self.width))

    @property
    def today_x(self) -> float:
        return self.x(self.now)

    def weeks(self) -> list[tuple[float, date]]:
        """Each Monday in the strip with its place."""
        all_days = [self.first + timedelta(days=number) for number in range(self.days)]
        return [((day - self.first).days * DAY_WIDTH, day) for day in all_days if day.weekday() == 0]

    def weekends(self) -> list[float]:
        """Where each Saturday begins; a weekend is two days wide."""
        all_days = [self.first + timedelta(days=number) for number in range(self.days)]
        return [(day - self.first).days * DAY_WIDTH for day in all_days if day.weekday() == 5]

    def bars(self, stays: Iterable[StaySpan]) -> list[Bar]:
        """The bars of one kit's stays, earliest first."""
        found = []
        for stay in sorted(stays, key=lambda stay: stay.loaded_at or stay.holds_from):
            labelled = False  # once a stay, on its first bar that has room
            for kind, start, end in self.parts(stay):
                left, right = self.x(start), self.x(end)
                if right - left >= 1:
                    says = f"{stay.label}, {WORDS[kind]}, {say(start, self.zone)} to {say(end, self.zone)}"
                    fits = right - left >= LABEL_UNITS_A_CHARACTER * len(stay.label) + 6
                    bar = Bar(
                        kind=kind,
                        x=left,
                        width=right - left,
                        label=stay.label,
                        url=stay.url,
                        says=says,
                        shows_label=fits and not labelled,
                    )
                    labelled = labelled or fits
                    found.append(bar)
        return found

    def parts(self, stay: StaySpan) -> Sequence[tuple[str, datetime, datetime]]:
        """A stay cut into what was, what is late, and what is only agreed."""
        if stay.loaded_at is None:
            return [("promised", stay.holds_from, stay.home_from)]
        if stay.ended_at is not None:
            late = stay.home_from < stay.ended_at
            due = min(stay.home_from, stay.ended_at)
            away = [("away", stay.loaded_at, max(due, stay.loaded_at))]
            return [*away, ("late", max(due, stay.loaded_at), stay.ended_at)] if late else away
        if stay.home_from < self.now:
            due = max(stay.home_from, stay.loaded_at)
            return [("away", stay.loaded_at, due), ("late", due, self.now)]
        return [("away", stay.loaded_at, self.now), ("agreed", self.now, stay.home_from)]


WORDS = {"promised": "promised", "away": "away", "agreed": "agreed to be away", "late": "late"}


def say(instant: datetime, zone: ZoneInfo) -> str:
    local = instant.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b}"
