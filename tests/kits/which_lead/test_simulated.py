"""Ten thousand simulated holds: never a wrong name, and a name often enough to be of use."""

import sys

import pytest

from kits.which_lead import Kind
from tests.kits.which_lead.scenarios import RUNS, Scenario
from tests.kits.which_lead.simulate import run

# The least share of runs in which a lead must be named, so that a rule that never decides does not pass.
DECIDES_AT_LEAST = {
    "ordinary": 0.97,
    "cool": 0.97,
    "hot_attic": 0.95,
    "slow_grip": 0.97,
    "gloved": 0.95,
    "blown_on": 0.95,
    "one_bundle": 0.90,
    "bad_line": 0.85,
    "stale": 0.80,
    "cold_can": 0.97,
    "equipment_moves_all": 0.35,
    "equipment_moves_some": 0.50,
    "sun_patch": 0.25,
}
# Where no lead can be told from what is seen, and a name would be a guess.
NEVER_DECIDES = ("two_held", "nobody_holds")


def test_it_is_ten_thousand_runs_and_every_limit_belongs_to_one_of_them() -> None:
    assert sum(RUNS.values()) == 10_000
    assert {*DECIDES_AT_LEAST, *NEVER_DECIDES} <= {scenario.__name__ for scenario in RUNS}


@pytest.mark.parametrize(("scenario", "count"), RUNS.items(), ids=lambda one: getattr(one, "__name__", ""))
def test_no_simulated_hold_names_a_wrong_lead(scenario: Scenario, count: int) -> None:
    result = run(scenario, count)
    assert result.wrong == []
    assert result.runs == count
    assert result.right / count >= DECIDES_AT_LEAST.get(scenario.__name__, 0.0)
    if scenario.__name__ in NEVER_DECIDES:
        assert result.right == 0
    if scenario.__name__ == "near_skin":
        assert result.ended[Kind.REFUSED_NEAR_SKIN] / count >= 0.9
    if scenario.__name__ == "two_held":
        assert result.ended[Kind.REFUSED_TWO_LEAD] / count >= 0.9
    if scenario.__name__ == "ordinary":
        assert sorted(result.seconds)[count // 2] <= 45


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(2, 8))
@pytest.mark.parametrize(("scenario", "count"), RUNS.items(), ids=lambda one: getattr(one, "__name__", ""))
def test_other_chances_name_no_wrong_lead_either(scenario: Scenario, count: int, seed: int) -> None:
    assert run(scenario, count, seed).wrong == []


@pytest.mark.parametrize(
    ("gate", "slack", "scenario"),
    [
        pytest.param("MARGIN_WHEN_ANOTHER_MOVES", 0.5, "two_held", id="the margin over the next lead"),
        pytest.param("EVIDENCE_WANTED", -1e9, "equipment_moves_another", id="the look of a grip"),
    ],
)
def test_the_simulation_finds_a_rule_that_is_too_bold(
    monkeypatch: pytest.MonkeyPatch, gate: str, slack: float, scenario: str
) -> None:
    """The test that tests the test: with one gate open, wrong names are found."""
    for module in ("kits.which_lead.gates", "kits.which_lead.judge"):
        if hasattr(sys.modules[module], gate):
            monkeypatch.setattr(sys.modules[module], gate, slack)
    if gate == "MARGIN_WHEN_ANOTHER_MOVES":
        monkeypatch.setattr(sys.modules["kits.which_lead.gates"], "TOO_MUCH_FOR_A_NEIGHBOUR_KELVIN", 1e9)
        monkeypatch.setattr(sys.modules["kits.which_lead.judge"], "STILL_KELVIN", 1e9)
    chosen = next(one for one in RUNS if one.__name__ == scenario)
    assert run(chosen, 100).wrong != []
