"""Which readings cannot be what the sensor felt: fault values, the other unit's figures, and one far from the rest.

Fault values: the maker's datasheet (85.0 °C is the power-on value) and the drivers that read the sensors (-127, -55, 127.9375).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from kits.units import Unit, celsius_to_fahrenheit, fahrenheit_to_celsius, temperature_text

POWER_ON_CELSIUS = 85.0
NOT_CONNECTED_CELSIUS = -127.0
LOWEST_CELSIUS, HIGHEST_CELSIUS = -55.0, 125.0
TOO_LITTLE_POWER_CELSIUS = 127.9375

NEAR_KELVIN = 4.0
"""A figure taken in the other unit must come this close to what is expected to be recognised."""
FAR_KELVIN = 10.0
"""And as it stands it must be this far away."""
SPREAD_FACTOR = 6.0
LEAST_SPREAD_KELVIN = 0.3

Reason = Literal[
    "no number", "power-on", "not connected", "too little power", "out of range", "other unit", "far off"
]
FAULT_VALUES: dict[float, Reason] = {
    POWER_ON_CELSIUS: "power-on",
    NOT_CONNECTED_CELSIUS: "not connected",
    LOWEST_CELSIUS: "not connected",
    TOO_LITTLE_POWER_CELSIUS: "too little power",
}
# A fault value typed in °F comes back from the conversion a hair beside itself.
_SAME_KELVIN = 1e-6


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """A reading that is probably not what the sensor felt. `must_go`: it cannot be, and nothing is computed with it."""

    index: int
    celsius: float
    reason: Reason
    sentence: str
    must_go: bool
    meant_celsius: float | None = None
    """What was probably meant, where that can be told."""


def screen(
    readings_celsius: Sequence[float], *, expected_celsius: float | None = None, unit: Unit = "C"
) -> list[Suspect]:
    """Every suspect among the readings of one sensor at one point. `expected_celsius` is what the reference shows.

    `unit` is what people read and typed; readings are °C all the same.
    """
    sound = [reading for reading in readings_celsius if _fault(reading, None) is None]
    middle = expected_celsius if expected_celsius is not None else _middle(sound)
    found = []
    for index, reading in enumerate(readings_celsius):
        reason = _fault(reading, middle)
        if (
            reason is None
            and middle is not None
            and (meant := _other_unit(reading, middle, unit)) is not None
        ):
            found.append(_typed_in_other_unit(index, reading, meant, unit))
        elif reason is None and expected_celsius is not None and abs(reading - expected_celsius) > FAR_KELVIN:
            found.append(_elsewhere(index, reading, expected_celsius, unit))
        elif reason is None and _far_off(index, readings_celsius, sound):
            found.append(_stray(index, reading, sound, unit))
        elif reason is not None:
            found.append(_faulty(index, reading, reason, middle, unit))
    return found


def _fault(reading: float, expected: float | None) -> Reason | None:
    if not math.isfinite(reading):
        return "no number"
    for value, reason in FAULT_VALUES.items():
        if abs(reading - value) < _SAME_KELVIN:
            return reason
    if not LOWEST_CELSIUS <= reading <= HIGHEST_CELSIUS:
        # A °F figure above 125 is told as what it is, when it fits.
        fits = expected is not None and abs(fahrenheit_to_celsius(reading) - expected) <= NEAR_KELVIN
        return None if fits else "out of range"
    return None


def _middle(readings: Sequence[float]) -> float | None:
    return median(readings) if readings else None


def _other_unit(reading: float, expected: float, unit: Unit) -> float | None:
    """What was meant, if the reading fits only when taken in the other unit."""
    meant = fahrenheit_to_celsius(reading) if unit == "C" else celsius_to_fahrenheit(reading)
    if abs(reading - expected) > FAR_KELVIN and abs(meant - expected) <= NEAR_KELVIN:
        return meant
    return None


def _far_off(index: int, readings: Sequence[float], sound: Sequence[float]) -> bool:
    """Far beyond the scatter of the others (six times their median distance from the middle; three others at least)."""
    if len(sound) < 4:
        return False
    others = list(sound)
    others.remove(readings[index])
    centre = median(others)
    scatter = 1.4826 * median(abs(other - centre) for other in others)
    return abs(readings[index] - centre) > max(SPREAD_FACTOR * scatter, LEAST_SPREAD_KELVIN)


def _typed_in_other_unit(index: int, reading: float, meant: float, unit: Unit) -> Suspect:
    other: Unit = "F" if unit == "C" else "C"
    typed = f"{temperature_text(reading, unit)} (reading {index + 1})"
    return Suspect(
        index=index,
        celsius=reading,
        reason="other unit",
        sentence=(
            f"{typed} looks like °{other} among °{unit}: it would be {temperature_text(meant, unit)}. "
            "Type it again in the unit of the others."
        ),
        must_go=True,
        meant_celsius=meant,
    )


def _elsewhere(index: int, reading: float, expected: float, unit: Unit) -> Suspect:
    return Suspect(
        index=index,
        celsius=reading,
        reason="far off",
        sentence=(
            f"{temperature_text(reading, unit)} (reading {index + 1}) is far from the reference, "
            f"{temperature_text(expected, unit)}. Is the sensor in the same bath, and is this its reading?"
        ),
        must_go=False,
    )


def _stray(index: int, reading: float, sound: Sequence[float], unit: Unit) -> Suspect:
    return Suspect(
        index=index,
        celsius=reading,
        reason="far off",
        sentence=(
            f"{temperature_text(reading, unit, 2)} (reading {index + 1}) is far from the others, around "
            f"{temperature_text(median(sound), unit, 2)}. Is it a slip, or was the bath not yet steady?"
        ),
        must_go=False,
    )


def _faulty(index: int, reading: float, reason: Reason, expected: float | None, unit: Unit) -> Suspect:
    shown = temperature_text(reading, unit) if math.isfinite(reading) else "This"
    says = {
        "no number": "is no number. Type what the sensor read.",
        "power-on": "is what a sensor gives before it has measured. Take it out, unless the bath really is that hot.",
        "not connected": "is what is shown for a sensor that did not answer, no temperature. Check its lead, and take it out.",
        "too little power": "is what a sensor gives when its supply is too weak, no temperature. Take it out.",
        "out of range": (
            f"lies outside what the sensor can measure, {temperature_text(LOWEST_CELSIUS, unit, 0)} to "
            f"{temperature_text(HIGHEST_CELSIUS, unit, 0)}. Take it out or type it again."
        ),
    }[reason]
    may_be_true = reason == "power-on" and (expected is None or abs(expected - reading) <= NEAR_KELVIN)
    return Suspect(
        index=index,
        celsius=reading,
        reason=reason,
        sentence=f"{shown} (reading {index + 1}) {says}",
        must_go=not may_be_true,
    )
