"""Temperatures for readers: kept in degrees Celsius, shown in the unit the shop reads (pure, no Django).

A temperature has a zero point and a difference has none: 20 °C is 68 °F, but 20 K of difference is 36 °F. Two
functions, so that nobody can add the 32 by accident.
"""

import re
from decimal import Decimal
from typing import Literal, TypeVar

Number = TypeVar("Number", float, Decimal, float | Decimal)
Unit = Literal["C", "F"]

METRES_A_FOOT = Decimal("0.3048")  # exactly, NIST SP 811, B.6
FEET_AND_INCHES = re.compile(
    r"""(?:(?P<feet>\d+(?:[.,]\d+)?)\s*(?:ft|feet|foot|['′’])\.?)?\s*-?\s*"""
    r"""(?:(?P<inches>\d+(?:[.,]\d+)?)\s*(?:in|inch|inches|["″”])\.?)?""",
    re.IGNORECASE,
)
METRIC = re.compile(r"(\d+(?:[.,]\d+)?)\s*(cm|m|metres?|meters?)\.?", re.IGNORECASE)

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


def length_text(metres: Decimal, unit: Unit) -> str:
    """ "3.66 m", and where °F is read feet before it, with as few places as give the same metres back.

    >>> length_text(Decimal("3.66"), "C"), length_text(Decimal("3.66"), "F"), length_text(Decimal("2.00"), "F")
    ('3.66\u202fm', '12\u202fft (3.66\u202fm)', '6.56\u202fft (2\u202fm)')
    """
    kept = f"{metres.normalize():f}{NARROW_BLANK}m"
    if unit != "F":
        return kept
    feet = metres / METRES_A_FOOT
    for places in range(3):
        shown = round(feet, places)
        if (shown * METRES_A_FOOT).quantize(metres) == metres:
            break
    return f"{shown.normalize():f}{NARROW_BLANK}ft ({kept})"


def metres_typed(text: str) -> Decimal | None:
    """A length as people write it with its unit: 12 ft, 6' 6", 3.5 m, 80 cm. None when no unit stands there.

    >>> metres_typed("12 ft"), metres_typed("6' 6\\""), metres_typed("3,5 m"), metres_typed("12")
    (Decimal('3.66'), Decimal('1.98'), Decimal('3.50'), None)
    """
    found = FEET_AND_INCHES.fullmatch(text.strip())
    if found and (found["feet"] or found["inches"]):
        feet, inches = (Decimal((found[part] or "0").replace(",", ".")) for part in ("feet", "inches"))
        return _centimetres(feet + inches / 12)
    if found := METRIC.fullmatch(text.strip()):
        metres = Decimal(found[1].replace(",", ".")) / (100 if found[2].lower().startswith("c") else 1)
        return metres.quantize(Decimal("0.01"))
    return None


def _centimetres(feet: Decimal) -> Decimal:
    """Feet as metres to the centimetre."""
    return (feet * METRES_A_FOOT).quantize(Decimal("0.01"))


def _digits(value: float | Decimal, places: int) -> str:
    """Fixed places; nothing rounds to "−0.0"."""
    text = f"{value:.{places}f}"
    if float(text) == 0:
        return text.lstrip("-")
    return text.replace("-", MINUS)
