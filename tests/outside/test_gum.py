"""Budgets and lines against the worked examples of the GUM (JCGM 100:2008) and NIST Technical Note 1297.

Values and their sources: gum.json beside this file. Marked there "from memory" and so not proof by themselves: the 16
degrees of freedom and U99 = 93 nm of H.1, s = 0.0035 of H.3. What is computed was computed by three other libraries.
"""

import json
import math
from pathlib import Path

import numpy
import pytest
import uncertainties

from kits.measuring.budget import (
    RECTANGULAR_DIVISOR,
    Budget,
    Term,
    certificate,
    coverage_factor,
    cycling,
    from_readings,
    normal_factor,
    rectangular,
    resolution,
)
from kits.measuring.line import Line
from kits.measuring.trouble import CannotCompute

pytestmark = pytest.mark.outside

GUM = json.loads((Path(__file__).parent / "gum.json").read_text(encoding="utf-8"))

# -- H.1, an end gauge compared with a standard; the figures are nm, the arithmetic does not mind ---------------------

H1 = GUM["H1_end_gauge"]
STANDARD_NM, ALPHA_PER_K = 50_000_623, 11.5e-6
H1_TERMS = {
    "l_s": Term(name="l_s", stated_kelvin=25, degrees_of_freedom=18),
    "d_mean": Term(name="d_mean", stated_kelvin=5.8, degrees_of_freedom=24),
    "d_random": Term(name="d_random", stated_kelvin=3.9, degrees_of_freedom=5),
    "d_systematic": Term(name="d_systematic", stated_kelvin=6.7, degrees_of_freedom=8),
    # l_s x theta = 50 000 623 nm x 0.1 K, with the difference of the two alphas anywhere within ± 1e-6 per K
    "delta_alpha": Term(
        name="delta_alpha",
        stated_kelvin=STANDARD_NM * 0.1 * 1e-6,
        divisor=RECTANGULAR_DIVISOR,
        degrees_of_freedom=50,
    ),
    # l_s x alpha, with the difference of the two temperatures anywhere within ± 0.05 K
    "delta_theta": Term(
        name="delta_theta",
        stated_kelvin=STANDARD_NM * ALPHA_PER_K * 0.05,
        divisor=RECTANGULAR_DIVISOR,
        degrees_of_freedom=2,
    ),
}


@pytest.mark.parametrize("name", H1_TERMS)
def test_h1_each_component(name):
    expected = H1["components"][name]
    assert H1_TERMS[name].standard_uncertainty_kelvin == pytest.approx(expected, rel=1e-6)


def test_h1_combined_uncertainty_is_32_nm_with_16_degrees_of_freedom():
    budget = Budget.of(*H1_TERMS.values())
    assert round(budget.standard_uncertainty_kelvin) == H1["published"]["u_c"] == 32
    assert budget.standard_uncertainty_kelvin == pytest.approx(H1["computed"]["u_c"], rel=1e-6)
    assert math.floor(budget.degrees_of_freedom) == H1["published"]["nu_eff"] == 16
    assert budget.degrees_of_freedom == pytest.approx(H1["computed"]["nu_eff"], rel=1e-6)


def test_h1_expanded_uncertainty_for_99_percent_is_93_nm():
    """As published: from the rounded u_c. Degrees of freedom are cut to 16 although they are nearer to 17."""
    k = coverage_factor(Budget.of(*H1_TERMS.values()).degrees_of_freedom, 0.99)
    assert round(k, 2) == H1["published"]["t99_16"] == 2.92
    assert round(k * 32) == H1["published"]["U99"] == 93


# -- H.3, a thermometer by least squares ------------------------------------------------------------------------------

H3 = GUM["H3_thermometer"]
H3_LINE = Line.through(list(zip(H3["t_k"], H3["b_k"], strict=True)), zero_celsius=H3["t0"])


def h3_values() -> dict[str, float]:
    at_30 = H3_LINE.at(30, beyond_points=True)
    return {
        "y1": H3_LINE.intercept_kelvin,
        "s_y1": H3_LINE.intercept_uncertainty_kelvin,
        "y2": H3_LINE.slope_kelvin_per_kelvin,
        "s_y2": H3_LINE.slope_uncertainty_kelvin_per_kelvin,
        "r": H3_LINE.correlation,
        "s": H3_LINE.scatter_kelvin,
        "b_30": at_30.offset_kelvin,
        "u_b_30": at_30.standard_uncertainty_kelvin,
        "dof": H3_LINE.degrees_of_freedom,
    }


DIGITS = {"y1": 4, "s_y1": 4, "y2": 5, "s_y2": 5, "r": 3, "s": 4, "b_30": 4, "u_b_30": 4, "dof": 0}


def test_h3_every_published_result_is_here():
    assert H3["published"].keys() == DIGITS.keys() == h3_values().keys()


@pytest.mark.parametrize("name", DIGITS)
def test_h3_as_published(name):
    assert round(h3_values()[name], DIGITS[name]) == H3["published"][name]


@pytest.mark.parametrize("name", [name for name in DIGITS if name != "dof"])
def test_h3_as_other_libraries_compute_it(name):
    assert h3_values()[name] == pytest.approx(H3["computed"][name], rel=1e-9)


def test_h3_without_the_correlation_it_would_be_wrong():
    """The slip this example is known for: 0.0073 instead of 0.0041."""
    without = math.hypot(
        H3_LINE.intercept_uncertainty_kelvin, 10 * H3_LINE.slope_uncertainty_kelvin_per_kelvin
    )
    assert round(without, 4) == 0.0073
    assert H3_LINE.at(30, beyond_points=True).standard_uncertainty_kelvin < 0.0042


def test_h3_beside_numpy_and_uncertainties():
    """Computed here and now: the fit by numpy.polyfit, the value at 30 °C by correlated numbers."""
    (slope, intercept), covariance = numpy.polyfit(
        numpy.array(H3["t_k"]) - H3["t0"], numpy.array(H3["b_k"]), 1, cov=True
    )
    y2, y1 = uncertainties.correlated_values([slope, intercept], covariance)
    there = y1 + 10 * y2
    ours = H3_LINE.at(30, beyond_points=True)
    assert ours.offset_kelvin == pytest.approx(there.nominal_value, rel=1e-9)
    assert ours.standard_uncertainty_kelvin == pytest.approx(there.std_dev, rel=1e-6)


def test_h3_where_zero_is_put_changes_r_and_nothing_at_a_temperature():
    elsewhere = Line.through(list(zip(H3["t_k"], H3["b_k"], strict=True)))
    assert elsewhere.correlation == pytest.approx(-0.998, abs=0.0015)
    for celsius in (22.0, 24.0, 26.4):
        ours, theirs = H3_LINE.at(celsius), elsewhere.at(celsius)
        assert ours.offset_kelvin == pytest.approx(theirs.offset_kelvin)
        assert ours.standard_uncertainty_kelvin == pytest.approx(theirs.standard_uncertainty_kelvin)


def test_h3_thirty_degrees_lies_beyond_its_points():
    with pytest.raises(CannotCompute, match="beyond"):
        H3_LINE.at(30)
    assert H3_LINE.at(30, beyond_points=True).extrapolated
    assert not H3_LINE.at(24).extrapolated


# -- NIST Technical Note 1297, table B.1 ------------------------------------------------------------------------------

T_TABLE = GUM["t_table"]
T_CASES = [
    (row["nu"], percent, published, computed)
    for row in T_TABLE["rows"]
    for percent, published, computed in zip(
        T_TABLE["columns_percent"], row["published"], row["computed"], strict=True
    )
]


def test_the_table_of_t_is_all_there():
    assert len(T_CASES) == 13 * 6


@pytest.mark.parametrize(("nu", "percent", "published", "computed"), T_CASES)
def test_students_t(nu, percent, published, computed):
    k = coverage_factor(nu, percent / 100)
    assert k == pytest.approx(published, abs=0.05 if published > 100 else 0.0051)
    # The row of 68.27 % was computed with the unrounded share of one standard deviation, 235.78 with that of three.
    exact = {
        68.27: math.erf(1 / math.sqrt(2)),
        95.45: math.erf(math.sqrt(2)),
        99.73: math.erf(3 / math.sqrt(2)),
    }
    assert coverage_factor(nu, exact.get(percent, percent / 100)) == pytest.approx(computed, rel=3e-4)


def test_degrees_of_freedom_are_cut_down_never_up():
    assert coverage_factor(9.99) == coverage_factor(9)
    assert coverage_factor(math.inf) == pytest.approx(1.960, abs=0.0005)
    assert coverage_factor(1e9) == pytest.approx(coverage_factor(math.inf), rel=1e-6)


# -- Type B rules -----------------------------------------------------------------------------------------------------


def example_of(words: str) -> dict[str, float]:
    return next(rule["example"] for rule in GUM["type_b_rules"] if words in rule["rule"])


def test_rectangular():
    example = example_of("rectangular")
    assert rectangular("a", example["a"]).standard_uncertainty_kelvin == pytest.approx(example["u"])


def test_one_step_of_a_display():
    example = example_of("resolution step")
    assert resolution("d", example["d"]).standard_uncertainty_kelvin == pytest.approx(example["u"])
    half = rectangular("d", example["d"] / 2).standard_uncertainty_kelvin
    assert half == pytest.approx(example["u"])


def test_cycling():
    """The spread of a sine swinging by ± 0.5, taken all the way round, as GUM H.1 has it for its bed."""
    swing = 0.5 * numpy.sin(numpy.linspace(0, 2 * numpy.pi, 3600, endpoint=False))
    assert cycling("theta", 0.5).standard_uncertainty_kelvin == pytest.approx(swing.std(), rel=1e-9)


@pytest.mark.parametrize(("percent", "k"), [(95, 1.960), (99, 2.576)])
def test_a_confidence_of_a_certificate(percent, k):
    """NIST TN 1297, 4.2 and 4.3."""
    assert round(normal_factor(percent), 3) == k
    term = certificate("c", 0.1, confidence_percent=percent)
    assert term.standard_uncertainty_kelvin == pytest.approx(0.1 / k, rel=1e-3)


def test_a_k_of_a_certificate():
    assert certificate("c", 0.05, coverage_factor=2).standard_uncertainty_kelvin == 0.025


def test_type_a_of_a_mean():
    counts = GUM["example_ice_point"]["raw_counts_12bit"]
    term = from_readings("a", [count / 16 for count in counts], assumed_half_width_kelvin=0.0625)
    assert term.stated_kelvin == pytest.approx(GUM["example_ice_point"]["s"])
    assert term.standard_uncertainty_kelvin == pytest.approx(GUM["example_ice_point"]["u_typeA"])
    assert (term.kind, term.degrees_of_freedom) == ("A", 9)
