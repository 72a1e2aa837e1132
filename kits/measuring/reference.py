"""What sensors are compared with: a reference thermometer with its certificate, crushed ice, or boiling water.

All three answer the same questions, so a point does not care which it has: `needs_readings`, `true_celsius(reading)`,
`terms_at(celsius)`. Every term is shared: whatever the reference is wrong by, it is wrong by for all sensors alike.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from kits.measuring import boiling
from kits.measuring.budget import Term, certificate, rectangular, resolution
from kits.measuring.trouble import CannotCompute
from kits.units import Unit, temperature_text

EDGE_KELVIN = 0.5
"""How far beyond its table's ends a certificate is still taken at the end's value: an ice bath reads -0.02 now and then."""


class Reference(Protocol):
    """What a point asks of its reference."""

    @property
    def needs_readings(self) -> bool: ...

    @property
    def step_kelvin(self) -> float: ...

    def true_celsius(self, reading_celsius: float | None, unit: Unit = "C") -> float: ...

    def terms_at(self, celsius: float) -> tuple[Term, ...]: ...


@dataclass(frozen=True, kw_only=True)
class ReferenceThermometer:
    """A reference thermometer as its certificate tells it.

    `corrections`: pairs (reading in °C, what to add in K), as on the certificate, in any order. Without any, what it shows
    is taken as it stands. U is given with its k or with its confidence in percent.
    """

    resolution_kelvin: float
    expanded_uncertainty_kelvin: float
    coverage_factor: float | None = None
    confidence_percent: float | None = None
    corrections: Sequence[tuple[float, float]] = ()
    drift_allowance_kelvin: float = 0.0
    name: str = "The reference thermometer"

    def __post_init__(self) -> None:
        figures = [figure for pair in self.corrections for figure in pair]
        if not all(math.isfinite(figure) for figure in figures):
            raise CannotCompute(f"{self.name}: every line of its table needs a temperature and a correction.")
        at = [celsius for celsius, _ in self.corrections]
        if len(set(at)) < len(at):
            raise CannotCompute(f"{self.name}: its table names one temperature twice.")
        self.terms_at(0.0)  # refuses figures that make no sense before anybody relies on them

    @property
    def needs_readings(self) -> bool:
        return True

    @property
    def step_kelvin(self) -> float:
        return self.resolution_kelvin

    def correction_at(self, celsius: float, unit: Unit = "C") -> float:
        """What to add to a reading there: straight between two lines of the table, refused beyond its ends."""
        table = sorted(self.corrections)
        if not table:
            return 0.0
        lowest, highest = table[0][0], table[-1][0]
        if not lowest - EDGE_KELVIN <= celsius <= highest + EDGE_KELVIN:
            reach = (
                f"only for {temperature_text(lowest, unit)}"
                if lowest == highest
                else f"from {temperature_text(lowest, unit)} to {temperature_text(highest, unit)}"
            )
            raise CannotCompute(
                f"{self.name} has corrections {reach}; {temperature_text(celsius, unit)} lies beyond. "
                "Check at a temperature of its certificate, or use another reference."
            )
        celsius = min(max(celsius, lowest), highest)
        for (low, at_low), (high, at_high) in pairwise(table):
            if low <= celsius <= high:
                return at_low + (at_high - at_low) * (celsius - low) / (high - low)
        return table[0][1]

    def true_celsius(self, reading_celsius: float | None, unit: Unit = "C") -> float:
        if reading_celsius is None:
            raise CannotCompute(f"{self.name}: type what it read.")
        return reading_celsius + self.correction_at(reading_celsius, unit)

    def terms_at(self, celsius: float) -> tuple[Term, ...]:
        return (
            certificate(
                "Reference: certificate",
                self.expanded_uncertainty_kelvin,
                coverage_factor=self.coverage_factor,
                confidence_percent=self.confidence_percent,
            ),
            rectangular("Reference: drift since its certificate", self.drift_allowance_kelvin, shared=True),
            resolution("Reference: step of its display", self.resolution_kelvin, shared=True),
        )


@dataclass(frozen=True, kw_only=True)
class Ice:
    """Crushed ice and water: 0.0 °C within an allowance that fits how well the bath was made (ASTM E563)."""

    allowance_kelvin: float = 0.1
    celsius: float = 0.0
    name: str = "Crushed ice"

    def __post_init__(self) -> None:
        if not 0 < self.allowance_kelvin <= 2:
            raise CannotCompute("Ice is never perfect: allow more than 0 K for it, and no more than 2 K.")

    @property
    def needs_readings(self) -> bool:
        return False

    @property
    def step_kelvin(self) -> float:
        return 0.0

    def true_celsius(self, reading_celsius: float | None = None, unit: Unit = "C") -> float:
        return self.celsius

    def terms_at(self, celsius: float) -> tuple[Term, ...]:
        return (rectangular("Ice: how well the bath was made", self.allowance_kelvin, shared=True),)


@dataclass(frozen=True, kw_only=True)
class BoilingWater:
    """Clean water at a full boil. Give the pressure of the place (station pressure), its altitude, or best both.

    By altitude alone the weather is not known, and the allowance for it is large.
    """

    pressure_pascal: float | None = None
    altitude_m: float | None = None
    pressure_half_width_pascal: float | None = None
    """What the pressure may be off by; left out, it follows from how the pressure is known."""
    name: str = "Boiling water"

    def __post_init__(self) -> None:
        if self.pressure_pascal is None and self.altitude_m is None:
            raise CannotCompute(
                "Boiling water needs the air pressure of the place, or at least its altitude."
            )
        self.true_celsius()  # refuses a pressure or an altitude that cannot be
        if self.doubt and self.doubt.refused:
            raise CannotCompute(self.doubt.sentence)
        if self.half_width_pascal <= 0:
            raise CannotCompute("No barometer is perfect: allow more than 0 hPa for it.")

    @property
    def doubt(self) -> boiling.PressureDoubt | None:
        """What to ask about the pressure before it is relied on."""
        if self.pressure_pascal is None:
            return None
        return boiling.pressure_doubt(self.pressure_pascal, self.altitude_m)

    @property
    def pressure_used_pascal(self) -> float:
        if self.pressure_pascal is not None:
            return self.pressure_pascal
        return boiling.standard_pressure_pascal(self.altitude_m or 0.0)

    @property
    def half_width_pascal(self) -> float:
        if self.pressure_half_width_pascal is not None:
            return self.pressure_half_width_pascal
        by_barometer = self.pressure_pascal is not None
        return boiling.BAROMETER_HALF_WIDTH_PASCAL if by_barometer else boiling.WEATHER_HALF_WIDTH_PASCAL

    @property
    def needs_readings(self) -> bool:
        return False

    @property
    def step_kelvin(self) -> float:
        return 0.0

    def true_celsius(self, reading_celsius: float | None = None, unit: Unit = "C") -> float:
        return boiling.boiling_celsius(self.pressure_used_pascal)

    def terms_at(self, celsius: float) -> tuple[Term, ...]:
        slope = boiling.boiling_kelvin_per_pascal(self.pressure_used_pascal)
        how = "barometer" if self.pressure_pascal is not None else "weather, by altitude alone"
        return (
            rectangular(
                "Boiling point: air pressure",
                slope * self.half_width_pascal,
                shared=True,
                note=f"± {self.half_width_pascal / 100:.1f} hPa ({how})",
            ),
        )
