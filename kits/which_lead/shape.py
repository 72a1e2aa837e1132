"""Does a lead move as one that was taken in the hand, or as one that something else moves? (pure, no Django)

A gripped probe follows 1 - exp(-(t - t0)/tau) with tau of 18 to 40 s and begins when the hand closes. Air from a duct
reaches a probe with 50 s and begins whenever the equipment does; a sun patch takes minutes. So both kinds are fitted to
what was read, and the hand is believed only if it explains the readings clearly better.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

# Half a step of the sensor either way, and noise as large as one step at worst.
READING_SIGMA_KELVIN = 0.06
SLOWEST_GRIP_S = 38.0
GRIP_BEGINS_S = (-6.0, 8.0)

_TAUS = (8.0, 12.0, 16.0, 20.0, 24.0, 28.0, 32.0, 36.0, 40.0, 45.0, 50.0, 60.0, 80.0, 120.0, 300.0)
# Close together where a grip begins, wider elsewhere.
_BEGINS = tuple(float(second) for second in (*range(-30, -8, 4), *range(-8, 20, 2), *range(20, 60, 5)))


class Shape(NamedTuple):
    """How a lead's movement looks. `evidence` is how much better a grip explains it than anything else, as twice the
    logarithm of the ratio of likelihoods: 9 means the other explanations are some ninety times less likely."""

    evidence: float
    tau_s: float
    begins_s: float


def shape_of(times: Sequence[float], changes: Sequence[float]) -> Shape:
    """Fit a grip and everything else to changes from the baseline; times are seconds since the hold began."""
    total = sum(change * change for change in changes)
    best_grip, best_other = math.inf, math.inf
    tau_s = begins_s = math.nan
    last = times[-1] if times else 0.0
    for tau in _TAUS:
        tails = _tails(times, changes, tau)
        position = 0
        for begins in _BEGINS:
            if begins >= last:
                break
            while times[position] <= begins:
                position += 1
            unexplained = total - _explained(tails[position], math.exp(begins / tau))
            if tau <= SLOWEST_GRIP_S and GRIP_BEGINS_S[0] <= begins <= GRIP_BEGINS_S[1]:
                if unexplained < best_grip:
                    best_grip, tau_s, begins_s = unexplained, tau, begins
            elif unexplained < best_other:
                best_other = unexplained
    if math.isinf(best_grip) or math.isinf(best_other):
        return Shape(0.0, tau_s, begins_s)
    variance = max(best_grip / max(len(times) - 3, 1), READING_SIGMA_KELVIN**2)
    return Shape((best_other - best_grip) / variance, tau_s, begins_s)


_Sums = tuple[int, float, float, float, float]


def _tails(times: Sequence[float], changes: Sequence[float], tau: float) -> list[_Sums]:
    """For every position: count, and the sums of e, e², change and change·e over the readings from there on."""
    count, e_sum, ee_sum, c_sum, ce_sum = 0, 0.0, 0.0, 0.0, 0.0
    tails: list[_Sums] = [(0, 0.0, 0.0, 0.0, 0.0)]
    for at_s, change in zip(reversed(times), reversed(changes), strict=True):
        e = math.exp(-at_s / tau)
        count, e_sum, ee_sum = count + 1, e_sum + e, ee_sum + e * e
        c_sum, ce_sum = c_sum + change, ce_sum + change * e
        tails.append((count, e_sum, ee_sum, c_sum, ce_sum))
    tails.reverse()
    return tails


def _explained(sums: _Sums, k: float) -> float:
    """The part of the squares that amplitude x (1 - k e) takes away, with the best amplitude."""
    count, e_sum, ee_sum, c_sum, ce_sum = sums
    squares = count - 2 * k * e_sum + k * k * ee_sum
    product = c_sum - k * ce_sum
    return product * product / squares if squares > 1e-12 else 0.0
