"""The kit in one's hand as it is now, read in few queries: technicians open this page most, on slow phones."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import FilteredRelation, OuterRef, Q, Subquery

from kits.codes import BadCode, read_code
from kits.models import Kit, Offset, Sensor, Wiring
from sites.models import Deployment, Position


@dataclass(frozen=True, kw_only=True)
class Lead:
    """A lead of the kit now: its terminal, where its sensor sits, and the offset in force as `sensor.offset_now`."""

    terminal: int
    sensor: Sensor
    position: Position | None


# Read in the same query; these are names given in it, not fields of a kit.
FOUND_WITH_IT = ("custody_now__technician", "stay_now__call", "stay_now__unit__site")


def kit_in_hand(code: str) -> tuple[Kit, Deployment | None] | None:
    """The kit that a typed or scanned code names, with its whereabouts, and the stay it is out on: one query."""
    try:
        wanted = read_code(code)
    except BadCode:
        return None
    kit = (
        Kit.objects.filter(code=wanted)
        .annotate(
            custody_now=FilteredRelation("custodies", condition=Q(custodies__held_until=None)),
            stay_now=FilteredRelation(
                "deployments",
                condition=Q(deployments__ended_at=None, deployments__loaded_at__isnull=False),
            ),
        )
        .select_related(*FOUND_WITH_IT)
        .order_by()
        .first()
    )
    if kit is None:
        return None
    kit.__dict__["open_custody"] = [kit.custody_now]
    return kit, getattr(kit, "stay_now", None)  # Django leaves it off where no stay was found


def leads_now(kit: Kit, stay: Deployment | None, now: datetime) -> list[Lead]:
    """The leads of a kit by terminal; one query, and one more for their positions when the kit hangs at a unit."""
    in_force = Offset.objects.filter(sensor=OuterRef("sensor"), in_force_from__lte=now)
    latest = Subquery(in_force.order_by("-in_force_from").values("offset_kelvin")[:1])
    wired = Wiring.objects.filter(kit=kit, wired_until=None).select_related("sensor")
    placed = {}
    if stay is not None and stay.installed_at and not stay.removed_at:
        rows = stay.placements.filter(placed_until=None).select_related("position").order_by()
        placed = {row.sensor_id: row.position for row in rows}
    leads = []
    for wiring in wired.annotate(offset_now=latest).order_by("terminal"):
        wiring.sensor.__dict__["offset_now"] = wiring.offset_now
        leads.append(
            Lead(terminal=wiring.terminal, sensor=wiring.sensor, position=placed.get(wiring.sensor_id))
        )
    return leads
