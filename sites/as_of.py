"""Time looked up backwards: where a kit was, what it carried, where each sensor sat, and the offset in force."""

from dataclasses import dataclass
from datetime import datetime

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
        .filter(held_from__lte=instant)
        .order_by("held_from", "pk")
        .last()
    )
    if custody is not None and custody.held_until is not None and custody.held_until <= instant:
        custody = None
    stay = kit.deployments.at(instant).with_places().order_by("loaded_at", "pk").last()
    wirings = [
        wiring
        for wiring in kit.wirings.filter(wired_from__lte=instant)
        .select_related("sensor")
        .order_by("terminal", "pk")
        if wiring.wired_until is None or wiring.wired_until > instant
    ]
    placements = placements_at(stay, instant) if stay else {}
    sensors = tuple(
        SensorThen(
            terminal=wiring.terminal,
            sensor=wiring.sensor,
            position=placements[wiring.sensor_id].position if wiring.sensor_id in placements else None,
            placement=placements.get(wiring.sensor_id),
            offset=wiring.sensor.offset_at(instant),
        )
        for wiring in wirings
    )
    return KitThen(kit=kit, instant=instant, custody=custody, deployment=stay, sensors=sensors)


def placements_at(stay: Deployment, instant: datetime) -> dict[int, Placement]:
    """The placements of a stay that hold at `instant`, by sensor id."""
    rows = stay.placements.filter(placed_from__lte=instant).select_related("position", "sensor")
    return {row.sensor_id: row for row in rows if row.placed_until is None or row.placed_until > instant}
