"""Runs taken in turn, their lower quartiles, and the rows of the table."""

import gc
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """One line of the table: what was measured, where, the product's figure, the floor's, and the goal."""

    section: str
    what: str
    where: str
    figure: float
    unit: str
    floor: float | None = None
    goal: float | None = None
    of_floor: bool = False  # the goal is a multiple of the floor

    @property
    def ratio(self) -> float | None:
        return self.figure / self.floor if self.floor else None

    @property
    def verdict(self) -> str:
        if self.goal is None:
            return ""
        measured = self.ratio if self.of_floor else self.figure
        assert measured is not None
        return "reached" if measured <= self.goal else "NOT reached"


def in_turn(
    runs: Mapping[str, Callable[[], object]],
    *,
    rounds: int,
    warm: int = 3,
    clock: Callable[[], float] = time.perf_counter,
) -> dict[str, float]:
    """Milliseconds of each, taken turn about so that what else the machine does meets all alike.

    The lower quartile: the slower runs tell what other people's programs took of the machine.
    """
    for run in runs.values():
        for _ in range(warm):
            run()
    taken: dict[str, list[float]] = {name: [] for name in runs}
    gc.collect()
    for _ in range(rounds):
        for name, run in runs.items():
            began = clock()
            run()
            taken[name].append((clock() - began) * 1000)
    return {name: statistics.quantiles(times, n=4)[0] for name, times in taken.items()}


def as_table(lines: list[Line]) -> str:
    """The lines as a table of Markdown."""
    rows = [
        "| section | what | where | product | floor | ratio | goal | |",
        "|---|---|---|---:|---:|---:|---:|---|",
    ]
    for line in lines:
        goal = "" if line.goal is None else f"≤ {line.goal:g}{'x' if line.of_floor else f' {line.unit}'}"
        ratio = "" if line.ratio is None else f"{line.ratio:.2f}x"
        floor = "" if line.floor is None else f"{line.floor:.4g}"
        rows.append(
            f"| {line.section} | {line.what} | {line.where} | {line.figure:.4g} {line.unit} | {floor} | {ratio} "
            f"| {goal} | {line.verdict} |"
        )
    return "\n".join(rows)
