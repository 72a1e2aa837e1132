"""The arithmetic of a check as it is kept with its result: JSON, enough to print every budget without computing again."""

from collections.abc import Mapping
from typing import Any

from kits.checking import PointOutcome, SensorOutcome, guard_factor
from kits.measuring.budget import Budget
from kits.measuring.line import Line
from kits.measuring.point import SENSOR_STEP_KELVIN
from kits.measuring.verdict import Verdict
from kits.models import CalibrationCheck, CheckResult


def plain_of(outcome: SensorOutcome, sitting: CalibrationCheck) -> dict[str, Any]:
    """All the arithmetic of one sensor, as JSON: enough to print its budget without computing it again."""
    found = outcome.settled
    return {
        "shape": sitting.shape,
        "limit_kelvin": float(sitting.limit_kelvin),
        "replace_beyond_kelvin": float(sitting.replace_beyond_kelvin),
        "guard_factor": guard_factor(sitting),
        "sensor_step_kelvin": SENSOR_STEP_KELVIN,
        "points": [plain_point(point) for point in outcome.points],
        "decisive_point": found.decisive.number,
        "budget": plain_budget(found.budget),
        "as_left": plain_verdict(found.as_left),
        "advice": {"word": found.advice.word, "sentence": found.advice.sentence},
        "offset": {
            "offset_kelvin": found.correction.offset_kelvin,
            "slope_kelvin_per_kelvin": found.correction.slope_kelvin_per_kelvin,
            "about_celsius": found.correction.about_celsius,
            "points": [list(pair) for pair in found.correction.points],
        },
        "line": plain_line(found.line) if found.line else None,
        "drift_kelvin": found.drift_kelvin,
        "due": {"on": str(found.due.on), "shortened": found.due.shortened, "sentence": found.due.sentence},
    }


def plain_point(point: PointOutcome) -> dict[str, Any]:
    result = point.result
    return {
        "number": point.number,
        "aimed_celsius": point.aimed_celsius,
        "reference_readings_celsius": list(point.reference_readings),
        "reference_reading_celsius": result.reference_reading_celsius,
        "reference_mean_celsius": result.reference_mean_celsius,
        "sensor_readings_celsius": list(point.sensor_readings),
        "sensor_mean_celsius": result.sensor_mean_celsius,
        "offset_kelvin": result.offset_kelvin,
        "raw_error_kelvin": result.raw_error_kelvin,
        "offset_then_kelvin": point.offset_then_kelvin,
        "as_found": plain_verdict(point.as_found),
        "budget": plain_budget(result.budget),
        "notes": list(result.notes),
        "suspects": [suspect.sentence for suspect in result.suspects],
    }


def plain_budget(budget: Budget) -> dict[str, Any]:
    """The terms, each with its share of u squared, and what they come to; endless degrees of freedom are None."""
    freedom = budget.degrees_of_freedom
    return {
        "terms": [{**term.as_plain(), "share_percent": share} for term, share in budget.shares_percent()],
        "standard_uncertainty_kelvin": budget.standard_uncertainty_kelvin,
        "shared_kelvin": budget.shared_kelvin,
        "own_kelvin": budget.own_kelvin,
        "degrees_of_freedom": freedom if freedom < 1e6 else None,
        "coverage_factor": budget.coverage_factor,
        "expanded_kelvin": budget.expanded_kelvin,
    }


def budget_from(plain: Mapping[str, Any]) -> Budget:
    """A budget as it was kept by `plain_budget`."""
    return Budget.from_plain(
        {name: value for name, value in term.items() if name != "share_percent"} for term in plain["terms"]
    )


def as_found_errors(result: CheckResult) -> list[float]:
    """The errors with which a sensor was found, one a point."""
    return [point["as_found"]["error_kelvin"] for point in result.arithmetic.get("points", [])]


def plain_verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "error_kelvin": verdict.error_kelvin,
        "word": verdict.word,
        "guard_kelvin": verdict.guard_kelvin,
        "acceptance_limit_kelvin": verdict.acceptance_limit_kelvin,
        "probability_out": verdict.probability_out,
    }


def plain_line(line: Line) -> dict[str, Any]:
    return {
        "zero_celsius": line.zero_celsius,
        "intercept_kelvin": line.intercept_kelvin,
        "slope_kelvin_per_kelvin": line.slope_kelvin_per_kelvin,
        "intercept_uncertainty_kelvin": line.intercept_uncertainty_kelvin,
        "slope_uncertainty_kelvin_per_kelvin": line.slope_uncertainty_kelvin_per_kelvin,
        "correlation": line.correlation,
        "scatter_kelvin": line.scatter_kelvin,
        "degrees_of_freedom": line.degrees_of_freedom,
        "lowest_celsius": line.lowest_celsius,
        "highest_celsius": line.highest_celsius,
    }
