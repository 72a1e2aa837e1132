"""Whole checks of sensors against the `uncertainties` library, computed here and now, and against values that numpy,
uncertainties and GTC gave alike (gum.json beside this file: our own examples A, B and C)."""

import json
import statistics
from pathlib import Path

import numpy
import pytest
from uncertainties import ufloat

from kits.measuring.budget import Budget, Term
from kits.measuring.difference import difference, without_offset
from kits.measuring.line import line_of
from kits.measuring.point import Bath, measure_point
from kits.measuring.reference import Ice, ReferenceThermometer
from kits.units import kelvin_to_fahrenheit_difference

pytestmark = pytest.mark.outside

GUM = json.loads((Path(__file__).parent / "gum.json").read_text(encoding="utf-8"))
A, B, C = GUM["example_ice_point"], GUM["example_comparison"], GUM["example_difference"]

SQRT3, SQRT12 = 3**0.5, 12**0.5


# -- A: one sensor in ice ---------------------------------------------------------------------------------------------


def ice_point():
    return measure_point(
        sensor_readings_celsius=[count / 16 for count in A["raw_counts_12bit"]],
        reference=Ice(allowance_kelvin=A["u_ice_realisation"]["half_width"]),
        bath=Bath(
            uniformity_half_width_kelvin=A["u_bath_gradient"]["half_width"], stability_half_width_kelvin=0
        ),
    )


def test_a_as_noted():
    result = ice_point()
    budget = result.budget
    assert result.sensor_mean_celsius == A["mean_c"]
    assert result.offset_kelvin == A["offset_to_add"]
    assert budget.standard_uncertainty_kelvin == pytest.approx(A["u_c"])
    assert budget.degrees_of_freedom == pytest.approx(A["nu_eff"])
    # Noted without cutting 199.8 degrees of freedom down to 199: alike to the fourth digit.
    assert budget.coverage_factor == pytest.approx(A["k95"], rel=5e-5)
    assert budget.expanded_k2_kelvin == pytest.approx(A["U_k2"])


def test_a_beside_uncertainties():
    readings = [count / 16 for count in A["raw_counts_12bit"]]
    sensor = (
        ufloat(statistics.mean(readings), statistics.stdev(readings) / len(readings) ** 0.5)
        + ufloat(0, 0.0625 / SQRT12)
        + ufloat(0, 0.02 / SQRT3)
    )
    offset = ufloat(0, 0.005 / SQRT3) - sensor
    assert ice_point().offset_kelvin == pytest.approx(offset.nominal_value)
    assert ice_point().budget.standard_uncertainty_kelvin == pytest.approx(offset.std_dev)


# -- B: three points beside a reference thermometer -------------------------------------------------------------------

REFERENCE = ReferenceThermometer(
    resolution_kelvin=0.01,
    expanded_uncertainty_kelvin=0.05,
    coverage_factor=2,
    drift_allowance_kelvin=0.02,
)
BATH = Bath(uniformity_half_width_kelvin=0.03, stability_half_width_kelvin=0)


def compared(point):
    return measure_point(
        sensor_readings_celsius=point["readings"],
        reference=REFERENCE,
        reference_readings_celsius=[point["reference_c"]] * 3,
        bath=BATH,
    )


@pytest.mark.parametrize("point", B["points"], ids=lambda point: f"{point['reference_c']}")
def test_b_as_noted(point):
    result = compared(point)
    assert result.offset_kelvin == pytest.approx(point["correction"])
    assert result.budget.standard_uncertainty_kelvin == pytest.approx(point["u_c"])
    assert result.budget.degrees_of_freedom == pytest.approx(point["nu_eff"])
    assert result.budget.expanded_k2_kelvin == pytest.approx(point["U_k2"])


@pytest.mark.parametrize("point", B["points"], ids=lambda point: f"{point['reference_c']}")
def test_b_each_component(point):
    ours = sorted(term.standard_uncertainty_kelvin for term in compared(point).budget.terms)
    assert ours == pytest.approx(sorted(point["components"].values()))


@pytest.mark.parametrize("point", B["points"], ids=lambda point: f"{point['reference_c']}")
def test_b_beside_uncertainties(point):
    readings = point["readings"]
    reference = ufloat(point["reference_c"], 0.05 / 2) + ufloat(0, 0.02 / SQRT3) + ufloat(0, 0.01 / SQRT12)
    sensor = ufloat(statistics.mean(readings), statistics.stdev(readings) / len(readings) ** 0.5)
    offset = reference - (sensor + ufloat(0, 0.0625 / SQRT12) + ufloat(0, 0.03 / SQRT3))
    result = compared(point)
    assert result.offset_kelvin == pytest.approx(offset.nominal_value)
    assert result.budget.standard_uncertainty_kelvin == pytest.approx(offset.std_dev)


def test_b_line_over_what_the_sensor_reads():
    line = line_of([compared(point) for point in B["points"]])
    noted = B["line_correction"]
    assert line.intercept_kelvin == pytest.approx(noted["a"])
    assert line.slope_kelvin_per_kelvin == pytest.approx(noted["b_per_c"])
    assert line.at(40).offset_kelvin == pytest.approx(noted["at_40c"])
    means = [point["mean"] for point in B["points"]]
    slope, intercept = numpy.polyfit(means, [point["correction"] for point in B["points"]], 1)
    assert (line.slope_kelvin_per_kelvin, line.intercept_kelvin) == pytest.approx((slope, intercept))


# -- C: return minus supply -------------------------------------------------------------------------------------------


def checked(own=C["u_independent_each"], common=C["u_common"]):
    return Budget.of(
        Term(name="Own", stated_kelvin=own), Term(name="Reference", stated_kelvin=common, shared=True)
    )


def test_c_two_sensors_of_one_sitting():
    result = difference(checked(), checked(), same_sitting=True)
    assert checked().standard_uncertainty_kelvin == pytest.approx(C["u_each"])
    assert result.correlation == pytest.approx(C["r"])
    assert result.standard_uncertainty_kelvin == pytest.approx(C["u_dT"])
    assert result.expanded_k2_kelvin == pytest.approx(C["U_dT_k2_c"]) == pytest.approx(0.0849, abs=5e-5)
    in_fahrenheit = kelvin_to_fahrenheit_difference(result.expanded_k2_kelvin)
    assert in_fahrenheit == pytest.approx(C["U_dT_k2_f"])


def test_c_beside_uncertainties_which_follow_the_shared_part_themselves():
    reference = ufloat(0, C["u_common"])
    supply, back = (
        reference + ufloat(13, C["u_independent_each"]),
        reference + ufloat(24, C["u_independent_each"]),
    )
    ours = difference(checked(), checked(), same_sitting=True)
    assert ours.standard_uncertainty_kelvin == pytest.approx((back - supply).std_dev)


def test_c_of_different_sittings_nothing_cancels():
    result = difference(checked(), checked(), same_sitting=False)
    assert result.standard_uncertainty_kelvin == pytest.approx(C["u_dT_if_correlation_ignored"])
    assert result.correlation == 0


def test_c_sensors_nobody_checked():
    noted = C["uncorrected_0p5_band"]
    assert without_offset().standard_uncertainty_kelvin == pytest.approx(noted["u_each"])
    result = difference(without_offset(), without_offset(), same_sitting=False)
    assert result.standard_uncertainty_kelvin == pytest.approx(noted["u_dT"])
    assert result.expanded_k2_kelvin == pytest.approx(noted["U_dT_k2_c"]) == pytest.approx(0.816, abs=5e-4)
    assert kelvin_to_fahrenheit_difference(result.expanded_k2_kelvin) == pytest.approx(noted["U_dT_k2_f"])


@pytest.mark.parametrize(
    ("which", "budget", "same"),
    [("after_offsets", checked(), True), ("uncorrected", without_offset(), False)],
)
def test_c_as_a_share_of_a_split_of_11_kelvin(which, budget, same):
    share = 100 * difference(budget, budget, same_sitting=same).expanded_k2_kelvin / 11
    assert share == pytest.approx(C["share_of_11C_split_percent"][which])


def test_c_unlike_budgets_beside_uncertainties():
    """A real check: two sensors in one bath, shared and own terms as they come, one with more scatter."""
    restless = {**B["points"][0], "readings": [0.25, 0.5, -0.0625, 0.1875, 0.375]}
    first, second = compared(B["points"][0]).budget, compared(restless).budget
    shared = {term.name: ufloat(0, term.standard_uncertainty_kelvin) for term in first.terms if term.shared}

    def value(budget):
        own = [ufloat(0, term.standard_uncertainty_kelvin) for term in budget.terms if not term.shared]
        return sum(own) + sum(shared.values())

    ours = difference(first, second, same_sitting=True)
    assert ours.standard_uncertainty_kelvin == pytest.approx((value(first) - value(second)).std_dev)
    apart = difference(first, second, same_sitting=False)
    assert ours.standard_uncertainty_kelvin < apart.standard_uncertainty_kelvin


def test_c_the_step_of_the_readings_alone():
    step = Budget.of(Term(name="Step", stated_kelvin=0.0625, divisor=SQRT12))
    result = difference(step, step, same_sitting=True)
    assert result.standard_uncertainty_kelvin == pytest.approx(C["resolution_only_u_dT"])
