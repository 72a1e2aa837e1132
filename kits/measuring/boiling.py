"""Where water boils: from the pressure a barometer reads at the place itself, or roughly from the altitude.

Saturation line: IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997 for the Thermodynamic
Properties of Water and Steam, region 4, equation 31, coefficients of its table 34. It is within 0.0002 K of the
scientific formulation between 70 and 101 kPa. Standard air: ASHRAE Handbook of Fundamentals, psychrometrics, equation 3.
"""

import math
from dataclasses import dataclass

from kits.measuring.trouble import CannotCompute

ZERO_CELSIUS_KELVIN = 273.15
SEA_LEVEL_PASCAL = 101_325.0
PASCAL_PER_INCH_OF_MERCURY = 3386.389
PASCAL_PER_HECTOPASCAL = 100.0
METRE_PER_FOOT = 0.3048

LOWEST_PASCAL, HIGHEST_PASCAL = 50_000.0, 110_000.0
LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M = -430.0, 5_500.0
WEATHER_HALF_WIDTH_PASCAL = 3_000.0
"""How far weather moves the pressure of a place from standard air on all but the rarest days."""
BAROMETER_HALF_WIDTH_PASCAL = 300.0
"""What a phone's or a household barometer may be off by."""
SURPRISE_PASCAL = 1_000.0
"""Beyond the weather's reach by this much, a pressure is refused."""
LOWEST_SEA_LEVEL_FIGURE_PASCAL = 97_000.0
"""Weather reports seldom print less, wherever they are made for."""
ALTITUDE_MATTERS_FROM_M = 100.0

_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def boiling_celsius(pressure_pascal: float) -> float:
    """The temperature at which water boils under this pressure."""
    if not LOWEST_PASCAL <= pressure_pascal <= HIGHEST_PASCAL:
        raise CannotCompute(
            f"A pressure of {pressure_pascal / 100:,.0f} hPa is no air pressure at a place people work: "
            f"it lies between {LOWEST_PASCAL / 100:.0f} and {HIGHEST_PASCAL / 100:,.0f} hPa. Check the unit."
        )
    return saturation_kelvin(pressure_pascal / 1e6) - ZERO_CELSIUS_KELVIN


def saturation_kelvin(pressure_megapascal: float) -> float:
    """Equation 31 of the release, good from 611.213 Pa to 22.064 MPa."""
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    beta = pressure_megapascal**0.25
    e = beta**2 + n3 * beta + n6
    f = n1 * beta**2 + n4 * beta + n7
    g = n2 * beta**2 + n5 * beta + n8
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    return (n10 + d - math.sqrt((n10 + d) ** 2 - 4 * (n9 + n10 * d))) / 2


def boiling_kelvin_per_pascal(pressure_pascal: float) -> float:
    """How much an error of the barometer moves the boiling point: about 0.28 K for each kPa at sea level."""
    step = 50.0
    return (
        saturation_kelvin((pressure_pascal + step) / 1e6) - saturation_kelvin((pressure_pascal - step) / 1e6)
    ) / (2 * step)


def standard_pressure_pascal(altitude_m: float) -> float:
    """The pressure of standard air at this altitude."""
    if not LOWEST_ALTITUDE_M <= altitude_m <= HIGHEST_ALTITUDE_M:
        raise CannotCompute(
            f"An altitude of {altitude_m:,.0f} m is no place people live. Check the figure and its unit (ft or m)."
        )
    return SEA_LEVEL_PASCAL * (1 - 2.25577e-5 * altitude_m) ** 5.2559


@dataclass(frozen=True)
class PressureDoubt:
    """Something about a typed pressure. `refused`: it cannot be the pressure of the place."""

    sentence: str
    refused: bool


def pressure_doubt(pressure_pascal: float, altitude_m: float | None) -> PressureDoubt | None:
    """Whether a typed pressure can be that of the place itself, and not the sea-level figure of a weather report."""
    if altitude_m is None:
        if pressure_pascal < LOWEST_SEA_LEVEL_FIGURE_PASCAL:
            return None
        return PressureDoubt(
            "Weather reports give the pressure as it would be at sea level. The boiling point needs the pressure of "
            "this place. Add the altitude, so that it can be checked.",
            refused=False,
        )
    standard = standard_pressure_pascal(altitude_m)
    here = f"At {_altitude(altitude_m)} a barometer reads about {standard / 100:,.0f} hPa"
    away = abs(pressure_pascal - standard)
    like_sea_level = abs(pressure_pascal - SEA_LEVEL_PASCAL) < away
    if away <= WEATHER_HALF_WIDTH_PASCAL + SURPRISE_PASCAL:
        if like_sea_level and altitude_m > ALTITUDE_MATTERS_FROM_M:
            kelvin = boiling_celsius(SEA_LEVEL_PASCAL) - boiling_celsius(standard)
            return PressureDoubt(
                f"{here}; {pressure_pascal / 100:,.0f} hPa is nearer to a figure for sea level. If it comes from a weather "
                f"report, the boiling point would be about {kelvin:.1f} K ({1.8 * kelvin:.1f} °F) too high.",
                refused=False,
            )
        return None
    if like_sea_level:
        kelvin = boiling_celsius(pressure_pascal) - boiling_celsius(standard)
        return PressureDoubt(
            f"{here}, so {pressure_pascal / 100:,.0f} hPa looks like the sea-level figure of a weather report. With it the "
            f"boiling point would be {abs(kelvin):.1f} K ({1.8 * abs(kelvin):.1f} °F) too {'high' if kelvin > 0 else 'low'}. Enter "
            "the pressure of the place (station pressure), or leave it empty and go by the altitude.",
            refused=True,
        )
    return PressureDoubt(
        f"{here}, and weather changes that by {WEATHER_HALF_WIDTH_PASCAL / 100:.0f} hPa at most; "
        f"{pressure_pascal / 100:,.0f} hPa does not fit. Check the altitude, the pressure and their units.",
        refused=True,
    )


def _altitude(altitude_m: float) -> str:
    return f"{altitude_m:,.0f} m ({altitude_m / METRE_PER_FOOT:,.0f} ft)"
