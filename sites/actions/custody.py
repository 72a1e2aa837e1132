"""Kits from hand to hand: truck to truck, onto the shelf, to the bench, missing, found, retired."""

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.custody import move_kit, where
from kits.actions.kits import change_condition
from kits.actions.records import check_overlaps
from kits.models import Condition, Event, Kit, Place, User
from kits.promises import Refused
from sites.actions.common import (
    calls_left,
    close_stay,
    end_placements,
    let_go,
    let_go_all,
    needs_kit,
    out_stay,
    refuse_before_last_stay,
    with_calls,
)
from sites.actions.planning import new_stay
from sites.models import Deployment, ServiceCall, Stage


def take_from_stay(act: Act, kit: Kit, technician: User, because: str) -> list[Deployment]:
    """Move a held kit onto a truck; a stay it was loaded for lets it go. Refused while it is in a house or gone."""
    refuse_before_last_stay(kit, act.happened_at)
    stay = out_stay(kit)
    if kit.custody.place == Place.RETIRED:
        raise Refused(
            f"{kit} is retired. Take another kit; a manager can bring it back to the bench.", code="retired"
        )
    if kit.custody.place == Place.MISSING:
        raise Refused(
            f"{kit} is missing in the books. If you hold it, say so with “Found again” first.", code="missing"
        )
    if stay is not None and stay.stage == Stage.INSTALLED:
        raise Refused(
            f"{kit} is installed at {stay.unit.site} for {stay.call}. If you hold it in your hand, "
            "somebody pulled it without writing it down: settle that first.",
            code="still_in_house",
        )
    if stay is not None and stay.stage == Stage.REMOVED:
        raise Refused(
            f"{kit} came out of {stay.unit.site} and was not handed back. Count it first.", code="wrong_stage"
        )
    gone = []
    if stay is not None:
        let_go(act, stay, because)
        gone.append(stay)
    move_kit(kit, Place.TRUCK, technician=technician, at=act.happened_at)
    return gone


@action
def take_onto_truck(act: Act, *, kit: Kit, technician: User) -> Done:
    """A technician takes a kit, from the shelf or from somebody else's truck; a call that loses it needs a kit."""
    kit = hold(kit, based_on=act.based_on, act=act)
    held = kit.custody
    if held.place == Place.TRUCK and held.technician == technician:
        raise Refused(f"{kit} is on {technician}'s truck already.", code="already_there")
    gone = take_from_stay(act, kit, technician, f"{kit} was taken onto {technician}'s truck")
    sentence = f"{kit} taken from {where(held)} onto {technician}'s truck{calls_left(gone)}"
    about = [kit, *with_calls(gone)]
    details = {
        "from_place": held.place,
        "from_technician": held.technician_id,
        "let_go": [stay.pk for stay in gone],
    }
    return record(act, "taken onto truck", sentence, about=about, details=details)


@action
def undo_take(act: Act, *, event: Event) -> Done:
    """The office sends a kit back to the truck it was taken from, with the stay it was loaded for."""
    if event.what != "taken onto truck" or event.details["from_place"] != Place.TRUCK:
        raise Refused("Only a kit taken from another truck can be sent back to it.", code="not_a_take")
    kit_id = event.abouts.get(kind="kit").subject_id
    kit = hold(Kit.objects.get(pk=kit_id), based_on=act.based_on, act=act)
    latest = Event.objects.filter(abouts__kind="kit", abouts__subject_id=kit_id).last()
    if latest != event:
        raise Refused(
            f"Other things happened to {kit} since, so this can no longer be undone. Load it anew.",
            code="stale",
        )
    technician = User.objects.get(pk=event.details["from_technician"])
    move_kit(kit, Place.TRUCK, technician=technician, at=act.happened_at)
    about: list[Kit | Deployment | ServiceCall] = [kit]
    for lost in Deployment.objects.filter(pk__in=event.details["let_go"]).select_related("call"):
        call = hold(lost.call)  # somebody may be planning another kit for it at this moment
        if call.closed_on or call.deployments.running().exists():
            continue
        stay = new_stay(act, kit, call, lost.take_out_by, lost.back_in_shop_by, technician)
        stay.loaded_at = act.happened_at
        check_overlaps(stay)
        stay.save()
        needs_kit(call, "")
        about += [stay, call]
    return record(act, "take undone", f"{kit} goes back to {technician}'s truck", about=about)


@action
def put_on_shelf(act: Act, *, kit: Kit) -> Done:
    """The kit is on the shelf. A stay it was only loaded for is called off; one from a house must be handed back."""
    kit = hold(kit, based_on=act.based_on, act=act)
    refuse_if_gone(kit)
    refuse_before_last_stay(kit, act.happened_at)
    stay = out_stay(kit)
    refuse_if_from_a_house(kit, stay)
    move_kit(kit, Place.SHELF, at=act.happened_at)
    gone = [stay] if stay is not None else []
    for lost in gone:
        let_go(act, lost, f"{kit} was put back on the shelf")
    sentence = f"{kit} put on the shelf{calls_left(gone)}"
    return record(act, "put on shelf", sentence, about=[kit, *with_calls(gone)])


@action
def send_to_bench(act: Act, *, kit: Kit, needs_work: bool = False, why: str = "") -> Done:
    """The kit is on the bench, to be checked or, with a reason, to be mended."""
    kit = hold(kit, based_on=act.based_on, act=act)
    refuse_if_gone(kit)
    refuse_before_last_stay(kit, act.happened_at)
    stay = out_stay(kit)
    refuse_if_from_a_house(kit, stay)
    move_kit(kit, Place.BENCH, at=act.happened_at)
    if needs_work:
        change_condition(act, kit, Condition.NEEDS_WORK, why)
    gone = [stay] if stay is not None else []
    for lost in gone:
        let_go(act, lost, f"{kit} went to the bench")
    sentence = f"{kit} is on the bench{calls_left(gone)}"
    return record(act, "sent to bench", sentence, about=[kit, *with_calls(gone)], why=why)


def refuse_if_gone(kit: Kit) -> None:
    if kit.custody.place == Place.MISSING:
        raise Refused(
            f"{kit} is missing in the books. If it is here, say so with “Found again”.", code="missing"
        )
    if kit.custody.place == Place.RETIRED:
        raise Refused(f"{kit} is retired.", code="retired")


def refuse_if_from_a_house(kit: Kit, stay: Deployment | None) -> None:
    if stay is not None and stay.stage == Stage.INSTALLED:
        raise Refused(
            f"The books have {kit} at {stay.unit.site}. If it is here, settle when it was pulled and by whom.",
            code="still_in_house",
        )
    if stay is not None and stay.stage == Stage.REMOVED:
        raise Refused(
            f"{kit} came out of a house. Hand it back: count its sensors and parts.", code="wrong_stage"
        )


@action
def mark_missing(act: Act, *, kit: Kit, why: str) -> Done:
    """Nobody knows where the kit is. From a stay that is *not recovered*, which is the manager's."""
    kit = hold(kit, based_on=act.based_on, act=act)
    refuse_if_gone(kit)
    refuse_before_last_stay(kit, act.happened_at)
    stay = out_stay(kit)
    if stay is not None and stay.stage != Stage.LOADED:
        raise Refused(
            f"{kit} was at {stay.unit.site}. A manager closes that stay as not recovered.", code="wrong_stage"
        )
    if not why.strip():
        raise Refused({"why": ["Say where it was looked for."]})
    move_kit(kit, Place.MISSING, at=act.happened_at)
    gone = [stay] if stay is not None else []
    for lost in gone:
        let_go(act, lost, f"{kit} is missing")
    gone += let_go_all(act, kit, f"{kit} is missing")
    sentence = f"{kit} is missing{calls_left(gone)}"
    return record(act, "missing", sentence, about=[kit, *with_calls(gone)], why=why)


@action
def found_again(act: Act, *, kit: Kit) -> Done:
    """A missing kit turned up; it goes to the bench, never straight to the shelf."""
    kit = hold(kit, based_on=act.based_on, act=act)
    if kit.custody.place != Place.MISSING:
        raise Refused(f"{kit} is not missing: {kit.custody.word}.", code="not_missing")
    move_kit(kit, Place.BENCH, at=act.happened_at)
    return record(act, "found again", f"{kit} found again and put on the bench", about=[kit])


@action
def retire(act: Act, *, kit: Kit, why: str) -> Done:
    """The kit is taken out of use for good. Its plans let it go."""
    kit = hold(kit, based_on=act.based_on, act=act)
    if not act.typed_by.is_manager:
        raise Refused("A kit is retired by a manager.", code="managers_only")
    if kit.custody.place not in {Place.SHELF, Place.BENCH, Place.MISSING}:
        raise Refused(
            f"{kit} is on {kit.custody.word}. Bring it to the shelf or the bench first.", code="wrong_place"
        )
    if not why.strip():
        raise Refused({"why": ["Say why it is retired."]})
    move_kit(kit, Place.RETIRED, at=act.happened_at)
    gone = let_go_all(act, kit, f"{kit} was retired")
    sentence = f"{kit} retired{calls_left(gone)}"
    return record(act, "retired", sentence, about=[kit, *with_calls(gone)], why=why)


@action
def bring_back(act: Act, *, kit: Kit, why: str) -> Done:
    """A manager takes a retired kit into use again; it goes to the bench."""
    kit = hold(kit, based_on=act.based_on, act=act)
    if not act.typed_by.is_manager:
        raise Refused("A retired kit is brought back by a manager.", code="managers_only")
    if kit.custody.place != Place.RETIRED:
        raise Refused(f"{kit} is not retired: {kit.custody.word}.", code="not_retired")
    move_kit(kit, Place.BENCH, at=act.happened_at)
    return record(act, "brought back", f"{kit} brought back to the bench", about=[kit], why=why)


@action
def not_recovered(act: Act, *, stay: Deployment, why: str) -> Done:
    """A manager gives a kit up that did not come home; nobody knows where it is."""
    kit = hold(stay.kit)
    stay = hold(stay, based_on=act.based_on, act=act)
    if not act.typed_by.is_manager:
        raise Refused("A kit is given up by a manager.", code="managers_only")
    if stay.stage not in {Stage.LOADED, Stage.INSTALLED, Stage.REMOVED}:
        raise Refused(
            f"This stay is {stay.stage.label.lower()}; there is no kit to give up.", code="wrong_stage"
        )
    if not why.strip():
        raise Refused({"why": ["Say what was tried to get it back."]})
    end_placements(stay, act.happened_at)
    move_kit(kit, Place.MISSING, at=act.happened_at)
    close_stay(stay, Stage.NOT_RECOVERED, at=act.happened_at, why=why)
    gone = let_go_all(act, kit, f"{kit} was not recovered")
    about = [stay, kit, stay.call, *with_calls(gone)]
    sentence = f"{kit} was not recovered from {stay.call}{calls_left(gone)}"
    return record(act, "not recovered", sentence, about=about, why=why)
