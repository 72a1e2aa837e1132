"""Short series of readings of one sensor, and what in them is no temperature (pure, no Django).

Times are seconds on any one clock that all series share; only differences matter.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

STEP_KELVIN = 0.0625
POWER_ON_CELSIUS = 85.0
POWER_ON_JUMP_KELVIN = 3.0
COLDEST_CELSIUS, HOTTEST_CELSIUS = -55.0, 125.0
SLOW_SECONDS = 10.0


class Sample(NamedTuple):
    """One reading: when the box took it (not when the page heard of it), and what the sensor said, uncorrected."""

    at_s: float
    celsius: float


@dataclass(frozen=True)
class Series:
    """The readings of one sensor during the test, in any order, never changed once given; see `screen`."""

    rom: str
    samples: Sequence[Sample] = ()

    @cached_property
    def sorted_out(self) -> "SortedOut":
        """All readings in the order of time, the temperatures apart from what is none. Done once for many looks."""
        return _sort_out(self.samples)


class SortedOut(NamedTuple):
    """Times and values of the usable readings; times at which there was a power-on value, or an impossible one."""

    times: list[float]
    values: list[float]
    power_on_at: list[float]
    impossible_at: list[float]


@dataclass(frozen=True)
class Screened:
    """One sensor's usable readings in the order of time, and how many were left out as no temperature.

    `every_s` is how often a new reading comes (the median), None while there are fewer than three.
    """

    rom: str
    times: tuple[float, ...]
    values: tuple[float, ...]
    power_on: int = 0
    impossible: int = 0
    every_s: float | None = None

    def between(self, from_s: float, until_s: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Times and values with from_s < time <= until_s."""
        first, last = bisect_right(self.times, from_s), bisect_right(self.times, until_s)
        return self.times[first:last], self.values[first:last]

    def silent_s(self, at_s: float) -> float:
        """Seconds from the last usable reading to an instant; infinite if there was none before it."""
        position = bisect_right(self.times, at_s)
        return at_s - self.times[position - 1] if position else math.inf


def screen(series: Series, until_s: float = math.inf, from_s: float = -math.inf) -> Screened:
    """The readings of a time without those that are no temperature, oldest first.

    Left out are 85.0 where it is a jump (what a sensor says when it has just woken), -127 and 127.9375 (no answer, a
    broken answer) and everything else outside the sensor's range, and a second reading of one instant.
    """
    all_of_it = series.sorted_out
    first, last = bisect_left(all_of_it.times, from_s), bisect_right(all_of_it.times, until_s)
    times = tuple(all_of_it.times[first:last])
    return Screened(
        series.rom,
        times,
        tuple(all_of_it.values[first:last]),
        _count(all_of_it.power_on_at, from_s, until_s),
        _count(all_of_it.impossible_at, from_s, until_s),
        _every_s(times),
    )


def _sort_out(samples: Sequence[Sample]) -> SortedOut:
    found = SortedOut([], [], [], [])
    last_s, last = -math.inf, math.inf
    for at_s, celsius in sorted(samples):
        if not COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS:
            found.impossible_at.append(at_s)
        elif celsius == POWER_ON_CELSIUS and abs(last - celsius) > POWER_ON_JUMP_KELVIN:
            found.power_on_at.append(at_s)
        elif at_s > last_s:
            found.times.append(at_s)
            found.values.append(celsius)
            last_s, last = at_s, celsius
    return found


def _count(times: list[float], from_s: float, until_s: float) -> int:
    return bisect_right(times, until_s) - bisect_left(times, from_s)


def fresh(times: Sequence[float], values: Sequence[float]) -> tuple[list[float], list[float]]:
    """Without repeats: a box that measures more slowly than it is asked gives its last value again and again."""
    kept_times: list[float] = []
    kept_values: list[float] = []
    for at_s, celsius in zip(times, values, strict=True):
        if not kept_values or celsius != kept_values[-1]:
            kept_times.append(at_s)
            kept_values.append(celsius)
    return kept_times, kept_values


def longest_standstill_s(times: Sequence[float], values: Sequence[float]) -> float:
    """The longest time between two different values. In a lead that is clearly moving it tells how slowly it is read."""
    changed_at, _ = fresh(times, values)
    return max((after - before for before, after in pairwise(changed_at)), default=0.0)


def median(values: Iterable[float]) -> float:
    """The middle value, or the mean of the two in the middle. There must be at least one."""
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2


def slope_kelvin_per_minute(times: Sequence[float], values: Sequence[float]) -> float:
    """How fast a series moves: from the median of its first half to that of its second. One wild value does no harm."""
    half = len(times) // 2
    if not half:
        return 0.0
    seconds = median(times[-half:]) - median(times[:half])
    return 60 * (median(values[-half:]) - median(values[:half])) / seconds if seconds > 0 else 0.0


def _every_s(times: Sequence[float]) -> float | None:
    """The median time from one reading to the next, over the last twenty."""
    recent = times[-20:]
    if len(recent) < 3:
        return None
    return median(after - before for before, after in pairwise(recent))
