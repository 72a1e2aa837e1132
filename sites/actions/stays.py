"""A stay in the hands of technicians: loaded, installed, taken out, handed back; settled when nobody wrote it down."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.custody import follow_up, move_kit
from kits.actions.kits import change_condition
from kits.actions.sensors import unwire
from kits.models import Condition, KeptAt, Kit, Place, Sensor, User
from kits.promises import Refused
from sites.actions.common import (
    Reading,
    check_dates,
    close_stay,
    keep_readings,
    let_go_begun,
    let_go_overlapping,
    needs_kit,
    out_stay,
    place,
    position_by_code,
    set_dates,
    stay_at_stage,
)
from sites.actions.custody import refuse_if_gone, take_from_stay
from sites.actions.planning import check_open, new_stay
from sites.days import day_of
from sites.free import shop_zone
from sites.models import (
    Deployment,
    HandBack,
    HandBackPlace,
    Installation,
    Occasion,
    Removal,
    ServiceCall,
    Stage,
)

DAYS_TO_LOOK_AT_A_HOLE = 2


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
    """The kit goes on a technician's truck for a call, planned before or not, taken from another truck or not."""
    kit = hold(kit, based_on=act.based_on, act=act)
    call = hold(call)
    gone = take_from_stay(act, kit, technician, for_call=call)
    stay = kit.deployments.running().filter(call=call, loaded_at=None).first()
    if stay is None:
        check_open(call)
        dates = check_dates(act, call.window_from, take_out_by, back_in_shop_by)
        stay = new_stay(act, kit, call, *dates, technician)
        because = f"{kit} was loaded for {call} instead"
        gone += let_go_overlapping(act, kit, stay.holds_from, stay.holds_until, because)
    elif take_out_by or back_in_shop_by:
        set_dates(stay, *check_dates(act, call.window_from, take_out_by, back_in_shop_by))
    stay.planned_at = min(stay.planned_at, act.happened_at)
    stay.loaded_at, stay.technician = act.happened_at, technician
    stay.full_clean()
    stay.save()
    needs_kit(call, "")
    sentence = f"{kit} is on {technician}'s truck for {call}"
    about = [kit, stay, call, *(other for lost in gone for other in (lost, lost.call))]
    return record(act, "loaded", sentence, about=about, details={"let_go": [lost.pk for lost in gone]})


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
    if act.happened_at < stay.loaded_at:  # type: ignore[operator]
        raise Refused(
            "The kit was loaded later than that. It cannot be installed before it is loaded.", code="order"
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
    stay.full_clean()
    stay.save()
    move_kit(kit, Place.SITE, at=act.happened_at)
    for code, sensor in placements.items():
        place(stay, sensor, position_by_code(code), at=act.happened_at)
    installation = Installation(deployment=stay, **facts)
    check_aux(kit, installation)
    installation.full_clean()
    installation.save()
    remarks = keep_readings(stay, Occasion.INSTALL, readings, placements, act.happened_at)
    sentence = f"{kit} is installed for {stay.call}, {len(placements)} sensors placed"
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
    stay.planned_at = min(stay.planned_at, act.happened_at)
    stay.loaded_at, stay.technician = act.happened_at, technician
    stay.save()
    return stay


def check_aux(kit: Kit, installation: Installation) -> None:
    """An auxiliary contact switches something only if it is fitted, and only as somebody agreed."""
    if not installation.aux_switches:
        return
    if not kit.has_aux_contact:
        raise Refused({"aux_switches": [f"{kit} has no auxiliary contact fitted."]})
    if not installation.aux_when or not installation.aux_agreed_by:
        raise Refused({"aux_agreed_by": ["Say when it switches, and who agreed to it."]})


@dataclass(frozen=True, kw_only=True)
class Pull:
    """What was seen and done when the kit came out; None: nobody saw."""

    pulled_by: str
    ports_closed: int | None = None
    wire_restored: bool | None = None
    system_ran: bool | None = None
    notes: str = ""


@action
def remove(
    act: Act,
    *,
    kit: Kit,
    carrier: User,
    pull: Pull,
    readings: Iterable[Reading] = (),
) -> Done:
    """The kit came out of the house and rides on the carrier's truck until it is handed back."""
    kit = hold(kit, based_on=act.based_on, act=act)
    stay = stay_at_stage(kit, Stage.INSTALLED)
    if carrier is None:
        raise Refused({"carrier": ["Say on whose truck the kit rides now."]})
    opened = take_out(act, kit, stay, pull, at=act.happened_at, readings=readings)
    move_kit(kit, Place.TRUCK, technician=carrier, at=act.happened_at)
    sentence = f"{kit} is taken out and rides on {carrier}'s truck"
    return record(act, "removed", sentence, about=[kit, stay, stay.call], details={"still_to_do": opened})


def take_out(
    act: Act, kit: Kit, stay: Deployment, pull: Pull, *, at: datetime, readings: Iterable[Reading] = ()
) -> list[str]:
    """End the placements and the time in the house; what was left open becomes follow-ups, which are returned."""
    if at < stay.installed_at:  # type: ignore[operator]
        raise Refused(
            "The kit was installed later than that. It cannot come out before it went in.", code="order"
        )
    if not pull.pulled_by.strip():
        raise Refused({"pulled_by": ["Say who pulled it, by name; it need not be one of us."]})
    latest = stay.placements.order_by("-placed_from").first()
    if latest and at < latest.placed_from:
        raise Refused("A sensor was moved later than that. Give a time after the last move.", code="order")
    here = stay.placements.filter(placed_until=None).select_related("position", "sensor")
    keep_readings(stay, Occasion.REMOVAL, readings, {row.position.code: row.sensor for row in here}, at)
    stay.placements.filter(placed_until=None).update(placed_until=at)
    stay.removed_at = at
    stay.save()
    Removal.objects.create(
        deployment=stay,
        pulled_by=pull.pulled_by.strip()[:120],
        ports_closed=pull.ports_closed,
        wire_restored=pull.wire_restored,
        system_ran=pull.system_ran,
        notes=pull.notes,
    )
    opened = open_ends(stay, pull)
    due_on = day_of(act.recorded_at, stay.unit.site.zone) + timedelta(days=DAYS_TO_LOOK_AT_A_HOLE)
    for what in opened:
        follow_up(act, kit, f"{what} ({stay.call})", due_on=due_on)
    return opened


def open_ends(stay: Deployment, pull: Pull) -> list[str]:
    """What somebody must go back for: holes not closed, wires not put back, a system nobody saw running."""
    drilled = stay.installation.ports_drilled
    opened = []
    if drilled and pull.ports_closed is None:
        opened.append(f"{drilled} ports were drilled and nobody saw them closed: visit")
    elif pull.ports_closed is not None and pull.ports_closed < drilled:
        opened.append(f"{drilled} ports were drilled, only {pull.ports_closed} closed: visit")
    if not pull.wire_restored:
        opened.append("Wires at the 24 V hook-up were not seen put back: visit")
    if not pull.system_ran:
        opened.append("Nobody saw the system run afterwards: call the customer")
    return opened


@dataclass(frozen=True, kw_only=True)
class Count:
    """What was counted and looked at when the kit came home."""

    where: HandBackPlace
    sensors: frozenset[Sensor] = field(default_factory=frozenset)
    missing_parts: tuple[str, ...] = ()
    account_wiped: bool = False
    wifi_wiped: bool = False
    condition_note: str = ""
    needs_work: str = ""


@action
def hand_back(act: Act, *, kit: Kit, count: Count) -> Done:
    """The kit is back, counted, inspected: in the shop, or checked on the truck for a move from house to house."""
    kit = hold(kit, based_on=act.based_on, act=act)
    stay = stay_at_stage(kit, Stage.REMOVED)
    missing, gone = take_in(act, kit, stay, count)
    sentence = (
        f"{kit} is back in shop, nothing missing"
        if not missing
        else f"{kit} is back in shop; missing: {', '.join(missing)}"
    )
    if count.where == HandBackPlace.TRUCK:
        sentence = sentence.replace("back in shop", "checked on the truck")
    about = [kit, stay, stay.call, *(row for plan in gone for row in (plan, plan.call))]
    return record(act, "handed back", sentence, about=about, details={"missing": missing})


def take_in(act: Act, kit: Kit, stay: Deployment, count: Count) -> tuple[list[str], list[Deployment]]:
    """Count the kit in and end the stay; returns what is missing and the plans that let the kit go."""
    if act.happened_at < stay.removed_at:  # type: ignore[operator]
        raise Refused(
            "The kit was taken out later than that. It cannot be back before it came out.", code="order"
        )
    wired = {wiring.sensor for wiring in kit.wirings.filter(wired_until=None).select_related("sensor")}
    lost = sorted(wired - count.sensors, key=lambda sensor: sensor.rom)
    missing = [f"sensor {sensor}" for sensor in lost] + list(count.missing_parts)
    for sensor in lost:
        unwire(sensor, KeptAt.MISSING, at=act.happened_at, why=f"not there at hand-back of {stay.call}")
    HandBack.objects.create(
        deployment=stay,
        where=count.where,
        sensors_expected=len(wired),
        sensors_counted=len(wired) - len(lost),
        missing=missing,
        account_wiped=count.account_wiped,
        wifi_wiped=count.wifi_wiped,
        condition_note=count.condition_note[:200],
        received_by=str(act.did_by or act.did_by_name)[:120],
    )
    for what in missing:
        follow_up(act, kit, f"Missing at hand-back of {stay.call}: {what}")
    if not (count.account_wiped and count.wifi_wiped):
        follow_up(act, kit, f"Account and Wi-Fi of the last house still to be wiped ({stay.call})")
    close_stay(stay, Stage.HANDED_BACK, at=act.happened_at)
    if count.needs_work:
        change_condition(act, kit, Condition.NEEDS_WORK, count.needs_work)
    if count.where == HandBackPlace.SHOP:
        move_kit(kit, Place.BENCH if missing or count.needs_work else Place.SHELF, at=act.happened_at)
    late_by = (day_of(act.happened_at, shop_zone()) - stay.back_in_shop_by).days
    late = (
        f"{late_by} day{'' if late_by == 1 else 's'} late" if late_by > 0 else "after its next call had begun"
    )
    return missing, let_go_begun(act, kit, f"{kit} came home {late}")


@action
def settle(
    act: Act,
    *,
    kit: Kit,
    pull: Pull,
    count: Count,
    pulled_at: datetime | None = None,
    customer_asked_on: date | None = None,
) -> Done:
    """A kit is here that the books have in a house: write the pull (when known) and the hand-back at once.

    With `pulled_at` unknown the pull is put at the moment the kit was found, and marked as not known.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    stay = stay_at_stage(kit, Stage.INSTALLED, Stage.REMOVED)
    if stay.stage == Stage.INSTALLED:
        at = pulled_at or act.happened_at
        if at > act.happened_at:
            raise Refused(
                {"pulled_at": ["It was here by then. Give an earlier time, or leave it as not known."]}
            )
        stay.removed_at_is_known = pulled_at is not None
        if customer_asked_on:
            stay.customer_asked_on = customer_asked_on
        take_out(act, kit, stay, pull, at=at)
        move_kit(kit, Place.BENCH, at=at)
    missing, gone = take_in(act, kit, stay, count)
    sentence = f"{kit} was found here; the books had it at a house for {stay.call}"
    about = [kit, stay, stay.call, *(row for plan in gone for row in (plan, plan.call))]
    return record(act, "settled", sentence, about=about, details={"pulled_at": pulled_at, "missing": missing})
