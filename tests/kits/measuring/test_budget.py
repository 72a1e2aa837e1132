"""Terms and budgets: what they refuse, and rules that hold for all numbers."""

import json
import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kits.measuring.budget import (
    Budget,
    Term,
    certificate,
    from_readings,
    normal_factor,
    rectangular,
    resolution,
)
from kits.measuring.rounding import stored, stored_uncertainty
from kits.measuring.trouble import CannotCompute
from kits.units import celsius_to_fahrenheit, fahrenheit_to_celsius

# Nothing or at least a nanokelvin: what is smaller than that has no digits left to add up.
KELVIN = st.one_of(st.just(0.0), st.floats(1e-9, 10))
TERMS = st.builds(
    Term,
    name=st.just("some term"),
    stated_kelvin=KELVIN,
    divisor=st.floats(0.5, 4),
    degrees_of_freedom=st.one_of(st.just(math.inf), st.integers(1, 60).map(float)),
    shared=st.booleans(),
)
BUDGETS = st.lists(TERMS, min_size=1, max_size=8).map(lambda terms: Budget(tuple(terms)))
quick = settings(max_examples=40)
READINGS = st.lists(st.floats(-50, 120), min_size=2, max_size=12)


# -- One reading ------------------------------------------------------------------------------------------------------


def test_one_reading_is_said_and_never_taken_as_no_scatter():
    term = from_readings("Sensor", [0.25], assumed_half_width_kelvin=0.0625)
    assert term.single_reading and term.kind == "B"
    assert term.standard_uncertainty_kelvin == pytest.approx(0.0625 / math.sqrt(3))
    assert "one reading only" in term.note
    assert Budget.of(term, resolution("step", 0.0625)).single_reading


def test_two_readings_are_type_a_with_one_degree_of_freedom():
    term = from_readings("Sensor", [0.25, 0.3125], assumed_half_width_kelvin=0.0625)
    assert (term.kind, term.degrees_of_freedom, term.single_reading) == ("A", 1, False)
    assert not Budget.of(term).single_reading


@pytest.mark.parametrize(
    ("readings", "assumed", "says"),
    [
        pytest.param([], 0.0625, "no reading", id="none"),
        pytest.param([0.25], 0.0, "at least two", id="one, and nothing to assume"),
    ],
)
def test_readings_that_tell_nothing(readings, assumed, says):
    with pytest.raises(CannotCompute, match=says):
        from_readings("Sensor", readings, assumed_half_width_kelvin=assumed)


# -- What a term refuses ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong",
    [
        {"stated_kelvin": -0.1},
        {"stated_kelvin": math.nan},
        {"stated_kelvin": math.inf},
        {"stated_kelvin": 0.1, "divisor": 0},
        {"stated_kelvin": 0.1, "divisor": -2},
        {"stated_kelvin": 0.1, "degrees_of_freedom": 0.5},
        {"stated_kelvin": 0.1, "degrees_of_freedom": math.nan},
    ],
    ids=str,
)
def test_a_term_that_makes_no_sense(wrong):
    with pytest.raises(CannotCompute, match="Bath"):
        Term(name="Bath", **wrong)


@pytest.mark.parametrize(
    "given_as", [{}, {"coverage_factor": 2, "confidence_percent": 95}], ids=["neither", "both"]
)
def test_a_certificate_gives_k_or_confidence(given_as):
    with pytest.raises(CannotCompute, match="one of the two"):
        certificate("Certificate", 0.05, **given_as)


@pytest.mark.parametrize("percent", [0, 49, 100, 101, -95])
def test_a_confidence_that_is_none(percent):
    with pytest.raises(CannotCompute, match="percentage"):
        normal_factor(percent)


def test_a_budget_without_terms():
    with pytest.raises(CannotCompute, match="at least one term"):
        Budget(())


# -- The budget -------------------------------------------------------------------------------------------------------


def test_terms_that_are_nothing_have_no_line():
    assert len(Budget.of(rectangular("Bath", 0), resolution("Step", 0.1)).terms) == 1
    assert Budget.of(rectangular("Bath", 0)).expanded_kelvin == 0


def test_a_budget_comes_back_from_json_as_it_was():
    budget = Budget.of(
        from_readings("Sensor", [0.1, 0.2, 0.4], assumed_half_width_kelvin=0.1),
        certificate("Certificate", 0.05, coverage_factor=2),
    )
    assert Budget.from_plain(json.loads(json.dumps(budget.as_plain(), allow_nan=False))) == budget


@quick
@given(BUDGETS)
def test_the_whole_is_never_smaller_than_a_part(budget):
    for term in budget.terms:
        assert budget.standard_uncertainty_kelvin >= term.standard_uncertainty_kelvin * (1 - 1e-12)
        assert budget.expanded_kelvin >= 1.95 * term.standard_uncertainty_kelvin
    assert math.hypot(budget.shared_kelvin, budget.own_kelvin) == pytest.approx(
        budget.standard_uncertainty_kelvin
    )


@quick
@given(BUDGETS, TERMS)
def test_one_more_term_never_makes_it_better(budget, term):
    more = budget.with_terms(term)
    assert more.standard_uncertainty_kelvin >= budget.standard_uncertainty_kelvin * (1 - 1e-12)


@quick
@given(BUDGETS)
def test_shares_come_to_a_hundred(budget):
    together = sum(share for _, share in budget.shares_percent())
    assert together == pytest.approx(100 if budget.standard_uncertainty_kelvin else 0)


@quick
@given(BUDGETS)
def test_freedom_is_at_least_that_of_the_least_free_term(budget):
    assert budget.degrees_of_freedom >= min(term.degrees_of_freedom for term in budget.terms) * (1 - 1e-9)


@quick
@given(READINGS, st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(readings, chance):
    shuffled = readings[:]
    chance.shuffle(shuffled)
    term = from_readings("Sensor", readings, assumed_half_width_kelvin=0.1)
    again = from_readings("Sensor", shuffled, assumed_half_width_kelvin=0.1)
    assert again.standard_uncertainty_kelvin == pytest.approx(term.standard_uncertainty_kelvin, abs=1e-12)


@quick
@given(st.floats(-200, 1000))
def test_there_and_back_between_the_units(celsius):
    assert fahrenheit_to_celsius(celsius_to_fahrenheit(celsius)) == pytest.approx(celsius, abs=1e-9)


# -- What is kept -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "kept"),
    [(-0.31875, "-0.319"), (0.0005, "0.000"), (0.0015, "0.002"), (-0.0001, "0.000"), (0.1 + 0.2, "0.300")],
)
def test_offsets_are_kept_to_the_nearest_thousandth(value, kept):
    assert str(stored(value)) == kept


@pytest.mark.parametrize(
    ("value", "kept"),
    [(0.0484, "0.049"), (0.048, "0.048"), (0.1 + 0.2, "0.300"), (0.0001, "0.001"), (0, "0.000")],
)
def test_uncertainties_are_kept_rounded_up(value, kept):
    assert str(stored_uncertainty(value)) == kept


def test_nothing_large_is_loaded_before_a_budget_is_computed():
    """A server that starts carries no scipy; its memory is for pages."""
    program = (
        "import sys, kits.measuring.line, kits.measuring.difference, kits.measuring.verdict, kits.measuring.due;"
        "sys.exit('scipy' in sys.modules or 'numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
