"""A calibration check while it is open: begun, its sensors and points, the readings as they are typed.

`kits.actions.closing` closes, withdraws and drops it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from kits.actions.acting import Act, Done, action, hold, kind_of, record
from kits.actions.check_rules import (
    aimed_points,
    believable,
    certificate_for,
    check_can_pass,
    check_shape,
    check_suits,
    day_in_shop,
    decimal_of,
    default_bath,
    said,
    sensors_said,
    take_in,
)
from kits.actions.records import apply
from kits.check_doubts import Doubtful, doubts_of
from kits.models import (
    CalibrationCheck,
    CheckPoint,
    CheckReading,
    HowRead,
    Method,
    ReferenceKind,
    ReferenceThermometer,
    Sensor,
    Shape,
    Shop,
)
from kits.promises import Refused, kept

__all__ = [
    "Kept",
    "add_point",
    "begin_check",
    "change_check",
    "change_sensors",
    "default_bath",
    "hold_open",
    "keep_readings",
    "remove_point",
]


@action
def begin_check(
    act: Act,
    *,
    method: Method,
    reference: ReferenceThermometer,
    sensors: Sequence[Sensor],
    aimed_celsius: Sequence[Decimal | float | int | None] = (),
    uniformity_kelvin: Decimal | float | None = None,
    stability_kelvin: Decimal | float | None = None,
    shape: Shape = Shape.ONE,
    station_pressure_pascal: int | None = None,
    altitude_m: Decimal | float | None = None,
    conditions: str = "",
    out_of_date_why: str = "",
    supersedes: CalibrationCheck | None = None,
) -> Done:
    """Begin a sitting: these sensors against this reference. The shop's limit and rule are taken as they stand now."""
    reference = hold(reference)
    shop, method, shape = Shop.current(), Method(method), Shape(shape)
    day = day_in_shop(act.happened_at, shop)
    check_suits(reference, method, day)
    if supersedes is not None and supersedes.is_open:
        raise Refused(f"{str(supersedes).capitalize()} is still open. Go on with it, or drop it.")
    certificate = certificate_for(act, reference, day, out_of_date_why)
    bath = default_bath(method)
    if method == Method.BOILING and altitude_m is None:
        altitude_m = shop.altitude_m  # a pressure typed beside it is held against what the place can have
    check = CalibrationCheck(
        begun_at=act.happened_at,
        begun_by=act.did_by or act.typed_by,
        reference=reference,
        certificate=certificate,
        out_of_date_why=out_of_date_why.strip() if certificate and certificate.due_on <= day else "",
        out_of_date_allowed_by=act.typed_by if certificate and certificate.due_on <= day else None,
        limit_kelvin=shop.sensor_limit_kelvin,
        replace_beyond_kelvin=shop.replace_beyond_kelvin,
        rule=shop.decision_rule,
        guard_factor=shop.guard_factor,
        supersedes=supersedes,
    )
    given = {
        "method": method,
        "shape": shape,
        "uniformity_kelvin": decimal_of(uniformity_kelvin, bath.uniformity_half_width_kelvin),
        "stability_kelvin": decimal_of(stability_kelvin, bath.stability_half_width_kelvin),
        "station_pressure_pascal": station_pressure_pascal if method == Method.BOILING else None,
        "altitude_m": decimal_of(altitude_m) if method == Method.BOILING else None,
        "conditions": conditions.strip(),
    }
    if method == Method.BOILING and station_pressure_pascal is None and altitude_m is None:
        raise Refused(
            {
                "station_pressure_pascal": [
                    "Boiling water needs the air pressure of the place, or its altitude."
                ]
            }
        )
    aimed = aimed_points(check, method, aimed_celsius, station_pressure_pascal, altitude_m)
    apply(check, given)
    check_shape(shape, len(aimed))
    check_can_pass(check, aimed)
    take_in(check, sensors, at=act.happened_at)
    CheckPoint.objects.bulk_create(
        CheckPoint(sitting=check, number=number, aimed_celsius=celsius)
        for number, celsius in enumerate(aimed, start=1)
    )
    sentence = f"{str(check).capitalize()} of {sensors_said(sensors)} begun, beside {reference}"
    return record(act, "check begun", sentence, about=[check], why=check.out_of_date_why or act.why)


def hold_open(check: CalibrationCheck, *, act: Act | None = None) -> CalibrationCheck:
    """The check, locked and read afresh; refused when somebody closed or dropped it meanwhile, saying who and when."""
    based_on = act.based_on if act else None
    fresh = hold(check)
    if fresh.closed_at:
        raise Refused(
            f"{str(fresh).capitalize()} was closed by {fresh.closed_by} on {said(fresh.closed_at)}. "
            "A closed check stays as it is: look at what it found, or begin a new one.",
            code="closed",
        )
    if fresh.dropped_at:
        raise Refused(
            f"{str(fresh).capitalize()} was dropped on {said(fresh.dropped_at)}: {fresh.dropped_why}. Begin a new one.",
            code="dropped",
        )
    if based_on is not None:
        return hold(check, based_on=based_on, act=act)
    return fresh


@action
def change_check(act: Act, *, check: CalibrationCheck, changes: Mapping[str, Any]) -> Done:
    """Change what is allowed for the bath, the shape, the conditions or the pressure of an open check."""
    check = hold_open(check, act=act)
    may = {
        "uniformity_kelvin", "stability_kelvin", "shape", "conditions", "station_pressure_pascal", "altitude_m",
    }  # fmt: skip
    if odd := set(changes) - may:
        raise Refused(f"Of an open check, {', '.join(sorted(odd))} stays as it was begun. Begin a new one.")
    apply(check, changes)
    check_shape(Shape(check.shape), check.points.count())
    check_can_pass(check, check.points.values_list("aimed_celsius", flat=True))
    return record(act, "check changed", f"{str(check).capitalize()} changed", about=[check])


@action
def change_sensors(
    act: Act,
    *,
    check: CalibrationCheck,
    add: Sequence[Sensor] = (),
    remove: Sequence[Sensor] = (),
    with_readings: bool = False,
) -> Done:
    """Sensors join or leave an open check. One that has readings leaves only `with_readings`, which go with it."""
    check = hold_open(check, act=act)
    gone = check.sensors.filter(sensor__in=remove)
    read = CheckReading.objects.filter(point__sitting=check, sensor__in=remove)
    if read.exists() and not with_readings:
        names = ", ".join(sorted({str(row.sensor) for row in read.select_related("sensor")}))
        raise Refused(
            f"{names} has readings in this check. Say that they may go, or leave it in.", code="has_readings"
        )
    read.delete()
    gone.delete()
    if add:
        take_in(check, add, at=check.begun_at)
    if not check.sensors.exists():
        raise Refused("A check needs at least one sensor. Drop it instead.")
    sentence = f"{str(check).capitalize()}: {len(add)} sensors joined, {len(remove)} left"
    return record(act, "check changed", sentence, about=[check])


@action
def add_point(act: Act, *, check: CalibrationCheck, aimed_celsius: Decimal | float | None = None) -> Done:
    """One more temperature in an open check."""
    check = hold_open(check, act=act)
    if check.reference.kind != ReferenceKind.THERMOMETER:
        raise Refused(f"{check.reference} has one temperature. For more points use a reference thermometer.")
    last = check.points.order_by("number").last()
    number = last.number + 1 if last else 1
    check_shape(Shape.ONE, check.points.count() + 1)
    aimed = None if aimed_celsius is None else round(Decimal(str(aimed_celsius)), 2)
    check_can_pass(check, [aimed])
    point = CheckPoint(sitting=check, number=number)
    apply(point, {"aimed_celsius": aimed})
    return record(
        act, "check changed", f"{str(check).capitalize()}: point {number} added", about=[check, point]
    )


@action
def remove_point(
    act: Act, *, check: CalibrationCheck, point: CheckPoint, with_readings: bool = False
) -> Done:
    """A temperature leaves an open check; with readings only when it is said that they may go."""
    check = hold_open(check, act=act)
    point = check.points.get(pk=point.pk)
    if point.readings.exists() and not with_readings:
        raise Refused(
            f"Point {point.number} has readings. Say that they may go, or leave it in.", code="has_readings"
        )
    check_shape(Shape(check.shape), check.points.count() - 1)
    number = point.number
    point.readings.all().delete()
    point.delete()
    return record(act, "check changed", f"{str(check).capitalize()}: point {number} removed", about=[check])


@dataclass(frozen=True, kw_only=True)
class Kept(Done):
    """What keeping readings answers: nothing is written into the story, so there is no event (its id is 0)."""

    doubts: tuple[Doubtful, ...] = ()


def keep_readings(
    act: Act,
    *,
    check: CalibrationCheck,
    point: CheckPoint,
    readings: Mapping[Sensor | None, Sequence[Decimal | float]],
    how: HowRead = HowRead.TYPED,
) -> Kept:
    """Keep what was typed so far at a point: for each sensor given (None: the reference) it replaces what was there.

    Saved as often as people type, so it leaves no event and no receipt, and counts no version: the same again changes
    nothing, and what is typed last stays. Odd values come back as `doubts`; only what can be no temperature is refused.
    """
    values = {sensor: believable(sensor, given) for sensor, given in readings.items()}

    def once() -> Kept:
        with transaction.atomic():
            held = hold_open(check)
            where = CheckPoint.objects.filter(sitting=held, pk=point.pk).first()
            if where is None:
                raise Refused("This point is not part of the check any more. Open the page again.")
            replace_readings(held, where, values, HowRead(how), act.recorded_at)
            doubts = doubts_of(
                held,
                where,
                {
                    None if sensor is None else sensor.pk: [float(value) for value in given]
                    for sensor, given in values.items()
                },
            )
        count = sum(len(given) for given in values.values())
        return Kept(
            sentence=f"{count} reading{'' if count == 1 else 's'} kept",
            subjects=((kind_of(CalibrationCheck), held.pk),),
            version=held.version,
            event_id=0,
            doubts=tuple(doubts),
        )

    return kept(once)


def replace_readings(
    check: CalibrationCheck,
    point: CheckPoint,
    values: Mapping[Sensor | None, Sequence[Decimal]],
    how: HowRead,
    at: datetime,
) -> None:
    """Put these readings in place of those that were there; rows that stay the same are left alone."""
    there = set(check.sensors.values_list("sensor_id", flat=True))
    for sensor, given in values.items():
        if sensor is not None and sensor.pk not in there:
            raise Refused(f"Sensor {sensor} takes no part in this check. Add it first.")
        before = point.readings.filter(sensor=sensor)
        if list(before.order_by("number").values_list("celsius", flat=True)) == list(given):
            continue
        before.delete()
        CheckReading.objects.bulk_create(
            CheckReading(point=point, sensor=sensor, number=number, celsius=celsius, how=how, read_at=at)
            for number, celsius in enumerate(given, start=1)
        )
