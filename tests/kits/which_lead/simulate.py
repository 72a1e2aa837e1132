"""Judge simulated holds as a page would, and say how often the rule decides, how soon, and whether it is ever wrong.

.venv/bin/python -m tests.kits.which_lead.simulate [seed]
"""

import statistics
import sys
import time
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from kits.which_lead import Judgement, Kind, Sample, Series, judge
from tests.kits.which_lead.model import UNTIL_S, Worlds
from tests.kits.which_lead.scenarios import RUNS, Scenario

ROMS = ("28FF641E0F0000A1", "28FF641E0F0000B2", "28FF641E0F0000C3", "28FF641E0F0000D4", "28FF641E0F0000E5")
GIVES_UP_S = 100.0


@dataclass
class Result:
    """What became of the runs of one scenario."""

    runs: int = 0
    seconds: list[float] = field(default_factory=list)
    after_letting_go: int = 0
    wrong: list[str] = field(default_factory=list)
    ended: Counter[Kind] = field(default_factory=Counter)

    @property
    def right(self) -> int:
        return len(self.seconds)

    def count(self, name: str, row: int, ends: tuple[float, Judgement], truth: int) -> None:
        """Only a decision can be right or wrong; all else is an honest "I cannot say"."""
        at_s, last = ends
        self.runs += 1
        if last.is_decided and (truth < 0 or last.rom != ROMS[truth]):
            self.wrong.append(f"{name} {row} at {at_s:.0f} s: {last.sentence}")
        elif last.is_decided:
            self.seconds.append(at_s)
            self.after_letting_go += last.returned_share is not None
        else:
            self.ended[last.kind] += 1


def run(scenario: Scenario, count: int, seed: int = 1) -> Result:
    """Hold until it is decided or the patience ends; let go when asked to, and wait for two minutes."""
    name = scenario.__name__
    key = [seed, *name.encode()]
    chance = np.random.default_rng(key)
    worlds = scenario(count, chance)
    result = Result()
    let_go: list[tuple[int, float]] = []
    told = worlds.temperatures()
    for row in range(count):
        series = _series(worlds, told, row, key, until_s=GIVES_UP_S + 20)
        ends, released_s = _hold(series, worlds, chance)
        if released_s is None:
            result.count(name, row, ends, worlds.truth[row])
        else:
            let_go.append((row, released_s))
    if let_go:
        rows = np.array([row for row, _ in let_go])
        again = worlds.only(rows)
        # The button is pressed a little before or after the hand opens.
        again.grip_ends = np.array([at_s for _, at_s in let_go]) + chance.uniform(-1, 4, len(rows))
        told = again.temperatures()
        for position, (row, released_s) in enumerate(let_go):
            series = _series(again, told, position, key, row)
            result.count(name, row, _release(series, again, released_s, chance), worlds.truth[row])
    return result


def _series(
    worlds: Worlds,
    told: np.ndarray,
    position: int,
    key: list[int],
    row: int | None = None,
    until_s: float = UNTIL_S,
) -> dict[str, Series]:
    """What is read of one run. The same row has the same chance again when it is told anew with a release."""
    chance = np.random.default_rng([*key, position if row is None else row])
    readings = worlds.readings(told, position, chance)
    return {
        rom: Series(rom, [Sample(*one) for one in lead if one[0] <= until_s])
        for rom, lead in zip(ROMS, readings, strict=False)
    }


def _judge(
    series: dict[str, Series], worlds: Worlds, now_s: float, released_s: float | None = None
) -> Judgement:
    return judge(series, 0.0, now_s, warm_or_cold="cold" if worlds.cold else "hand", released_at_s=released_s)


def _hold(
    series: dict[str, Series], worlds: Worlds, chance: np.random.Generator
) -> tuple[tuple[float, Judgement], float | None]:
    """The page looks every few seconds. A refusal does not stop it here: nothing it says later may be wrong either."""
    now_s = chance.uniform(24, 34)
    first_refusal: tuple[float, Judgement] | None = None
    while True:
        judgement = _judge(series, worlds, now_s)
        if judgement.is_decided:
            return (now_s, judgement), None
        if judgement.let_go:
            return (now_s, judgement), now_s + chance.uniform(1, 5)
        if judgement.is_refused and first_refusal is None:
            first_refusal = (now_s, judgement)
        # What was so before the hold stays so.
        for_good = judgement.kind is Kind.REFUSED_UNSTEADY_BASELINE or (
            judgement.kind is Kind.REFUSED_NEAR_SKIN and judgement.leader is None
        )
        if for_good or now_s > GIVES_UP_S:
            return first_refusal or (now_s, judgement), None
        now_s += chance.uniform(4, 9) if first_refusal is None else chance.uniform(10, 20)


def _release(
    series: dict[str, Series], worlds: Worlds, released_s: float, chance: np.random.Generator
) -> tuple[float, Judgement]:
    now_s = released_s
    while True:
        now_s += chance.uniform(6, 15)
        judgement = _judge(series, worlds, now_s, released_s)
        if judgement.kind is not Kind.NOT_SURE_YET or now_s > released_s + 130:
            return now_s, judgement


def table(results: dict[str, Result]) -> str:
    """One row a scenario, for people."""
    lines = [
        f"{'':<24}{'runs':>6}{'decided':>9}{'let go':>8}{'not sure':>9}{'refused':>9}{'wrong':>7}{'median s':>10}{'95 % s':>8}"
    ]
    for name, one in results.items():
        unsure = one.ended[Kind.NOT_SURE_YET]
        refused = sum(one.ended.values()) - unsure
        seconds = sorted(one.seconds)
        median = f"{statistics.median(seconds):.0f}" if seconds else ""
        late = f"{seconds[int(0.95 * len(seconds))]:.0f}" if seconds else ""
        lines.append(
            f"{name.replace('_', ' '):<24}{one.runs:>6}{one.right / one.runs:>9.1%}"
            f"{one.after_letting_go / one.runs:>8.1%}{unsure / one.runs:>9.1%}{refused / one.runs:>9.1%}"
            f"{len(one.wrong):>7}{median:>10}{late:>8}"
        )
    return "\n".join(lines)


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    began = time.process_time()
    results = {scenario.__name__: run(scenario, count, seed) for scenario, count in RUNS.items()}
    print(table(results))
    wrong = [sentence for one in results.values() for sentence in one.wrong]
    print(
        f"\n{sum(RUNS.values())} runs, {len(wrong)} wrong, {time.process_time() - began:.0f} s of computing"
    )
    print("\n".join(wrong[:40]))


if __name__ == "__main__":
    main()
