"""How a sensor moved from check to check: the numbers of a drift plot. Drawing it is done elsewhere."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, kw_only=True)
class DriftPoint:
    """One check: the error it was found with (offset then in force applied) and its U, as a bar up and down."""

    day: date
    as_found_error_kelvin: float
    expanded_kelvin: float
    raw_error_kelvin: float
    """Of the bare sensor; its change from check to check is the drift, whatever offsets did."""

    @property
    def bar_kelvin(self) -> tuple[float, float]:
        return (
            self.as_found_error_kelvin - self.expanded_kelvin,
            self.as_found_error_kelvin + self.expanded_kelvin,
        )


@dataclass(frozen=True)
class DriftPlot:
    """All checks of a sensor by day, with the limits to draw them against."""

    points: tuple[DriftPoint, ...]
    limit_kelvin: float

    @property
    def reach_kelvin(self) -> float:
        """The plot goes from minus this to plus this: the limits and every bar fit in."""
        return max([self.limit_kelvin, *(abs(end) for point in self.points for end in point.bar_kelvin)])

    @property
    def last_drift_kelvin(self) -> float | None:
        """How far the bare sensor moved between the last two checks; None with fewer."""
        if len(self.points) < 2:
            return None
        before, last = self.points[-2:]
        return last.raw_error_kelvin - before.raw_error_kelvin


def drift_plot(points: Iterable[DriftPoint], *, limit_kelvin: float) -> DriftPlot:
    """The checks in order of day, however they come."""
    return DriftPlot(tuple(sorted(points, key=lambda point: point.day)), limit_kelvin)
