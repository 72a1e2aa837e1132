"""The physics under "which lead is which", held against published values and against arithmetic done elsewhere.

Sources. Rises: a lumped probe with a pessimistic grip of tau = 40 s towards skin at 31 °C, worked out by hand for the
shop's trade notes, section 8 ("after 30/45 s: ambient 15 °C +8.4/+10.8 K ..."), from Newton's law of cooling.
The step answer itself: a first-order system reaches 63.2, 86.5 and 95.0 % after one, two and three time constants (any
text on measurement, for instance IEC 60751:2022 and its 50 and 90 % response times: t50 = 0.693 tau, t90 = 2.303 tau).
Reading steps: the sensor's 12-bit resolution is 0.0625 °C, 85 °C its value after power-on (data sheet of a family 28
sensor); it is never finer in the model.
"""

import math

import numpy as np
import pytest

from kits.which_lead import Kind, judge
from kits.which_lead.shape import shape_of
from tests.kits.which_lead.make import ROMS, held, series, still
from tests.kits.which_lead.model import FROM_S, GRID, LEADS, NEVER, STEP_S, quiet

pytestmark = pytest.mark.outside

# ambient °C, rise in K after 30 s and after 45 s
PUBLISHED_RISES = [
    (15, 8.4, 10.8),
    (20, 5.8, 7.4),
    (22, 4.7, 6.1),
    (25, 3.2, 4.1),
    (28, 1.6, 2.0),
    (45, -7.4, -9.5),
]


def one_world(ambient: float, tau_s: float, hand: float):
    worlds = quiet(1, np.random.default_rng(1), (ambient, ambient))
    worlds.ambient[:] = ambient
    worlds.drift_per_s[:] = 0
    worlds.neighbour[:] = 0
    worlds.grip_begins[:] = 0
    worlds.tau_grip[:] = tau_s
    worlds.hand[:] = hand
    return worlds


def rise(worlds, at_s: float) -> float:
    told = worlds.temperatures()[:, 0, worlds.truth[0]]
    return float(np.interp(at_s, GRID, told) - told[0])


@pytest.mark.parametrize(("ambient", "after_30_s", "after_45_s"), PUBLISHED_RISES)
def test_the_model_rises_as_the_trade_notes_say(ambient: float, after_30_s: float, after_45_s: float) -> None:
    worlds = one_world(ambient, 40, 31)
    # Half a step of the grid is the most the model can be early or late.
    assert rise(worlds, 30) == pytest.approx(after_30_s, abs=0.15)
    assert rise(worlds, 45) == pytest.approx(after_45_s, abs=0.15)
    assert held(ambient, 31, 40)(30) - ambient == pytest.approx(after_30_s, abs=0.051)
    assert held(ambient, 31, 40)(45) - ambient == pytest.approx(after_45_s, abs=0.051)


@pytest.mark.parametrize(
    ("time_constants", "share"), [(math.log(2), 0.5), (1, 0.632), (2, 0.865), (math.log(10), 0.9), (3, 0.950)]
)
@pytest.mark.parametrize("tau_s", [18, 33, 50, 175, 60])
def test_a_first_order_step(tau_s: float, time_constants: float, share: float) -> None:
    at_s = tau_s * time_constants
    if at_s < GRID[-1]:
        assert rise(one_world(20, tau_s, 30), at_s) / 10 == pytest.approx(share, abs=STEP_S / tau_s + 0.001)


def test_let_go_it_comes_back_in_still_air_as_slowly_as_published() -> None:
    """175 to 260 s: after two minutes 50 down to 37 % are gone, both more than the fifth that is asked for."""
    for tau_s, gone in ((175, 0.496), (260, 0.370)):
        worlds = one_world(20, 20, 31)
        worlds.tau_air[:] = tau_s
        worlds.grip_ends[:] = 60
        assert 1 - rise(worlds, 180) / rise(worlds, 60) == pytest.approx(gone, abs=0.01)


def test_readings_come_in_steps_of_the_sensor_and_never_finer() -> None:
    worlds = one_world(20, 25, 31)
    read = worlds.readings(worlds.temperatures(), 0, np.random.default_rng(2))
    values = [celsius for lead in read for _, celsius in lead]
    assert values and all(float(celsius * 16).is_integer() for celsius in values)
    assert all(at_s >= FROM_S for lead in read for at_s, _ in lead)


@pytest.mark.parametrize(("ambient", "after_30_s", "after_45_s"), PUBLISHED_RISES)
def test_the_rule_on_the_published_cases(ambient: float, after_30_s: float, after_45_s: float) -> None:
    """Where the published rise passes 2.0 K away from the skin the lead is named (let go first); at 28 °C it refuses."""
    leads = series([held(ambient, 31, 40, ends_s=48), still(ambient), still(ambient)], every_s=1)
    while_held = judge(leads, 0, 48)
    found = judge(leads, 0, 150, released_at_s=48)
    if abs(ambient - 31) < 4:
        assert while_held.kind is found.kind is Kind.REFUSED_NEAR_SKIN
    else:
        assert while_held.change_kelvin == pytest.approx(held(ambient, 31, 40)(47) - ambient, abs=0.07)
        assert while_held.leader == ROMS[0] and found.rom == ROMS[0]


@pytest.mark.parametrize("ambient", [27.5, 28, 29.1, 31, 32, 34, 34.5])
def test_near_any_published_skin_temperature_it_refuses(ambient: float) -> None:
    """Finger 29.1 °C, palms 32 to 34 °C: with air between 27 and 35 °C a hand proves nothing."""
    for skin in (27, 29.1, 31, 34):
        assert judge(series([held(ambient, skin), still(ambient)]), 0, 60).kind is Kind.REFUSED_NEAR_SKIN


@pytest.mark.parametrize("tau_s", [18, 25, 33])
def test_the_fit_finds_the_time_constant_of_a_grip(tau_s: float) -> None:
    times = [float(second) for second in range(-20, 60)]
    found = shape_of(times, [held(22, 31, tau_s)(at_s) - 22 for at_s in times])
    assert found.tau_s == pytest.approx(tau_s, abs=2.1) and found.begins_s == pytest.approx(0, abs=2)


def test_the_explained_part_of_the_fit_is_that_of_least_squares() -> None:
    """The sums of `shape` against numpy's general least squares on the same readings."""
    from kits.which_lead import shape

    chance = np.random.default_rng(3)
    times = np.sort(chance.uniform(-20, 60, 30))
    changes = np.where(times > 0, 5 * -np.expm1(-times / 30), 0) + chance.normal(0, 0.1, 30)
    for tau in (12.0, 40.0, 120.0):
        for begins in (-6.0, 0.0, 14.0):
            model = np.where(times > begins, -np.expm1(-(times - begins) / tau), 0.0)
            _, left, _, _ = np.linalg.lstsq(model[:, None], changes, rcond=None)
            position = int(np.searchsorted(times, begins, side="right"))
            sums = shape._tails(times.tolist(), changes.tolist(), tau)[position]
            explained = shape._explained(sums, math.exp(begins / tau))
            assert float(changes @ changes) - explained == pytest.approx(float(left[0]), rel=1e-9)


def test_worlds_hold_what_the_sources_say() -> None:
    worlds = quiet(400, np.random.default_rng(4), (5, 25), (37, 50))
    assert worlds.ambient.shape == (400, LEADS)
    assert worlds.tau_grip.min() >= 18 and worlds.tau_grip.max() <= 33
    assert worlds.tau_air.min() >= 175 and worlds.tau_air.max() <= 260
    assert worlds.hand.min() >= 27 and worlds.hand.max() <= 34
    assert (worlds.grip_ends == NEVER).all()
