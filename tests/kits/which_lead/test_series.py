"""What of a sensor's readings is a temperature, and the plain statistics."""

import math

import pytest

from kits.which_lead import Sample, Series, screen
from kits.which_lead.series import fresh, longest_standstill_s, median, slope_kelvin_per_minute


def screened(*values: float, every_s: float = 2.0):
    return screen(Series("28", [Sample(every_s * index, value) for index, value in enumerate(values)]))


@pytest.mark.parametrize(
    ("values", "kept", "power_on", "impossible"),
    [
        pytest.param((22.0, 85.0, 22.1), (22.0, 22.1), 1, 0, id="85.0 in between is a sensor that just woke"),
        pytest.param((85.0, 22.0), (22.0,), 1, 0, id="85.0 first of all"),
        pytest.param((85.0, 85.0), (), 2, 0, id="nothing but 85.0"),
        pytest.param((84.5, 85.0, 85.4375), (84.5, 85.0, 85.4375), 0, 0, id="85.0 among its like is hot"),
        pytest.param((22.0, 85.0625), (22.0, 85.0625), 0, 0, id="one step more is no power-on value"),
        pytest.param((22.0, -127.0), (22.0,), 0, 1, id="-127 is no answer"),
        pytest.param((127.9375, 22.0), (22.0,), 0, 1, id="127.9375 is a broken answer"),
        pytest.param((-55.0, 125.0), (-55.0, 125.0), 0, 0, id="the ends of the range"),
        pytest.param((-55.0625, 125.0625), (), 0, 2, id="just beyond them"),
        pytest.param((math.nan, 22.0), (22.0,), 0, 1, id="not a number"),
    ],
)
def test_what_is_left_out(values, kept, power_on, impossible) -> None:
    found = screened(*values)
    assert (found.values, found.power_on, found.impossible) == (kept, power_on, impossible)


def test_readings_are_put_in_order_and_one_instant_counts_once() -> None:
    found = screen(Series("28", [Sample(4, 22.5), Sample(0, 22.0), Sample(4, 30.0), Sample(2, 22.25)]))
    assert (found.times, found.values) == ((0, 2, 4), (22.0, 22.25, 22.5))


def test_how_often_it_is_read_is_the_median_of_the_gaps() -> None:
    assert screened(1, 2, 3, 4, every_s=7).every_s == 7
    assert screened(1, 2).every_s is None


def test_silence_counts_from_the_last_usable_reading_before() -> None:
    found = screened(22.0, 22.1, 85.0)
    assert found.silent_s(12) == 10
    assert found.silent_s(1) == 1
    assert found.silent_s(-1) == math.inf


def test_repeats_are_one_reading() -> None:
    times, values = (0, 2, 4, 6, 8, 10, 12), (1, 1, 1, 1, 2, 2, 3)
    assert fresh(times, values) == ([0, 8, 12], [1, 2, 3])
    assert longest_standstill_s(times, values) == 8
    assert longest_standstill_s((0, 2), (1, 1)) == 0


@pytest.mark.parametrize(
    ("values", "expected"), [((3,), 3), ((4, 1, 2), 2), ((4, 1, 2, 3), 2.5), ((1, 1, 99), 1)]
)
def test_the_median(values, expected) -> None:
    assert median(values) == expected


def test_one_wild_value_does_not_make_a_slope() -> None:
    times = list(range(0, 60, 5))
    assert slope_kelvin_per_minute(times, [22 + at_s / 60 for at_s in times]) == pytest.approx(1.0)
    wild = [22.0] * 12
    wild[8] = 40.0
    assert slope_kelvin_per_minute(times, wild) == 0
    assert slope_kelvin_per_minute([0], [22.0]) == 0
