"""A manager corrects a recorded time: old and new stay visible in the event, and every row that met there moves."""

from datetime import datetime

from kits.actions.acting import Act, Done, action, hold, record
from kits.models import Kit
from kits.promises import Refused
from sites.models import Deployment, Stage

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


@action
def correct_time(act: Act, *, stay: Deployment, stage: Stage, to: datetime, why: str) -> Done:
    """Move one recorded time of a stay. Custody, placements and wiring that changed at the old instant move with it."""
    kit = hold(stay.kit)
    stay = hold(stay, based_on=act.based_on, act=act)
    if not act.typed_by.is_manager:
        raise Refused("A recorded time is corrected by a manager.", code="managers_only")
    if not why.strip():
        raise Refused({"why": ["Say why the time is corrected."]})
    was = getattr(stay, TIMES[stage])
    if was is None:
        raise Refused(f"This stay was not {stage.label.lower()} yet, so there is no time to correct.")
    if to > act.recorded_at:
        raise Refused({"to": ["That time is still to come."]})
    if to == was:
        raise Refused({"to": ["That is the time already recorded."]})
    check_between_neighbours(stay, stage, to)
    check_room(kit, stay, was, to)
    if stage == Stage.REMOVED:
        stay.removed_at_is_known = True
    move_edges(kit, stay, was, to)
    setattr(stay, TIMES[stage], to)
    stay.planned_at = min(stay.planned_at, to)
    if stage in ENDS:
        stay.ended_at = to
    stay.full_clean()
    stay.save()
    sentence = f"Time of “{stage.label.lower()}” corrected for {kit} on {stay.call}"
    details = {"stage": stage.value, "was": was, "is": to}
    return record(act, "time corrected", sentence, about=[stay, kit], why=why, details=details)


def check_between_neighbours(stay: Deployment, stage: Stage, to: datetime) -> None:
    """The new time must stay between the stages before and after it."""
    order = [Stage.LOADED, Stage.INSTALLED, Stage.REMOVED]
    reached = [(step, getattr(stay, TIMES[step])) for step in order if step != stage]
    if stay.ended_at and stage not in ENDS:
        reached.append((stay.stage, stay.ended_at))
    rank = {step: number for number, step in enumerate([*order, Stage.HANDED_BACK])}
    for step, when in reached:
        if when is None:
            continue
        if rank.get(step, 3) < rank.get(stage, 3) and to < when:
            raise Refused(
                {"to": [f"The kit was {step.label.lower()} later than that. Correct that time first."]}
            )
        if rank.get(step, 3) > rank.get(stage, 3) and to > when:
            raise Refused({"to": [f"The kit was {step.label.lower()} before that. Correct that time first."]})


def edges(kit: Kit, stay: Deployment, was: datetime):  # type: ignore[no-untyped-def]
    """Every row with a start or an end at `was` that belongs to this kit's step, with the fields' names."""
    spans = (
        (kit.custodies.all(), "held_from", "held_until"),
        (stay.placements.all(), "placed_from", "placed_until"),
        (kit.wirings.all(), "wired_from", "wired_until"),
    )
    for rows, start, until in spans:
        yield rows, start, until, list(rows.filter(**{start: was})), list(rows.filter(**{until: was}))


def check_room(kit: Kit, stay: Deployment, was: datetime, to: datetime) -> None:
    """Nothing else that is recorded may lie between the old time and the new one."""
    for _, start, until, starting, ending in edges(kit, stay, was):
        too_late = [row for row in starting if getattr(row, until) and getattr(row, until) < to]
        too_early = [row for row in ending if getattr(row, start) > to]
        if too_late or too_early:
            other = (too_late or too_early)[0]
            raise Refused({"to": [f"Something else is recorded in between ({other}). Correct that first."]})


def move_edges(kit: Kit, stay: Deployment, was: datetime, to: datetime) -> None:
    """Move what ended and began at `was`; the ends first or the starts first, so that spans never overlap."""
    for rows, start, until, starting, ending in edges(kit, stay, was):
        ends = (rows.filter(pk__in=[row.pk for row in ending]), {until: to})
        starts = (rows.filter(pk__in=[row.pk for row in starting]), {start: to})
        for found, change in (ends, starts) if to < was else (starts, ends):
            found.update(**change)
