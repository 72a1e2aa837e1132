"""A manager corrects a recorded time: old and new stay visible in the event, and every row that met there moves."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from django.db.models import Model, QuerySet

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.records import check_overlaps
from kits.models import KeptAt, Kit, Place, SparePlace
from kits.promises import Refused
from kits.saying import later, said
from sites.books import contradictions
from sites.models import Deployment, Occasion, Stage

# Which time of a stay a stage is, in the order in which they happen.
TIMES = {
    Stage.LOADED: "loaded_at",
    Stage.INSTALLED: "installed_at",
    Stage.REMOVED: "removed_at",
    Stage.HANDED_BACK: "handed_back_at",
    Stage.CALLED_OFF: "called_off_at",
    Stage.NOT_RECOVERED: "not_recovered_at",
}
ENDS = {Stage.HANDED_BACK, Stage.CALLED_OFF, Stage.NOT_RECOVERED}

# Between which two places a kit went at that stage: (from, to).
WENT: dict[Stage, Callable[[str, str], bool]] = {
    Stage.LOADED: lambda before, after: after == Place.TRUCK,
    Stage.INSTALLED: lambda before, after: after == Place.SITE,
    Stage.REMOVED: lambda before, after: before == Place.SITE,
    Stage.HANDED_BACK: lambda before, after: before != Place.SITE and after in {Place.SHELF, Place.BENCH},
    Stage.CALLED_OFF: lambda before, after: before == Place.TRUCK,
    Stage.NOT_RECOVERED: lambda before, after: after == Place.MISSING,
}


@action
def correct_time(act: Act, *, stay: Deployment, stage: Stage, to: datetime, why: str) -> Done:
    """Move one recorded time of a stay. Custody, placements, readings and lost sensors that met there move with it."""
    kit = hold(stay.kit)
    stay = hold(stay, based_on=act.based_on, act=act)
    was = time_to_correct(act, stay, stage, to, why)
    check_between_neighbours(stay, stage, to)
    move_edges(edges(kit, stay, stage, was), was, to)
    if occasion := {Stage.INSTALLED: Occasion.INSTALL, Stage.REMOVED: Occasion.REMOVAL}.get(stage):
        stay.reference_readings.filter(occasion=occasion, read_at=was).update(read_at=to)
    if stage == Stage.REMOVED:
        stay.removed_at_is_known = True
    setattr(stay, TIMES[stage], to)
    stay.planned_at = min(stay.planned_at, to)
    if stage in ENDS:
        stay.ended_at = to
    check_overlaps(stay)
    stay.save()
    if stories := contradictions(kit):
        raise Refused(
            {"to": [f"Then the books would tell two stories: {stories[0]}. Correct that first."]},
            code="two_stories",
        )
    sentence = f"Time of “{stage.label.lower()}” corrected for {kit} on {stay.call}"
    details = {"stage": stage.value, "was": was, "is": to}
    return record(act, "time corrected", sentence, about=[stay, kit], why=why, details=details)


def time_to_correct(act: Act, stay: Deployment, stage: Stage, to: datetime, why: str) -> datetime:
    """The time recorded now; refused unless a manager gives a reason and another time that has passed."""
    if not act.typed_by.is_manager:
        raise Refused("A recorded time is corrected by a manager.", code="managers_only")
    if not why.strip():
        raise Refused({"why": ["Say why the time is corrected."]})
    was = getattr(stay, TIMES[stage]) if stage in TIMES else None
    if was is None:
        raise Refused(f"This stay was not {stage.label.lower()}, so there is no time to correct.")
    if to > act.recorded_at:
        raise Refused({"to": ["That time is still to come."]})
    if to == was:
        raise Refused({"to": ["That is the time already recorded."]})
    return was


def check_between_neighbours(stay: Deployment, stage: Stage, to: datetime) -> None:
    """The new time must stay between the stages before and after it."""
    order = [Stage.LOADED, Stage.INSTALLED, Stage.REMOVED]
    reached = [(step, getattr(stay, TIMES[step])) for step in order if step != stage]
    if stay.ended_at and stage not in ENDS:
        reached.append((stay.stage, stay.ended_at))
    rank = {step: number for number, step in enumerate(order)}
    for step, when in reached:
        if when is None:
            continue
        if rank.get(step, 3) < rank.get(stage, 3) and to < when:
            raise Refused(
                {"to": [f"The kit was {step.label.lower()} {later(when)}. Correct that time first."]}
            )
        if rank.get(step, 3) > rank.get(stage, 3) and to > when:
            raise Refused(
                {
                    "to": [
                        f"The kit was {step.label.lower()} before that, on {said(when)}. Correct that time first."
                    ]
                }
            )


@dataclass(frozen=True)
class Edge:
    """One row that starts or ends at the time to be corrected; `limit` is how far its other end lets it go."""

    row: Model
    field: str
    limit: datetime | None
    starts: bool

    def has_room(self, to: datetime) -> bool:
        if self.limit is None:
            return True
        return to <= self.limit if self.starts else to >= self.limit


def edges(kit: Kit, stay: Deployment, stage: Stage, was: datetime) -> list[Edge]:
    """Every row that starts or ends because of this step, the outer ones before the inner ones.

    A placement lies inside a wiring: its edges come after the wiring's.
    """
    if stage == Stage.CALLED_OFF and stay.loaded_at is None:
        return []
    found = custody_edges(kit, stage, was)
    if stage == Stage.HANDED_BACK:
        found += lost_sensor_edges(kit, was)
    if stage == Stage.INSTALLED:
        found += [starting(row, "placed") for row in stay.placements.filter(placed_from=was)]
    if stage in {Stage.REMOVED, Stage.NOT_RECOVERED}:
        found += [ending(row, "placed") for row in stay.placements.filter(placed_until=was)]
    return found


def custody_edges(kit: Kit, stage: Stage, was: datetime) -> list[Edge]:
    """Where one custody ended and the next began at this step; none where the kit stayed where it was."""
    rows = kit.custodies.order_by("held_from", "pk")
    for before, after in pairwise(rows):
        if after.held_from == was and WENT[stage](before.place, after.place):
            return [ending(before, "held"), starting(after, "held")]
    return []


def lost_sensor_edges(kit: Kit, was: datetime) -> list[Edge]:
    """Sensors that were not there at hand-back: out of the kit, and missing, from that instant on."""
    found = []
    for wiring in kit.wirings.filter(wired_until=was):
        missing: QuerySet[SparePlace] = wiring.sensor.spare_places.filter(kept_from=was, place=KeptAt.MISSING)
        for spare in missing:
            found += [ending(wiring, "wired"), starting(spare, "kept")]
    return found


def starting(row: Model, verb: str) -> Edge:
    return Edge(row, f"{verb}_from", getattr(row, f"{verb}_until"), starts=True)


def ending(row: Model, verb: str) -> Edge:
    return Edge(row, f"{verb}_until", getattr(row, f"{verb}_from"), starts=False)


def move_edges(found: list[Edge], was: datetime, to: datetime) -> None:
    """Move all edges; earlier: the ends before the starts, later: the starts before the ends, so that nothing overlaps."""
    for edge in found:
        if not edge.has_room(to):
            raise Refused(
                {"to": [f"Something else is recorded in between ({edge.row}). Correct that first."]},
                code="in_between",
            )
    for edge in sorted(found, key=lambda edge: edge.starts == (to < was)):
        setattr(edge.row, edge.field, to)
        edge.row.save(update_fields=[edge.field])
