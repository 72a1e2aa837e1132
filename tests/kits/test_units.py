"""Temperatures and differences for readers, held against fixed points that are exact by definition.

Sources: ITS-90 and the definition of the Fahrenheit scale by ice (32 °F, 0 °C) and steam (212 °F, 100 °C) points;
NIST SP 811 (2008), table B.8 and its footnote: t/°F = 1.8 t/°C + 32, and an interval of 1 K is one of 1.8 °F.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits import units


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [
        pytest.param("0", "32", id="ice point"),
        pytest.param("100", "212", id="steam point"),
        pytest.param("-40", "-40", id="where the scales cross"),
        pytest.param("-273.15", "-459.67", id="absolute zero"),
        pytest.param("85", "185", id="what a sensor says when it has just woken"),
        pytest.param("-17.5", "0.5", id="just above zero Fahrenheit"),
    ],
)
def test_a_temperature_is_exact_both_ways(celsius: str, fahrenheit: str) -> None:
    assert units.celsius_to_fahrenheit(Decimal(celsius)) == Decimal(fahrenheit)
    assert units.fahrenheit_to_celsius(Decimal(fahrenheit)) == Decimal(celsius)


@pytest.mark.parametrize(
    ("kelvin", "fahrenheit"),
    [
        pytest.param("0", "0", id="no difference is none in either unit"),
        pytest.param("1", "1.8", id="one kelvin"),
        pytest.param("-0.5", "-0.9", id="a negative offset keeps its sign"),
        pytest.param("100", "180", id="from ice to steam"),
    ],
)
def test_a_difference_has_no_32(kelvin: str, fahrenheit: str) -> None:
    assert units.kelvin_to_fahrenheit_difference(Decimal(kelvin)) == Decimal(fahrenheit)
    assert units.fahrenheit_difference_to_kelvin(Decimal(fahrenheit)) == Decimal(kelvin)


@given(st.integers(-550, 1250), st.integers(-550, 1250))
def test_the_difference_of_two_temperatures_is_the_difference_converted(first: int, second: int) -> None:
    warmer, cooler = Decimal(first) / 10, Decimal(second) / 10
    shown = units.celsius_to_fahrenheit(warmer) - units.celsius_to_fahrenheit(cooler)
    assert shown == units.kelvin_to_fahrenheit_difference(warmer - cooler)


@pytest.mark.parametrize(
    ("celsius", "unit", "text"),
    [
        pytest.param(12.9375, "F", "55.3 °F", id="one place"),
        pytest.param(12.9375, "C", "12.9 °C", id="as it is kept"),
        pytest.param(-40, "F", "\N{MINUS SIGN}40.0 °F", id="a true minus"),
        pytest.param(-0.01, "C", "0.0 °C", id="never minus nought"),
        pytest.param(Decimal("21.25"), "F", "70.2 °F", id="decimals are taken too"),
    ],
)
def test_a_temperature_reads_in_the_shops_unit(celsius: float, unit: units.Unit, text: str) -> None:
    assert units.temperature_text(celsius, unit).replace(units.NARROW_BLANK, " ") == text


@pytest.mark.parametrize(
    ("kelvin", "unit", "text"),
    [
        pytest.param(0.3, "C", "+0.30 K", id="plus is said, an offset is added"),
        pytest.param(0.3, "F", "+0.54 °F", id="times 1.8"),
        pytest.param(-0.125, "F", "\N{MINUS SIGN}0.23 °F", id="minus"),
        pytest.param(0, "C", "0.00 K", id="nothing has no sign"),
        pytest.param(-0.001, "C", "0.00 K", id="nor has what rounds to nothing"),
    ],
)
def test_a_difference_always_shows_its_sign(kelvin: float, unit: units.Unit, text: str) -> None:
    assert units.difference_text(kelvin, unit, 2).replace(units.NARROW_BLANK, " ") == text
