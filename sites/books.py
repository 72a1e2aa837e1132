"""Whether the books tell one story: what no single constraint can say, looked through kit by kit."""

from collections.abc import Iterable
from datetime import datetime
from itertools import pairwise

from django.db import models

from kits.models import Custody, EventAbout, Kit, Place, Sensor
from sites.models import Deployment, ServiceCall, Stage

# Where a kit may be while its stay is at a stage. A pull nobody wrote down leaves it on the bench until it is settled.
PLACES = {
    Stage.LOADED: {Place.TRUCK},
    Stage.INSTALLED: {Place.SITE},
    Stage.REMOVED: {Place.TRUCK, Place.BENCH},
}


def contradictions(kit: Kit) -> list[str]:
    """Sentences, one for each thing that does not fit together about a kit; none when all is well."""
    custodies = list(kit.custodies.select_related("technician").order_by("held_from", "pk"))
    stays = list(kit.deployments.select_related("call").prefetch_related("placements").order_by("pk"))
    return [
        *one_open_custody(kit, custodies),
        *no_gaps(custodies),
        *one_stay_out(kit, stays),
        *stages_fit_custody(kit, custodies, stays),
        *site_spans_match(kit, custodies, stays),
        *plans_have_a_kit(kit, custodies, stays),
        *placements_fit(stays),
        *history_is_whole(kit),
    ]


def one_open_custody(kit: Kit, custodies: list[Custody]) -> list[str]:
    count = sum(1 for row in custodies if row.held_until is None)
    return [] if count == 1 else [f"{kit} has {count} open custody rows"]


def no_gaps(custodies: list[Custody]) -> list[str]:
    return [
        f"{row}: nobody held it from {row.held_until} until {after.held_from}"
        for row, after in pairwise(custodies)
        if row.held_until != after.held_from
    ]


def one_stay_out(kit: Kit, stays: list[Deployment]) -> list[str]:
    out = [stay for stay in stays if stay.ended_at is None and stay.loaded_at is not None]
    return [] if len(out) <= 1 else [f"{kit} is out on {len(out)} stays at once"]


def stages_fit_custody(kit: Kit, custodies: list[Custody], stays: list[Deployment]) -> list[str]:
    """All the time a kit was loaded or taken out it was on a truck, all the time it was installed at a site."""
    return [
        f"{kit} was {row.word} from {row.held_from}, but {stage.label.lower()} on {stay.call}"
        for stay in stays
        for stage, start, until in spans_of(stay)
        for row in custodies
        if row.place not in PLACES[stage] and share_time(start, until, row.held_from, row.held_until)
    ]


def spans_of(stay: Deployment) -> Iterable[tuple[Stage, datetime, datetime | None]]:
    """When the stay was loaded, installed and removed: each stage from its time until the next."""
    times = [
        (Stage.LOADED, stay.loaded_at),
        (Stage.INSTALLED, stay.installed_at),
        (Stage.REMOVED, stay.removed_at),
    ]
    for number, (stage, start) in enumerate(times):
        if start is not None:
            later = [when for _, when in times[number + 1 :] if when is not None]
            yield stage, start, later[0] if later else stay.ended_at


def share_time(
    start: datetime, until: datetime | None, other_start: datetime, other_until: datetime | None
) -> bool:
    """Whether two half-open spans share an instant; a span without length holds none."""
    if start == until or other_start == other_until:
        return False
    return (other_until is None or start < other_until) and (until is None or other_start < until)


def site_spans_match(kit: Kit, custodies: list[Custody], stays: list[Deployment]) -> list[str]:
    """The times at a site by custody are exactly the times in a house by the stays."""
    held = {
        (row.held_from, row.held_until)
        for row in custodies
        if row.place == Place.SITE and row.held_from != row.held_until
    }
    stayed = {(stay.installed_at, stay.removed_at or stay.ended_at) for stay in stays if stay.installed_at}
    stayed = {(start, until) for start, until in stayed if start != until}
    return [
        f"{kit}: at a site {span} by only one of custody and stays" for span in sorted(held ^ stayed, key=str)
    ]


def plans_have_a_kit(kit: Kit, custodies: list[Custody], stays: list[Deployment]) -> list[str]:
    """A kit that is missing or retired is promised to nobody, and a call with a kit does not need one."""
    running = [stay for stay in stays if stay.ended_at is None]
    gone = any(row.held_until is None and row.place in {Place.MISSING, Place.RETIRED} for row in custodies)
    return [
        *(f"{kit} is gone, but promised to {stay.call}" for stay in running if gone),
        *(
            f"{stay.call} has {kit}, but says it needs a kit: {stay.call.needs_kit_why}"
            for stay in running
            if stay.call.needs_kit_why
        ),
    ]


def calls_with_two_kits() -> list[str]:
    """A call has one kit at a time, planned or out."""
    twice = ServiceCall.objects.annotate(
        kits=models.Count("deployments", filter=models.Q(deployments__ended_at=None))
    ).filter(kits__gt=1)
    return [f"{call} has {call.kits} kits at once" for call in twice]


def placements_fit(stays: list[Deployment]) -> list[str]:
    """No sensor sits anywhere outside the time its kit was in the house."""
    wrong = []
    for stay in stays:
        end = stay.removed_at or stay.ended_at
        for row in stay.placements.all():
            begins_early = stay.installed_at is None or row.placed_from < stay.installed_at
            ends_late = end is not None and (row.placed_until is None or row.placed_until > end)
            if begins_early or ends_late:
                wrong.append(f"{stay}: {row} lies outside the time in the house")
    return wrong


def history_is_whole(row: Kit | Sensor) -> list[str]:
    """Each change counted one up and left one event about it, the last one with the count of today."""
    kind = "kit" if isinstance(row, Kit) else "sensor"
    seen = EventAbout.objects.filter(kind=kind, subject_id=row.pk)
    found = seen.aggregate(count=models.Count("pk"), highest=models.Max("version"))
    version = type(row)._default_manager.values_list("version", flat=True).get(pk=row.pk)
    if found["count"] == version and (found["highest"] or 0) == version:
        return []
    return [f"{row} was changed {version} times, but has {found['count']} events up to {found['highest']}"]


def sensor_contradictions(sensor: Sensor) -> list[str]:
    """A sensor is in one kit or kept at one place, at every moment since the shop has it."""
    wired = sensor.wirings.values_list("wired_from", "wired_until")
    kept = sensor.spare_places.values_list("kept_from", "kept_until")
    # A span without length comes before the one that begins with it.
    spans = sorted((*wired, *kept), key=lambda span: (span[0], span[0] != span[1]))
    count = sum(1 for _, until in spans if until is None)
    return [
        *([] if count == 1 else [f"sensor {sensor} is in {count} places now"]),
        *(
            f"sensor {sensor} was nowhere, or in two places, at {until}"
            for (_, until), (start, _) in pairwise(spans)
            if until != start
        ),
        *history_is_whole(sensor),
    ]
