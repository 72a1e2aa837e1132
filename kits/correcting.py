"""From a raw reading to a corrected one: one offset, a straight line over temperature, or one a point (pure)."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, kw_only=True)
class Correction:
    """What is added to a raw reading, over the raw temperature.

    One figure unless it has a slope (a straight line through `offset_kelvin` at `about_celsius`) or points (straight
    between them, level beyond the outermost).

    >>> Correction(offset_kelvin=-0.3).at(25.0)
    -0.3
    >>> round(Correction(offset_kelvin=-0.2, slope_kelvin_per_kelvin=0.01, about_celsius=20).at(30.0), 6)
    -0.1
    >>> between = Correction(offset_kelvin=0.2, points=((0.0, 0.1), (40.0, 0.3)))
    >>> between.at(-5.0), round(between.at(10.0), 6), between.at(90.0)
    (0.1, 0.15, 0.3)
    """

    offset_kelvin: float
    slope_kelvin_per_kelvin: float = 0.0
    about_celsius: float | None = None
    points: Sequence[tuple[float, float]] = ()

    def at(self, raw_celsius: float) -> float:
        """What to add to a raw reading of this many degrees."""
        if self.points:
            return between(sorted(self.points), raw_celsius)
        if self.slope_kelvin_per_kelvin and self.about_celsius is not None:
            return self.offset_kelvin + self.slope_kelvin_per_kelvin * (raw_celsius - self.about_celsius)
        return self.offset_kelvin

    @property
    def varies(self) -> bool:
        """Whether the offset is another one at another temperature."""
        return bool(self.points or self.slope_kelvin_per_kelvin)


def between(points: Sequence[tuple[float, float]], celsius: float) -> float:
    """Straight between two neighbours of rising `points`, level beyond the outermost."""
    if celsius <= points[0][0]:
        return points[0][1]
    for (low, at_low), (high, at_high) in pairwise(points):
        if celsius <= high:
            return at_low + (at_high - at_low) * (celsius - low) / (high - low)
    return points[-1][1]
