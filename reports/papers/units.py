"""Temperatures and their differences as a reader of °F or °C expects them. The only place that converts.

A temperature goes from Celsius to Fahrenheit with a factor and 32; a difference (an offset, an uncertainty, a
temperature split) with the factor alone.
"""

from __future__ import annotations

from reports.papers.records import Unit

MINUS = "\u2212"
FAHRENHEIT_PER_KELVIN = 1.8
FAHRENHEIT_AT_FREEZING = 32.0


def in_unit(celsius: float, unit: Unit) -> float:
    """A temperature as a bare number in the reader's unit."""
    return celsius * FAHRENHEIT_PER_KELVIN + FAHRENHEIT_AT_FREEZING if unit == "F" else celsius


def difference_in_unit(kelvin: float, unit: Unit) -> float:
    """A temperature difference as a bare number in the reader's unit."""
    return kelvin * FAHRENHEIT_PER_KELVIN if unit == "F" else kelvin


def degrees(unit: Unit) -> str:
    """The unit's sign: "°F" or "°C"."""
    return "°F" if unit == "F" else "°C"


def _figure(value: float, places: int, *, signed: bool) -> str:
    digits = f"{abs(value):.{places}f}"
    if not float(digits):
        return digits  # no "-0.0"
    sign = MINUS if value < 0 else "+" if signed else ""
    return sign + digits


def temperature(celsius: float | None, unit: Unit, *, unknown: str = "not read") -> str:
    """ "54.3 °F". One decimal: a sensor step is 0.06 °C, 0.11 °F."""
    if celsius is None:
        return unknown
    return f"{_figure(in_unit(celsius, unit), 1, signed=False)} {degrees(unit)}"


def difference(kelvin: float | None, unit: Unit, *, places: int = 2, unknown: str = "none") -> str:
    """ "+0.58 °F": always with its sign, since an offset is added."""
    if kelvin is None:
        return unknown
    return f"{_figure(difference_in_unit(kelvin, unit), places, signed=True)} {degrees(unit)}"


def half_width(kelvin: float, unit: Unit, *, places: int = 2) -> str:
    """ "± 0.10 °F": an uncertainty or a tolerance."""
    return f"± {_figure(abs(difference_in_unit(kelvin, unit)), places, signed=False)} {degrees(unit)}"
