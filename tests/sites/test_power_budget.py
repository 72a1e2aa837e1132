"""The 24 V budget: verdicts at their edges."""

import pytest

from sites.power_budget import Budget, Load


def budget(*loads: float, transformer: float = 40, kit: float = 5) -> Budget:
    named = tuple(Load(name=f"load {number}", volt_ampere=load) for number, load in enumerate(loads))
    return Budget(transformer_volt_ampere=transformer, kit_volt_ampere=kit, loads=named)


@pytest.mark.parametrize(
    ("loads", "percent", "verdict"),
    [
        pytest.param([10, 3, 5], 57.5, "fine", id="contactor, thermostat, board"),
        pytest.param([8, 10, 6, 3], 80, "fine", id="heat pump, exactly 80 %"),
        pytest.param([8, 10, 6, 3.1], 80.25, "tight", id="just above 80 %"),
        pytest.param([35], 100, "tight", id="exactly full"),
        pytest.param([35.1], 100.25, "too much", id="just above full"),
        pytest.param([30, 10, 3, 5], 132.5, "too much", id="three zone dampers"),
        pytest.param([], 12.5, "fine", id="the kit alone"),
    ],
)
def test_tight_above_80_percent_and_never_fine_above_100(loads, percent, verdict):
    found = budget(*loads)
    assert found.used_percent == pytest.approx(percent)
    assert found.verdict == verdict
    assert ("Do not leave" in found.sentence) == (verdict == "too much")


def test_tenths_that_add_up_to_80_percent_do_not_warn():
    assert budget(*[0.1] * 270).verdict == "fine"


def test_headroom_is_what_is_left_and_goes_below_nothing():
    assert budget(10).headroom_volt_ampere == 25
    assert budget(10).headroom_percent == pytest.approx(62.5)
    assert budget(45).headroom_volt_ampere == -10


def test_room_for_the_rest_is_never_less_than_nothing():
    assert budget().room_for_the_rest_volt_ampere == 27
    assert budget(kit=36).room_for_the_rest_volt_ampere == 0


@pytest.mark.parametrize(
    ("transformer", "kit", "loads"), [(0, 5, []), (-40, 5, []), (40, -1, []), (40, 5, [-2])]
)
def test_nonsense_is_refused(transformer, kit, loads):
    with pytest.raises(ValueError):
        budget(*loads, transformer=transformer, kit=kit)
