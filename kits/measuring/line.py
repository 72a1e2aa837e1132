"""A straight line of offset over temperature, for three points or more (GUM H.3: least squares, all points alike).

offset(t) = intercept + slope x (t - zero). Intercept and slope come from the same points, so their errors hang together:
whoever leaves their correlation out gets a wrong uncertainty (in GUM H.3, 0.0073 instead of 0.0041).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kits.measuring.budget import Budget, Term
from kits.measuring.point import PointResult
from kits.measuring.trouble import CannotCompute
from kits.units import Unit, temperature_text

FEWEST_POINTS = 3
EDGE_KELVIN = 0.5
"""As far beyond the outermost points the line still counts as checked."""


@dataclass(frozen=True, kw_only=True)
class LineValue:
    """The line at one temperature."""

    celsius: float
    offset_kelvin: float
    standard_uncertainty_kelvin: float
    extrapolated: bool
    """It lies beyond the points: nothing was checked there."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """What the points say together."""

    zero_celsius: float
    intercept_kelvin: float
    slope_kelvin_per_kelvin: float
    intercept_uncertainty_kelvin: float
    slope_uncertainty_kelvin_per_kelvin: float
    correlation: float
    """r between intercept and slope; it depends on `zero_celsius`."""
    scatter_kelvin: float
    """s: how far the points lie from the line."""
    degrees_of_freedom: int
    lowest_celsius: float
    highest_celsius: float

    @classmethod
    def through(cls, points: Sequence[tuple[float, float]], *, zero_celsius: float = 0.0) -> "Line":
        """The line through pairs (temperature in °C, offset in K)."""
        count = len(points)
        if count < FEWEST_POINTS:
            raise CannotCompute(
                f"A line needs at least {FEWEST_POINTS} points; there {'is' if count == 1 else 'are'} {count}. "
                "With fewer, each point keeps its own offset."
            )
        # Sums around the middle first, for digits; then moved to where zero is wanted.
        middle = math.fsum(celsius for celsius, _ in points) / count
        mean_offset = math.fsum(offset for _, offset in points) / count
        spread = math.fsum((celsius - middle) ** 2 for celsius, _ in points)
        if spread == 0:
            raise CannotCompute("A line needs points at different temperatures; these are all the same.")
        slope = math.fsum((celsius - middle) * (offset - mean_offset) for celsius, offset in points) / spread
        residuals = [offset - mean_offset - slope * (celsius - middle) for celsius, offset in points]
        scatter = math.sqrt(math.fsum(residual**2 for residual in residuals) / (count - 2))
        away = middle - zero_celsius
        return cls(
            zero_celsius=zero_celsius,
            intercept_kelvin=mean_offset - slope * away,
            slope_kelvin_per_kelvin=slope,
            intercept_uncertainty_kelvin=scatter * math.sqrt(1 / count + away**2 / spread),
            slope_uncertainty_kelvin_per_kelvin=scatter / math.sqrt(spread),
            correlation=-away / math.sqrt(spread / count + away**2),
            scatter_kelvin=scatter,
            degrees_of_freedom=count - 2,
            lowest_celsius=min(celsius for celsius, _ in points),
            highest_celsius=max(celsius for celsius, _ in points),
        )

    def at(self, celsius: float, *, beyond_points: bool = False, unit: Unit = "C") -> LineValue:
        """The offset there and how well the line knows it. Beyond the points: refused, or flagged when asked for."""
        extrapolated = not (
            self.lowest_celsius - EDGE_KELVIN <= celsius <= self.highest_celsius + EDGE_KELVIN
        )
        if extrapolated and not beyond_points:
            raise CannotCompute(
                f"The line was checked from {temperature_text(self.lowest_celsius, unit)} to "
                f"{temperature_text(self.highest_celsius, unit)}; {temperature_text(celsius, unit)} lies beyond. "
                "Add a point there."
            )
        away = celsius - self.zero_celsius
        u_intercept = self.intercept_uncertainty_kelvin
        u_slope = self.slope_uncertainty_kelvin_per_kelvin
        variance = (
            u_intercept**2
            + (away * u_slope) ** 2
            + 2
            * away
            * u_intercept
            * u_slope
            * self.correlation  # left out, everything far from zero is wrong
        )
        return LineValue(
            celsius=celsius,
            offset_kelvin=self.intercept_kelvin + self.slope_kelvin_per_kelvin * away,
            standard_uncertainty_kelvin=math.sqrt(max(variance, 0.0)),
            extrapolated=extrapolated,
        )

    def budget_at(
        self,
        celsius: float,
        points: Sequence[PointResult],
        *,
        beyond_points: bool = False,
        unit: Unit = "C",
    ) -> Budget:
        """The whole uncertainty there: the line's own, and what more points do not lessen.

        Scatter of readings is in the line already. The other terms (certificate, bath, steps) are alike at all points,
        so each counts once, at its largest.
        """
        line_term = Term(
            name="Line: scatter of its points",
            stated_kelvin=self.at(
                celsius, beyond_points=beyond_points, unit=unit
            ).standard_uncertainty_kelvin,
            degrees_of_freedom=self.degrees_of_freedom,
            kind="A",
            note=f"from intercept, slope and their correlation, {self.degrees_of_freedom + 2} points",
        )
        largest: dict[str, Term] = {}
        for term in (term for point in points for term in point.budget.terms if term.kind == "B"):
            known = largest.get(term.name)
            if known is None or term.standard_uncertainty_kelvin > known.standard_uncertainty_kelvin:
                largest[term.name] = term
        return Budget.of(line_term, *largest.values())


def line_of(points: Sequence[PointResult], *, zero_celsius: float = 0.0) -> Line:
    """The line through the points of one sensor, over what the bare sensor reads: that is what an offset is added to."""
    return Line.through(
        [(point.sensor_mean_celsius, point.offset_kelvin) for point in points], zero_celsius=zero_celsius
    )
