"""A stay going out: a kit loaded for a call and installed. Coming home is `coming_home`; both are named here."""

from collections.abc import Iterable, Mapping
from datetime import date

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.custody import move_kit, where
from kits.actions.records import check_overlaps
from kits.models import Kit, Place, Sensor, User
from kits.promises import Refused
from kits.readiness import late_note
from kits.saying import later
from sites.actions.coming_home import Count, Pull, hand_back, remove, settle
from sites.actions.common import (
    Reading,
    calls_left,
    check_dates,
    keep_readings,
    let_go,
    let_go_overlapping,
    needs_kit,
    out_stay,
    place,
    position_by_code,
    set_dates,
    stay_at_stage,
    with_calls,
)
from sites.actions.custody import refuse_if_gone, take_from_stay
from sites.actions.planning import new_stay
from sites.days import day_of
from sites.free import counted
from sites.models import Deployment, Installation, Occasion, ServiceCall, Stage

__all__ = ["Count", "Pull", "Reading", "hand_back", "install", "load", "remove", "settle"]


@action
def load(
    act: Act,
    *,
    kit: Kit,
    call: ServiceCall,
    technician: User,
    take_out_by: date | None = None,
    back_in_shop_by: date | None = None,
) -> Done:
    """The kit goes on a technician's truck for a call, planned before or not, taken from another truck or not.

    What was only planned gives way to what was really taken: plans of this kit in those days, and the call's plan for
    another kit.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    call = hold(call)
    stay = out_stay(kit)
    if stay is not None and stay.stage == Stage.LOADED and stay.call == call:
        return hand_over(act, kit, stay, technician)
    because = f"{kit} was loaded for {call} instead"
    gone = take_from_stay(act, kit, technician, because)
    stay = kit.deployments.running().filter(call=call, loaded_at=None).first()
    if stay is None:
        gone += make_room(act, call, kit)
        dates = check_dates(act, call.window_from, take_out_by, back_in_shop_by)
        stay = new_stay(act, kit, call, *dates, technician)
        gone += let_go_overlapping(act, kit, stay.holds_from, stay.holds_until, because)
    elif take_out_by or back_in_shop_by:
        set_dates(stay, *check_dates(act, call.window_from, take_out_by, back_in_shop_by))
    mark_loaded(act, stay, technician)
    needs_kit(call, "")
    sentence = f"{kit} is on {technician}'s truck for {call}{calls_left(gone, but=call)}"
    sentence += late_note(kit, stay.take_out_by, act.recorded_at)
    details = {"let_go": [lost.pk for lost in gone]}
    return record(act, "loaded", sentence, about=[kit, stay, call, *with_calls(gone)], details=details)


def hand_over(act: Act, kit: Kit, stay: Deployment, technician: User) -> Done:
    """A kit loaded for this very call changes trucks: the stay goes on with another technician."""
    held = kit.custody
    if held.technician == technician:
        raise Refused(f"{kit} is on {technician}'s truck for {stay.call} already.", code="already_loaded")
    if stay.loaded_at and act.happened_at < stay.loaded_at:
        raise Refused(f"{kit} was loaded {later(stay.loaded_at)}. Give a time after it.", code="order")
    move_kit(kit, Place.TRUCK, technician=technician, at=act.happened_at)
    stay.technician = technician
    stay.save(update_fields=["technician"])
    sentence = f"{kit} is on {technician}'s truck for {stay.call}, taken over from {where(held)}"
    return record(act, "loaded", sentence, about=[kit, stay, stay.call])


def make_room(act: Act, call: ServiceCall, kit: Kit) -> list[Deployment]:
    """The call's plan for another kit lets that kit go. Refused when the call is closed or a kit is out for it."""
    if call.closed_on:
        raise Refused(f"{str(call).capitalize()} is closed. Book a new call.", code="call_closed")
    other = call.deployments.running().select_related("kit").first()
    if other is None:
        return []
    if other.loaded_at is None:
        hold(other.kit)
        other = hold(other)
    if other.ended_at:
        return []
    if other.loaded_at:
        raise Refused(
            f"{str(call).capitalize()} has {other.kit} already ({other.stage.label.lower()}). "
            "Bring that stay to its end first.",
            code="call_has_kit",
        )
    let_go(act, other, f"{kit} was loaded for {call} instead")
    return [other]


def mark_loaded(act: Act, stay: Deployment, technician: User) -> None:
    """Write the loading into a stay."""
    stay.planned_at = min(stay.planned_at, act.happened_at)
    stay.loaded_at, stay.technician = act.happened_at, technician
    check_overlaps(stay)
    stay.save()


@action
def install(
    act: Act,
    *,
    kit: Kit,
    placements: Mapping[str, Sensor],
    take_out_by: date | None,
    back_in_shop_by: date | None,
    facts: Mapping[str, object],
    readings: Iterable[Reading] = (),
    call: ServiceCall | None = None,
) -> Done:
    """The kit went in: which sensor sits at which position (by code), where it takes its 24 V, what was agreed.

    `facts` are the fields of `Installation`. With `call`, a kit that nobody scanned onto a truck is loaded with it.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    stay = out_stay(kit)
    if stay is None and call is not None:
        stay = load_unwritten(act, kit, hold(call))
    if stay is None or stay.stage != Stage.LOADED:
        stay = stay_at_stage(kit, Stage.LOADED)
    if call is not None and stay.call != call:
        raise Refused(
            f"{kit} is loaded for {stay.call}, not for {call}. Load it for {call} first.", code="other_call"
        )
    if act.happened_at < stay.loaded_at:  # type: ignore[operator]
        raise Refused(
            f"The kit was loaded {later(stay.loaded_at)}. It cannot be installed before it is loaded.",
            code="order",
        )
    if not placements:
        raise Refused(
            {
                "placements": [
                    "Say at least for one sensor where it sits; without that its numbers mean nothing."
                ]
            }
        )
    start = day_of(act.happened_at, stay.unit.site.zone)
    dates = check_dates(act, start, take_out_by, back_in_shop_by)
    if dates != (stay.take_out_by, stay.back_in_shop_by):
        set_dates(stay, *dates)
    stay.installed_at = act.happened_at
    check_overlaps(stay)
    stay.save()
    move_kit(kit, Place.SITE, at=act.happened_at)
    for code, sensor in placements.items():
        place(stay, sensor, position_by_code(code), at=act.happened_at)
    write_installation(kit, stay, facts)
    remarks = keep_readings(stay, Occasion.INSTALL, readings, placements, act.happened_at)
    sentence = f"{kit} is installed for {stay.call}, {counted(len(placements), 'sensor')} placed"
    sentence += late_note(kit, stay.take_out_by, act.recorded_at)
    about = [kit, stay, stay.call, *placements.values()]
    return record(act, "installed", sentence, about=about, details={"remarks": remarks})


def load_unwritten(act: Act, kit: Kit, call: ServiceCall) -> Deployment | None:
    """Load a planned kit in the same breath as it is installed: it did ride there, though nobody scanned it."""
    stay = kit.deployments.running().filter(call=call, loaded_at=None).with_places().first()
    technician = act.did_by or (stay.technician if stay else None)
    if stay is None or technician is None:
        return None
    refuse_if_gone(kit)
    move_kit(kit, Place.TRUCK, technician=technician, at=act.happened_at)
    mark_loaded(act, stay, technician)
    return stay


def write_installation(kit: Kit, stay: Deployment, facts: Mapping[str, object]) -> None:
    """Keep what the technician found and did."""
    installation = Installation(deployment=stay, **facts)
    check_aux(kit, installation)
    installation.full_clean()
    installation.save()


def check_aux(kit: Kit, installation: Installation) -> None:
    """An auxiliary contact switches something only if it is fitted, and only as somebody agreed."""
    if not installation.aux_switches:
        return
    if not kit.has_aux_contact:
        raise Refused({"aux_switches": [f"{kit} has no auxiliary contact fitted."]})
    if not installation.aux_when or not installation.aux_agreed_by:
        raise Refused({"aux_agreed_by": ["Say when it switches, and who agreed to it."]})
