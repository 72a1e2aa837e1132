"""One sensor at one temperature: offsets and their sign, references, and readings that cannot be right."""

import math

import pytest

from kits.measuring.point import DEFAULT_BATHS, Bath, measure_point, one_offset
from kits.measuring.reference import BoilingWater, Ice, ReferenceThermometer
from kits.measuring.screening import screen
from kits.measuring.trouble import CannotCompute
from kits.units import fahrenheit_to_celsius

STILL = Bath(uniformity_half_width_kelvin=0.03, stability_half_width_kelvin=0.02)


def thermometer(**changed):
    return ReferenceThermometer(
        **{
            "resolution_kelvin": 0.01,
            "expanded_uncertainty_kelvin": 0.05,
            "coverage_factor": 2,
            "corrections": [(50, -0.10), (0, 0.02), (25, 0.04)],
            **changed,
        }
    )


def point(readings=(0.3, 0.3, 0.35), *, reference=None, reference_readings=(), bath=STILL, **rest):
    return measure_point(
        sensor_readings_celsius=readings,
        reference=reference or Ice(),
        reference_readings_celsius=reference_readings,
        bath=bath,
        **rest,
    )


# -- Offset -----------------------------------------------------------------------------------------------------------


def test_the_offset_added_to_the_reading_gives_the_reference():
    result = point((25.2, 25.4), reference=thermometer(corrections=()), reference_readings=(25.0, 25.0))
    assert result.offset_kelvin == pytest.approx(-0.3)
    assert result.raw_error_kelvin == pytest.approx(0.3)
    assert result.sensor_mean_celsius + result.offset_kelvin == pytest.approx(result.reference_mean_celsius)


def test_the_reference_is_corrected_by_its_own_certificate_first():
    result = point((25.3, 25.3), reference=thermometer(), reference_readings=(25.0, 25.0))
    assert result.reference_reading_celsius == 25.0
    assert result.reference_mean_celsius == pytest.approx(25.04)
    assert result.offset_kelvin == pytest.approx(-0.26)


@pytest.mark.parametrize(
    ("celsius", "correction"),
    [
        pytest.param(0, 0.02, id="on a line"),
        pytest.param(12.5, 0.03, id="half way"),
        pytest.param(37.5, -0.03, id="half way down"),
        pytest.param(50, -0.10, id="last line"),
        pytest.param(-0.3, 0.02, id="a hair below: the end's value"),
        pytest.param(50.5, -0.10, id="a hair above"),
    ],
)
def test_corrections_lie_straight_between_the_lines_of_the_table(celsius, correction):
    assert thermometer().correction_at(celsius) == pytest.approx(correction)


@pytest.mark.parametrize("celsius", [-0.51, 50.51, 90])
def test_beyond_its_table_a_reference_is_refused(celsius):
    with pytest.raises(CannotCompute, match=r"from 0\.0.°C to 50\.0.°C.*lies beyond"):
        thermometer().correction_at(celsius)


def test_the_refusal_speaks_the_unit_of_the_shop():
    with pytest.raises(CannotCompute, match=r"from 32\.0.°F to 122\.0.°F; 194\.0.°F lies beyond"):
        point((90,), reference=thermometer(), reference_readings=(90,), unit="F")


def test_a_table_of_one_line_holds_there_only():
    one = thermometer(corrections=[(0, 0.02)])
    assert one.correction_at(0.2) == 0.02
    with pytest.raises(CannotCompute, match=r"only for 0\.0.°C"):
        one.correction_at(25)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"corrections": [(0, 0.1), (0, 0.2)]}, "twice"),
        ({"corrections": [(0, math.nan)]}, "needs a temperature"),
        ({"coverage_factor": 0}, "more than zero"),
        ({"coverage_factor": None}, "one of the two"),
        ({"expanded_uncertainty_kelvin": -0.05}, "zero or more"),
        ({"resolution_kelvin": -0.1}, "zero or more"),
        ({"drift_allowance_kelvin": -0.1}, "zero or more"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_certificate_that_makes_no_sense(wrong, says):
    with pytest.raises(CannotCompute, match=says):
        thermometer(**wrong)


def test_one_offset_for_several_points_tells_that_they_differ():
    reference = thermometer(corrections=())
    cold = point((0.3, 0.3), reference=reference, reference_readings=(0.0, 0.0))
    warm = point((40.1, 40.1), reference=reference, reference_readings=(40.0, 40.0))
    one = one_offset([cold, warm])
    assert one.offset_kelvin == pytest.approx(-0.2)
    more = one.budget.standard_uncertainty_kelvin**2 - cold.budget.standard_uncertainty_kelvin**2
    assert more == pytest.approx(0.1**2 / 3)


def test_one_offset_of_one_point_is_that_points():
    cold = point()
    assert one_offset([cold]).offset_kelvin == cold.offset_kelvin
    assert one_offset([cold]).budget == cold.budget


# -- Ice and boiling water --------------------------------------------------------------------------------------------


def test_ice_is_zero_within_what_is_allowed_for_it():
    result = point()
    assert (result.reference_mean_celsius, result.reference_reading_celsius) == (0.0, None)
    ice = [term for term in result.budget.terms if "Ice" in term.name]
    assert ice[0].shared and ice[0].standard_uncertainty_kelvin == pytest.approx(0.1 / math.sqrt(3))


@pytest.mark.parametrize("allowance", [0, -0.1, 2.1])
def test_ice_without_an_allowance(allowance):
    with pytest.raises(CannotCompute, match="Ice is never perfect"):
        Ice(allowance_kelvin=allowance)


@pytest.mark.parametrize("reference", [Ice(), BoilingWater(altitude_m=300)], ids=["ice", "boiling"])
def test_nobody_reads_ice_or_boiling_water(reference):
    with pytest.raises(CannotCompute, match="leave the reference's readings empty"):
        point(reference=reference, reference_readings=(0.0,))


def test_boiling_by_a_barometer_is_known_ten_times_better_than_by_altitude():
    both = BoilingWater(pressure_pascal=95_500, altitude_m=500)
    alone = BoilingWater(altitude_m=500)
    assert both.true_celsius() == pytest.approx(98.324, abs=0.002)
    assert alone.true_celsius() == pytest.approx(98.313, abs=0.001)
    terms = [reference.terms_at(98)[0].standard_uncertainty_kelvin for reference in (both, alone)]
    assert terms[0] == pytest.approx(0.3 * 0.291 / math.sqrt(3), rel=0.01)
    assert terms[1] == pytest.approx(10 * terms[0], rel=0.01)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        pytest.param(
            {"pressure_pascal": 101_325, "altitude_m": 500}, "sea-level figure", id="sea level at 500 m"
        ),
        pytest.param({"pressure_pascal": 101_325, "altitude_m": 1609}, "sea-level figure", id="at a mile"),
        pytest.param(
            {"pressure_pascal": 83_000, "altitude_m": 100}, "does not fit", id="too low for the place"
        ),
        pytest.param(
            {"pressure_pascal": 29.92 * 100, "altitude_m": 100}, "Check the unit", id="inches taken as hPa"
        ),
        pytest.param({"altitude_m": 29_029}, "no place people live", id="feet taken as metres"),
        pytest.param({}, "needs the air pressure", id="nothing"),
        pytest.param(
            {"altitude_m": 0, "pressure_half_width_pascal": 0}, "No barometer", id="a perfect barometer"
        ),
    ],
)
def test_pressures_that_are_refused(given, says):
    with pytest.raises(CannotCompute, match=says):
        BoilingWater(**given)


@pytest.mark.parametrize(
    ("given", "doubted"),
    [
        pytest.param({"pressure_pascal": 101_325}, True, id="no altitude: cannot be checked"),
        pytest.param({"pressure_pascal": 84_000}, False, id="so low that it is no sea-level figure"),
        pytest.param({"pressure_pascal": 101_000, "altitude_m": 200}, True, id="could be either"),
        pytest.param({"pressure_pascal": 101_000, "altitude_m": 20}, False, id="at the coast it is all one"),
        pytest.param({"pressure_pascal": 95_000, "altitude_m": 500}, False, id="fits the place"),
        pytest.param({"altitude_m": 500}, False, id="no pressure, nothing to doubt"),
    ],
)
def test_pressures_that_are_asked_about(given, doubted):
    assert bool(BoilingWater(**given).doubt) == doubted


# -- Readings ---------------------------------------------------------------------------------------------------------


def test_a_reference_thermometer_needs_its_reading():
    with pytest.raises(CannotCompute, match="Type what it showed"):
        point(reference=thermometer())


def test_a_sensor_without_a_reading():
    with pytest.raises(CannotCompute, match="no reading"):
        point(())


def test_one_reading_each_is_said_on_the_result():
    result = point((25.3,), reference=thermometer(), reference_readings=(25.0,))
    assert result.budget.single_reading
    assert [note.split(":")[0] for note in result.notes] == [
        "One reading of the sensor only",
        "One reading of the reference only",
    ]
    assumed = {term.name: term.stated_kelvin for term in result.budget.terms if term.single_reading}
    assert sorted(assumed.values()) == [0.01, 0.0625]


def test_what_the_shop_assumes_for_one_reading():
    result = point((0.3,), assumed_scatter_kelvin=0.2)
    assert [term.stated_kelvin for term in result.budget.terms if term.single_reading] == [0.2]


def test_what_is_shared_and_what_is_the_sensors_own():
    result = point(
        (25.3, 25.4), reference=thermometer(drift_allowance_kelvin=0.02), reference_readings=(25.0, 25.01)
    )
    shared = {term.name.split(":")[0] for term in result.budget.terms if term.shared}
    own = {term.name for term in result.budget.terms if not term.shared}
    assert shared == {"Reference", "Bath"}
    assert own == {
        "Sensor: scatter of its readings",
        "Sensor: one step of its reading",
        "Bath: differences between places",
    }


def test_read_one_after_the_other_the_wandering_is_each_ones_own():
    apart = Bath(uniformity_half_width_kelvin=0, stability_half_width_kelvin=0.1, read_together=False)
    together = Bath(uniformity_half_width_kelvin=0, stability_half_width_kelvin=0.1)
    assert point(bath=apart).budget.own_kelvin > point(bath=together).budget.own_kelvin


def test_every_method_has_its_allowances_and_says_why():
    assert DEFAULT_BATHS.keys() == {"ice", "stirred", "air", "boiling"}
    assert all(
        bath.why.endswith(".") and bath.uniformity_half_width_kelvin > 0 for bath in DEFAULT_BATHS.values()
    )


SUSPECTS = [
    pytest.param(85.0, 0.0, "power-on", True, id="85 in ice"),
    pytest.param(85.0, 84.0, "power-on", False, id="85 in a bath at 84: may be true"),
    pytest.param(85.0, None, "power-on", False, id="85, nothing to compare with"),
    pytest.param(84.9375, 85.0, None, None, id="one step beside 85"),
    pytest.param(fahrenheit_to_celsius(185.0), 0.0, "power-on", True, id="85 typed as 185 F"),
    pytest.param(-127.0, 0.0, "not connected", True, id="-127"),
    pytest.param(fahrenheit_to_celsius(-196.6), 0.0, "not connected", True, id="-127 typed as -196.6 F"),
    pytest.param(-55.0, 0.0, "not connected", True, id="-55"),
    pytest.param(-54.9375, -55.0, None, None, id="just above the lowest"),
    pytest.param(127.9375, 0.0, "too little power", True, id="127.9375"),
    pytest.param(125.0, 124.0, None, None, id="the highest"),
    pytest.param(125.0625, 124.0, "out of range", True, id="above the highest"),
    pytest.param(-60.0, 0.0, "out of range", True, id="below the lowest"),
    pytest.param(math.nan, 0.0, "no number", True, id="no number"),
    pytest.param(32.4, 0.0, "other unit", True, id="F in ice"),
    pytest.param(77.2, 25.0, "other unit", True, id="F among C"),
    pytest.param(209.0, 98.3, "other unit", True, id="F at the boil"),
    pytest.param(31.0, 25.0, None, None, id="six kelvin off is a bad sensor, not another unit"),
    pytest.param(45.0, 25.0, "far off", False, id="twenty off"),
    pytest.param(-40.0, -40.0, None, None, id="where both units meet"),
]


@pytest.mark.parametrize(("reading", "expected", "reason", "must_go"), SUSPECTS)
def test_a_reading_is_screened(reading, expected, reason, must_go):
    found = screen([reading], expected_celsius=expected)
    assert [(suspect.reason, suspect.must_go) for suspect in found] == ([(reason, must_go)] if reason else [])


def test_a_reading_in_the_other_unit_is_told_with_what_was_meant():
    (suspect,) = screen([25.1, 77.2, 25.0], expected_celsius=25.0)
    assert suspect.index == 1
    assert suspect.meant_celsius == pytest.approx(25.11, abs=0.01)
    assert "looks like °F among °C: it would be 25.1" in suspect.sentence and "reading 2" in suspect.sentence


def test_in_a_shop_of_fahrenheit_the_hint_goes_the_other_way():
    """25.1 typed into a field of °F came in as -3.8 °C."""
    (suspect,) = screen([25.0, fahrenheit_to_celsius(25.1)], expected_celsius=25.0, unit="F")
    assert suspect.meant_celsius == pytest.approx(25.1)
    assert "25.1\u202f°F (reading 2) looks like °C among °F: it would be 77.2\u202f°F" in suspect.sentence


def test_without_a_reference_the_others_tell_the_unit():
    assert [suspect.reason for suspect in screen([25.1, 25.2, 77.2])] == ["other unit"]


def test_one_far_from_the_others_is_flagged_and_kept():
    readings = (0.25, 0.3125, 0.25, 1.5, 0.3125)
    result = point(readings)
    assert [(suspect.index, suspect.reason) for suspect in result.suspects] == [(3, "far off")]
    assert result.sensor_mean_celsius == pytest.approx(sum(readings) / 5)


def test_a_stray_does_not_hide_in_the_scatter_it_makes_itself():
    assert [suspect.index for suspect in screen([0.2, 0.3, 0.4, 1.22])] == [3]


def test_ordinary_scatter_is_not_flagged():
    assert screen([0.25, 0.3125, 0.375, 0.25, 0.1875, 0.3125], expected_celsius=0.0) == []


def test_nothing_is_computed_with_what_cannot_be_a_temperature():
    with pytest.raises(CannotCompute, match=r"reading 2.*did not answer.*reading 3.*°F among °C"):
        point((0.3, -127.0, 32.4, 0.3))


def test_a_reference_typed_in_the_other_unit_is_found_beside_its_sensor():
    with pytest.raises(CannotCompute, match=r"The reference, beside the sensor.*looks like °F"):
        point((25.2, 25.3), reference=thermometer(corrections=()), reference_readings=(77.0, 77.1))
