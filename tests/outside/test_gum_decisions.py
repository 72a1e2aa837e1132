"""Limits, guard bands and their risks against published figures. Values and their sources: gum.json beside this file.

Guard bands and the names of the four outcomes: ILAC-G8:09/2019, 4.1 and 4.2. Risks of r = 0, 0.83, 1, 1.5 and 3: decision
rule pages of calibration laboratories citing it. Global risk: scipy's quad and a Monte Carlo of four million draws.
"""

import json
import re
from pathlib import Path

import pytest

from kits.measuring.trouble import CannotCompute
from kits.measuring.verdict import judge, rule_risk, worst_false_pass

pytestmark = pytest.mark.outside

GUM = json.loads((Path(__file__).parent / "gum.json").read_text(encoding="utf-8"))
RULES, RISK = GUM["decision_rules"], GUM["global_risk"]
LIMIT = RULES["tolerance"]


def verdict(error, guard_factor):
    return judge(
        error_kelvin=error, limit_kelvin=LIMIT, expanded_kelvin=RULES["U"], guard_factor=guard_factor
    )


def test_the_tables_are_all_there():
    assert (len(RULES["cases"]), len(RULES["specific_risk"]), len(RISK["rows"])) == (8, 5, 24)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("case", RULES["cases"], ids=lambda case: f"{case['error']}")
def test_an_error_against_the_limit(case, sign):
    simple, guarded = verdict(sign * case["error"], 0), verdict(sign * case["error"], 1)
    assert simple.word == case["simple"]
    assert guarded.word == case["four_way"]
    assert guarded.passed == (case["guarded_binary"] == "pass")
    assert guarded.probability_out == pytest.approx(case["p_nonconforming"], rel=1e-9)
    assert guarded.acceptance_limit_kelvin == pytest.approx(RULES["acceptance_limit_r1"])


@pytest.mark.parametrize("case", RULES["specific_risk"], ids=lambda case: f"r {case['r']}")
def test_the_worst_chance_of_a_false_pass(case):
    ours = worst_false_pass(case["r"])
    assert ours == pytest.approx(case["computed_one_sided"], rel=1e-9)
    number, unit = re.fullmatch(r"< ([\d.]+) (%|ppm)", case["published"]).groups()
    below = float(number) * {"%": 1e-2, "ppm": 1e-6}[unit]
    assert ours <= below, "published as an upper bound"


@pytest.mark.parametrize("case", RULES["specific_risk"][:4], ids=lambda case: f"r {case['r']}")
def test_that_chance_is_what_a_result_at_the_edge_is_told(case):
    edge = LIMIT - case["r"] * RULES["U"]
    result = verdict(edge, case["r"])
    assert result.passed
    assert result.probability_out == pytest.approx(case["computed_one_sided"], rel=1e-6)


@pytest.mark.parametrize("row", RISK["rows"], ids=lambda row: f"{row['u0']}-{row['um']}-{row['r']}")
def test_what_a_rule_does_to_a_whole_shelf(row):
    ours = rule_risk(
        spread_kelvin=row["u0"],
        standard_uncertainty_kelvin=row["um"],
        limit_kelvin=LIMIT,
        guard_factor=row["r"],
    )
    assert ours.out_of_limit == pytest.approx(row["out_of_tolerance"], rel=1e-9)
    assert ours.passed_though_out == pytest.approx(row["PFA"], rel=1e-6)
    assert ours.refused_though_good == pytest.approx(row["PFR"], rel=1e-6)


def test_four_to_one_with_95_percent_good_as_published():
    """ "Less than 1 % false accept and slightly over 1.5 % false reject." """
    ours = rule_risk(
        spread_kelvin=LIMIT / 1.959964,
        standard_uncertainty_kelvin=LIMIT / 8,
        limit_kelvin=LIMIT,
        guard_factor=0,
    )
    assert ours.passed_though_out < 0.01 and 0.015 < ours.refused_though_good < 0.016
    computed = RISK["published_check"]["computed"]
    assert ours.passed_though_out == pytest.approx(computed["PFA"], rel=1e-5)
    assert ours.refused_though_good == pytest.approx(computed["PFR"], rel=1e-5)


def test_a_rule_that_nothing_can_pass_is_refused():
    """U = 0.2 and r = 3 would make the acceptance limit -0.1."""
    with pytest.raises(CannotCompute, match="no sensor could ever pass"):
        judge(error_kelvin=0.0, limit_kelvin=LIMIT, expanded_kelvin=0.2, guard_factor=3)
