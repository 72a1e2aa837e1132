"""Temperatures for readers: kept in degrees Celsius, shown in the unit the shop reads (pure, no Django).

A temperature has a zero point and a difference has none: 20 °C is 68 °F, but 20 K of difference is 36 °F. Two
functions, so that nobody can add the 32 by accident.
"""

from decimal import Decimal
from typing import Literal, TypeVar

Number = TypeVar("Number", float, Decimal, float | Decimal)
Unit = Literal["C", "F"]

MINUS = "\N{MINUS SIGN}"
NARROW_BLANK = "\N{NARROW NO-BREAK SPACE}"


def celsius_to_fahrenheit(celsius: Number) -> Number:
    """A temperature: x 1.8, plus 32."""
    return celsius * 9 / 5 + 32


def fahrenheit_to_celsius(fahrenheit: Number) -> Number:
    """A temperature typed in °F, as it is kept."""
    return (fahrenheit - 32) * 5 / 9


def kelvin_to_fahrenheit_difference(kelvin: Number) -> Number:
    """A difference (an offset, a split, an uncertainty): x 1.8 and no 32."""
    return kelvin * 9 / 5


def fahrenheit_difference_to_kelvin(fahrenheit: Number) -> Number:
    """A difference typed in °F, as it is kept."""
    return fahrenheit * 5 / 9


def temperature_text(celsius: Number, unit: Unit, places: int = 1) -> str:
    """ "55.4 °F". A true minus sign, a narrow blank before the unit."""
    value = celsius_to_fahrenheit(celsius) if unit == "F" else celsius
    return f"{_digits(value, places)}{NARROW_BLANK}°{unit}"


def difference_text(kelvin: Number, unit: Unit, places: int = 1, *, signed: bool = True) -> str:
    """ "+0.5 °F" or "+0.3 K". The sign always stands there unless told otherwise: an offset is added."""
    value = kelvin_to_fahrenheit_difference(kelvin) if unit == "F" else kelvin
    digits = _digits(value, places)
    sign = "+" if signed and not digits.startswith(MINUS) and float(digits) != 0 else ""
    return f"{sign}{digits}{NARROW_BLANK}{'°F' if unit == 'F' else 'K'}"


def _digits(value: float | Decimal, places: int) -> str:
    """Fixed places; nothing rounds to "−0.0"."""
    text = f"{value:.{places}f}"
    if float(text) == 0:
        return text.lstrip("-")
    return text.replace("-", MINUS)
