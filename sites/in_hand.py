"""The kit in one's hand as it is now, read in few queries: technicians open this page most, on slow phones."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import BigAutoField, CharField, DateTimeField, FilteredRelation, OuterRef, Q, Subquery

from kits.codes import BadCode, read_code
from kits.kept_query import Given, KeptQuery
from kits.models import FollowUp, Kit, Offset, Sensor, Wiring, kelvin_in_force
from sites.models import Deployment, Position

NO_STAY = 0  # no row has this key


@dataclass(frozen=True, kw_only=True)
class Lead:
    """A lead of the kit now: its terminal, where its sensor sits, and the offset in force as `sensor.offset_now`."""

    terminal: int
    sensor: Sensor
    position: Position | None


# A kit with its whereabouts and the stay it is out on. These are names given in the query, not fields of a kit.
kit_with_stay = KeptQuery(
    lambda: (
        Kit.objects.filter(code=Given("code", CharField()))
        .annotate(
            custody_now=FilteredRelation("custodies", condition=Q(custodies__held_until=None)),
            stay_now=FilteredRelation(
                "deployments", condition=Q(deployments__ended_at=None, deployments__loaded_at__isnull=False)
            ),
        )
        .select_related("custody_now__technician", "stay_now__call", "stay_now__unit__site")  # type: ignore[misc]
        .order_by()[:1]
    )
)

# The wirings of a kit, each with its sensor, the offset in force, and the placement of that sensor in a stay.
wirings_with_places = KeptQuery(
    lambda: (
        Wiring.objects.filter(kit=Given("kit", BigAutoField()), wired_until=None)
        .annotate(
            placed_now=FilteredRelation(
                "sensor__placements",
                condition=Q(
                    sensor__placements__deployment=Given("stay", BigAutoField()),
                    sensor__placements__placed_until=None,
                ),
            ),
            offset_now=Subquery(
                Offset.objects.filter(
                    sensor=OuterRef("sensor"), in_force_from__lte=Given("now", DateTimeField())
                )
                .order_by("-in_force_from")
                .values(kelvin=kelvin_in_force())[:1]
            ),
        )
        .select_related("sensor", "placed_now__position")  # type: ignore[misc]
        .order_by("terminal")
    )
)

open_follow_ups = KeptQuery(lambda: FollowUp.objects.filter(kit=Given("kit", BigAutoField()), done_at=None))


def kit_in_hand(code: str) -> tuple[Kit, Deployment | None] | None:
    """The kit that a typed or scanned code names, with its whereabouts, and the stay it is out on: one query."""
    try:
        kit = kit_with_stay.first(code=read_code(code))
    except BadCode:
        return None
    if kit is None:
        return None
    return kit, getattr(kit, "stay_now", None)  # Django leaves it off where no stay was found


def leads_now(kit: Kit, stay: Deployment | None, now: datetime) -> list[Lead]:
    """The leads of a kit by terminal, with their positions when the kit hangs at a unit: one query."""
    hangs = stay is not None and stay.installed_at and not stay.removed_at
    leads = []
    for wiring in wirings_with_places.rows(kit=kit.pk, stay=stay.pk if stay and hangs else NO_STAY, now=now):
        wiring.sensor.__dict__["offset_now"] = wiring.offset_now  # type: ignore[attr-defined]
        placed = getattr(wiring, "placed_now", None)
        leads.append(
            Lead(
                terminal=wiring.terminal,
                sensor=wiring.sensor,
                position=placed.position if placed else None,
            )
        )
    return leads


def still_to_do(kit: Kit) -> Iterable[FollowUp]:
    """What was left to do about a kit when it came home."""
    return list(open_follow_ups.rows(kit=kit.pk))
