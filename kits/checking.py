"""From the rows of a calibration check to what its sensors came to: for the preview, for closing, for the paper.

The arithmetic is `kits.measuring`'s; here rows become its plain records and its answers become what is kept.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import groupby
from zoneinfo import ZoneInfo

from kits.correcting import Correction
from kits.measuring import reference as trusted
from kits.measuring.budget import Budget, Term, rectangular
from kits.measuring.due import Due, due
from kits.measuring.line import Line, line_of
from kits.measuring.point import Bath, PointResult, measure_point, one_offset
from kits.measuring.trouble import CannotCompute
from kits.measuring.verdict import Advice, Verdict, advise, as_left_kelvin, judge
from kits.models import (
    CalibrationCheck,
    Certificate,
    CheckPoint,
    CheckReading,
    CheckResult,
    CheckSensor,
    DecisionRule,
    Offset,
    ReferenceKind,
    ReferenceThermometer,
    Sensor,
    Shape,
    Shop,
)
from kits.models import Verdict as VerdictWord
from kits.units import Unit

WORSE = ("pass", "conditional pass", "conditional fail", "fail")
ALIKE_WITHIN_KELVIN = 10.0
"""Two checks are compared, for drift, at points this near to each other."""


@dataclass(frozen=True, kw_only=True)
class Boiling(trusted.BoilingWater):
    """Boiling water with the shop's allowance for how well it boils."""

    allowance_kelvin: float = 0.0

    def terms_at(self, celsius: float) -> tuple[Term, ...]:
        how_well = rectangular("Boiling water: how well it boils", self.allowance_kelvin, shared=True)
        return (*super().terms_at(celsius), how_well)


def pure_thermometer(thermometer: ReferenceThermometer, certificate: Certificate) -> trusted.Reference:
    """A reference thermometer as one of its certificates tells it. Raises CannotCompute."""
    return trusted.ReferenceThermometer(
        name=f"Reference {thermometer.name}",
        resolution_kelvin=float(thermometer.resolution_kelvin),
        expanded_uncertainty_kelvin=float(certificate.expanded_uncertainty_kelvin),
        coverage_factor=float(certificate.coverage_factor),
        corrections=tuple((float(celsius), float(kelvin)) for celsius, kelvin in certificate.corrections),
        drift_allowance_kelvin=float(certificate.drift_allowance_kelvin),
    )


def pure_reference(check: CalibrationCheck) -> trusted.Reference:
    """What the sensors of this check are compared with. Raises CannotCompute."""
    reference, allowance = check.reference, float(check.reference.allowance_kelvin or 0)
    if reference.kind == ReferenceKind.ICE:
        return trusted.Ice(allowance_kelvin=allowance, name=reference.name)
    if reference.kind == ReferenceKind.BOILING:
        pressure, altitude = check.station_pressure_pascal, check.altitude_m
        return Boiling(
            pressure_pascal=None if pressure is None else float(pressure),
            altitude_m=None if altitude is None else float(altitude),
            allowance_kelvin=allowance,
            name=reference.name,
        )
    if check.certificate is None:
        raise CannotCompute(f"{reference} has no certificate, so nothing can be compared with it.")
    return pure_thermometer(reference, check.certificate)


def pure_bath(check: CalibrationCheck, *, read_together: bool) -> Bath:
    """The bath (or air) of this check. Its wandering drops out of a difference only between sensors read at once."""
    return Bath(
        uniformity_half_width_kelvin=float(check.uniformity_kelvin),
        stability_half_width_kelvin=float(check.stability_kelvin),
        read_together=read_together,
    )


def guard_factor(check: CalibrationCheck) -> float:
    """r of the rule that this check is judged by; 0 is the simple rule."""
    return float(check.guard_factor) if check.rule == DecisionRule.GUARDED else 0.0


def unit_read() -> Unit:
    """The unit the shop reads."""
    return "F" if Shop.current().temperature_unit == "F" else "C"


@dataclass(frozen=True, kw_only=True)
class PointOutcome:
    """One sensor at one point: what it came to, as it was found, and under its new offset."""

    number: int
    aimed_celsius: float | None
    reference_readings: tuple[float, ...]
    sensor_readings: tuple[float, ...]
    result: PointResult
    offset_then_kelvin: float | None
    """What the offset in force when the check began adds there."""
    as_found: Verdict

    @property
    def raw_error_kelvin(self) -> float:
        return self.result.raw_error_kelvin


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What a sensor came to in the whole check."""

    correction: Correction
    """The new offset, rounded as it is kept."""
    budget: Budget
    """Its uncertainty, where it is largest."""
    decisive: PointOutcome
    """The point the sensor is judged at as found: the worst one."""
    as_left: Verdict
    advice: Advice
    verdict: VerdictWord
    line: Line | None
    drift_kelvin: float | None
    due: Due


@dataclass(frozen=True, kw_only=True)
class SensorOutcome:
    """What a check says of one of its sensors, as far as it goes: `trouble` says what is still in the way."""

    member: CheckSensor
    points: tuple[PointOutcome, ...]
    found: Finding | None
    trouble: tuple[str, ...]

    @property
    def sensor(self) -> Sensor:
        return self.member.sensor

    @property
    def settled(self) -> Finding:
        """What was found; raises CannotCompute while something is in the way."""
        if self.found is None:
            raise CannotCompute(" ".join(self.trouble))
        return self.found


class Sitting:
    """A check with all its rows, read once in a fixed number of queries."""

    def __init__(self, check: CalibrationCheck) -> None:
        self.check = check
        self.unit = unit_read()

    @cached_property
    def members(self) -> list[CheckSensor]:
        return list(self.check.sensors.select_related("sensor", "kit").order_by("pk"))

    @cached_property
    def points(self) -> list[CheckPoint]:
        return list(self.check.points.order_by("number"))

    @cached_property
    def readings(self) -> dict[tuple[int, int | None], tuple[float, ...]]:
        """By point and sensor (None: the reference), in order."""
        rows = CheckReading.objects.filter(point__sitting=self.check)
        rows = rows.order_by("point_id", "sensor_id", "number")
        return {
            key: tuple(float(row.celsius) for row in group)
            for key, group in groupby(rows, key=lambda row: (row.point_id, row.sensor_id))
        }

    @cached_property
    def read_together(self) -> bool:
        """One kit reads its sensors in one go; those of several kits, or loose ones, are read one after another."""
        return len({member.kit_id for member in self.members}) == 1 and self.members[0].kit_id is not None

    @cached_property
    def reference(self) -> trusted.Reference:
        return pure_reference(self.check)

    @cached_property
    def offsets_then(self) -> dict[int, Offset]:
        """The offset each sensor came with."""
        members = [member.sensor_id for member in self.members]
        rows = Offset.objects.filter(sensor__in=members, in_force_from__lte=self.check.begun_at)
        newest = {row.sensor_id: row for row in rows.order_by("in_force_from")}
        return {key: row for key, row in newest.items() if row.is_one}

    @cached_property
    def results_before(self) -> dict[int, CheckResult]:
        """What the check before this one found, for each sensor that had one."""
        members = [member.sensor_id for member in self.members]
        rows = CheckResult.objects.filter(
            sensor__in=members, sitting__withdrawal=None, sitting__closed_at__lte=self.check.begun_at
        ).exclude(sitting=self.check)
        return {row.sensor_id: row for row in rows.order_by("sitting__closed_at", "pk")}

    def reference_readings(self, point: CheckPoint) -> tuple[float, ...]:
        """What the reference showed there; nothing where it is ice or boiling water."""
        return self.readings.get((point.pk, None), ()) if self.reference.needs_readings else ()


def outcome_of(check: CalibrationCheck, *, closing_at: datetime | None = None) -> list[SensorOutcome]:
    """What each sensor of the check comes to from the readings there are. `closing_at` dates the next check."""
    sitting = Sitting(check)
    try:
        sitting.reference  # noqa: B018 -- what is wrong with it is wrong for all of them
    except CannotCompute as trouble:
        return [
            SensorOutcome(member=member, points=(), found=None, trouble=(str(trouble),))
            for member in sitting.members
        ]
    shop = Shop.current()
    zone = ZoneInfo(shop.time_zone)
    checked_at = (closing_at or check.closed_at or check.begun_at).astimezone(zone)
    return [outcome_for(sitting, member, shop=shop, checked_at=checked_at) for member in sitting.members]


def outcome_for(sitting: Sitting, member: CheckSensor, *, shop: Shop, checked_at: datetime) -> SensorOutcome:
    """One sensor of a check, with a sentence for every point that cannot be computed yet."""
    points, trouble = [], []
    if not sitting.points:
        trouble.append("There is no point yet. Add the temperature at which it is checked.")
    for point in sitting.points:
        where = f"Point {point.number}" if len(sitting.points) > 1 else "It"
        readings = sitting.readings.get((point.pk, member.sensor_id), ())
        if not readings:
            trouble.append(f"{where} lacks readings of this sensor.")
        elif sitting.reference.needs_readings and not sitting.reference_readings(point):
            trouble.append(f"{where} lacks readings of the reference.")
        else:
            try:
                points.append(point_outcome(sitting, member, point, readings))
            except CannotCompute as why:
                trouble.append(f"Point {point.number}: {why}" if len(sitting.points) > 1 else str(why))
    found = None
    if not trouble:
        try:
            found = finding(sitting, member, points, shop=shop, checked_at=checked_at)
        except CannotCompute as why:
            trouble.append(str(why))
    return SensorOutcome(member=member, points=tuple(points), found=found, trouble=tuple(trouble))


def point_outcome(
    sitting: Sitting, member: CheckSensor, point: CheckPoint, readings: tuple[float, ...]
) -> PointOutcome:
    """One sensor at one point. Raises CannotCompute."""
    check = sitting.check
    result = measure_point(
        sensor_readings_celsius=readings,
        reference=sitting.reference,
        bath=pure_bath(check, read_together=sitting.read_together),
        reference_readings_celsius=sitting.reference_readings(point),
        unit=sitting.unit,
    )
    then = sitting.offsets_then.get(member.sensor_id)
    added = then.correction_at(result.sensor_mean_celsius) if then else None
    return PointOutcome(
        number=point.number,
        aimed_celsius=None if point.aimed_celsius is None else float(point.aimed_celsius),
        reference_readings=sitting.reference_readings(point),
        sensor_readings=readings,
        result=result,
        offset_then_kelvin=added,
        as_found=judged(sitting, result.raw_error_kelvin + (added or 0.0), result.budget),
    )


def judged(sitting: Sitting, error_kelvin: float, budget: Budget) -> Verdict:
    """An error against the limit of this check. Raises CannotCompute for a rule that can never pass."""
    return judge(
        error_kelvin=error_kelvin,
        limit_kelvin=float(sitting.check.limit_kelvin),
        expanded_kelvin=budget.expanded_kelvin,
        standard_uncertainty_kelvin=budget.standard_uncertainty_kelvin,
        guard_factor=guard_factor(sitting.check),
        unit=sitting.unit,
    )


def finding(
    sitting: Sitting,
    member: CheckSensor,
    points: Sequence[PointOutcome],
    *,
    shop: Shop,
    checked_at: datetime,
) -> Finding:
    """What all points together say of a sensor. Raises CannotCompute."""
    check = sitting.check
    correction, budget, line = new_offset(Shape(check.shape), [point.result for point in points])
    decisive = max(
        points, key=lambda point: (WORSE.index(point.as_found.word), abs(point.as_found.error_kelvin))
    )
    advice = advise(
        as_found=decisive.as_found,
        raw_error_kelvin=max((point.raw_error_kelvin for point in points), key=abs),
        replace_beyond_kelvin=float(check.replace_beyond_kelvin),
        unit=sitting.unit,
    )
    verdict = VerdictWord(advice.word.lower().replace(" ", "_"))
    if verdict == VerdictWord.REPLACE:
        as_left = decisive.as_found  # it leaves as it came
    else:
        left = [
            as_left_kelvin(point.raw_error_kelvin, correction.at(point.result.sensor_mean_celsius))
            for point in points
        ]
        as_left = judged(sitting, max(left, key=abs), budget)
    drift = drift_since(sitting.results_before.get(member.sensor_id), points)
    return Finding(
        correction=correction,
        budget=budget,
        decisive=decisive,
        as_left=as_left,
        advice=advice,
        verdict=verdict,
        line=line,
        drift_kelvin=drift,
        due=due(
            last_checked_at=checked_at,
            interval_months=shop.check_interval_months,
            limit_kelvin=float(check.limit_kelvin),
            drift_kelvin=drift,
            drift_share=shop.drift_share_percent / 100,
        ),
    )


def new_offset(shape: Shape, results: Sequence[PointResult]) -> tuple[Correction, Budget, Line | None]:
    """The offset the points give, rounded as it is kept, with its uncertainty where that is largest."""
    worst = max((result.budget for result in results), key=lambda budget: budget.expanded_kelvin)
    offsets = [result.offset_kelvin for result in results]
    mean = sum(offsets) / len(offsets)
    if shape == Shape.LINE:
        line = line_of(results, zero_celsius=sum(one.sensor_mean_celsius for one in results) / len(results))
        budgets = [line.budget_at(one.sensor_mean_celsius, results) for one in results]
        correction = Correction(
            offset_kelvin=round(line.intercept_kelvin, 3),
            slope_kelvin_per_kelvin=round(line.slope_kelvin_per_kelvin, 6),
            about_celsius=round(line.zero_celsius, 3),
        )
        return correction, max(budgets, key=lambda budget: budget.expanded_kelvin), line
    if shape == Shape.POINTS and len(results) > 1:
        pairs = sorted((round(one.sensor_mean_celsius, 4), round(one.offset_kelvin, 3)) for one in results)
        if len({celsius for celsius, _ in pairs}) < len(pairs):
            raise CannotCompute("Two points read the same temperature. Choose one offset for all of them.")
        return Correction(offset_kelvin=round(mean, 3), points=tuple(pairs)), worst, None
    if len(results) == 1:
        return Correction(offset_kelvin=round(mean, 3)), worst, None
    one = one_offset(results)
    return Correction(offset_kelvin=round(one.offset_kelvin, 3)), one.budget, None


def drift_since(before: CheckResult | None, points: Iterable[PointOutcome]) -> float | None:
    """How far the bare sensor moved since the check before, at points near each other; None without any."""
    if before is None:
        return None
    moved = []
    for then in before.arithmetic.get("points", []):
        for point in points:
            apart = abs(then["reference_mean_celsius"] - point.result.reference_mean_celsius)
            if apart <= ALIKE_WITHIN_KELVIN:
                moved.append(point.raw_error_kelvin - then["raw_error_kelvin"])
    return max(moved, key=abs, default=None)
