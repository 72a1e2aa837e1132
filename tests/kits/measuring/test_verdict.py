"""The technician's word, as found and as left; lines and differences where no published example speaks."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kits.measuring.budget import Budget, rectangular, resolution
from kits.measuring.difference import difference, without_offset
from kits.measuring.line import Line, line_of
from kits.measuring.point import Bath, measure_point
from kits.measuring.reference import Ice, ReferenceThermometer
from kits.measuring.trouble import CannotCompute
from kits.measuring.verdict import advise, as_found_kelvin, as_left_kelvin, judge, rule_risk

LIMIT, U = 0.5, 0.1


def verdict(error, guard_factor=1.0, limit=LIMIT, expanded=U):
    return judge(error_kelvin=error, limit_kelvin=limit, expanded_kelvin=expanded, guard_factor=guard_factor)


# -- Errors -----------------------------------------------------------------------------------------------------------


def test_as_found_has_the_offset_that_was_in_force():
    """It read 0.6 too high, and 0.5 was being taken off."""
    assert as_found_kelvin(0.6, -0.5) == pytest.approx(0.1)
    assert as_found_kelvin(0.6) == 0.6
    assert as_left_kelvin(0.6, -0.6) == 0


# -- Verdict ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "expanded", "error", "word"),
    [
        pytest.param(0.7, 0.1, 0.6, "pass", id="0.7 - 0.1 is a hair below 0.6 in binary"),
        pytest.param(0.3, 0.1, 0.1 + 0.2, "conditional pass", id="0.1 + 0.2 is a hair above 0.3"),
        pytest.param(0.5, 0.0, 0.5, "pass", id="at the limit with nothing uncertain"),
        pytest.param(0.5, 0.0, 0.51, "fail", id="beyond it with nothing uncertain"),
    ],
)
def test_edges_do_not_hang_on_binary_fractions(limit, expanded, error, word):
    assert verdict(error, limit=limit, expanded=expanded).word == word


@pytest.mark.parametrize(
    ("limit", "expanded", "factor", "says"),
    [
        pytest.param(0.5, 0.5, 1, "no sensor could ever pass", id="the whole limit"),
        pytest.param(0.5, 0.2, 3, "no sensor could ever pass", id="more than the limit"),
        pytest.param(0.0, 0.1, 0, "more than zero", id="no limit"),
        pytest.param(0.5, 0.1, -1, "less than zero", id="a guard that widens"),
    ],
)
def test_rules_that_are_refused(limit, expanded, factor, says):
    with pytest.raises(CannotCompute, match=says):
        verdict(0.0, factor, limit, expanded)


def test_a_rule_just_short_of_impossible_is_allowed():
    assert verdict(0.0, limit=0.5, expanded=0.499).passed


def test_an_error_that_is_none():
    with pytest.raises(CannotCompute, match="no error"):
        verdict(math.nan)


def test_the_refusal_speaks_the_unit_of_the_shop():
    with pytest.raises(CannotCompute, match=r"0\.36.°F.*1\.08.°F.*0\.90.°F"):
        judge(error_kelvin=0, limit_kelvin=0.5, expanded_kelvin=0.2, guard_factor=3, unit="F")


@given(st.floats(-2, 2), st.floats(0.01, 0.4))
def test_a_guarded_rule_never_passes_what_the_simple_one_fails(error, expanded):
    guarded, simple = verdict(error, 1, expanded=expanded), verdict(error, 0, expanded=expanded)
    assert simple.passed or not guarded.passed
    assert guarded.word == verdict(-error, 1, expanded=expanded).word
    assert simple.word in {"pass", "fail"}


@settings(max_examples=15)
@given(st.floats(0.01, 0.24), st.floats(0, 0.9))
def test_a_guard_band_trades_false_passes_for_good_sensors_refused(u, factor):
    def risk(guard_factor):
        return rule_risk(
            spread_kelvin=0.25, standard_uncertainty_kelvin=u, limit_kelvin=0.5, guard_factor=guard_factor
        )

    without, with_guard = risk(0), risk(factor)
    assert with_guard.passed_though_out <= without.passed_though_out + 1e-12
    assert with_guard.refused_though_good >= without.refused_though_good - 1e-12


@pytest.mark.parametrize("factor", [4, 5])
def test_the_risk_of_a_rule_that_leaves_nothing(factor):
    with pytest.raises(CannotCompute, match="above zero"):
        rule_risk(
            spread_kelvin=0.25, standard_uncertainty_kelvin=0.0625, limit_kelvin=0.5, guard_factor=factor
        )


# -- The technician's word --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("as_found", "raw", "word"),
    [
        pytest.param(0.1, 0.6, "Good", id="its offset still holds"),
        pytest.param(0.4, 0.4, "Good", id="at the acceptance limit"),
        pytest.param(0.45, 0.45, "Use offset", id="passed with reserve only"),
        pytest.param(-0.9, -0.9, "Use offset", id="off, and mendable"),
        pytest.param(0.1, 1.2, "Replace", id="good only by an offset larger than is trusted"),
        pytest.param(-1.5, -1.5, "Replace", id="far off"),
        pytest.param(10 / 9, 10 / 9, "Use offset", id="exactly 2 °F"),
    ],
)
def test_good_use_offset_or_replace(as_found, raw, word):
    advice = advise(as_found=verdict(as_found), raw_error_kelvin=raw)
    assert advice.word == word
    assert advice.sentence.endswith(".")


def test_the_word_is_explained_in_the_unit_of_the_shop():
    advice = advise(as_found=verdict(1.5), raw_error_kelvin=1.5, unit="F")
    assert "+2.70\u202f°F" in advice.sentence and "2.00\u202f°F" in advice.sentence


# -- Line -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([(0, 0.1), (25, 0.2)], "at least 3 points; there are 2"),
        ([(0, 0.1)], "there is 1"),
        ([(25, 0.1), (25, 0.2), (25, 0.1)], "all the same"),
    ],
    ids=["two", "one", "one temperature"],
)
def test_what_makes_no_line(points, says):
    with pytest.raises(CannotCompute, match=says):
        Line.through(points)


def test_points_on_a_line_have_no_scatter():
    line = Line.through([(t, 0.1 - 0.002 * t) for t in (0, 25, 50, 75)])
    assert line.at(60).offset_kelvin == pytest.approx(-0.02)
    assert line.at(60).standard_uncertainty_kelvin == pytest.approx(0, abs=1e-12)


def test_a_line_is_known_best_in_its_middle_and_its_edge_still_counts():
    line = Line.through([(0, 0.1), (25, 0.2), (50, 0.1), (75, 0.2)])
    at = [line.at(celsius).standard_uncertainty_kelvin for celsius in (37.5, 60, 75, 75.4)]
    assert at == sorted(at) and not line.at(75.4).extrapolated
    with pytest.raises(CannotCompute, match=r"from 32\.0.°F to 167\.0.°F; 168\.8.°F lies beyond"):
        line.at(76, unit="F")


def test_more_points_do_not_wash_out_the_certificate():
    reference = ReferenceThermometer(
        resolution_kelvin=0.01, expanded_uncertainty_kelvin=0.2, coverage_factor=2
    )
    results = [
        measure_point(
            sensor_readings_celsius=[t + 0.1, t + 0.1],
            reference=reference,
            reference_readings_celsius=[t, t],
            bath=Bath(uniformity_half_width_kelvin=0.03, stability_half_width_kelvin=0),
        )
        for t in (0.0, 10.0, 20.0, 30.0, 40.0)
    ]
    budget = line_of(results).budget_at(20, results)
    assert budget.standard_uncertainty_kelvin > 0.1
    assert budget.shared_kelvin == pytest.approx(results[0].budget.shared_kelvin)


# -- Difference -------------------------------------------------------------------------------------------------------


def in_ice(readings):
    return measure_point(
        sensor_readings_celsius=readings,
        reference=Ice(),
        bath=Bath(uniformity_half_width_kelvin=0.02, stability_half_width_kelvin=0.01),
    ).budget


def test_poor_ice_does_not_spoil_a_difference():
    """Ice known to ± 0.1 K only, yet two sensors of one bath compare to a few hundredths."""
    one, two = in_ice([0.25, 0.3125, 0.25]), in_ice([-0.125, -0.125, -0.0625])
    together, apart = (difference(one, two, same_sitting=same) for same in (True, False))
    assert together.standard_uncertainty_kelvin < 0.05 < apart.standard_uncertainty_kelvin
    assert not any("Ice" in term.name for term in together.budget.terms)
    assert together.budget.shared_kelvin == 0


def test_what_is_shared_but_unlike_leaves_its_rest():
    one = Budget.of(rectangular("Ice", 0.3, shared=True))
    two = Budget.of(rectangular("Ice", 0.1, shared=True))
    assert difference(one, two, same_sitting=True).standard_uncertainty_kelvin == pytest.approx(
        0.2 / math.sqrt(3)
    )


def test_a_reference_that_differs_does_not_cancel():
    one = Budget.of(rectangular("Ice", 0.1, shared=True))
    two = Budget.of(rectangular("Reference: certificate", 0.1, shared=True))
    result = difference(one, two, same_sitting=True)
    assert result.standard_uncertainty_kelvin == pytest.approx(math.sqrt(2) * 0.1 / math.sqrt(3))
    assert result.correlation == 0


def test_reading_them_in_the_house_adds_a_step_for_each():
    checked = in_ice([0.25, 0.3125, 0.25])
    step = resolution("Step in use", 0.0625)
    bare = difference(checked, checked, same_sitting=True).standard_uncertainty_kelvin
    used = difference(checked, checked, same_sitting=True, in_use=[step]).standard_uncertainty_kelvin
    assert used**2 - bare**2 == pytest.approx(2 * 0.0625**2 / 12)


def test_one_checked_and_one_not():
    result = difference(in_ice([0.25, 0.3125, 0.25]), without_offset(), same_sitting=False)
    assert result.standard_uncertainty_kelvin > 0.5 / math.sqrt(3)
