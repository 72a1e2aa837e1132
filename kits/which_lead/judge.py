"""Which lead is being held: one look at the series of all leads of a kit (pure, no Django).

Measured is the change of every lead from the median before the hold. The lead that moved most is named only if nothing
else explains it: every other lead stands still, it moves towards the hand and not past it, and it began when the hand
closed and goes as fast as a gripped probe does. Where a duct or the sun could look the same, the lead is let go first and
has to come back. A wrong name costs a callback; "not sure yet" costs a minute.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from kits.which_lead import sentences as say
from kits.which_lead.gates import (
    LEAST_CHANGE_KELVIN,
    SKIN_CELSIUS,
    STILL_KELVIN,
    Gates,
    Moved,
    furthest_first,
)
from kits.which_lead.judgement import Judgement, Kind, Shown
from kits.which_lead.series import (
    SLOW_SECONDS,
    STEP_KELVIN,
    Screened,
    Series,
    fresh,
    longest_standstill_s,
    median,
    screen,
    slope_kelvin_per_minute,
)
from kits.which_lead.shape import shape_of

BASELINE_S = 60.0
BASELINE_AT_LEAST_S = 20.0
STEADY_KELVIN_PER_MINUTE = 0.2

HOLD_AT_LEAST_S = 30.0
HOLD_LONGER_S = 45.0
HOLD_AT_MOST_S = 90.0
READINGS_WANTED = 3
EVIDENCE_WANTED = 16.0
STIRS_KELVIN = 0.25
SILENT_S = 12.0

RETURN_SHARE = 0.20
RETURN_WITHIN_S = 120.0


@dataclass(frozen=True, kw_only=True)
class Movement(Moved):
    """One lead with its readings: how it drifted before the hold, and whether its last three readings agree."""

    series: Screened
    drift_kelvin_per_minute: float
    steady: bool
    last_three_agree: bool = False


def judge(
    series_by_rom: Mapping[str, Series],
    began_holding_s: float | None,
    now_s: float,
    *,
    skin_celsius: float = SKIN_CELSIUS,
    unnamed: Collection[str] | None = None,
    warm_or_cold: str = "hand",
    released_at_s: float | None = None,
    shown: Shown | None = None,
) -> Judgement:
    """What the readings up to `now_s` say about the lead that has been held since `began_holding_s`.

    `unnamed` are the leads still to be told apart (all, if not given); the others help to see equipment start.
    `warm_or_cold` is "hand", or "cold" for a cold can or a wet cloth. Give `released_at_s` once the lead was let go: then
    it must come back by a fifth within two minutes. Without `began_holding_s` it says whether the hold may begin.
    """
    left = frozenset(series_by_rom if unnamed is None else unnamed)
    shown = shown or Shown.in_unit("C", sorted({*series_by_rom, *left}))
    gates = Gates.of(left, skin_celsius, warm_or_cold, shown)
    return _Test(gates, series_by_rom, began_holding_s, now_s, released_at_s).judged()


class _Test:
    """One call of `judge`, step by step; every step either ends it with a Judgement or gives None."""

    def __init__(
        self,
        gates: Gates,
        series_by_rom: Mapping[str, Series],
        began_s: float | None,
        now_s: float,
        released_s: float | None,
    ) -> None:
        self.gates, self.shown = gates, gates.shown
        self.began_s, self.now_s = began_s, now_s
        self.released_s = released_s if released_s is not None and released_s <= now_s else None
        from_s = (now_s if began_s is None else began_s) - BASELINE_S
        self.all = {
            rom: screen(series_by_rom.get(rom, Series(rom)), now_s, from_s)
            for rom in {*series_by_rom, *gates.unnamed}
        }

    def judged(self) -> Judgement:
        if not self.gates.unnamed:
            return say.nobody_left()
        if len(self.gates.unnamed) == 1:
            return self.last_one()
        return self.measured()

    def last_one(self) -> Judgement:
        """The only lead left is known without measuring; held all the same, it must not contradict."""
        (rom,) = self.gates.unnamed
        if self.began_s is not None:
            measured = self.measured()
            if measured.is_decided or measured.let_go or measured.kind is Kind.RELEASED_NOT_RETURNING:
                return measured
            if measured.kind is Kind.NOT_SURE_YET and self.now_s - self.began_s >= HOLD_LONGER_S:
                return say.last_does_not_move(self.shown, rom, measured)
        return say.by_elimination(self.shown, rom)

    def measured(self) -> Judgement:
        if all(not self.all[rom].times for rom in self.gates.unnamed):
            return say.no_readings(self.all.values())
        start = self.now_s if self.began_s is None else self.began_s
        before = {rom: _baseline(series, start) for rom, series in self.all.items()}
        refusal = self.before_the_hold(before)
        if refusal or self.began_s is None:
            return refusal or say.ready(self.gates.cold)
        hold = _Hold(self.gates, self.all, self.began_s, self.now_s, self.released_s)
        return hold.judged([one for one in before.values() if one is not None])

    def before_the_hold(self, before: Mapping[str, Movement | None]) -> Judgement | None:
        """Every unnamed lead needs a quiet time before, and not all of them may be as warm as the hand."""
        waiting = self.began_s is None
        leads = [(rom, before[rom]) for rom in sorted(self.gates.unnamed)]
        missing = [rom for rom, one in leads if one is None]
        if missing:
            never = [rom for rom in missing if not self.all[rom].times]
            return say.too_little_before(self.shown, missing, never, waiting=waiting)
        found = [one for _, one in leads if one is not None]
        unsteady = [one for one in found if not one.steady]
        if unsteady:
            worst = max(unsteady, key=lambda one: abs(one.drift_kelvin_per_minute))
            return say.unsteady(self.shown, worst.rom, worst.drift_kelvin_per_minute, waiting=waiting)
        if all(self.gates.is_near(one.baseline) for one in found):
            typical = median(one.baseline for one in found)
            return say.near(self.shown, typical, self.gates.target, self.gates.cold)
        return None


@dataclass(frozen=True)
class _Hold:
    """A hold that follows a quiet time: what all leads did since it began."""

    gates: Gates
    all: Mapping[str, Screened]
    began_s: float
    now_s: float
    released_s: float | None

    @property
    def until_s(self) -> float:
        """The last instant the lead was in the hand, as far as is known."""
        return self.now_s if self.released_s is None else self.released_s

    @property
    def held_s(self) -> float:
        return self.until_s - self.began_s

    def judged(self, before: list[Movement]) -> Judgement:
        # A lead that was named and let go is still on its way back: it says nothing about the others.
        steady = [_moved(one, self.began_s, self.until_s) for one in before if one.steady]
        leader, *others = furthest_first(steady)
        numbers = say.Numbers.of(leader, others[0] if others else None)
        return (
            self.somebody_is_silent(numbers)
            or self.gates.too_many_move(leader, others, numbers)
            or self.too_little_yet(leader, numbers)
            or self.gates.not_by_a_hand(leader, numbers)
            or self.decide(leader, numbers)
        )

    def somebody_is_silent(self, numbers: say.Numbers) -> Judgement | None:
        """A lead without a reading now may be the one that is held, or a second one."""
        for rom in sorted(self.gates.unnamed):
            series = self.all[rom]
            silent_s = series.silent_s(self.until_s)
            if silent_s > max(SILENT_S, 2.5 * (series.every_s or 0.0)):
                return say.silent(self.gates.shown, rom, silent_s, numbers)
        return None

    def too_little_yet(self, leader: Movement, numbers: say.Numbers) -> Judgement | None:
        """Not held long enough, not moved far enough, or too few new readings."""
        if abs(leader.change) < LEAST_CHANGE_KELVIN:
            if self.held_s < HOLD_AT_MOST_S and self.released_s is None:
                return say.keep_holding(self.gates.shown, numbers, HOLD_LONGER_S - self.held_s)
            return say.nothing_moves(self.gates.shown, numbers, self.gates.cold)
        new_readings, every_s = self.new_readings(leader)
        # The median of three is one reading old, and a second lead must have had its half minute too.
        wait_s = HOLD_AT_LEAST_S + every_s - self.held_s
        if wait_s <= 0 and new_readings >= READINGS_WANTED and leader.last_three_agree:
            return None
        if self.released_s is not None:
            return say.let_go_too_early(self.gates.shown, numbers)
        return say.keep_holding(
            self.gates.shown, numbers, wait_s, every_s if every_s > SLOW_SECONDS else None
        )

    def new_readings(self, leader: Movement) -> tuple[int, float]:
        """How many readings of the leader are new since the hold began, and how often the box has new ones."""
        slowest_s = max(self.all[rom].every_s or 0.0 for rom in self.gates.unnamed)
        times, _ = fresh(*leader.series.between(self.began_s - BASELINE_S, self.until_s))
        standstill_s = longest_standstill_s(*leader.series.between(self.began_s, self.until_s))
        if standstill_s > SLOW_SECONDS:
            slowest_s = max(slowest_s, standstill_s)
        return sum(at_s > self.began_s for at_s in times), slowest_s

    # -- The decision ------------------------------------------------------------------------------

    def decide(self, leader: Movement, numbers: say.Numbers) -> Judgement:
        if self.released_s is not None:
            return self.after_release(leader, numbers, self.released_s)
        second = abs(numbers.runner_up_change or 0.0)
        # A second grip that is slower shows late, and what moves a neighbour may be moving this lead.
        held_enough = second < STIRS_KELVIN or self.held_s >= HOLD_LONGER_S
        if held_enough and second < STILL_KELVIN and self.evidence(leader) >= EVIDENCE_WANTED:
            return say.decided(self.gates.shown, numbers)
        if self.held_s < HOLD_LONGER_S:
            return say.keep_holding(self.gates.shown, numbers, HOLD_LONGER_S - self.held_s)
        return say.let_go(self.gates.shown, numbers)

    def evidence(self, leader: Movement) -> float:
        """How much better a grip that began on time explains this lead than anything else; see `shape`."""
        times, values = leader.series.between(self.began_s - BASELINE_S / 2, self.until_s)
        new_times, new_values = _only_new(times, values, self.began_s)
        return shape_of(
            [at_s - self.began_s for at_s in new_times], [value - leader.baseline for value in new_values]
        ).evidence

    def after_release(self, leader: Movement, numbers: say.Numbers, released_s: float) -> Judgement:
        """Let go, a held lead comes back by itself; one that equipment or the sun moves does not."""
        _, around = leader.series.between(released_s - 15.0, released_s + 10.0)
        _, since = leader.series.between(released_s, min(self.now_s, released_s + RETURN_WITHIN_S))
        sign = 1.0 if leader.change > 0 else -1.0
        furthest = max((sign * (value - leader.baseline) for value in around), default=abs(leader.change))
        share = 0.0
        if len(since) >= READINGS_WANTED and furthest > 0:
            share = 1.0 - sign * (median(since[-READINGS_WANTED:]) - leader.baseline) / furthest
        waited_s = self.now_s - released_s
        if share >= RETURN_SHARE:
            return say.decided(self.gates.shown, numbers, returned_share=share)
        if waited_s <= RETURN_WITHIN_S:
            return say.wait_for_return(self.gates.shown, numbers, share, RETURN_WITHIN_S - waited_s)
        return say.not_returning(self.gates.shown, numbers, share)


def _baseline(series: Screened, start_s: float) -> Movement | None:
    """Where a lead was in the minute before the hold; None with fewer than three readings over twenty seconds."""
    times, values = series.between(start_s - BASELINE_S, start_s)
    if len(times) < READINGS_WANTED or times[-1] - times[0] < BASELINE_AT_LEAST_S:
        return None
    drift = slope_kelvin_per_minute(times, values)
    minutes_between_halves = (times[-1] - times[0]) / 120
    allowed = max(2 * STEP_KELVIN, STEADY_KELVIN_PER_MINUTE * minutes_between_halves)
    return Movement(
        series.rom,
        median(values),
        series=series,
        drift_kelvin_per_minute=drift,
        steady=abs(drift) * minutes_between_halves <= allowed,
    )


def _moved(one: Movement, began_s: float, until_s: float) -> Movement:
    """The same lead with its change by now: the median of the last three readings against the baseline."""
    _, values = one.series.between(began_s, until_s)
    last_three = values[-READINGS_WANTED:]
    if not last_three:
        return one
    change = median(last_three) - one.baseline
    agree = len(last_three) == READINGS_WANTED and all(
        (value - one.baseline) * change > 0 for value in last_three
    )
    return replace(one, change=change, last_three_agree=agree)


def _only_new(
    times: tuple[float, ...], values: tuple[float, ...], began_s: float
) -> tuple[list[float], list[float]]:
    """All readings before the hold; during it only those that are new, if the box is read faster than it measures."""
    first = sum(at_s <= began_s for at_s in times)
    if longest_standstill_s(times[first:], values[first:]) <= SLOW_SECONDS:
        return list(times), list(values)
    new_times, new_values = fresh(times[first:], values[first:])
    return [*times[:first], *new_times], [*values[:first], *new_values]
