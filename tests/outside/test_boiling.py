"""Boiling points against CoolProp (the scientific formulation of water, IAPWS-95), the verification values of
IAPWS-IF97, and standard air as psychrolib gives it. Values and their sources: gum.json beside this file."""

import json
from pathlib import Path

import pytest
from CoolProp.CoolProp import PropsSI

from kits.measuring.boiling import (
    boiling_celsius,
    boiling_kelvin_per_pascal,
    pressure_doubt,
    saturation_kelvin,
    standard_pressure_pascal,
)

pytestmark = pytest.mark.outside

WATER = json.loads((Path(__file__).parent / "gum.json").read_text(encoding="utf-8"))["boiling_point"]
IF97 = WATER["if97_verification"]


@pytest.mark.parametrize(
    ("megapascal", "kelvin"), list(zip(IF97["p_mpa"], IF97["published_T_k"], strict=True))
)
def test_verification_values_of_the_release(megapascal, kelvin):
    assert saturation_kelvin(megapascal) == pytest.approx(kelvin, abs=5.1e-7)


@pytest.mark.parametrize("pascal", range(70_000, 102_000, 1_000))
def test_beside_coolprop_from_70_to_101_kilopascal(pascal):
    assert boiling_celsius(pascal) == pytest.approx(
        PropsSI("T", "P", pascal, "Q", 0, "Water") - 273.15, abs=2.5e-4
    )


@pytest.mark.parametrize("row", WATER["by_pressure"], ids=lambda row: f"{row['pressure_pa']}")
def test_table_by_pressure(row):
    assert boiling_celsius(row["pressure_pa"]) == pytest.approx(row["coolprop_c"], abs=2.5e-4)
    assert boiling_celsius(row["pressure_pa"]) == pytest.approx(row["if97_c"], abs=5.1e-5)
    per_kilopascal = 1000 * boiling_kelvin_per_pascal(row["pressure_pa"])
    assert per_kilopascal == pytest.approx(row["k_per_kpa"], abs=6e-5)


@pytest.mark.parametrize("row", WATER["by_altitude"], ids=lambda row: f"{row['altitude_m']} m")
def test_table_by_altitude(row):
    pascal = standard_pressure_pascal(row["altitude_m"])
    assert pascal == pytest.approx(row["std_pressure_pa"], abs=0.051)
    assert boiling_celsius(pascal) == pytest.approx(row["boiling_c"], abs=7.5e-4)


def test_the_sea_level_figure_at_500_m_would_be_wrong_by_1_7_kelvin_and_is_refused():
    """The trap: a weather report's 1013 hPa typed where a barometer reads 955 hPa."""
    wrong_by = boiling_celsius(101_325) - boiling_celsius(95_460.8)
    assert wrong_by == pytest.approx(1.7, abs=0.05)
    doubt = pressure_doubt(101_325, 500)
    assert doubt and doubt.refused and "1.7 K" in doubt.sentence and "955 hPa" in doubt.sentence
