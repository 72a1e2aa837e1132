"""What is this in my hand, and what do I do with it now: the one next step for a kit, by where the books have it."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import BigAutoField, DateField, QuerySet
from django.utils import timezone

from kits.kept_query import Given, KeptQuery
from kits.models import Condition, Kit, Place, User
from kits.ways import way, way_to
from kits.web import BENCH
from kits.words import Tone, tone_of_place
from sites.days import day_of, say_day
from sites.models import Deployment, ServiceCall, Stage

earliest_plan = KeptQuery(
    lambda: (
        Deployment.objects.running()
        .filter(kit=Given("kit", BigAutoField()), loaded_at=None)
        .with_places()
        .select_related("call__unit__site")
        .order_by("holds_from")[:1]
    )
)


def calls_without_a_kit() -> QuerySet[ServiceCall]:
    """Open calls of a technician from today on that no kit is promised to and none was at."""
    mine = ServiceCall.objects.filter(
        technician=Given("technician", BigAutoField()),
        closed_on=None,
        window_until__gte=Given("today", DateField()),
    )
    free = mine.exclude(pk__in=Deployment.objects.running().values("call"))
    # Calls whose kit has come home are done though nobody closed them.
    served = Deployment.objects.filter(installed_at__isnull=False).values("call")
    return free.exclude(pk__in=served).select_related("unit__site")[:1]


waiting_call = KeptQuery(calls_without_a_kit)


@dataclass(frozen=True, kw_only=True)
class Way:
    """Somewhere to go from a kit. With `posts` it is done by one tap, sending just that."""

    label: str
    url: str
    posts: dict[str, Any] | None = None


@dataclass(kw_only=True)
class NextStep:
    """What the face of a kit says: one sentence, at most one main way on, and the small ones."""

    sentence: str
    main: Way | None = None
    others: list[Way] = field(default_factory=list)
    tone: Tone = "plain"
    stay: Deployment | None = None
    call: ServiceCall | None = None


def to(name: str, kit: Kit, label: str, *, posts: dict[str, Any] | None = None, query: str = "") -> Way:
    return Way(label=label, url=way_to(name, kit.code) + query, posts=posts)


def next_step(
    kit: Kit, user: User, *, stay: Deployment | None, now: datetime, has_leads: bool = True
) -> NextStep:
    """The next step for `user` with `kit`, which is out on `stay` (None: on no stay). Reads, never writes."""
    custody = kit.custody
    place = Place(custody.place)
    if place == Place.RETIRED:
        step = NextStep(
            sentence="This kit is retired. It goes nowhere; a manager can bring it back to the bench."
        )
    elif place == Place.MISSING:
        step = NextStep(
            sentence="The books have this kit as missing. If you hold it, it goes to the bench to be looked at.",
            main=to("found", kit, "I hold it: found again", posts={}),
        )
    elif stay is not None and stay.stage == Stage.INSTALLED:
        step = in_a_house(kit, user, stay, now)
    elif stay is not None and stay.stage == Stage.REMOVED:
        step = out_of_a_house(kit, user, stay)
    elif place == Place.TRUCK:
        step = on_a_truck(kit, user, stay, now)
    else:
        step = in_the_shop(kit, user, now, has_leads=has_leads)
    step.stay = step.stay or stay
    step.call = step.stay.call if step.stay else None
    step.tone = tone_of_place(place, needs_work=kit.condition == Condition.NEEDS_WORK)
    return step


def in_a_house(kit: Kit, user: User, stay: Deployment, now: datetime) -> NextStep:
    """It hangs at a unit, or somebody pulled it and wrote nothing down."""
    zone = stay.unit.site.zone
    today = day_of(now, zone)
    since = say_day(day_of(stay.installed_at, zone), today)  # type: ignore[arg-type]
    late = " That day is past." if stay.take_out_by < today else ""
    sentence = f"At {stay.unit.site} for {stay.call} since {since}. Take out by {say_day(stay.take_out_by, today)}.{late}"
    pull = to("remove", kit, "Take it out")
    here = to("settle", kit, "It is here, but nobody wrote down the pull")
    small = [to("move_sensor", kit, "Move a sensor"), to("swap_lead", kit, "Swap a lead")]
    if user.is_office:
        # Who scans at a desk holds it in the hand: it is not in the house.
        return NextStep(
            sentence=sentence,
            main=here,
            others=[to("remove", kit, "Write down a pull told by phone"), *small],
        )
    return NextStep(
        sentence=sentence,
        main=pull,
        others=[*small, to("settle", kit, "Not in the house? Nobody wrote down the pull")],
    )


def out_of_a_house(kit: Kit, user: User, stay: Deployment) -> NextStep:
    today = timezone.localdate()
    whose = "your truck" if kit.custody.technician_id == user.pk else kit.custody.word
    return NextStep(
        sentence=(
            f"Out of {stay.unit.site}, on {whose}. Back in shop by {say_day(stay.back_in_shop_by, today)}: "
            "count it, then hand it back."
        ),
        main=to("hand_back", kit, "Hand it back"),
    )


def on_a_truck(kit: Kit, user: User, stay: Deployment | None, now: datetime) -> NextStep:
    """Loaded for a call or just riding along, on one's own truck or another's."""
    custody = kit.custody
    mine = custody.technician_id == user.pk
    shelve = to("shelve", kit, "Put it on the shelf")
    if stay is not None:
        day = say_day(stay.call.window_from, timezone.localdate())
        where = f"for {stay.call}, {day}, at {stay.unit.site}"
        install = to("install", kit, "Install it" if mine else "Write down an installation")
        if mine:
            return NextStep(sentence=f"On your truck {where}.", main=install, others=[shelve])
        sentence = f"This kit is on {custody.word} {where}."
        if user.is_technician:
            # For one's own call the stay goes along; else that call loses its kit.
            own = stay.call.technician_id == user.pk
            take = to("take", kit, "Take it onto my truck", posts={})
            if own:
                take = to("load", kit, "Take it onto my truck", posts={"call": stay.call.number})
            load = to("load", kit, "Load it for a call of mine")
            return NextStep(sentence=sentence, main=take, others=[load, shelve, install])
        return NextStep(
            sentence=sentence, main=install, others=[shelve, to("take", kit, "Put it on another truck")]
        )
    plan = next_plan(kit)
    if mine:
        step = planned_or_free(kit, user, plan, "On your truck, for no call.", now)
        step.main = step.main or shelve
        step.others = [way_on for way_on in (*step.others, shelve) if way_on != step.main]
        return step
    sentence = f"On {custody.word}, for no call."
    if user.is_technician:
        return NextStep(
            sentence=sentence,
            main=to("take", kit, "Take it onto my truck", posts={}),
            others=[to("load", kit, "Load it for a call of mine"), shelve],
            stay=plan,
        )
    return NextStep(sentence=sentence, main=shelve, others=[to("load", kit, "Load it for a call")], stay=plan)


def in_the_shop(kit: Kit, user: User, now: datetime, *, has_leads: bool) -> NextStep:
    """On the shelf or on the bench."""
    where = kit.custody.word
    if kit.condition == Condition.NEEDS_WORK:
        bench = way("bench")
        return NextStep(
            sentence=f"On the {where}. It needs work: {kit.condition_why}. Leave it in the shop.",
            main=Way(label="To the bench", url=bench) if bench else None,
            others=[to("take", kit, "Take it all the same")],
        )
    if not has_leads:
        return NextStep(
            sentence=f"On the {where}. It carries no lead, so it would measure nothing. Wire one in first.",
            main=to("kit_wire_in", kit, "Wire a sensor in"),
        )
    step = planned_or_free(kit, user, next_plan(kit), f"On the {where}.", now)
    if where == "bench":
        shelve = to("shelve", kit, "Put it on the shelf")
        step.others = [shelve, *step.others]
        begin = way("check_new")
        if begin and user.role in BENCH:
            step.others.append(Way(label="Begin a check of its sensors", url=f"{begin}?kit={kit.code}"))
    if step.main is None:
        step.main = (
            to("take", kit, "Take it onto my truck", posts={})
            if user.is_technician
            else to("load", kit, "Load it for a call")
        )
    return step


def planned_or_free(kit: Kit, user: User, plan: Deployment | None, where: str, now: datetime) -> NextStep:
    """A kit in hand that may be promised to a call: one's own, another's, or none."""
    today = timezone.localdate()
    take = [] if kit.custody.place == Place.TRUCK else [to("take", kit, "Take it for no call", posts=None)]
    if plan is not None:
        call, day = plan.call, say_day(plan.call.window_from, today)
        technician = plan.technician or call.technician
        whose = "your" if technician == user else f"{technician}'s" if technician else ""
        sentence = f"{where} Planned for {whose} {call}, {day}, at {call.unit.site}.".replace("  ", " ")
        other = to("load", kit, "Load it for another call")
        if technician == user:
            main = to("load", kit, f"Load it for {call}", posts={"call": call.number})
            return NextStep(sentence=sentence, main=main, others=[other, *take], stay=plan)
        if user.is_office:
            main = to("load", kit, f"Load it for {call}", query=f"?call={call.number}")
            return NextStep(sentence=sentence, main=main, others=[other, *take], stay=plan)
        return NextStep(sentence=sentence, others=[to("load", kit, "Load it for a call of mine")], stay=plan)
    waiting = call_that_needs_a_kit(user, today)
    if user.is_technician and waiting is not None:
        day = say_day(waiting.window_from, today)
        sentence = f"{where} Your {waiting}, {day}, at {waiting.unit.site}, still needs a kit."
        main = to("load", kit, f"Load it for {waiting}", query=f"?call={waiting.number}")
        return NextStep(
            sentence=sentence, main=main, others=[to("load", kit, "Load it for another call"), *take]
        )
    return NextStep(
        sentence=where, others=[to("load", kit, "Load it for a call")] if user.is_technician else take
    )


def next_plan(kit: Kit) -> Deployment | None:
    """The earliest stay this kit is only planned for."""
    return earliest_plan.first(kit=kit.pk)


def call_that_needs_a_kit(user: User, today: date) -> ServiceCall | None:
    """The user's first open call that no kit is promised to."""
    return waiting_call.first(technician=user.pk, today=today)
