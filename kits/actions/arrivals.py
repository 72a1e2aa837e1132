"""Kits and sensors that come in by the many: told as `add_kits`, `add_sensor` and `wire_in` tell them one by one."""

from collections.abc import Mapping
from typing import Any

from kits.actions.many import Many
from kits.models import Custody, KeptAt, Kit, Place, Sensor, SparePlace, Wiring


def kit_arrives(many: Many, *, code: str, fields: Mapping[str, Any]) -> Kit:
    """A kit that the shop did not have; it starts on the bench."""
    kit = many.add(Kit(code=code, **fields))
    many.add(Custody(kit=kit, place=Place.BENCH, held_from=many.act.happened_at))
    many.tell("kit built", f"{kit} built", kit)
    return kit


def sensor_arrives(
    many: Many, *, rom: str, fields: Mapping[str, Any], kit: Kit | None = None, terminal: int | None = None
) -> Sensor:
    """A sensor that the shop did not have, wired into a kit or kept as a spare on the bench."""
    sensor = many.add(Sensor(rom=rom, **fields))
    if kit is None or terminal is None:
        many.add(SparePlace(sensor=sensor, place=KeptAt.BENCH, kept_from=many.act.happened_at))
        many.tell("sensor added", f"Sensor {sensor} added as a spare", sensor)
        return sensor
    many.add(Wiring(sensor=sensor, kit=kit, terminal=terminal, wired_from=many.act.happened_at))
    many.tell("sensor added", f"Sensor {sensor} added to {kit}", sensor, kit)
    return sensor


def spare_goes_in(many: Many, *, sensor: Sensor, spare: SparePlace | None, kit: Kit, terminal: int) -> None:
    """A sensor that was in no kit is wired into one; it leaves the place where it was kept."""
    if spare is not None:
        many.change(spare, kept_until=many.act.happened_at)
    many.add(Wiring(sensor=sensor, kit=kit, terminal=terminal, wired_from=many.act.happened_at))
    many.tell("sensor wired in", f"Sensor {sensor} wired into {kit}, terminal {terminal}", kit, sensor)
