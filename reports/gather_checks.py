"""From the rows of a closed check to the record that its paper is drawn from."""

from collections.abc import Mapping
from datetime import datetime
from itertools import combinations
from typing import Any
from zoneinfo import ZoneInfo

from kits.check_arithmetic import budget_from
from kits.measuring.difference import difference
from kits.measuring.verdict import worst_false_pass
from kits.models import (
    CalibrationCheck,
    CheckResult,
    CheckSensor,
    DecisionRule,
    ReferenceKind,
    Shop,
)
from kits.units import Unit, difference_text
from reports.gather import shop_record
from reports.papers.check_records import BudgetTable, CheckPaper, LineRow, PointRow, SensorRow, TermRow
from reports.papers.words import day, when


def check_paper(check: CalibrationCheck, *, printed_at: datetime) -> CheckPaper:
    """Everything the calibration record tells about one closed check."""
    shop = shop_record()
    zone = ZoneInfo(Shop.current().time_zone)
    results = list(check.results.select_related("sensor").order_by("pk"))
    members = {one.sensor_id: one for one in check.sensors.select_related("kit")}
    kits = {one.kit.code: one.kit.name for one in members.values() if one.kit}
    only = (
        next(iter(kits.items())) if len(kits) == 1 and all(one.kit for one in members.values()) else ("", "")
    )
    if check.closed_at is None or check.closed_by is None:
        raise ValueError("A record is made of a closed check.")
    return CheckPaper(
        shop=shop,
        number=str(check.pk),
        printed_at=printed_at.astimezone(zone),
        method=check.get_method_display(),
        reference=str(check.reference),
        traced=traced(check),
        reference_facts=tuple(reference_facts(check, shop.unit)),
        begun_at=check.begun_at.astimezone(zone),
        begun_by=str(check.begun_by),
        closed_at=check.closed_at.astimezone(zone),
        closed_by=str(check.closed_by),
        conditions=tuple(conditions(check, shop.unit)),
        limit_kelvin=float(check.limit_kelvin),
        replace_beyond_kelvin=float(check.replace_beyond_kelvin),
        rule=rule_words(check),
        rule_risk=risk_words(check),
        warnings=tuple(warnings(check, zone)),
        sensors=tuple(sensor_row(result, members[result.sensor_id]) for result in results),
        difference_kelvin=widest_difference(results),
        kit_code=only[0],
        kit_name=only[1],
    )


def traced(check: CalibrationCheck) -> str:
    """How what the sensors were compared with is traced."""
    if check.certificate:
        paper = check.certificate
        return f"certificate {paper.number} of {paper.issuer}, {day(paper.issued_on)}"
    if check.reference.kind == ReferenceKind.ICE:
        return "the melting point of ice in air, 0 °C; realised in the shop, no certificate"
    return (
        "the boiling point of water at the air pressure there (IAPWS); realised in the shop, no certificate"
    )


def reference_facts(check: CalibrationCheck, unit: Unit) -> list[str]:
    """The figures of the reference that enter the arithmetic."""

    def width(kelvin: Any) -> str:
        return f"± {difference_text(float(kelvin), unit, 3, signed=False)}"

    facts = []
    if check.reference.resolution_kelvin:
        step = difference_text(float(check.reference.resolution_kelvin), unit, 3, signed=False)
        facts.append(f"smallest step {step}")
    if paper := check.certificate:
        facts.append(
            f"U {width(paper.expanded_uncertainty_kelvin)} (k = {paper.coverage_factor.normalize():f})"
        )
        facts.append(f"drift since, allowed {width(paper.drift_allowance_kelvin)}")
        facts.append(f"good until {day(paper.due_on)}")
    if check.reference.allowance_kelvin is not None:
        facts.append(f"allowed {width(check.reference.allowance_kelvin)}")
    return facts


def conditions(check: CalibrationCheck, unit: Unit) -> list[str]:
    """What could influence the results."""
    uniform, steady = (
        difference_text(float(kelvin), unit, 3, signed=False)
        for kelvin in (check.uniformity_kelvin, check.stability_kelvin)
    )
    told = [f"from place to place ± {uniform}, wander ± {steady}"]
    if check.station_pressure_pascal is not None:
        told.append(f"station pressure {check.station_pressure_pascal / 1000:.2f} kPa")
    if check.altitude_m is not None:
        told.append(f"altitude {check.altitude_m.normalize():f} m")
    if check.conditions:
        told.append(check.conditions)
    return told


def rule_words(check: CalibrationCheck) -> str:
    """The rule of decision, in a sentence."""
    if check.rule == DecisionRule.SIMPLE:
        return "The rule is simple acceptance: the error alone decides, its uncertainty is not looked at."
    factor = f"{check.guard_factor.normalize():f}"
    return (
        f"The rule is guarded acceptance (ILAC-G8:09/2019): pass without a condition only within the limit less "
        f"w = r x U, with r = {factor}."
    )


def risk_words(check: CalibrationCheck) -> str:
    """How often a result that only just passes would be wrong."""
    factor = float(check.guard_factor) if check.rule == DecisionRule.GUARDED else 0.0
    return (
        f"A result that only just passes is wrong in at most {100 * worst_false_pass(factor):.2g} % of cases."
    )


def warnings(check: CalibrationCheck, zone: ZoneInfo) -> list[str]:
    """What must be read before anything else on the record."""
    told = []
    if check.is_withdrawn:
        gone = check.withdrawal
        told.append(
            f"Withdrawn {when(gone.withdrawn_at.astimezone(zone))} by {gone.withdrawn_by}: {gone.why}. "
            "What it found is not in force any more."
        )
    told += [
        f"Superseded by check {later.pk}, closed {when(later.closed_at.astimezone(zone))}."
        for later in check.superseded_by.all()
        if later.closed_at
    ]
    if check.out_of_date_why:
        told.append(
            f"The reference was out of date. Allowed by {check.out_of_date_allowed_by}: {check.out_of_date_why}"
        )
    return told


def sensor_row(result: CheckResult, member: CheckSensor) -> SensorRow:
    """What the check found for one sensor, with its arithmetic as it was kept on closing."""
    told, sensor = result.arithmetic, result.sensor
    return SensorRow(
        tag=sensor.tag,
        tag_colour=sensor.get_tag_colour_display() if sensor.tag_colour else "",
        rom=sensor.rom,
        wired=f"{member.kit.name} {member.kit.code}, terminal {member.terminal}" if member.kit else "loose",
        as_found_offset_kelvin=None
        if result.as_found_offset_kelvin is None
        else float(result.as_found_offset_kelvin),
        as_found_error_kelvin=float(result.as_found_error_kelvin),
        conformity=result.get_conformity_display().lower(),
        as_left_error_kelvin=float(result.as_left_error_kelvin),
        conformity_left=result.get_conformity_left_display().lower(),
        offset_kelvin=float(result.offset_kelvin),
        expanded_kelvin=float(result.expanded_uncertainty_kelvin),
        coverage_factor=float(result.coverage_factor),
        probability_out=result.probability_out,
        verdict=result.get_verdict_display(),
        advice=told["advice"]["sentence"],
        due_on=result.due_on,
        budget=budget_table(told["budget"]),
        points=tuple(point_row(point) for point in told["points"]),
        line=line_row(told["line"]) if told["line"] else None,
    )


def point_row(told: Mapping[str, Any]) -> PointRow:
    return PointRow(
        number=told["number"],
        reference_celsius=told["reference_mean_celsius"],
        sensor_celsius=told["sensor_mean_celsius"],
        readings=len(told["sensor_readings_celsius"]),
        offset_kelvin=told["offset_kelvin"],
        budget=budget_table(told["budget"]),
        notes=(*told["notes"], *told["suspects"]),
    )


def budget_table(told: Mapping[str, Any]) -> BudgetTable:
    names = (
        "name",
        "stated_kelvin",
        "divisor",
        "standard_uncertainty_kelvin",
        "degrees_of_freedom",
        "share_percent",
        "kind",
        "shared",
        "note",
    )
    return BudgetTable(
        terms=tuple(TermRow(**{name: term[name] for name in names}) for term in told["terms"]),
        standard_uncertainty_kelvin=told["standard_uncertainty_kelvin"],
        degrees_of_freedom=told["degrees_of_freedom"],
        coverage_factor=told["coverage_factor"],
        expanded_kelvin=told["expanded_kelvin"],
    )


def line_row(told: Mapping[str, Any]) -> LineRow:
    return LineRow(**{name: told[name] for name in LineRow.__dataclass_fields__})


def widest_difference(results: list[CheckResult]) -> float | None:
    """U (95 %) of the difference of the two sensors whose difference is known worst; None without two."""
    kept = [budget_from(one.arithmetic["budget"]) for one in results if one.verdict != "replace"]
    pairs = combinations(kept, 2)
    return max((difference(*pair, same_sitting=True).expanded_kelvin for pair in pairs), default=None)
