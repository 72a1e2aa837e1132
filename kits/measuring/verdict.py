"""Good enough or not: a limit, a rule for results close to it, and what the technician is told.

Guard bands after ILAC-G8:09/2019: a result passes without reserve when it keeps a distance of w = r x U from the limit.
r = 0 is simple acceptance. U is for 95 %, u the standard uncertainty; risks assume a normal distribution.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from kits.measuring.trouble import CannotCompute
from kits.units import Unit, difference_text

DEFAULT_LIMIT_KELVIN = 0.5
"""The maker's own figure for the sensor from -10 to 85 °C."""
DEFAULT_REPLACE_BEYOND_KELVIN = 10 / 9
"""2 °F: beyond that a sensor is not corrected, it is replaced."""
SIMPLE, GUARDED = 0.0, 1.0

Word = Literal["pass", "conditional pass", "conditional fail", "fail"]
AdviceWord = Literal["Good", "Use offset", "Replace"]

# Two ways of writing one limit (0.6 - 0.1 and 0.5) must not differ by a binary fraction.
_SAME_KELVIN = 1e-9


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """One error against the limit."""

    error_kelvin: float
    limit_kelvin: float
    guard_kelvin: float
    """w = r x U."""
    word: Word
    probability_out: float
    """The chance that the sensor truly is outside the limit, given this result."""

    @property
    def acceptance_limit_kelvin(self) -> float:
        return self.limit_kelvin - self.guard_kelvin

    @property
    def passed(self) -> bool:
        """Passed by the rule chosen; a conditional pass is no pass under a guarded rule."""
        return self.word == "pass"


def refuse_impossible_rule(
    *, limit_kelvin: float, expanded_kelvin: float, guard_factor: float, unit: Unit = "C"
) -> None:
    """A rule under which not even an error of zero would pass is no rule."""
    if not limit_kelvin > 0:
        raise CannotCompute("The limit must be more than zero.")
    if guard_factor < 0:
        raise CannotCompute("The guard factor r cannot be less than zero.")
    guard = guard_factor * expanded_kelvin
    if guard >= limit_kelvin - _SAME_KELVIN:
        shown = {
            "U": difference_text(expanded_kelvin, unit, 2, signed=False),
            "w": difference_text(guard, unit, 2, signed=False),
            "limit": difference_text(limit_kelvin, unit, 2, signed=False),
        }
        raise CannotCompute(
            f"With U = {shown['U']} and r = {guard_factor:g} the guard band is {shown['w']}, the whole of the limit of "
            f"{shown['limit']}: no sensor could ever pass. Measure better (more readings, a better bath or reference), "
            "choose a smaller r, or widen the limit."
        )


def judge(
    *,
    error_kelvin: float,
    limit_kelvin: float,
    expanded_kelvin: float,
    standard_uncertainty_kelvin: float | None = None,
    guard_factor: float = GUARDED,
    unit: Unit = "C",
) -> Verdict:
    """The four-way verdict on an error. Without u it is taken as U / 2. Refused: a rule that can never pass.

    Under simple acceptance (r = 0) there are two words only, pass and fail.
    """
    refuse_impossible_rule(
        limit_kelvin=limit_kelvin, expanded_kelvin=expanded_kelvin, guard_factor=guard_factor, unit=unit
    )
    if not math.isfinite(error_kelvin):
        raise CannotCompute("There is no error to judge.")
    u = expanded_kelvin / 2 if standard_uncertainty_kelvin is None else standard_uncertainty_kelvin
    guard = guard_factor * expanded_kelvin
    return Verdict(
        error_kelvin=error_kelvin,
        limit_kelvin=limit_kelvin,
        guard_kelvin=guard,
        word=_word(abs(error_kelvin), limit_kelvin, guard),
        probability_out=probability_out(error_kelvin, limit_kelvin, u),
    )


def _word(size: float, limit: float, guard: float) -> Word:
    size -= _SAME_KELVIN
    if size <= limit - guard:
        return "pass"
    if size <= limit:
        return "conditional pass"
    return "conditional fail" if size <= limit + guard else "fail"


def probability_out(error_kelvin: float, limit_kelvin: float, standard_uncertainty_kelvin: float) -> float:
    """The chance that the true error lies beyond the limit, on either side."""
    if standard_uncertainty_kelvin == 0:
        return float(abs(error_kelvin) > limit_kelvin)
    above = (limit_kelvin - error_kelvin) / standard_uncertainty_kelvin
    below = (limit_kelvin + error_kelvin) / standard_uncertainty_kelvin
    return normal_tail(above) + normal_tail(below)


def normal_tail(z: float) -> float:
    """The share of a normal distribution above z standard deviations, exact far out too."""
    return math.erfc(z / math.sqrt(2)) / 2


def worst_false_pass(guard_factor: float, coverage_factor: float = 2.0) -> float:
    """The rule's risk: the chance of being out for a result that only just passes without reserve (w = r x k x u)."""
    return normal_tail(guard_factor * coverage_factor)


@dataclass(frozen=True)
class RuleRisk:
    """What a rule does to a whole shelf of sensors, as shares of all of them."""

    out_of_limit: float
    passed_though_out: float
    refused_though_good: float


def rule_risk(
    *,
    spread_kelvin: float,
    standard_uncertainty_kelvin: float,
    limit_kelvin: float,
    guard_factor: float,
    coverage_factor: float = 2.0,
) -> RuleRisk:
    """How often a rule errs over many sensors whose true errors scatter around zero with this standard deviation.

    Passed means measured within limit - r x k x u. The guard band's price in good sensors is worth seeing.
    """
    u = standard_uncertainty_kelvin
    accepted = limit_kelvin - guard_factor * coverage_factor * u
    if not (spread_kelvin > 0 and u > 0 and accepted > 0):
        raise CannotCompute(
            "The spread, the uncertainty and what the rule leaves of the limit must be above zero."
        )

    def passing(true_error: float) -> float:
        density = math.exp(-((true_error / spread_kelvin) ** 2) / 2) / (
            spread_kelvin * math.sqrt(2 * math.pi)
        )
        passed = 1 - normal_tail((accepted - true_error) / u) - normal_tail((accepted + true_error) / u)
        return density * passed

    out = 2 * normal_tail(limit_kelvin / spread_kelvin)
    passed_out = 2 * _integral(passing, limit_kelvin, limit_kelvin + 9 * u)  # farther out nothing passes
    passed_good = 2 * _integral(passing, 0.0, limit_kelvin)
    return RuleRisk(out, passed_out, 1 - out - passed_good)


def _integral(function: Callable[[float], float], low: float, high: float, pieces: int = 600) -> float:
    """Simpson's rule; the functions here are smooth."""
    step = (high - low) / pieces
    inner = math.fsum((4 if i % 2 else 2) * function(low + i * step) for i in range(1, pieces))
    return step / 3 * (function(low) + inner + function(high))


def as_found_kelvin(raw_error_kelvin: float, offset_in_force_kelvin: float = 0.0) -> float:
    """The error it came with: what it read plus the offset then in force, minus the reference."""
    return raw_error_kelvin + offset_in_force_kelvin


def as_left_kelvin(raw_error_kelvin: float, new_offset_kelvin: float) -> float:
    """The error it leaves with, under its new offset."""
    return raw_error_kelvin + new_offset_kelvin


@dataclass(frozen=True)
class Advice:
    """What the technician reads, and one sentence why."""

    word: AdviceWord
    sentence: str


def advise(
    *,
    as_found: Verdict,
    raw_error_kelvin: float,
    replace_beyond_kelvin: float = DEFAULT_REPLACE_BEYOND_KELVIN,
    unit: Unit = "C",
) -> Advice:
    """*Replace* when the bare sensor is too far off to be trusted, *Good* when it passes as found, else *Use offset*."""
    raw = difference_text(raw_error_kelvin, unit, 2)
    found = difference_text(as_found.error_kelvin, unit, 2)
    if abs(raw_error_kelvin) > replace_beyond_kelvin + _SAME_KELVIN:
        beyond = difference_text(replace_beyond_kelvin, unit, 2, signed=False)
        return Advice(
            "Replace", f"By itself it is off by {raw}, more than the {beyond} that an offset may mend."
        )
    if as_found.passed:
        limit = difference_text(as_found.acceptance_limit_kelvin, unit, 2, signed=False)
        return Advice("Good", f"As found it is off by {found}, within ± {limit}.")
    return Advice("Use offset", f"As found it is off by {found}; the new offset takes that away.")
