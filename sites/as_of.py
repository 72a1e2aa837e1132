"""Time looked up backwards: where a kit was, what it carried, where each sensor sat, and the offset in force."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from kits.models import Custody, Kit, Offset, Sensor
from sites.models import Deployment, Placement, Position


@dataclass(frozen=True, kw_only=True)
class SensorThen:
    """One sensor of a kit at an instant."""

    terminal: int
    sensor: Sensor
    position: Position | None
    placement: Placement | None
    offset: Offset | None


@dataclass(frozen=True, kw_only=True)
class KitThen:
    """A kit at an instant, as known now. Before it was built there is no custody."""

    kit: Kit
    instant: datetime
    custody: Custody | None
    deployment: Deployment | None
    sensors: tuple[SensorThen, ...]

    @property
    def whereabouts(self) -> str:
        """Where it was, as a word; at a site, the site's address."""
        if self.custody is None:
            return "not built yet"
        if self.custody.place == "site" and self.deployment is not None:
            return str(self.deployment.unit.site)
        return self.custody.word


def kit_as_of(code: str, instant: datetime) -> KitThen:
    """What is known now about the kit with that code at `instant`. Raises Kit.DoesNotExist."""
    kit = Kit.objects.get(code=code)
    custody = (
        kit.custodies.select_related("technician")
        .filter(Q(held_until=None) | Q(held_until__gt=instant), held_from__lte=instant)
        .order_by("held_from", "pk")
        .last()
    )
    stay = kit.deployments.at(instant).select_related("call", "unit__site").order_by("loaded_at", "pk").last()
    wirings = list(
        kit.wirings.filter(Q(wired_until=None) | Q(wired_until__gt=instant), wired_from__lte=instant)
        .select_related("sensor")
        .order_by("terminal", "pk")
    )
    placements = placements_at(stay, instant) if stay else {}
    offsets = offsets_at([wiring.sensor for wiring in wirings], instant)
    sensors = tuple(
        SensorThen(
            terminal=wiring.terminal,
            sensor=wiring.sensor,
            position=placements[wiring.sensor_id].position if wiring.sensor_id in placements else None,
            placement=placements.get(wiring.sensor_id),
            offset=offsets.get(wiring.sensor_id),
        )
        for wiring in wirings
    )
    return KitThen(kit=kit, instant=instant, custody=custody, deployment=stay, sensors=sensors)


def placements_at(stay: Deployment, instant: datetime) -> dict[int, Placement]:
    """The placements of a stay that hold at `instant`, by sensor id."""
    rows = stay.placements.filter(
        Q(placed_until=None) | Q(placed_until__gt=instant), placed_from__lte=instant
    )
    return {row.sensor_id: row for row in rows.select_related("position", "sensor")}


def offsets_at(sensors: Iterable[Sensor], instant: datetime) -> dict[int, Offset]:
    """The offsets in force at `instant`, by sensor id; a sensor without one is left out."""
    rows = Offset.objects.filter(sensor__in=list(sensors), in_force_from__lte=instant)
    newest = {row.sensor_id: row for row in rows.order_by("in_force_from")}
    return {sensor: row for sensor, row in newest.items() if row.is_one}
