"""The ways a hold can go, as worlds to be judged, and how many of 10,000 runs each of them gets."""

from collections.abc import Callable

import numpy as np

from tests.kits.which_lead.model import LEADS, NEVER, NOBODY, Worlds, quiet

Chance = np.random.Generator
# Air that is neither as warm as a hand nor as cold as a freezer.
NOT_NEAR = (5, 25), (37, 50)
Scenario = Callable[[int, Chance], Worlds]


def ordinary(count: int, chance: Chance) -> Worlds:
    return quiet(count, chance, (18, 26))


def cool(count: int, chance: Chance) -> Worlds:
    return quiet(count, chance, (5, 15))


def hot_attic(count: int, chance: Chance) -> Worlds:
    return quiet(count, chance, (35, 60))


def near_skin(count: int, chance: Chance) -> Worlds:
    return quiet(count, chance, (27, 35))


def gloved(count: int, chance: Chance) -> Worlds:
    worlds = quiet(count, chance, (5, 24))
    worlds.tau_grip = np.repeat(chance.uniform(45, 120, (count, 1)), LEADS, axis=1)
    return worlds


def slow_grip(count: int, chance: Chance) -> Worlds:
    worlds = quiet(count, chance, (10, 24))
    worlds.tau_grip = np.repeat(chance.uniform(33, 40, (count, 1)), LEADS, axis=1)
    return worlds


def clamped(count: int, chance: Chance) -> Worlds:
    """The held probe sits on a pipe that keeps its own temperature."""
    worlds = quiet(count, chance, (8, 50))
    worlds.held *= chance.uniform(0.02, 0.15, (count, 1))
    return worlds


def one_bundle(count: int, chance: Chance) -> Worlds:
    """The leads lie together, and the held one warms the others."""
    worlds = quiet(count, chance, *NOT_NEAR)
    worlds.neighbour = chance.uniform(0.02, 0.3, (count, LEADS)) * (chance.random((count, LEADS)) < 0.7)
    return worlds


def two_held(count: int, chance: Chance) -> Worlds:
    """Two leads in one person's hands, one perhaps a little later, more loosely or through a glove. Neither may be named."""
    worlds = quiet(count, chance, *NOT_NEAR)
    worlds.leads = np.maximum(worlds.leads, 2)
    rows = np.arange(count)
    second = (worlds.truth + 1 + (chance.random(count) * (worlds.leads - 1)).astype(int)) % worlds.leads
    worlds.held[rows, second] = 1.0
    worlds.grip_begins[rows, second] += chance.uniform(0, 6, count)
    worlds.hand[rows, second] += chance.uniform(-1.5, 1.5, count)
    looser = np.where(
        chance.random(count) < 0.25, chance.uniform(1.5, 4, count), chance.uniform(0.8, 1.5, count)
    )
    worlds.tau_grip[rows, second] *= looser
    worlds.truth[:] = NOBODY
    return worlds


def _equipment(worlds: Worlds, chance: Chance, moves: np.ndarray) -> Worlds:
    """Cooling or heating starts at any time round the hold; air that comes through a coil or a heat exchanger."""
    count = len(worlds)
    worlds.equipment_begins = chance.uniform(-25, 70, count)
    worlds.tau_coil = np.where(chance.random(count) < 0.3, 1.0, chance.uniform(15, 60, count))
    strength = np.where(
        chance.random(count) < 0.5, chance.uniform(-14, -3, count), chance.uniform(3, 28, count)
    )
    worlds.equipment_kelvin = moves * strength[:, None] * chance.uniform(0.6, 1.0, moves.shape)
    return worlds


def equipment_moves_all(count: int, chance: Chance) -> Worlds:
    return _equipment(quiet(count, chance, *NOT_NEAR), chance, np.ones((count, LEADS)))


def equipment_moves_some(count: int, chance: Chance) -> Worlds:
    """Any of the leads, the held one too."""
    moves = (chance.random((count, LEADS)) < 0.4).astype(float)
    return _equipment(quiet(count, chance, *NOT_NEAR), chance, moves)


def equipment_moves_another(count: int, chance: Chance) -> Worlds:
    """The held probe is clamped or gloved and hardly moves; one other is moved by air. The hardest there is."""
    worlds = quiet(count, chance, (12, 45))
    rows = np.arange(count)
    is_clamped = chance.random(count) < 0.6
    worlds.held *= np.where(is_clamped, chance.uniform(0.0, 0.12, count), 1.0)[:, None]
    worlds.tau_grip = np.repeat(chance.uniform(45, 150, (count, 1)), LEADS, axis=1)
    other = (worlds.truth + 1 + (chance.random(count) * (worlds.leads - 1)).astype(int)) % worlds.leads
    moves = np.zeros((count, LEADS))
    moves[rows, other] = 1.0
    worlds = _equipment(worlds, chance, moves)
    # Half of them begin just when the hand closes, at once at full strength, and stop short of the hand's temperature.
    worst = chance.random(count) < 0.5
    worlds.equipment_begins[worst] = chance.uniform(-3, 6, int(worst.sum()))
    worlds.tau_coil[worst] = chance.choice([1.0, 10.0], int(worst.sum()))
    towards = np.sign(31 - worlds.ambient[rows, other]) * chance.uniform(3, 14, count)
    worlds.equipment_kelvin[rows[worst], other[worst]] = towards[worst]
    return worlds


def sun_patch(count: int, chance: Chance) -> Worlds:
    """The sun reaches one or two leads, before or during the hold."""
    worlds = quiet(count, chance, (5, 45))
    struck = chance.random((count, LEADS)) < 0.3
    worlds.drift_per_s += struck * chance.uniform(0.3, 4, (count, LEADS)) / 60
    worlds.drift_begins = np.where(struck, chance.uniform(-75, 60, (count, 1)), worlds.drift_begins)
    worlds.tau_air = np.where(struck, 30.0, worlds.tau_air)
    worlds.held *= np.where(chance.random(count) < 0.3, 0.1, 1.0)[:, None]
    return worlds


def blown_on(count: int, chance: Chance) -> Worlds:
    """A fan runs all the time over every lead: they come back fast, and the hand keeps less of them warm."""
    worlds = quiet(count, chance, *NOT_NEAR)
    worlds.tau_air = chance.uniform(45, 60, (count, LEADS))
    worlds.held *= chance.uniform(0.6, 0.9, (count, 1))
    return worlds


def bad_line(count: int, chance: Chance) -> Worlds:
    """Readings lost by the third, sensors that woke up again and again."""
    worlds = quiet(count, chance, *NOT_NEAR)
    worlds.lost_share = chance.uniform(0.1, 0.35, count)
    worlds.spike_share = chance.uniform(0.02, 0.1, count)
    return worlds


def stale(count: int, chance: Chance) -> Worlds:
    """The box measures every 11 to 25 s and repeats the value in between."""
    worlds = quiet(count, chance, *NOT_NEAR)
    worlds.every_s = chance.uniform(1, 3, count)
    worlds.stale_s = chance.uniform(11, 25, count)
    return worlds


def cold_can(count: int, chance: Chance) -> Worlds:
    worlds = quiet(count, chance, (16, 45))
    worlds.hand = np.repeat(chance.uniform(3, 10, (count, 1)), LEADS, axis=1)
    worlds.cold = True
    return worlds


def nobody_holds(count: int, chance: Chance) -> Worlds:
    """Tapped, but no lead is held; something else moves one of them, or nothing does."""
    worlds = equipment_moves_another(count, chance)
    worlds.held[:] = 0.0
    still = chance.random(count) < 0.4
    worlds.equipment_begins[still] = NEVER
    worlds.truth[:] = NOBODY
    return worlds


RUNS: dict[Scenario, int] = {
    ordinary: 2000,
    cool: 800,
    hot_attic: 1000,
    slow_grip: 500,
    gloved: 500,
    blown_on: 300,
    one_bundle: 600,
    bad_line: 300,
    stale: 200,
    cold_can: 400,
    near_skin: 600,
    clamped: 400,
    two_held: 800,
    equipment_moves_all: 400,
    equipment_moves_some: 500,
    equipment_moves_another: 400,
    sun_patch: 200,
    nobody_holds: 100,
}
