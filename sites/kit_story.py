"""One kit as its page tells it: whether its readings can be trusted, what comes next, who has held it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from kits.actions.acting import kind_of
from kits.models import (
    Condition,
    Custody,
    Event,
    Kit,
    Offset,
    Place,
    Sensor,
    Shop,
    User,
    Wiring,
)
from kits.readiness import Dated, against_dates, dated, dated_wirings
from kits.templatetags.kitperch import when
from kits.ways import way
from kits.web import BENCH
from kits.words import Tone
from sites.days import day_of, say_day
from sites.free import shop_zone
from sites.models import Deployment, Placement, Position, Stage


@dataclass(frozen=True, kw_only=True)
class SensorNow:
    """One terminal of a kit: what it carries, where that sits, the offset in force and how long its check holds."""

    terminal: int
    sensor: Sensor
    since: datetime
    position: Position | None
    offset: Offset | None
    dated: Dated
    today: date

    @property
    def against(self) -> str:
        """Why it is not in date today, as the end of "sensor 3 …"."""
        return self.dated.against(self.today)


class Trust(NamedTuple):
    """Whether the kit's readings can be trusted, in a sentence."""

    sentence: str
    tone: Tone


class NextStep(NamedTuple):
    """What happens to a kit next: how it stands, and the page where the step is taken ("" for none)."""

    sentence: str
    label: str = ""
    url: str = ""
    tone: Tone = "plain"


def sensors_now(kit: Kit, stay: Deployment | None, now: datetime) -> list[SensorNow]:
    """The kit's sensors by terminal."""
    rows = Wiring.objects.filter(kit=kit, wired_until=None).select_related("sensor").order_by("terminal")
    wirings = list(dated_wirings(rows, now))
    in_force: dict[int, Offset] = {}
    given = Offset.objects.filter(sensor__in=[wiring.sensor_id for wiring in wirings], in_force_from__lte=now)
    for earlier in given.select_related("recorded_by").order_by("in_force_from"):
        in_force[earlier.sensor_id] = earlier
    in_force = {sensor: offset for sensor, offset in in_force.items() if offset.is_one}
    placed: dict[int, Placement] = {}
    if stay is not None:
        there = stay.placements.filter(placed_until=None).select_related("position")
        placed = {row.sensor_id: row for row in there}
    shop = Shop.current()
    today = day_of(now, ZoneInfo(shop.time_zone))
    return [
        SensorNow(
            terminal=wiring.terminal,
            sensor=wiring.sensor,
            since=wiring.wired_from,
            position=placed[wiring.sensor_id].position if wiring.sensor_id in placed else None,
            offset=in_force.get(wiring.sensor_id),
            dated=dated(wiring, shop),
            today=today,
        )
        for wiring in wirings
    ]


def trust_in(sensors: list[SensorNow]) -> Trust:
    """The answer to "can I trust it?"."""
    if not sensors:
        return Trust("It carries no sensor, so it tells nothing.", "attention")
    today = sensors[0].today
    late = against_dates([row.dated for row in sensors], today)
    if late:
        return Trust(f"Not fully: {late}.", "attention")
    first = min(row.dated.due_on for row in sensors if row.dated.due_on)
    return Trust(f"Yes: every sensor is in date, the next check is due on {say_day(first, today)}.", "good")


GUIDED = {
    Stage.PLANNED: ("load", "Load it"),
    Stage.LOADED: ("install", "Install it"),
    Stage.INSTALLED: ("remove", "Take it out"),
    Stage.REMOVED: ("hand_back", "Hand it back"),
}


def guided(kit: Kit, stage: Stage) -> tuple[str, str]:
    """The label and the address of the guided page that follows a stage; the kit's own page on a phone else."""
    name, label = GUIDED[stage]
    return label, way(name, kit.code) or way("face", kit.code)


def next_step(
    kit: Kit,
    *,
    stay: Deployment | None,
    plan: Deployment | None,
    sensors: list[SensorNow],
    user: User,
    today: date,
) -> NextStep:
    """What happens to this kit next, for the one who looks at it."""
    place = Place(kit.custody.place)
    if place == Place.MISSING:
        return NextStep("Nobody knows where it is.", "Found again", way("kit_found", kit.code), "late")
    if place == Place.RETIRED:
        label = "Bring it back" if user.is_manager else ""
        return NextStep("It is out of use for good.", label, way("kit_bring_back", kit.code))
    if stay is not None:
        return next_of_stay(kit, stay, today)
    if place == Place.TRUCK:
        promised = f" It is promised to {plan.call} from {say_day(plan.call.window_from)}." if plan else ""
        to_shelf = "Put it on the shelf", way("kit_shelf", kit.code)
        return NextStep(f"It rides along for no call.{promised}", *to_shelf)
    if kit.condition == Condition.NEEDS_WORK:
        if place == Place.BENCH:
            return NextStep(
                f"To be mended: {kit.condition_why}.",
                "It is mended",
                way("kit_condition", kit.code),
                "attention",
            )
        return NextStep(
            f"It needs work: {kit.condition_why}.", "To the bench", way("kit_bench", kit.code), "attention"
        )
    return next_in_shop(kit, place, plan, sensors, user)


def next_of_stay(kit: Kit, stay: Deployment, today: date) -> NextStep:
    """What follows for a kit that is out for a call."""
    label, url = guided(kit, stay.stage)
    if stay.stage == Stage.LOADED:
        return NextStep(f"It goes to {stay.unit.site} for {stay.call}.", label, url)
    if stay.stage == Stage.INSTALLED:
        late = stay.take_out_by < today
        by = say_day(stay.take_out_by, today)
        sentence = f"It should have been taken out by {by}." if late else f"It is to be taken out by {by}."
        return NextStep(sentence, label, url, "late" if late else "plain")
    late = stay.back_in_shop_by < today
    by = say_day(stay.back_in_shop_by, today)
    sentence = f"It should have been back in shop by {by}." if late else f"It is due back in shop by {by}."
    return NextStep(sentence, label, url, "late" if late else "plain")


def next_in_shop(
    kit: Kit, place: Place, plan: Deployment | None, sensors: list[SensorNow], user: User
) -> NextStep:
    """What follows for a kit on the shelf or the bench that is in order."""
    if not sensors:
        return NextStep("It carries no sensor yet.", "Wire a sensor in", way("kit_wire_in", kit.code))
    late = against_dates([row.dated for row in sensors], sensors[0].today)
    if late and plan is None:
        label = "Begin a check" if user.role in BENCH else ""
        return NextStep(f"Not ready: {late}.", label, f"{way('check_new')}?kit={kit.code}", "attention")
    if place == Place.BENCH:
        to_shelf = "Put it on the shelf", way("kit_shelf", kit.code)
        left = kit.follow_ups.filter(done_at=None).count()
        if left:
            return NextStep(f"Not ready: {left} still to do about it.", *to_shelf, "attention")
        return NextStep("It is ready.", *to_shelf, "good")
    if plan is not None:
        label, url = guided(kit, Stage.PLANNED)
        return NextStep(f"It is promised to {plan.call} from {say_day(plan.call.window_from)}.", label, url)
    return NextStep("It is free for a call.", "See the calls" if user.is_office else "", way("calls"), "good")


class Move(NamedTuple):
    """A small way on from a kit's page; one that is hard to undo is marked."""

    label: str
    url: str
    is_hard: bool = False


def moves(kit: Kit, stay: Deployment | None, user: User) -> list[Move]:
    """Where the kit may go from here, beside its next step, for the one who looks at it."""
    place, code = Place(kit.custody.place), kit.code
    if stay is not None and stay.stage == Stage.INSTALLED:
        return [
            Move("It is here, but nobody wrote down the pull", way("settle", code)),
            Move("Move a sensor", way("move_sensor", code)),
            Move("Swap a lead", way("swap_lead", code)),
        ]
    if stay is not None and stay.stage == Stage.REMOVED:
        return []
    retire = [Move("Retire it", way("kit_retire", code), is_hard=True)] if user.is_manager else []
    if place == Place.MISSING:
        return [Move("Found again", way("kit_found", code)), *retire]
    if place == Place.RETIRED:
        return [Move("Bring it back", way("kit_bring_back", code))] if user.is_manager else []
    found = [Move("Onto a truck" if user.is_office else "Onto my truck", way("kit_truck", code))]
    if place != Place.SHELF:
        found.insert(0, Move("Onto the shelf", way("kit_shelf", code)))
    if place != Place.BENCH:
        found.append(Move("To the bench", way("kit_bench", code)))
    found.append(Move("It is missing", way("kit_missing", code)))
    return found + (retire if place != Place.TRUCK else [])


class Held(NamedTuple):
    """One row of who has held the kit; at a site, the stay it was there for."""

    custody: Custody
    stay: Deployment | None

    @property
    def where(self) -> str:
        if self.stay:
            return str(self.stay.unit.site)
        word = self.custody.word
        return word[:1].upper() + word[1:]


def who_held(custodies: Iterable[Custody], stays: Iterable[Deployment]) -> list[Held]:
    """Custody newest first, each time at a site with its stay."""
    by_start = {stay.installed_at: stay for stay in stays if stay.installed_at}
    rows = [
        Held(row, by_start.get(row.held_from) if row.place == Place.SITE else None)
        for row in custodies
        if row.held_until is None or row.held_until > row.held_from
    ]
    return rows[::-1]


TONES = {
    "missing": "late",
    "not recovered": "late",
    "taken onto truck": "attention",
    "take undone": "attention",
    "time corrected": "attention",
    "settled": "attention",
    "found again": "good",
    "handed back": "good",
    "kit built": "good",
}


def events_of(kit: Kit, at_most: int | None) -> list[Event]:
    """What happened to the kit, newest first; each carries the tone it stands in. A corrected time tells both."""
    zone = shop_zone()
    found = (
        Event.objects.filter(abouts__kind=kind_of(Kit), abouts__subject_id=kit.pk)
        .select_related("did_by", "typed_by")
        .order_by("-happened_at", "-pk")
    )
    events = list(found[:at_most] if at_most else found)
    for event in events:
        event.tone = TONES.get(event.what, "")  # type: ignore[attr-defined]
        if event.what == "time corrected":
            was, now = (when(datetime.fromisoformat(event.details[key]), zone) for key in ("was", "is"))
            event.why = f"{event.why} (was {was}, is {now})"
    return events


def take_to_undo(kit: Kit) -> Event | None:
    """The take from another truck that the office may still send back: nothing else has happened since."""
    latest = Event.objects.filter(abouts__kind=kind_of(Kit), abouts__subject_id=kit.pk).last()
    if latest is None or latest.what != "taken onto truck":
        return None
    return latest if latest.details.get("from_place") == Place.TRUCK else None
