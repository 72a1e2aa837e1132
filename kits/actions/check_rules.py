"""What a calibration check may be begun and changed with; what may be kept as a reading."""

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from kits.actions.acting import Act, hold
from kits.checking import guard_factor, pure_bath, pure_reference, unit_read
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
    CheckSensor,
    Method,
    ReferenceKind,
    ReferenceThermometer,
    Sensor,
    Shape,
    Shop,
    Wiring,
)
from kits.promises import Refused
from kits.saying import said_day

MOST_READINGS = 200
BATHS = {Method(name): bath for name, bath in DEFAULT_BATHS.items()}
COLDEST_CELSIUS, HOTTEST_CELSIUS = -273.15, 1000.0


def default_bath(method: Method) -> Bath:
    """What is allowed for the bath, unless the person says otherwise; `why` explains it on the page."""
    return BATHS[Method(method)]


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
            {field: [f"The certificate of {reference} ran out on {said_day(certificate.due_on)}. {way_out}"]},
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
        reference, bath = pure_reference(check), pure_bath(check, read_together=True)
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
    for sensor in sorted(sensors, key=lambda one: one.pk):
        hold(sensor)  # whoever takes the same one into another check waits here, and then sees this one
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


def believable(sensor: Sensor | None, given: Sequence[Decimal | float]) -> list[Decimal]:
    """The readings as they are kept; refused is what can be no temperature at all."""
    whose = "the reference" if sensor is None else f"sensor {sensor}"
    if len(given) > MOST_READINGS:
        raise Refused(f"{len(given)} readings of {whose} are too many: keep at most {MOST_READINGS}.")
    for value in given:
        if not math.isfinite(value) or not COLDEST_CELSIUS <= float(value) <= HOTTEST_CELSIUS:
            raise Refused(f"{value} °C of {whose} is no temperature. Check the figure and its unit.")
    return [round(Decimal(str(value)), 4) for value in given]


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
