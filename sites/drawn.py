"""A history drawn along time: lanes of bars and marks, as shares of the width from one day to another (pure).

Places are shares of the width, so that one drawing fits a phone and a desk; only which label has room differs between
the two, and each label says on which of them it stands.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

# The least room along time on a phone, on a tablet and at a desk; css/components.css tells them apart by these names.
WIDTHS_PX = {"if-narrow": 320.0, "if-wide": 480.0, "if-broad": 670.0}
CHARACTER_PX = 7.4
LABEL_SIDES_PX = 8.0
TICK_SIDES_PX = 10.0
DAYS_WITH_DAY_TICKS = 16
DAYS_WITH_WEEK_TICKS = 130
DAYS_WITH_MONTH_TICKS = 1_100
DOT_PX = 10.0


@dataclass(frozen=True, kw_only=True)
class Piece:
    """Something that lasted from `start` until `until`; None is "still so". `short` is for where `label` has no room."""

    kind: str
    start: datetime
    until: datetime | None
    label: str = ""
    short: str = ""
    says: str = ""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """Something that happened at an instant."""

    kind: str
    at: datetime
    says: str


@dataclass(frozen=True, kw_only=True)
class Lane:
    """One line of the drawing: its name, what lasted, what happened. `code` is a position's."""

    name: str
    pieces: Sequence[Piece] = ()
    marks: Sequence[Mark] = ()
    code: str = ""


@dataclass(frozen=True, kw_only=True)
class Label:
    """Words at a place, on which widths they stand ("" for all), and how far behind the place they begin."""

    x: str
    text: str
    only: str = ""
    beside: bool = False
    dx: int = 5


@dataclass(frozen=True, kw_only=True)
class Bar:
    """A piece as drawn."""

    kind: str
    x: str
    width: str
    says: str
    labels: list[Label]


@dataclass(frozen=True, kw_only=True)
class Dot:
    """A mark as drawn."""

    kind: str
    x: str
    says: str


@dataclass(frozen=True, kw_only=True)
class DrawnLane:
    name: str
    code: str
    bars: list[Bar]
    dots: list[Dot]


@dataclass(frozen=True, kw_only=True)
class Tick:
    """A line across all lanes where a day, a week, a month or a year begins, with its words where they have room."""

    x: str
    labels: list[Label]


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """A history from the day `first` to the day before `end`, in one zone."""

    first: date
    end: date
    zone: ZoneInfo
    now: datetime
    lanes: list[DrawnLane] = field(default_factory=list)

    @property
    def days(self) -> int:
        return (self.end - self.first).days

    @property
    def last(self) -> date:
        return self.end - timedelta(days=1)

    def place(self, instant: datetime) -> float:
        """Where an instant falls, in percent of the width, kept within it.

        >>> week = Drawing(first=date(2026, 3, 2), end=date(2026, 3, 12), zone=ZoneInfo("UTC"), now=datetime(2026, 3, 4, tzinfo=ZoneInfo("UTC")))
        >>> week.place(datetime(2026, 3, 3, 12, tzinfo=ZoneInfo("UTC")))
        15.0
        """
        local = instant.astimezone(self.zone)
        # By the calendar, not by elapsed hours: a day with a clock change is as wide as any other.
        days_in = (local.date() - self.first).days + local.hour / 24 + local.minute / 1440
        return min(max(days_in / self.days * 100, 0.0), 100.0)

    @property
    def now_x(self) -> str:
        """Where now is; empty when it lies outside."""
        return percent(self.place(self.now)) if self.first <= self.local_day(self.now) < self.end else ""

    @property
    def now_is_far_right(self) -> bool:
        return self.place(self.now) > 85

    def local_day(self, instant: datetime) -> date:
        return instant.astimezone(self.zone).date()

    def ticks(self) -> list[Tick]:
        """Lines of time, thinned so that their words never touch, on either width."""
        found = list(self.tick_days())
        shown = {where: self.with_room(found, width) for where, width in WIDTHS_PX.items()}
        ticks = []
        for day, text, _ in found:
            x = percent((day - self.first).days / self.days * 100)
            ticks.append(Tick(x=x, labels=labels_of(x, {w: text for w in shown if day in shown[w]})))
        return ticks

    def tick_days(self) -> Iterator[tuple[date, str, bool]]:
        """Each day a line stands at, its words, and whether they go before others."""
        for number in range(self.days):
            day = self.first + timedelta(days=number)
            if self.days <= DAYS_WITH_DAY_TICKS:
                yield day, f"{day:%a} {day.day}", day.weekday() == 0
            elif self.days <= DAYS_WITH_WEEK_TICKS:
                if day.weekday() == 0:
                    yield day, f"{day.day} {day:%b}", False
            elif day.day == 1 and self.days <= DAYS_WITH_MONTH_TICKS:
                yield day, f"{day:%Y}" if day.month == 1 else f"{day:%b}", day.month == 1
            elif day.day == 1 and day.month in {1, 7}:
                yield day, f"{day:%Y}" if day.month == 1 else "Jul", day.month == 1

    def with_room(self, ticks: list[tuple[date, str, bool]], width_px: float) -> set[date]:
        """The ticks whose words fit beside those already taken: the important first, then from the left."""
        taken: list[tuple[float, float]] = []
        kept = set()
        for day, text, _ in sorted(ticks, key=lambda tick: (not tick[2], tick[0])):
            left = (day - self.first).days / self.days * width_px
            right = left + CHARACTER_PX * len(text) + TICK_SIDES_PX
            if right <= width_px and all(right <= other[0] or left >= other[1] for other in taken):
                taken.append((left, right))
                kept.add(day)
        return kept

    def add(self, lane: Lane) -> None:
        """Draw one more lane; what lies outside the days is cut at the edge or left out."""
        spans = []
        for piece in sorted(lane.pieces, key=lambda piece: piece.start):
            left, right = self.place(piece.start), self.place(piece.until or self.now)
            if right > left:
                spans.append((left, right, piece))
        dots = [
            Dot(kind=mark.kind, x=percent(self.place(mark.at)), says=mark.says)
            for mark in sorted(lane.marks, key=lambda mark: mark.at)
            if self.first <= self.local_day(mark.at) < self.end
        ]
        dotted = [self.place(mark.at) for mark in lane.marks]
        following = [*(left for left, _, _ in spans[1:]), 100.0][: len(spans)]
        bars = [
            Bar(
                kind=piece.kind,
                x=percent(left),
                width=percent(right - left),
                says=piece.says,
                labels=labels_in([piece.label, piece.short], left, right, after, dotted),
            )
            for (left, right, piece), after in zip(spans, following, strict=True)
        ]
        self.lanes.append(DrawnLane(name=lane.name, code=lane.code, bars=bars, dots=dots))


def percent(share: float) -> str:
    """As SVG takes it, whatever the language of the page.

    >>> percent(12.34567), percent(100.0)
    ('12.346%', '100%')
    """
    return f"{share:.3f}".rstrip("0").rstrip(".") + "%"


def labels_of(x: str, texts: dict[str, str], *, beside: bool = False, dx: int = 5) -> list[Label]:
    """One label for all the widths that have the same words.

    >>> [(one.text, one.only) for one in labels_of("0%", {"if-narrow": "1", "if-wide": "lead 1", "if-broad": "lead 1"})]
    [('1', 'if-narrow'), ('lead 1', 'if-wide if-broad')]
    """
    found = []
    for text in dict.fromkeys(texts.values()):
        widths = [where for where in texts if texts[where] == text]
        only = "" if len(widths) == len(WIDTHS_PX) else " ".join(widths)
        found.append(Label(x=x, text=text, only=only, beside=beside, dx=dx))
    return found


def labels_in(
    texts: Sequence[str], left: float, right: float, following: float, dots: Sequence[float] = ()
) -> list[Label]:
    """A bar's words: the longest that fit inside it between its dots, else behind it before the next bar, else none."""
    inside, beside = {}, {}
    starts_dotted = any(abs(dot - left) < 0.001 for dot in dots)
    for where, width in WIDTHS_PX.items():
        half_dot = DOT_PX / width * 100
        begins = left + half_dot if starts_dotted else left
        ends = min([right, *(dot - half_dot for dot in dots if left + 0.001 < dot < right)])
        wanted = [(text, (len(text) * CHARACTER_PX + LABEL_SIDES_PX) / width * 100) for text in texts if text]
        fitting = [text for text, needs in wanted if needs <= ends - begins]
        following_it = [text for text, needs in wanted if needs <= following - right]
        if fitting:
            inside[where] = fitting[0]
        elif following_it:
            beside[where] = following_it[0]
    indent = 13 if starts_dotted else 5
    return labels_of(percent(left), inside, dx=indent) + labels_of(percent(right), beside, beside=True)


def joined(pieces: Iterable[Piece]) -> list[Piece]:
    """Pieces in time with those that follow each other without a gap and say the same made one.

    >>> def at(day): return datetime(2026, 3, day)
    >>> def piece(start, until, label=""): return Piece(kind="shelf", start=at(start), until=at(until), label=label)
    >>> [(one.start.day, one.until.day) for one in joined([piece(3, 4), piece(1, 3), piece(6, 7)])]
    [(1, 4), (6, 7)]
    """
    found: list[Piece] = []
    for piece in sorted(pieces, key=lambda piece: piece.start):
        before = found[-1] if found else None
        if before and (before.kind, before.label, before.until) == (piece.kind, piece.label, piece.start):
            found[-1] = Piece(
                kind=piece.kind,
                start=before.start,
                until=piece.until,
                label=piece.label,
                short=piece.short,
                says=before.says,
            )
        else:
            found.append(piece)
    return found


def cut_at(piece: Piece, instants: Iterable[datetime]) -> list[tuple[datetime, datetime | None]]:
    """A piece cut at the instants that fall inside it.

    >>> def at(day): return datetime(2026, 3, day)
    >>> [start.day for start, _ in cut_at(Piece(kind="", start=at(1), until=at(9)), instants=[at(1), at(4), at(9)])]
    [1, 4]
    """
    inside = sorted(
        at for at in set(instants) if at > piece.start and (piece.until is None or at < piece.until)
    )
    edges: list[datetime | None] = [piece.start, *inside, piece.until]
    return [(start, until) for start, until in pairwise(edges) if start is not None]
