"""Small series for tests: a lead that follows a function of the seconds since the hold began."""

import math
from collections.abc import Callable, Iterable

from kits.which_lead import Sample, Series

ROMS = ("28FF641E0F0000A1", "28FF641E0F0000B2", "28FF641E0F0000C3", "28FF641E0F0000D4", "28FF641E0F0000E5")
Curve = Callable[[float], float]


def series(
    curves: Iterable[Curve], from_s: float = -60, until_s: float = 200, every_s: float = 2
) -> dict[str, Series]:
    """One lead a curve, read at even times in steps of 1/16 K."""
    count = int((until_s - from_s) / every_s) + 1
    times = [from_s + every_s * index for index in range(count)]
    return {
        rom: Series(rom, [Sample(at_s, round(curve(at_s) * 16) / 16) for at_s in times])
        for rom, curve in zip(ROMS, curves, strict=False)
    }


def still(celsius: float = 22.0) -> Curve:
    return lambda at_s: celsius


def held(
    ambient: float = 22.0,
    hand: float = 31.0,
    tau_s: float = 25.0,
    begins_s: float = 0.0,
    ends_s: float = math.inf,
    back_tau_s: float = 200.0,
) -> Curve:
    """Gripped from begins_s, let go at ends_s."""

    def at(at_s: float) -> float:
        gripped_s = max(min(at_s, ends_s) - begins_s, 0.0)
        excess = (hand - ambient) * -math.expm1(-gripped_s / tau_s)
        return ambient + excess * math.exp(-max(at_s - ends_s, 0.0) / back_tau_s)

    return at


def ramp(kelvin_per_minute: float, begins_s: float = -60.0, start: float = 22.0) -> Curve:
    return lambda at_s: start + kelvin_per_minute * max(at_s - begins_s, 0.0) / 60
