"""A stay coming home: taken out, handed back; settled when nobody wrote the pull down."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.custody import follow_up, move_kit
from kits.actions.kits import change_condition
from kits.actions.sensors import unwire, whereabouts_of
from kits.models import Condition, KeptAt, Kit, Place, Sensor, User
from kits.promises import Refused
from kits.saying import later
from sites.actions.common import (
    Reading,
    calls_left,
    check_asked_on,
    close_stay,
    end_placements,
    keep_readings,
    let_go_begun,
    stay_at_stage,
    with_calls,
)
from sites.days import day_of
from sites.free import counted, shop_zone
from sites.models import (
    Deployment,
    HandBack,
    HandBackPlace,
    Installation,
    Occasion,
    Removal,
    Stage,
    WifiUse,
)

DAYS_TO_LOOK_AT_A_HOLE = 2


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
            f"The kit was installed {later(stay.installed_at)}. It cannot come out before it went in.",
            code="order",
        )
    if not pull.pulled_by.strip():
        raise Refused({"pulled_by": ["Say who pulled it, by name; it need not be one of us."]})
    here = stay.placements.filter(placed_until=None).select_related("position", "sensor")
    keep_readings(stay, Occasion.REMOVAL, readings, {row.position.code: row.sensor for row in here}, at)
    end_placements(stay, at)
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
        opened.append(f"Ports drilled: {drilled}, and nobody saw them closed: visit")
    elif pull.ports_closed is not None and pull.ports_closed < drilled:
        opened.append(f"Ports drilled: {drilled}, closed: {pull.ports_closed}: visit")
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
    taken_in = take_in(act, kit, stay, count)
    where = "checked on the truck" if count.where == HandBackPlace.TRUCK else "back in shop"
    rest = f"; missing: {', '.join(taken_in.missing)}" if taken_in.missing else ", nothing missing"
    about = [kit, stay, stay.call, *taken_in.lost, *with_calls(taken_in.let_go)]
    details = {"missing": taken_in.missing, "let_go": [plan.pk for plan in taken_in.let_go]}
    sentence = f"{kit} is {where}{rest}{calls_left(taken_in.let_go)}"
    return record(act, "handed back", sentence, about=about, details=details)


@dataclass(frozen=True, kw_only=True)
class TakenIn:
    """What came of a count: what is missing, in words; the sensors among it; the plans that let the kit go."""

    missing: list[str]
    lost: list[Sensor]
    let_go: list[Deployment]


def take_in(act: Act, kit: Kit, stay: Deployment, count: Count) -> TakenIn:
    """Count the kit in and end the stay."""
    if stay.removed_at and act.happened_at < stay.removed_at:
        raise Refused(
            f"The kit was taken out {later(stay.removed_at)}. It cannot be back before it came out.",
            code="order",
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
        received_by=(act.did_by_name or str(act.did_by or act.typed_by))[:120],
    )
    for what in still_to_do(stay, count, wired, missing):
        follow_up(act, kit, what)
    close_stay(stay, Stage.HANDED_BACK, at=act.happened_at)
    if count.needs_work:
        change_condition(act, kit, Condition.NEEDS_WORK, count.needs_work)
    if count.where == HandBackPlace.SHOP:
        move_kit(kit, Place.BENCH if missing or count.needs_work else Place.SHELF, at=act.happened_at)
    gone = let_go_begun(act, kit, f"{kit} came home {how_late(act, stay)}")
    return TakenIn(missing=missing, lost=lost, let_go=gone)


def wifi_was_used(stay: Deployment) -> bool:
    """Whether the house lent the kit its Wi-Fi; nobody wrote down the install: perhaps."""
    installation = Installation.objects.filter(deployment=stay).first()
    return installation is None or installation.wifi != WifiUse.NONE


def still_to_do(stay: Deployment, count: Count, wired: set[Sensor], missing: list[str]) -> list[str]:
    """What a count leaves open about a kit, one sentence each."""
    found = [f"Missing at hand-back of {stay.call}: {what}" for what in missing]
    for sensor in sorted(count.sensors - wired, key=lambda sensor: sensor.rom):
        found.append(f"Sensor {sensor} came home with it; the books have it {whereabouts_of(sensor)}")
    unwiped = [] if count.account_wiped else ["Account"]
    if wifi_was_used(stay) and not count.wifi_wiped:
        unwiped.append("Wi-Fi")
    if unwiped:
        found.append(f"{' and '.join(unwiped)} of the last house still to be wiped ({stay.call})")
    return found


def how_late(act: Act, stay: Deployment) -> str:
    """How late a kit came home, in days of the shop."""
    late_by = (day_of(act.happened_at, shop_zone()) - stay.back_in_shop_by).days
    return f"{counted(late_by, 'day')} late" if late_by > 0 else "after its next call had begun"


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

    With `pulled_at` unknown the pull is put at the moment the kit was found, and marked as not known. Counted on a
    truck, it is on the truck of the one who did it.
    """
    kit = hold(kit, based_on=act.based_on, act=act)
    stay = stay_at_stage(kit, Stage.INSTALLED, Stage.REMOVED)
    place, carrier = Place.BENCH, None
    if count.where == HandBackPlace.TRUCK:
        place, carrier = Place.TRUCK, act.did_by
        if carrier is None:
            raise Refused({"did_by": ["Say on whose truck the kit is now."]})
    if customer_asked_on:
        check_asked_on(act, stay, customer_asked_on)
        stay.customer_asked_on = customer_asked_on
    if stay.stage == Stage.INSTALLED:
        at = pulled_at or act.happened_at
        if at > act.happened_at:
            raise Refused(
                {"pulled_at": ["It was here by then. Give an earlier time, or leave it as not known."]}
            )
        stay.removed_at_is_known = pulled_at is not None
        take_out(act, kit, stay, pull, at=at)
        move_kit(kit, place, technician=carrier, at=at)
    elif carrier is not None:
        move_kit(kit, place, technician=carrier, at=act.happened_at)
    taken_in = take_in(act, kit, stay, count)
    sentence = (
        f"{kit} was found here; the books had it at a house for {stay.call}{calls_left(taken_in.let_go)}"
    )
    about = [kit, stay, stay.call, *taken_in.lost, *with_calls(taken_in.let_go)]
    details = {"pulled_at": pulled_at, "pulled_by": pull.pulled_by, "missing": taken_in.missing}
    return record(act, "settled", sentence, about=about, details=details)
