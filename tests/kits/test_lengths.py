"""Lengths are kept in metres, and typed and read in feet as well."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from kits.forms.fields import LengthField
from kits.units import length_text, metres_typed


# One foot is 0.3048 m exactly: NIST SP 811 (2008), appendix B.
@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        pytest.param("3.5", "3.5", id="a number alone counts in metres"),
        pytest.param("3,5 m", "3.50", id="a comma and the unit"),
        pytest.param("12 ft", "3.66", id="feet"),
        pytest.param("12'", "3.66", id="feet by their sign"),
        pytest.param("6 ft 6 in", "1.98", id="feet and inches"),
        pytest.param("6′ 6″", "1.98", id="feet and inches by their signs"),
        pytest.param('30"', "0.76", id="inches"),
        pytest.param("80 cm", "0.80", id="centimetres"),
    ],
)
def test_a_length_is_read_with_its_unit(typed, metres):
    assert LengthField().clean(typed) == Decimal(metres)


def test_a_call_keeps_tenths_of_a_metre():
    assert LengthField(places=1).clean("12 ft") == Decimal("3.7")


@pytest.mark.parametrize("typed", ["12 yards", "ft", "about 3", "-1", "6 ft 6 ft"])
def test_what_is_no_length_is_refused(typed):
    with pytest.raises(ValidationError):
        LengthField().clean(typed)


@given(st.integers(1, 30_000))
def test_feet_that_are_shown_are_the_metres_that_are_kept(centimetres):
    metres = Decimal(centimetres).scaleb(-2)
    feet = length_text(metres, "F").partition("(")[0].replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert metres_typed(feet) == metres
