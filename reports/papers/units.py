"""Temperatures and their differences as the papers write them; the arithmetic is that of `kits.units`.

A temperature goes from Celsius to Fahrenheit with a factor and 32; a difference (an offset, an uncertainty, a
temperature split) with the factor alone.
"""

from __future__ import annotations

from kits.units import difference_text, temperature_text
from reports.papers.records import Unit


def temperature(celsius: float | None, unit: Unit, *, unknown: str = "not read") -> str:
    """ "54.3 °F". One decimal: a sensor's step is 0.06 °C, 0.11 °F."""
    return unknown if celsius is None else temperature_text(celsius, unit)


def difference(kelvin: float | None, unit: Unit, *, places: int = 2, unknown: str = "none") -> str:
    """ "+0.58 °F", "−0.32 K": always with its sign, since an offset is added."""
    return unknown if kelvin is None else difference_text(kelvin, unit, places)


def half_width(kelvin: float, unit: Unit, *, places: int = 2) -> str:
    """ "± 0.10 °F": an uncertainty or a tolerance."""
    return f"± {difference_text(abs(kelvin), unit, places, signed=False)}"
