"""A number typed with a comma is never silently ten or a thousand times what was meant."""

from decimal import Decimal

import pytest
from django import forms

from kits.forms.fields import DifferenceField, DollarsField, TemperatureField, TypedDecimalField


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        pytest.param("7.5", "7.5", id="as printed"),
        pytest.param("7,5", "7.5", id="a comma for a point"),
        pytest.param("0,125", "0.125", id="nothing stands before a thousand"),
        pytest.param("\N{MINUS SIGN}0,5", "-0.5", id="a true minus"),
        pytest.param("1,250.5", "1250.5", id="thousands and a point"),
        pytest.param("1,250", "1250", id="thousands alone"),
    ],
)
def test_a_comma_is_read_as_it_was_meant(typed: str, meant: str) -> None:
    assert TypedDecimalField().clean(typed) == Decimal(meant)


@pytest.mark.parametrize("typed", ["1,2,3", "1.250,5", "7 5", "seven", "1,25,0"])
def test_what_cannot_be_read_one_way_is_refused_in_plain_words(typed: str) -> None:
    with pytest.raises(forms.ValidationError, match="Write it as a number"):
        TypedDecimalField().clean(typed)


def test_no_temperature_has_thousands() -> None:
    assert DifferenceField(unit="C").clean("-1,250") == Decimal("-1.250")
    assert TemperatureField(unit="C").clean("21,5") == Decimal("21.5")


def test_money_keeps_its_cents_and_its_thousands() -> None:
    assert DollarsField().clean("$1,250.50") == 125_050
    assert DollarsField().clean("12,50") == 1_250
    with pytest.raises(forms.ValidationError, match="At most 2 digits after the point"):
        DollarsField().clean("1,250.555")
