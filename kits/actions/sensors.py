"""Sensors: added, wired in and out, kept as spares, given offsets."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from kits import units
from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.custody import move_spare
from kits.actions.records import apply, check_overlaps
from kits.models import KeptAt, Kit, Offset, Sensor, Shop, User, Wiring
from kits.promises import Refused
from kits.rom import BadRom, read_rom
from kits.saying import later
from kits.words import months_later


@action
def add_sensor(
    act: Act,
    *,
    rom: str,
    fields: Mapping[str, Any],
    kit: Kit | None = None,
    terminal: int | None = None,
    place: KeptAt = KeptAt.BENCH,
    technician: User | None = None,
) -> Done:
    """Add a sensor by its ROM ID in any usual writing; it is wired into a kit at once or kept as a spare."""
    try:
        rom = read_rom(rom)
    except BadRom as bad:
        raise Refused({"rom": [str(bad)]}) from bad
    if known := Sensor.objects.filter(rom=rom).first():
        raise Refused({"rom": [f"The shop has this sensor already: {known}, {whereabouts_of(known)}."]})
    kit = hold(kit) if kit else None
    sensor = Sensor(rom=rom)
    apply(sensor, fields)
    if kit:
        wire(kit, sensor, free_terminal(kit) if terminal is None else terminal, at=act.happened_at)
        return record(act, "sensor added", f"Sensor {sensor} added to {kit}", about=[sensor, kit])
    move_spare(sensor, place, at=act.happened_at, technician=technician)
    return record(act, "sensor added", f"Sensor {sensor} added as a spare", about=[sensor])


def whereabouts_of(sensor: Sensor) -> str:
    """Where a sensor is now, in words: in which kit, or where it is kept."""
    if wiring := sensor.wiring:
        return f"in {wiring.kit}, terminal {wiring.terminal}"
    if spare := sensor.spare_place:
        return f"kept: {spare.word}"
    return "in no kit"


def free_terminal(kit: Kit) -> int:
    """The first terminal of the kit that carries no sensor."""
    taken = set(kit.wirings.filter(wired_until=None).values_list("terminal", flat=True))
    for terminal in range(1, kit.sensor_limit + 1):
        if terminal not in taken:
            return terminal
    raise Refused(f"All {kit.sensor_limit} terminals of {kit} carry a sensor. Take one out first.")


def wire(kit: Kit, sensor: Sensor, terminal: int, *, at: datetime) -> Wiring:
    """Wire a sensor into a held kit's terminal; it leaves the place where it was kept."""
    if not 1 <= terminal <= kit.sensor_limit:
        raise Refused(f"{kit} has terminals 1 to {kit.sensor_limit}; there is no terminal {terminal}.")
    built = kit.custodies.order_by("held_from", "pk").first()
    if built is not None and at < built.held_from:
        raise Refused(f"{kit} was built {later(built.held_from)}. Give a time after it.")
    move_spare(sensor, None, at=at)
    wiring = Wiring(kit=kit, sensor=sensor, terminal=terminal, wired_from=at)
    check_overlaps(wiring)
    wiring.save()
    return wiring


def unwire(
    sensor: Sensor, place: KeptAt, *, at: datetime, technician: User | None = None, why: str = ""
) -> Wiring:
    """Take a sensor out of the kit it is in; it is kept at `place` from then on."""
    wiring = sensor.wiring
    if wiring is None:
        raise Refused(f"Sensor {sensor} is in no kit.")
    if at < wiring.wired_from:
        raise Refused(
            f"Sensor {sensor} was wired into {wiring.kit} {later(wiring.wired_from)}. Give a time after it."
        )
    wiring.wired_until = at
    wiring.save(update_fields=["wired_until"])
    move_spare(sensor, place, at=at, technician=technician, why=why)
    return wiring


@action
def wire_in(act: Act, *, kit: Kit, sensor: Sensor, terminal: int | None = None) -> Done:
    """Wire a spare sensor into a kit. It keeps its own offset and inherits none."""
    kit = hold(kit, based_on=act.based_on, act=act)
    sensor = hold(sensor)
    wiring = wire(kit, sensor, free_terminal(kit) if terminal is None else terminal, at=act.happened_at)
    sentence = f"Sensor {sensor} wired into {kit}, terminal {wiring.terminal}"
    return record(act, "sensor wired in", sentence, about=[kit, sensor])


@action
def wire_out(
    act: Act, *, kit: Kit, sensor: Sensor, place: KeptAt = KeptAt.BENCH, technician: User | None = None
) -> Done:
    """Take a sensor out of a kit that has no stay running. In a stay, swap the lead instead."""
    kit = hold(kit, based_on=act.based_on, act=act)
    sensor = hold(sensor)
    wiring = sensor.wiring
    if wiring is None or wiring.kit != kit:
        raise Refused(f"Sensor {sensor} is not in {kit}; it is {whereabouts_of(sensor)}.")
    unwire(sensor, place, at=act.happened_at, technician=technician, why=act.why)
    return record(act, "sensor wired out", f"Sensor {sensor} taken out of {kit}", about=[kit, sensor])


@action
def keep_spare(
    act: Act, *, sensor: Sensor, place: KeptAt, technician: User | None = None, why: str = ""
) -> Done:
    """Say where a spare sensor is kept now."""
    sensor = hold(sensor, based_on=act.based_on, act=act)
    if wiring := sensor.wiring:
        raise Refused(f"Sensor {sensor} is in {wiring.kit}. Take it out there first.")
    kept = move_spare(sensor, place, at=act.happened_at, technician=technician, why=why)
    word = kept.word if kept else ""
    return record(act, "spare kept", f"Sensor {sensor} kept: {word}", about=[sensor], why=why or act.why)


def next_check(checked_at: datetime) -> date:
    """The day from which a sensor compared at `checked_at` is due again, by the shop's interval."""
    shop = Shop.current()
    day = checked_at.astimezone(ZoneInfo(shop.time_zone)).date()
    return months_later(day, shop.check_interval_months)


@action
def give_offset(
    act: Act,
    *,
    sensor: Sensor,
    offset_kelvin: Decimal,
    in_force_from: datetime,
    uncertainty_kelvin: Decimal | None = None,
    how: str = "",
) -> Done:
    """Enter an offset by hand: what is ADDED to the raw reading, in force from an instant until the next one."""
    wiring = sensor.wiring
    kit = hold(wiring.kit) if wiring else None  # kits are always locked before what they carry
    sensor = hold(sensor, based_on=act.based_on, act=act)
    if in_force_from > act.recorded_at:
        raise Refused(
            {"in_force_from": ["An offset holds from a check that was made. That time is still to come."]}
        )
    if sensor.offsets.filter(in_force_from=in_force_from).exists():
        raise Refused(
            {"in_force_from": ["This sensor has an offset from that very instant. Give a later time."]}
        )
    offset = Offset(
        sensor=sensor,
        offset_kelvin=offset_kelvin,
        uncertainty_kelvin=uncertainty_kelvin,
        in_force_from=in_force_from,
        good_until=next_check(in_force_from),
        how=how,
        recorded_at=act.recorded_at,
        recorded_by=act.typed_by,
    )
    offset.full_clean()
    offset.save()
    about = [sensor, kit] if kit else [sensor]
    # The story is kept for good and the shop may change its unit, so it stands in both.
    fahrenheit, kelvin = (units.difference_text(offset.offset_kelvin, unit, 2) for unit in ("F", "C"))
    sentence = f"Offset of sensor {sensor}: {fahrenheit} ({kelvin}) added"
    return record(act, "offset given", sentence, about=about, details={"in_force_from": in_force_from})
