"""A calibration check while it is open: begun, its sensors and points, the readings as they are typed.

`kits.actions.closing` closes, withdraws and drops it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from kits.actions.acting import Act, Done, action, hold, kind_of, record
from kits.actions.records import apply
from kits.checking import (
    Doubtful,
    decimal_celsius,
    doubts_of,
    guard_factor,
    pure_bath,
    pure_reference,
    unit_read,
)
from kits.measuring.boiling import boiling_celsius, standard_pressure_pascal
from kits.measuring.budget import Budget, resolution
from kits.measuring.line import FEWEST_POINTS
from kits.measuring.point import DEFAULT_BATHS, SENSOR_STEP_KELVIN, Bath
from kits.measuring.reference import ReferenceThermometer as PureThermometer
from kits.measuring.trouble import CannotCompute
from kits.measuring.verdict import refuse_impossible_rule
from kits.models import (
    CalibrationCheck,
    Certificate,
    CheckPoint,
    CheckReading,
    CheckSensor,
    HowRead,
    Method,
    ReferenceKind,
    ReferenceThermometer,
    Sensor,
    Shape,
    Shop,
    Wiring,
)
from kits.promises import Refused, kept

MOST_READINGS = 200
BATHS = {Method(name): bath for name, bath in DEFAULT_BATHS.items()}
COLDEST_CELSIUS, HOTTEST_CELSIUS = -273.15, 1000.0


def default_bath(method: Method) -> Bath:
    """What is allowed for the bath, unless the person says otherwise; `why` explains it on the page."""
    return BATHS[Method(method)]


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
    if method == Method.BOILING and altitude_m is None and station_pressure_pascal is None:
        altitude_m = shop.altitude_m
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


def check_suits(reference: ReferenceThermometer, method: Method, day: date) -> None:
    """Ice belongs to the ice bath and boiling water to boiling; a thermometer goes everywhere while it is in use."""
    belongs = {ReferenceKind.ICE: Method.ICE, ReferenceKind.BOILING: Method.BOILING}
    only = belongs.get(ReferenceKind(reference.kind))
    if only is not None and method != only:
        raise Refused(
            {
                "reference": [
                    f"{reference} is a reference for “{only.label.lower()}” only. Choose a thermometer."
                ]
            }
        )
    if reference.out_of_use_since and reference.out_of_use_since <= day:
        raise Refused(
            {"reference": [f"{reference} is out of use since {reference.out_of_use_since}. Choose another."]}
        )


def certificate_for(
    act: Act, reference: ReferenceThermometer, day: date, out_of_date_why: str
) -> Certificate | None:
    """The certificate in force on that day; one out of date needs a manager and a reason, which papers will show."""
    if reference.kind != ReferenceKind.THERMOMETER:
        return None
    certificate = reference.certificate_on(day)
    if certificate is None:
        raise Refused(
            {
                "reference": [
                    f"{reference} has no certificate of that day or before. Enter its certificate, or use crushed ice."
                ]
            },
            code="no_certificate",
        )
    if certificate.due_on <= day and not (act.typed_by.is_manager and out_of_date_why.strip()):
        way_out = (
            "Say why it is used all the same; every paper made from this check will show it."
            if act.typed_by.is_manager
            else "Use another reference or crushed ice, or have a manager begin the check with a reason."
        )
        field = "out_of_date_why" if act.typed_by.is_manager else "reference"
        raise Refused(
            {field: [f"The certificate of {reference} ran out on {certificate.due_on}. {way_out}"]},
            code="out_of_date",
        )
    return certificate


def aimed_points(
    check: CalibrationCheck,
    method: Method,
    aimed_celsius: Sequence[Decimal | float | int | None],
    station_pressure_pascal: int | None,
    altitude_m: Decimal | float | None,
) -> list[Decimal | None]:
    """The temperatures to check at, in the order given; ice and boiling water know theirs."""
    if check.reference.kind == ReferenceKind.ICE:
        return [Decimal("0.00")]
    if check.reference.kind == ReferenceKind.BOILING:
        try:
            pressure = station_pressure_pascal or standard_pressure_pascal(float(altitude_m or 0))
            return [Decimal(str(round(boiling_celsius(float(pressure)), 2)))]
        except CannotCompute as trouble:
            raise Refused({"station_pressure_pascal": [str(trouble)]}) from trouble
    if not aimed_celsius:
        if method == Method.ICE:
            return [Decimal("0.00")]
        return [None]
    return [None if value is None else round(Decimal(str(value)), 2) for value in aimed_celsius]


def check_shape(shape: Shape, points: int) -> None:
    """A line needs three points, one a point needs two."""
    fewest = {Shape.LINE: FEWEST_POINTS, Shape.POINTS: 2}.get(shape, 1)
    if not 1 <= points <= 12:
        raise Refused({"aimed_celsius": ["A check has between one and twelve points."]})
    if points < fewest:
        raise Refused(
            {
                "shape": [
                    f"“{shape.label}” needs at least {fewest} points; there {'is' if points == 1 else 'are'} {points}."
                ]
            }
        )


def check_can_pass(check: CalibrationCheck, aimed: Iterable[Decimal | None]) -> None:
    """Refuse before any work is done what can never come out: a rule no sensor can pass, a point beyond the table."""
    unit = unit_read()
    try:
        reference, bath = pure_reference(check), pure_bath(check)
        for celsius in aimed:
            at = 20.0 if celsius is None else float(celsius)
            if celsius is not None and isinstance(reference, PureThermometer):
                reference.correction_at(at, unit)
            # What a check has at the very least: the reference, the bath, and the step of the sensor.
            least = Budget.of(
                *reference.terms_at(at), *bath.terms(), resolution("Sensor: one step", SENSOR_STEP_KELVIN)
            )
            refuse_impossible_rule(
                limit_kelvin=float(check.limit_kelvin),
                expanded_kelvin=least.expanded_kelvin,
                guard_factor=guard_factor(check),
                unit=unit,
            )
    except CannotCompute as trouble:
        raise Refused(str(trouble), code="cannot_pass") from trouble


def take_in(check: CalibrationCheck, sensors: Sequence[Sensor], *, at: datetime) -> None:
    """These sensors take part, each with the kit and terminal it was wired to at `at`."""
    if not sensors:
        raise Refused({"sensors": ["Choose at least one sensor."]})
    twice = sorted({str(sensor) for sensor in sensors if sum(other.pk == sensor.pk for other in sensors) > 1})
    if twice:
        raise Refused({"sensors": [f"Sensor {', '.join(twice)} is there twice. Each takes part once."]})
    there = set(check.sensors.values_list("sensor_id", flat=True))
    if already := [sensor for sensor in sensors if sensor.pk in there]:
        raise Refused({"sensors": [f"Sensor {already[0]} takes part in this check already."]})
    elsewhere = (
        CheckSensor.objects.filter(sensor__in=sensors, sitting__closed_at=None, sitting__dropped_at=None)
        .exclude(sitting=check)
        .select_related("sensor", "sitting__begun_by")
        .first()
    )
    if elsewhere:
        raise Refused(
            {
                "sensors": [
                    f"Sensor {elsewhere.sensor} takes part in {elsewhere.sitting}, begun by "
                    f"{elsewhere.sitting.begun_by} and still open. Finish that one or drop it first."
                ]
            },
            code="in_another_check",
        )
    wired = {
        row.sensor_id: row
        for row in Wiring.objects.filter(sensor__in=sensors, wired_from__lte=at).order_by("wired_from")
        if row.wired_until is None or row.wired_until > at
    }
    CheckSensor.objects.bulk_create(
        CheckSensor(
            sitting=check,
            sensor=sensor,
            kit_id=wired[sensor.pk].kit_id if sensor.pk in wired else None,
            terminal=wired[sensor.pk].terminal if sensor.pk in wired else None,
        )
        for sensor in sensors
    )


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
                {None if sensor is None else sensor.pk: floats(given) for sensor, given in values.items()},
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


def believable(sensor: Sensor | None, given: Sequence[Decimal | float]) -> list[Decimal]:
    """The readings as they are kept; refused is what can be no temperature at all."""
    whose = "the reference" if sensor is None else f"sensor {sensor}"
    if len(given) > MOST_READINGS:
        raise Refused(f"{len(given)} readings of {whose} are too many: keep at most {MOST_READINGS}.")
    for value in given:
        if not math.isfinite(value) or not COLDEST_CELSIUS <= float(value) <= HOTTEST_CELSIUS:
            raise Refused(f"{value} °C of {whose} is no temperature. Check the figure and its unit.")
    return [decimal_celsius(value) for value in given]


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


# -- Said ------------------------------------------------------------------------------------------------------------------


def floats(values: Iterable[Decimal]) -> list[float]:
    return [float(value) for value in values]


def decimal_of(value: Decimal | float | int | None, otherwise: float | None = None) -> Decimal | None:
    """A figure as it is kept, or the default in its place."""
    if value is None:
        value = otherwise
    return None if value is None else Decimal(str(value))


def day_in_shop(instant: datetime, shop: Shop | None = None) -> date:
    """The shop's calendar day."""
    return instant.astimezone(ZoneInfo((shop or Shop.current()).time_zone)).date()


def said(instant: datetime) -> str:
    """An instant as a sentence says it, on the shop's clock."""
    there = instant.astimezone(ZoneInfo(Shop.current().time_zone))
    return f"{there:%a} {there.day} {there:%b %Y}, {there:%H:%M}"


def sensors_said(sensors: Sequence[Sensor]) -> str:
    """ "sensor 3 (…A1F3)" or "4 sensors"."""
    return f"sensor {sensors[0]}" if len(sensors) == 1 else f"{len(sensors)} sensors"
