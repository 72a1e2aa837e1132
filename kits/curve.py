"""A small curve drawn on the server: points with bars of uncertainty, a line through them, limits (pure geometry).

Widths are shares of the drawing, heights are pixels of a fixed height, so that one drawing fits a phone and a desk.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

HEIGHT_PX = 220.0
TOP_PX, BOTTOM_PX = 14.0, 30.0
LEFT_PERCENT, RIGHT_PERCENT = 2.0, 98.0
FIRST_PERCENT, LAST_PERCENT = 15.0, 95.0  # where points may lie: the words of the levels stand before them
ROOM = 1.12  # of the largest figure, so that no bar touches the edge


@dataclass(frozen=True, kw_only=True)
class Point:
    """One result: where it lies, how far the truth may lie on either side, what hovering says."""

    x: float
    y: float
    give_or_take: float = 0.0
    says: str = ""
    kind: str = ""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A point as drawn."""

    x: str
    y: str
    top: str
    bottom: str
    says: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class Level:
    """A line across, with its words."""

    y: str
    text: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """A straight piece of the line through the points."""

    x1: str
    y1: str
    x2: str
    y2: str


@dataclass(frozen=True, kw_only=True)
class Foot:
    """Words at the foot, under a place."""

    x: str
    text: str
    anchor: str


@dataclass(frozen=True, kw_only=True)
class Curve:
    """A drawing, ready for the template."""

    height: float
    marks: Sequence[Mark]
    levels: Sequence[Level]
    strokes: Sequence[Stroke]
    feet: Sequence[Foot] = field(default_factory=list)


def drawn(
    points: Sequence[Point],
    *,
    level_text: Callable[[float], str],
    foot_text: Callable[[float], str],
    limit: float | None = None,
    shown_for_one: float = 1.0,
) -> Curve | None:
    """The drawing of these points by rising x; none when there is nothing to draw.

    `limit` draws a line at plus and minus that much; without one, lines stand at a round figure of the unit that is
    shown, of which `shown_for_one` make one of these. Zero is always in view: the question is how far from it they lie.
    """
    if not points:
        return None
    points = sorted(points, key=lambda point: point.x)
    first, last = points[0].x, points[-1].x
    reach = max(
        [abs(point.y) + point.give_or_take for point in points] + ([limit] if limit is not None else [])
    )
    reach = reach * ROOM or 1.0

    def across(x: float) -> str:
        share = 0.5 if last == first else (x - first) / (last - first)
        return percent(FIRST_PERCENT + share * (LAST_PERCENT - FIRST_PERCENT))

    def down(y: float) -> str:
        middle = TOP_PX + (HEIGHT_PX - TOP_PX - BOTTOM_PX) / 2
        half = (HEIGHT_PX - TOP_PX - BOTTOM_PX) / 2
        return f"{middle - max(-1.0, min(1.0, y / reach)) * half:.1f}"

    marks = [
        Mark(
            x=across(point.x),
            y=down(point.y),
            top=down(point.y + point.give_or_take),
            bottom=down(point.y - point.give_or_take),
            says=point.says,
            kind=point.kind,
        )
        for point in points
    ]
    levels = [Level(y=down(0.0), text=level_text(0.0), kind="zero")]
    level = limit if limit is not None else nice(reach * shown_for_one * 0.75) / shown_for_one
    levels += [
        Level(y=down(y), text=level_text(y), kind="limit" if limit is not None else "")
        for y in (level, -level)
    ]
    strokes = [Stroke(x1=before.x, y1=before.y, x2=after.x, y2=after.y) for before, after in pairwise(marks)]
    return Curve(
        height=HEIGHT_PX, marks=marks, levels=levels, strokes=strokes, feet=feet(points, across, foot_text)
    )


def feet(
    points: Sequence[Point], across: Callable[[float], str], foot_text: Callable[[float], str]
) -> list[Foot]:
    """Words under the first and the last place; one when they are the same."""
    first, last = points[0].x, points[-1].x
    if foot_text(first) == foot_text(last):
        return [Foot(x=across(first), text=foot_text(first), anchor="middle")]
    return [
        Foot(x=percent(LEFT_PERCENT), text=foot_text(first), anchor="start"),
        Foot(x=percent(RIGHT_PERCENT), text=foot_text(last), anchor="end"),
    ]


def nice(value: float) -> float:
    """The next figure at or below `value` that people count by: 1, 2 or 5 and noughts.

    >>> [nice(value) for value in (0.13, 0.034, 7.0)]
    [0.1, 0.02, 5.0]
    """
    if value <= 0:
        return 0.0
    power = 10.0 ** math.floor(math.log10(value))
    step = max(one for one in (1, 2, 5) if one * power <= value * (1 + 1e-9))
    return float(f"{step * power:.6g}")


def percent(share: float) -> str:
    """As SVG takes it, whatever the language of the page."""
    return f"{share:.2f}".rstrip("0").rstrip(".") + "%"
