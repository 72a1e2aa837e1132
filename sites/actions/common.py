"""What the actions on stays share: finding the stay a kit is on, letting plans go, placing sensors, readings."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Max

from kits.actions.acting import Act
from kits.actions.records import check_overlaps
from kits.models import Kit, Place, Sensor, Shop
from kits.promises import Refused
from kits.registers import doubt_of
from kits.saying import later
from sites.days import day_of, say_day
from sites.free import hold_of, shop_zone
from sites.models import Deployment, Occasion, Placement, Position, ReferenceReading, ServiceCall, Stage


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a sensor showed at a position, and a reference thermometer held beside it, in °C."""

    position: str
    raw_celsius: Decimal
    reference_celsius: Decimal | None = None


def out_stay(kit: Kit) -> Deployment | None:
    """The stay that has this kit out now: loaded, installed or removed, not ended."""
    return kit.deployments.out().with_places().first()


def stay_at_stage(kit: Kit, *stages: Stage) -> Deployment:
    """The stay the kit is out on, which must be at one of `stages`; else a refusal saying where it stands."""
    stay = out_stay(kit)
    if stay is None:
        raise Refused(f"{kit} is not out on any call: {kit.custody.word}. {way_on(stages)}", code="not_out")
    if stay.stage not in stages:
        raise Refused(
            f"{kit} is {stay.stage.label.lower()} on {stay.call}. {way_on(stages)}", code="wrong_stage"
        )
    return stay


def way_on(stages: Iterable[Stage]) -> str:
    """What has to be done first, for a step that needs one of `stages`."""
    first = next(iter(stages))
    return {
        Stage.LOADED: "Load it for a call first.",
        Stage.INSTALLED: "It must be installed for this. If it was put in and nobody wrote it down, write that first.",
        Stage.REMOVED: "Take it out first, then hand it back.",
    }.get(first, "")


def close_stay(stay: Deployment, how: Stage, *, at: datetime, why: str = "") -> None:
    """End a stay as called off, handed back or not recovered, at an instant."""
    if how == Stage.CALLED_OFF and stay.loaded_at is None:
        at = max(at, stay.planned_at)  # what was planned only after that never was
    setattr(stay, f"{how.value}_at", at)
    stay.ended_at = at
    stay.ended_why = why[:200]
    stay.save()


def with_calls(stays: Iterable[Deployment]) -> list[Deployment | ServiceCall]:
    """Each stay and its call, as an event names them."""
    return [row for stay in stays for row in (stay, stay.call)]


def refuse_before_last_stay(kit: Kit, at: datetime) -> None:
    """Refuse to move a kit at a time when it was still on a stay that has ended since."""
    last = (
        kit.deployments.filter(loaded_at__isnull=False, ended_at__gt=at)
        .select_related("call")
        .order_by("ended_at")
        .last()
    )
    if last is not None:
        raise Refused(
            f"{kit} was on {last.call} until {later(last.ended_at)}. Give a time after it, or have a manager correct that one.",
            code="before_last_stay",
        )


def calls_left(gone: Iterable[Deployment], *, but: ServiceCall | None = None) -> str:
    """The end of a sentence that tells which calls need a kit now: "; call 2041 needs a kit"."""
    return "".join(f"; {stay.call} needs a kit" for stay in gone if stay.call != but)


def plans_of(kit: Kit) -> list[Deployment]:
    """The stays this kit is promised to and has not been loaded for."""
    return list(kit.deployments.running().filter(loaded_at=None).select_related("call"))


def let_go(act: Act, stay: Deployment, because: str) -> None:
    """A plan gives its kit up because of what really happened; its call needs another kit and says why."""
    stay.let_go = True
    close_stay(stay, Stage.CALLED_OFF, at=act.happened_at, why=because)
    needs_kit(stay.call, because)


def needs_kit(call: ServiceCall, because: str) -> None:
    call.needs_kit_why = because[:200]
    call.save(update_fields=["needs_kit_why"])


def let_go_overlapping(
    act: Act, kit: Kit, start: datetime, until: datetime, because: str, *, keep: Deployment | None = None
) -> list[Deployment]:
    """Every mere plan of the kit that meets [start, until) lets it go; a physical fact comes first."""
    plans = kit.deployments.running().filter(loaded_at=None, holds_from__lt=until, holds_until__gt=start)
    gone = [stay for stay in plans.select_related("call") if stay != keep]
    for stay in gone:
        let_go(act, stay, because)
    return gone


def let_go_all(act: Act, kit: Kit, because: str) -> list[Deployment]:
    """Every mere plan of the kit lets it go: it will not be there."""
    gone = plans_of(kit)
    for stay in gone:
        let_go(act, stay, because)
    return gone


def let_go_begun(act: Act, kit: Kit, because: str) -> list[Deployment]:
    """Plans whose first day has passed while the kit was still away let it go."""
    zone = shop_zone()
    today = day_of(act.happened_at, zone)
    gone = [stay for stay in plans_of(kit) if day_of(stay.holds_from, zone) < today]
    for stay in gone:
        let_go(act, stay, because)
    return gone


def check_dates(
    act: Act, start: date, take_out_by: date | None, back_in_shop_by: date | None
) -> tuple[date, date]:
    """Both dates, which must be there, in order, not past; a long stay has a manager behind it."""
    if take_out_by is None or back_in_shop_by is None:
        raise Refused(
            {
                **(
                    {} if take_out_by else {"take_out_by": ["Give the day the kit must be out of the house."]}
                ),
                **(
                    {}
                    if back_in_shop_by
                    else {"back_in_shop_by": ["Give the day it must be back in the shop."]}
                ),
            }
        )
    today = day_of(act.recorded_at, shop_zone())
    longest = Shop.current().long_stay_days
    errors: dict[str, list[str]] = {}
    if take_out_by < start:
        errors["take_out_by"] = [f"That is before the stay begins on {say_day(start, today)}."]
    elif (take_out_by - start).days > longest and not act.typed_by.is_manager:
        errors["take_out_by"] = [f"A stay longer than {longest} days needs the manager."]
    back = []
    if back_in_shop_by < today:
        back.append(f"{say_day(back_in_shop_by, today)} is past. Give a day from today on.")
    if back_in_shop_by < take_out_by:
        back.append("The kit cannot be back in the shop before it is taken out.")
    elif back_in_shop_by <= start:
        back.append(f"Give a day after {say_day(start, today)}, the day the stay begins.")
    if back:
        errors["back_in_shop_by"] = back
    if errors:
        raise Refused(errors)
    return take_out_by, back_in_shop_by


def set_dates(stay: Deployment, take_out_by: date, back_in_shop_by: date) -> None:
    """Change the two dates and the hold that follows from them; refused where the next plan begins before."""
    _, until = hold_of(back_in_shop_by, back_in_shop_by, shop_zone())
    clash = (
        stay.kit.deployments.running()
        .filter(loaded_at=None, holds_from__lt=until, holds_until__gt=stay.holds_from)
        .exclude(pk=stay.pk)
        .select_related("call")
        .order_by("holds_from")
        .first()
    )
    if clash:
        day = say_day(day_of(clash.holds_from, shop_zone()))
        raise Refused(
            {
                "back_in_shop_by": [
                    f"{stay.kit} is promised to {clash.call} from {day}. "
                    f"Give an earlier day, or choose another kit for {clash.call} first."
                ]
            },
            code="next_plan",
        )
    stay.take_out_by, stay.back_in_shop_by, stay.holds_until = take_out_by, back_in_shop_by, until
    stay.save()


def place(stay: Deployment, sensor: Sensor, position: Position, *, at: datetime) -> Placement:
    """Open a placement; refused in a sentence when the position or the sensor is taken, or it is not in the kit."""
    wiring = sensor.wirings.filter(kit=stay.kit, wired_from__lte=at).order_by("-wired_from").first()
    if wiring is None or (wiring.wired_until and wiring.wired_until <= at):
        raise Refused(f"Sensor {sensor} is not in {stay.kit}. Wire it in, or swap a lead.")
    placement = Placement(deployment=stay, sensor=sensor, position=position, placed_from=at)
    check_overlaps(placement)
    placement.save()
    return placement


def end_placements(stay: Deployment, at: datetime) -> None:
    """Nothing of this stay measures any more from `at` on; refused when a sensor was moved later than that."""
    moved = stay.placements.aggregate(came=Max("placed_from"), went=Max("placed_until"))
    last = max((time for time in moved.values() if time), default=at)
    if last > at:
        raise Refused(f"A sensor was moved {later(last)}. Give a time after the last move.", code="order")
    stay.placements.filter(placed_until=None).update(placed_until=at)


def check_asked_on(act: Act, stay: Deployment, asked_on: date) -> None:
    """The day on which a customer asked for the kit lies between its install and today."""
    zone = stay.unit.site.zone
    if asked_on > day_of(act.recorded_at, zone):
        raise Refused({"asked_on": ["That day is still to come. Give the day on which they asked."]})
    if stay.installed_at is None or asked_on < day_of(stay.installed_at, zone):
        raise Refused({"asked_on": ["The kit was not in the house on that day."]})


def keep_readings(
    stay: Deployment,
    occasion: Occasion,
    readings: Iterable[Reading],
    sensors: Mapping[str, Sensor],
    at: datetime,
) -> list[str]:
    """Store readings taken beside a reference; `sensors` by position code. Returns remarks on suspicious values."""
    remarks = []
    sensors = {code.strip().upper(): sensor for code, sensor in sensors.items()}
    for reading in readings:
        position = position_by_code(reading.position)
        sensor = sensors.get(position.code)
        if sensor is None:
            raise Refused(f"No sensor sits at {position}, so there is nothing to read there.")
        if remark := doubt_of(float(reading.raw_celsius)):
            remarks.append(f"{position.code}: {remark}")
        row = ReferenceReading(
            deployment=stay,
            occasion=occasion,
            position=position,
            sensor=sensor,
            raw_celsius=reading.raw_celsius,
            reference_celsius=reading.reference_celsius,
            read_at=at,
        )
        row.full_clean(validate_unique=False, validate_constraints=False)
        row.save()
    return remarks


def position_by_code(code: str) -> Position:
    position = Position.objects.filter(code=code.strip().upper()).first()
    if position is None:
        known = ", ".join(Position.objects.values_list("code", flat=True))
        raise Refused(f"There is no position {code}. The shop knows {known}.")
    return position


def in_the_shop(kit: Kit) -> bool:
    return kit.custody.place in {Place.SHELF, Place.BENCH}
