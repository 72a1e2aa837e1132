"""What a calibration record is drawn from: frozen records without a model, a request or a clock.

Temperatures are in °C, differences in K; `Shop.unit` decides what is printed. Instants are in the shop's zone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from reports.papers.records import Shop


@dataclass(frozen=True, kw_only=True)
class TermRow:
    """One line of an uncertainty budget."""

    name: str
    stated_kelvin: float
    divisor: float
    standard_uncertainty_kelvin: float
    degrees_of_freedom: float | None
    """None: endless, as of everything not found from readings."""
    share_percent: float
    kind: str
    """A: from repeated readings. B: in any other way."""
    shared: bool
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class BudgetTable:
    """The terms of one result, and what they come to."""

    terms: tuple[TermRow, ...]
    standard_uncertainty_kelvin: float
    degrees_of_freedom: float | None
    coverage_factor: float
    expanded_kelvin: float


@dataclass(frozen=True, kw_only=True)
class PointRow:
    """One sensor at one point."""

    number: int
    reference_celsius: float
    """The mean of the reference, corrected by its certificate."""
    sensor_celsius: float
    readings: int
    offset_kelvin: float
    budget: BudgetTable
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LineRow:
    """A straight line of the offset over temperature, with what its two figures have in common."""

    zero_celsius: float
    intercept_kelvin: float
    slope_kelvin_per_kelvin: float
    intercept_uncertainty_kelvin: float
    slope_uncertainty_kelvin_per_kelvin: float
    correlation: float
    scatter_kelvin: float
    degrees_of_freedom: float


@dataclass(frozen=True, kw_only=True)
class SensorRow:
    """What the check found for one sensor."""

    tag: str
    tag_colour: str
    rom: str
    wired: str
    """ "Kit Cedar, terminal 2", or that it was loose."""
    as_found_offset_kelvin: float | None
    as_found_error_kelvin: float
    conformity: str
    as_left_error_kelvin: float
    conformity_left: str
    offset_kelvin: float
    expanded_kelvin: float
    coverage_factor: float
    probability_out: float
    verdict: str
    advice: str
    due_on: date
    budget: BudgetTable
    points: tuple[PointRow, ...]
    line: LineRow | None = None

    @property
    def is_replaced(self) -> bool:
        return self.verdict == "Replace"


@dataclass(frozen=True, kw_only=True)
class CheckPaper:
    """One closed calibration check, as its record tells it."""

    shop: Shop
    number: str
    printed_at: datetime
    method: str
    reference: str
    traced: str
    """How the reference is traced: its certificate and issuer; or that it is ice, or boiling water."""
    reference_facts: tuple[str, ...]
    begun_at: datetime
    begun_by: str
    closed_at: datetime
    closed_by: str
    conditions: tuple[str, ...]
    limit_kelvin: float
    replace_beyond_kelvin: float
    rule: str
    rule_risk: str
    warnings: tuple[str, ...]
    """What must stand on top: withdrawn, superseded, an instrument out of date."""
    sensors: tuple[SensorRow, ...]
    difference_kelvin: float | None
    """U (95 %) of the difference of two of these sensors, the widest pair; None with a single one."""
    kit_code: str = ""
    kit_name: str = ""
