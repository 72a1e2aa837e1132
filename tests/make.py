"""Builders with dull defaults: one call makes one thing that is valid and otherwise unremarkable."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import count
from typing import Any

from crccheck.crc import Crc8MaximDow
from django.utils import timezone

from kits.actions import checks, closing, thermometers
from kits.actions import kits as kit_actions
from kits.actions import sensors as sensor_actions
from kits.actions.acting import Act
from kits.actions.records import add_record
from kits.models import (
    CalibrationCheck,
    KeptAt,
    Kit,
    Method,
    Offset,
    Place,
    ReferenceKind,
    ReferenceThermometer,
    Role,
    Sensor,
    Shop,
    User,
)
from sites.actions import custody, planning, stays
from sites.models import (
    Customer,
    Deployment,
    HandBackPlace,
    Position,
    Reason,
    ServiceCall,
    Site,
    Stage,
    Unit,
    UnitKind,
)

PASSWORD = "correct horse battery"
_numbers = count(1)
POSITIONS = ("SA", "RA", "LL", "VL", "OA")


def user(role: Role = Role.TECHNICIAN, name: str = "", **fields: Any) -> User:
    number, role = next(_numbers), Role(role)
    person = User(role=role, name=name or f"{role.label} {number}", username=f"person{number}", **fields)
    person.set_password(PASSWORD)
    person.save()
    return person


def office(**fields: Any) -> User:
    return user(Role.OFFICE, **fields)


def technician(**fields: Any) -> User:
    return user(Role.TECHNICIAN, **fields)


def manager(**fields: Any) -> User:
    return user(Role.MANAGER, **fields)


def shop(**fields: Any) -> Shop:
    defaults = {"name": "Test Shop", "phone": "+1 201 555 0100", "time_zone": "America/New_York"}
    return Shop.objects.update_or_create(pk=1, defaults={**defaults, **fields})[0]


def act(user_: User | None = None, **changes: Any) -> Act:
    """An act by `user_`, else by a fresh office person; `at` sets when it happened and was typed."""
    at = changes.pop("at", None)
    if at is not None:
        changes.setdefault("recorded_at", at)
        changes["happened_at"] = at
    return Act.by(user_ or office(), **changes)


def rom(serial: int | None = None) -> str:
    """A valid ROM ID of family 28; its CRC comes from a general library, not from ours."""
    body = bytes([0x28]) + (serial if serial is not None else next(_numbers)).to_bytes(6, "little")
    return (body + bytes([Crc8MaximDow.calc(body)])).hex().upper()


def long_ago() -> datetime:
    """Ninety days before now: when built things were built, so that there is room for history."""
    return timezone.now() - timedelta(days=90)


def sensor(
    *, kit: Kit | None = None, at: datetime | None = None, checked: bool | None = None, **fields: Any
) -> Sensor:
    """A sensor, wired into `kit` (then in date) or kept as a spare on the bench (then not), since long ago."""
    at = at or long_ago()
    fields.setdefault("tag", str(next(_numbers)))
    done = sensor_actions.add_sensor(
        act(at=at), rom=fields.pop("rom", rom()), fields=fields, kit=kit, place=KeptAt.BENCH
    )
    made = done.row(Sensor)
    if kit is not None if checked is None else checked:
        in_date(made, at=at)
    return made


def in_date(sensor_: Sensor, *, at: datetime, offset_kelvin: str = "-0.2") -> Offset:
    """An offset entered by hand at `at`, in date for years."""
    return Offset.objects.create(
        sensor=sensor_,
        in_force_from=at,
        offset_kelvin=Decimal(offset_kelvin),
        uncertainty_kelvin=Decimal("0.1"),
        good_until=at.date() + timedelta(days=3650),
        how="crushed ice",
        recorded_at=at,
        recorded_by=User.objects.order_by("pk").first() or office(),
    )


def reference(**fields: Any) -> ReferenceThermometer:
    """A reference thermometer whose certificate is in date for half a year more, good from -10 to 110 °C."""
    today = timezone.localdate()
    paper = {
        "number": f"C-{next(_numbers)}",
        "issuer": "Test Laboratory",
        "issued_on": today - timedelta(days=180),
        "due_on": today + timedelta(days=185),
        "corrections": [[-10, 0.01], [110, 0.01]],
        "expanded_uncertainty_kelvin": Decimal("0.05"),
        "drift_allowance_kelvin": Decimal("0.02"),
        **fields.pop("certificate", {}),
    }
    values = {"name": f"Reference {next(_numbers)}", "serial": "4711", "resolution_kelvin": Decimal("0.01")}
    made = add_record(act(), row=ReferenceThermometer(), fields={**values, **fields}).row(
        ReferenceThermometer
    )
    thermometers.add_certificate(act(), thermometer=made, fields=paper)
    return ReferenceThermometer.objects.get(pk=made.pk)


def ice() -> ReferenceThermometer:
    """Crushed ice, as every shop has it."""
    return ReferenceThermometer.objects.get(kind=ReferenceKind.ICE)


def check(
    sensors: Sequence[Sensor],
    *,
    errors: Sequence[float] = (0.3,),
    at: datetime | None = None,
    closed: bool = True,
    by: User | None = None,
    reference: ReferenceThermometer | None = None,
    **how: Any,
) -> CalibrationCheck:
    """A check of `sensors` in ice begun at `at` with five readings each, closed an hour later unless told otherwise.

    `errors`: what each sensor reads too much, in K; the last one counts for all that follow.
    """
    at, by = at or timezone.now() - timedelta(hours=2), by or office()
    given: dict[str, Any] = {"method": Method.ICE, "aimed_celsius": [0], **how}
    begun = checks.begin_check(act(by, at=at), reference=reference or ice(), sensors=sensors, **given)
    made = begun.row(CalibrationCheck)
    for point in made.points.all():
        aimed = float(point.aimed_celsius or 0)
        readings: dict[Sensor | None, list[float]] = {
            one: [aimed + errors[min(number, len(errors) - 1)] + wobble for wobble in WOBBLE]
            for number, one in enumerate(sensors)
        }
        if made.certificate_id:
            readings[None] = [aimed - 0.01, aimed - 0.01, aimed, aimed - 0.02, aimed - 0.01]
        checks.keep_readings(act(by, at=at), check=made, point=point, readings=readings)
    if closed:
        closing.close_check(act(by, at=at + timedelta(hours=1)), check=made)
    return CalibrationCheck.objects.get(pk=made.pk)


WOBBLE = (-0.0625, 0.0, 0.0, 0.0, 0.0625)


def kit(
    *,
    sensors: int = 4,
    place: Place = Place.SHELF,
    at: datetime | None = None,
    checked: bool = True,
    **fields: Any,
) -> Kit:
    """A kit with wired sensors that are in date (unless not `checked`), built long ago, on the shelf (or the bench)."""
    at = at or long_ago()
    defaults = {"name": f"Kit {next(_numbers)}", "built_on": at.date(), "replacement_value_cents": 18_500}
    made = kit_actions.add_kits(act(at=at), fields={**defaults, **fields}).row(Kit)
    for _ in range(sensors):
        sensor(kit=made, at=at, checked=checked)
    made = Kit.objects.get(pk=made.pk)
    if place == Place.SHELF:
        custody.put_on_shelf(act(at=at), kit=made)
    return Kit.objects.get(pk=made.pk)


def customer(name: str = "", **fields: Any) -> Customer:
    return Customer.objects.create(name=name or f"Customer {next(_numbers)}", **fields)


def site(**fields: Any) -> Site:
    defaults = {"street": f"{next(_numbers)} Test Lane", "city": "Faketown", "time_zone": "America/New_York"}
    return Site.objects.create(**{**defaults, **fields})


def unit(**fields: Any) -> Unit:
    fields.setdefault("site", None)
    fields["site"] = fields["site"] or site()
    defaults = {"name": f"Unit {next(_numbers)}", "kind": UnitKind.AIR_HANDLER}
    return Unit.objects.create(**{**defaults, **fields})


def call(*, wanted: Sequence[str] = ("SA", "RA"), days_ahead: int = 0, **fields: Any) -> ServiceCall:
    """A call whose window is three days from `days_ahead` days after today."""
    start = date.today() + timedelta(days=days_ahead)
    fields.setdefault("unit", None)
    values = {
        "unit": fields.pop("unit") or unit(),
        "reason": Reason.INTERMITTENT,
        "window_from": start,
        "window_until": start + timedelta(days=2),
        "technician": fields.pop("technician", None) or technician(),
        "wanted_positions": list(Position.objects.filter(code__in=wanted)),
        **fields,
    }
    return planning.book_call(act(), fields=values).row(ServiceCall)


def dates(call_: ServiceCall) -> dict[str, date]:
    """A stay of two weeks from the call's first day on."""
    return {
        "take_out_by": call_.window_from + timedelta(days=14),
        "back_in_shop_by": call_.window_from + timedelta(days=16),
    }


def stay(
    stage: Stage = Stage.PLANNED,
    *,
    kit: Kit | None = None,
    call: ServiceCall | None = None,
    began: datetime | None = None,
    **when: Any,
) -> Deployment:
    """A stay brought to `stage` by the real actions, an hour a step from `began` (default: so that it ends now)."""
    began = began or timezone.now() - timedelta(hours=8)
    call = call or globals()["call"]()
    kit = kit or globals()["kit"]()
    steps = [Stage.PLANNED, Stage.LOADED, Stage.INSTALLED, Stage.REMOVED, Stage.HANDED_BACK]
    made = planning.plan(act(at=began), call=call, kit=kit, **dates(call)).row(Deployment)
    for number, step in enumerate(steps[1 : steps.index(stage) + 1], start=1):
        go_on(made, step, at=began + timedelta(hours=number))
    return Deployment.objects.get(pk=made.pk)


def go_on(stay_: Deployment, step: Stage, *, at: datetime, by: User | None = None) -> None:
    """Take a stay one step further by the real action."""
    kit_, tech = Kit.objects.get(pk=stay_.kit_id), stay_.technician or technician()
    doer = act(by or tech, at=at)
    if step == Stage.LOADED:
        stays.load(doer, kit=kit_, call=stay_.call, technician=tech)
    elif step == Stage.INSTALLED:
        wired = [row.sensor for row in kit_.wirings.filter(wired_until=None).order_by("terminal")]
        stays.install(
            doer,
            kit=kit_,
            placements=dict(zip(POSITIONS, wired, strict=False)),
            take_out_by=stay_.take_out_by,
            back_in_shop_by=stay_.back_in_shop_by,
            facts={
                "hookup_terminals": "R and C at the air handler",
                "tap_place": "upstream",
                "ports_drilled": 2,
            },
            readings=[
                stays.Reading(position="SA", raw_celsius=Decimal("13.50"), reference_celsius=Decimal("13.40"))
            ],
        )
    elif step == Stage.REMOVED:
        pull = stays.Pull(pulled_by=str(tech), ports_closed=2, wire_restored=True, system_ran=True)
        stays.remove(doer, kit=kit_, carrier=tech, pull=pull)
    elif step == Stage.HANDED_BACK:
        stays.hand_back(doer, kit=kit_, count=full_count(kit_))


def full_count(kit_: Kit, where: HandBackPlace = HandBackPlace.SHOP, **changes: Any) -> stays.Count:
    """Everything came home and is wiped."""
    wired = frozenset(row.sensor for row in kit_.wirings.filter(wired_until=None).select_related("sensor"))
    values: dict[str, Any] = {"sensors": wired, "account_wiped": True, "wifi_wiped": True, **changes}
    return stays.Count(where=where, **values)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc,arg-type]
