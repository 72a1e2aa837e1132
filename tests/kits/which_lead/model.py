"""A bench of leads that obey Newton's law of cooling: dT/dt = (surroundings - T) / tau, read as 12-bit sensors are.

Time constants (seconds): gripped 18 to 33, at worst 40, through a glove 45 to 120; let go 175 to 260 in still air, 45 to
60 in the air of a duct. Skin 27 to 34 °C. They are measured and computed figures for a 6 x 50 mm steel probe.
Everything is drawn for many runs at once; `Worlds.temperatures` gives true temperatures on a grid of half seconds.
"""

from dataclasses import dataclass, replace

import numpy as np

LEADS = 5
STEP_S = 0.5
FROM_S, UNTIL_S = -75.0, 240.0
GRID = np.arange(FROM_S, UNTIL_S + STEP_S / 2, STEP_S)
NEVER = np.inf
NOBODY = -1

Array = np.ndarray


@dataclass
class Worlds:
    """Many runs of one kind. Arrays are (runs,) or (runs, LEADS); times are seconds from the tap "I am holding it"."""

    ambient: Array
    tau_air: Array
    offset: Array
    drift_per_s: Array
    drift_begins: Array
    held: Array  # how firmly: 1 gripped, 0.1 a probe that is clamped to a pipe, 0 not at all
    grip_begins: Array
    grip_ends: Array
    tau_grip: Array
    hand: Array
    neighbour: Array  # the share of the held lead's excess that the air round another lead gets
    equipment_begins: Array
    equipment_kelvin: Array
    tau_coil: Array
    tau_duct: Array
    leads: Array  # how many of the LEADS there are
    every_s: Array
    stale_s: Array  # how long the box keeps giving the same value; 0 if it never does
    lost_share: Array
    spike_share: Array
    noise: Array
    truth: Array  # the lead that may be named, or NOBODY
    cold: bool = False

    def __len__(self) -> int:
        return len(self.ambient)

    def only(self, rows: Array) -> "Worlds":
        """Some of the runs."""
        picked = {name: value[rows] for name, value in vars(self).items() if isinstance(value, np.ndarray)}
        return replace(self, **picked)

    def temperatures(self) -> Array:
        """True temperatures, (instants, runs, LEADS)."""
        present = self.ambient.copy()
        told = np.empty((len(GRID), *present.shape))
        firmest = self.held.argmax(axis=1)
        rows = np.arange(len(self))
        for index, at_s in enumerate(GRID):
            on_for = np.clip(at_s - self.equipment_begins, 0.0, None)
            air = (
                self.ambient
                + self.drift_per_s * np.clip(at_s - self.drift_begins, 0.0, None)
                + self.equipment_kelvin * -np.expm1(-on_for / self.tau_coil)[:, None]
            )
            excess = (present - air)[rows, firmest][:, None]
            air_here = air + self.neighbour * excess
            in_hand = (self.held > 0) & (at_s >= self.grip_begins) & (at_s < self.grip_ends)[:, None]
            blown = (on_for > 0)[:, None] & (self.equipment_kelvin != 0)
            tau = np.where(in_hand, self.tau_grip, np.where(blown, self.tau_duct[:, None], self.tau_air))
            goal = np.where(in_hand, air + self.held * (self.hand - air), air_here)
            present = present + (goal - present) * -np.expm1(-STEP_S / tau)
            told[index] = present
        return told

    def readings(self, told: Array, row: int, chance: np.random.Generator) -> list[list[tuple[float, float]]]:
        """What the box gives for one run: jittered, sometimes lost, in steps of 1/16 K, now and then 85.0 or -127."""
        count = int((UNTIL_S - FROM_S) / self.every_s[row])
        steps = self.every_s[row] * chance.uniform(0.8, 1.2, count)
        times = FROM_S + np.cumsum(steps)
        times = times[times < UNTIL_S - 1]
        taken_at = times
        if self.stale_s[row] > 0:
            taken_at = FROM_S + np.floor((times - FROM_S) / self.stale_s[row]) * self.stale_s[row]
        index = np.clip(((taken_at - FROM_S) / STEP_S).astype(int), 0, len(GRID) - 1)
        true = told[index, row] + self.offset[row]
        # A value that is repeated brings its noise again.
        taken, repeats = np.unique(index, return_inverse=True)
        noise = chance.normal(0.0, self.noise[row], (len(taken), LEADS))[repeats]
        read = np.round((true + noise) * 16) / 16
        fate = chance.random(read.shape)
        read[fate < self.spike_share[row]] = 85.0
        read[fate < self.spike_share[row] / 3] = -127.0
        there = chance.random(read.shape) >= self.lost_share[row]
        moments = times.tolist()
        return [
            [(moments[i], value) for i, value in enumerate(read[:, lead].tolist()) if there[i, lead]]
            for lead in range(int(self.leads[row]))
        ]


def quiet(count: int, chance: np.random.Generator, *ambient: tuple[float, float]) -> Worlds:
    """Leads that hang in still air of one room (as warm as one of the ranges), one about to be gripped by a bare hand."""
    lowest, highest = np.array(ambient)[chance.integers(len(ambient), size=(count, 1))].transpose(2, 0, 1)
    room = chance.uniform(lowest, highest)
    shape = (count, LEADS)
    leads = chance.choice([2, 3, 4, 5], count, p=[0.15, 0.2, 0.25, 0.4])
    truth = (chance.random(count) * leads).astype(int)
    held = np.zeros(shape)
    held[np.arange(count), truth] = 1.0
    return Worlds(
        ambient=room + chance.normal(0, 0.15, shape),
        tau_air=chance.uniform(175, 260, shape),
        offset=chance.normal(0, 0.25, shape),
        drift_per_s=np.repeat(chance.uniform(-0.08, 0.08, (count, 1)) / 60, LEADS, axis=1),
        drift_begins=np.full(shape, FROM_S),
        held=held,
        grip_begins=np.repeat(chance.uniform(-2, 5, (count, 1)), LEADS, axis=1),
        grip_ends=np.full(count, NEVER),
        tau_grip=np.repeat(chance.uniform(18, 33, (count, 1)), LEADS, axis=1),
        hand=np.repeat(chance.uniform(27, 34, (count, 1)), LEADS, axis=1),
        neighbour=np.repeat(chance.uniform(0, 0.02, (count, 1)), LEADS, axis=1),
        equipment_begins=np.full(count, NEVER),
        equipment_kelvin=np.zeros(shape),
        tau_coil=np.full(count, 30.0),
        tau_duct=chance.uniform(45, 60, count),
        leads=leads,
        every_s=np.exp(chance.uniform(np.log(1), np.log(10), count)),
        stale_s=np.zeros(count),
        lost_share=chance.choice([0.0, 0.02, 0.1], count),
        spike_share=chance.choice([0.0, 0.0, 0.01], count),
        noise=chance.uniform(0.02, 0.06, count),
        truth=truth,
    )
