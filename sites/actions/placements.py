"""Sensors that change places while a kit is in a house."""

from django.db.models import QuerySet

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.closing import due_now
from kits.actions.custody import move_spare
from kits.actions.sensors import whereabouts_of, wire
from kits.models import DueNowReason, KeptAt, Kit, Place, Sensor, User
from kits.promises import Refused
from kits.saying import later
from sites.actions.common import out_stay, place, stay_at_stage
from sites.models import Placement, Position, Stage


@action
def move_sensor(
    act: Act, *, kit: Kit, sensor: Sensor, position: Position | None, exchange: bool = False
) -> Done:
    """A sensor sits somewhere else from now on; None: it measures nothing any more (it fell off, it was taken off).

    With `exchange`, a sensor that sits there already goes where this one came from: two leads were swapped.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    stay = stay_at_stage(kit, Stage.INSTALLED)
    if stay.installed_at and act.happened_at < stay.installed_at:
        raise Refused(
            f"The kit was installed {later(stay.installed_at)}. Give a time after it.", code="order"
        )
    here = open_placement(stay.placements.filter(sensor=sensor))
    if here is None and position is None:
        raise Refused(f"Sensor {sensor} measures nothing in this stay.")
    if here is not None and position == here.position:
        raise Refused(f"Sensor {sensor} sits at {position} already.", code="already_there")
    there = open_placement(stay.placements.filter(position=position)) if position else None
    if there is not None and not (exchange and here):
        raise Refused(
            f"Sensor {there.sensor} sits at {position}. Were the two swapped? Then tick “exchange”; else move that one first.",
            code="position_taken",
        )
    for row in (here, there):
        if row is not None:
            end(row, act)
    if position is not None:
        place(stay, sensor, position, at=act.happened_at)
    if there is not None and here is not None:
        place(stay, there.sensor, here.position, at=act.happened_at)
    came_from = f" from {here.position}" if here else ""
    sentence = (
        f"Sensor {sensor} moved{came_from} to {position}"
        if position
        else f"Sensor {sensor} taken off{came_from}"
    )
    if there is not None and here is not None:
        sentence = f"Sensors {sensor} and {there.sensor} exchanged: {position} and {here.position}"
    about = [kit, stay, sensor, *([there.sensor] if there else [])]
    return record(act, "sensor moved", sentence, about=about)


def open_placement(rows: QuerySet[Placement]) -> Placement | None:
    """The one of `rows` that still holds."""
    return rows.filter(placed_until=None).select_related("sensor", "position").first()


def end(row: Placement, act: Act) -> None:
    """Close a placement at the act's instant."""
    if act.happened_at < row.placed_from:
        raise Refused(f"{row} began {later(row.placed_from)}. Give a time after it.", code="order")
    row.placed_until = act.happened_at
    row.save(update_fields=["placed_until"])


@action
def swap_lead(
    act: Act,
    *,
    kit: Kit,
    old: Sensor,
    new: Sensor,
    why: str,
    cut_by: str = "",
    old_goes_to: KeptAt = KeptAt.TRUCK,
    technician: User | None = None,
) -> Done:
    """One lead is replaced by a spare: the wiring, and in a stay the placement, follow. Its offset does not.

    The newcomer was handled and mended in: it is due for a check at once, whatever its date says.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    old, new = hold(old), hold(new)
    wiring = old.wirings.filter(kit=kit, wired_until=None).first()
    if wiring is None:
        raise Refused(f"Sensor {old} is not in {kit}; it is {whereabouts_of(old)}.")
    if taken := new.wiring:
        raise Refused(
            f"Sensor {new} is in {taken.kit}, terminal {taken.terminal}. Choose a spare one.",
            code="in_another_kit",
        )
    if not why.strip():
        raise Refused({"why": ["Say why the lead was replaced."]})
    if act.happened_at < wiring.wired_from:
        raise Refused(
            f"Sensor {old} was wired in {later(wiring.wired_from)}. Give a time after it.", code="order"
        )
    if old_goes_to == KeptAt.TRUCK and technician is None:
        custody = kit.custody
        technician = custody.technician if custody.place == Place.TRUCK else act.did_by or act.typed_by
    stay = out_stay(kit)
    sits = open_placement(stay.placements.filter(sensor=old)) if stay else None
    if sits is not None:
        end(sits, act)
    wiring.wired_until = act.happened_at
    wiring.save(update_fields=["wired_until"])
    move_spare(
        old,
        old_goes_to,
        at=act.happened_at,
        technician=technician if old_goes_to == KeptAt.TRUCK else None,
        why=why,
    )
    wire(kit, new, wiring.terminal, at=act.happened_at)
    due_now(act, new, DueNowReason.SWAPPED, f"in place of {old}")
    if sits is not None and stay is not None:
        place(stay, new, sits.position, at=act.happened_at)
    where = f" at {sits.position}" if sits else f" on terminal {wiring.terminal}"
    about = [kit, old, new, *([stay] if stay else [])]
    details = {"cut_by": cut_by}
    return record(
        act,
        "lead swapped",
        f"Sensor {new} replaces {old}{where} of {kit}",
        about=about,
        details=details,
        why=why,
    )
