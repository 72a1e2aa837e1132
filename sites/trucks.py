"""What a technician carries, where it goes and in which order; what somebody took away. Reads only."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, Literal

from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet

from kits.models import Custody, KeptAt, Kit, Place, SparePlace, User, Wiring
from kits.words import Tone
from sites.days import say_day
from sites.models import Deployment, ServiceCall, Site, Stage
from sites.work import calls_needing_kit

DAYS_AHEAD = 7
DAYS_A_LOSS_IS_TOLD = 7

Errand = Literal["put in", "take out", "needs a kit"]


@dataclass(kw_only=True)
class Stop:
    """One errand at one house on a day."""

    day: date
    errand: Errand
    call: ServiceCall
    kit: Kit | None = None
    words: str = ""
    tone: Tone = "plain"
    must_fetch: bool = False

    @property
    def site(self) -> Site:
        return self.call.unit.site


@dataclass(kw_only=True)
class Carried:
    """A kit on the truck and what becomes of it."""

    kit: Kit
    stay: Deployment | None
    words: str
    tone: Tone = "plain"


@dataclass(kw_only=True)
class Loss:
    """A kit that somebody took from this truck."""

    kit: Kit
    taken_by: User
    taken_at: datetime
    call: ServiceCall | None = None
    needs_a_kit: bool = False


@dataclass(kw_only=True)
class Truck:
    """A technician's truck as the books have it."""

    technician: User
    today: date
    stops: list[Stop] = field(default_factory=list)
    carried: list[Carried] = field(default_factory=list)
    losses: list[Loss] = field(default_factory=list)
    spares: list[SparePlace] = field(default_factory=list)
    taken_out: list[SparePlace] = field(default_factory=list)

    @property
    def days(self) -> list[tuple[str, list[Stop]]]:
        """Stops by day in the order they are driven: what is late first, then today, then the days ahead."""
        by_day: dict[date, list[Stop]] = defaultdict(list)
        for stop in self.stops:
            by_day[max(stop.day, self.today)].append(stop)
        return [(self._say(day), by_day[day]) for day in sorted(by_day)]

    def _say(self, day: date) -> str:
        if day == self.today:
            return "Today"
        word = "Tomorrow, " if day == self.today + timedelta(days=1) else ""
        return word + say_day(day, self.today)

    @property
    def stops_today(self) -> int:
        return sum(1 for stop in self.stops if stop.day <= self.today)

    @property
    def to_fetch(self) -> list[Stop]:
        """Kits still to be taken from where they are before driving off."""
        return [stop for stop in self.stops if stop.must_fetch]

    @property
    def to_hand_back(self) -> list[Carried]:
        return [row for row in self.carried if row.stay and row.stay.stage == Stage.REMOVED]


def truck_of(technician: User, *, today: date, now: datetime) -> Truck:
    """Everything about a technician's truck, in a fixed number of queries."""
    truck = Truck(technician=technician, today=today)
    last = today + timedelta(days=DAYS_AHEAD)
    theirs = Q(technician=technician) | Q(technician=None, call__technician=technician)
    held = list(
        Kit.objects.filter(
            custodies__held_until=None, custodies__place=Place.TRUCK, custodies__technician=technician
        ).order_by("name", "code")
    )
    on_truck = {kit.pk for kit in held}
    stays = list(
        Deployment.objects.running()
        .filter(theirs | Q(kit__in=on_truck, loaded_at__isnull=False))
        .with_places()
        .select_related("call__unit__site")
        .order_by("call__window_from", "call__number")
    )
    truck.stops += list(puts_in(stays, on_truck, today, last))
    truck.stops += list(takes_out(stays, technician, today, last))
    truck.stops += list(wants_a_kit(technician, today, last))
    errands = ["take out", "put in", "needs a kit"]
    truck.stops.sort(key=lambda stop: (stop.day, errands.index(stop.errand), stop.call.number))
    out = {stay.kit_id: stay for stay in stays if stay.loaded_at}
    truck.carried = [carried(kit, out.get(kit.pk), today) for kit in held]
    for row in leads_kept_on([technician.pk]).order_by("sensor__tag", "sensor__rom"):
        (truck.taken_out if row.taken_out else truck.spares).append(row)
    truck.losses = losses(technician, since=now - timedelta(days=DAYS_A_LOSS_IS_TOLD))
    return truck


def leads_kept_on(technicians: Iterable[int | None]) -> QuerySet[Any]:
    """Loose leads on these trucks. `taken_out`: a swap took it out of a kit, and nobody has looked at it since."""
    swapped = Wiring.objects.filter(sensor=OuterRef("sensor"), wired_until=OuterRef("kept_from"))
    return (
        SparePlace.objects.filter(kept_until=None, place=KeptAt.TRUCK, technician__in=technicians)
        .annotate(taken_out=ExpressionWrapper(Exists(swapped) & ~Q(why=""), BooleanField()))
        .select_related("sensor")
    )


def puts_in(stays: Iterable[Deployment], on_truck: set[int], today: date, last: date) -> Iterable[Stop]:
    """Planned and loaded stays whose window begins within the days shown."""
    for stay in stays:
        if stay.stage not in {Stage.PLANNED, Stage.LOADED} or stay.call.window_from > last:
            continue
        fetch = stay.kit_id not in on_truck
        past = stay.call.window_until < today
        words = f"window was until {say_day(stay.call.window_until, today)}" if past else ""
        if fetch and not past:
            words = "kit still to be loaded"
        yield Stop(
            day=stay.call.window_from,
            errand="put in",
            call=stay.call,
            kit=stay.kit,
            words=words,
            tone="late" if past else "attention" if fetch else "plain",
            must_fetch=fetch,
        )


def takes_out(stays: Iterable[Deployment], technician: User, today: date, last: date) -> Iterable[Stop]:
    """Installed stays whose kit must be out within the days shown."""
    for stay in stays:
        if stay.stage != Stage.INSTALLED or stay.take_out_by > last:
            continue
        late = stay.take_out_by < today
        words = f"was due {say_day(stay.take_out_by, today)}" if late else ""
        yield Stop(
            day=stay.take_out_by,
            errand="take out",
            call=stay.call,
            kit=stay.kit,
            words=words,
            tone="late" if late else "plain",
        )


def wants_a_kit(technician: User, today: date, last: date) -> Iterable[Stop]:
    """Open calls of the technician that no kit is promised to and none has served."""
    served = Deployment.objects.filter(Q(ended_at=None) | Q(installed_at__isnull=False)).values("call")
    calls = ServiceCall.objects.filter(
        technician=technician, closed_on=None, window_from__lte=last, window_until__gte=today
    )
    for call in calls.exclude(pk__in=served).select_related("unit__site"):
        yield Stop(
            day=call.window_from, errand="needs a kit", call=call, words=call.needs_kit_why, tone="attention"
        )


def carried(kit: Kit, stay: Deployment | None, today: date) -> Carried:
    if stay is None:
        return Carried(kit=kit, stay=None, words="for no call")
    if stay.stage == Stage.REMOVED:
        late = stay.back_in_shop_by < today
        word = "was due back" if late else "back in shop by"
        tone: Tone = "late" if late else "attention"
        return Carried(kit=kit, stay=stay, words=f"{word} {say_day(stay.back_in_shop_by, today)}", tone=tone)
    return Carried(kit=kit, stay=stay, words=f"for {stay.call}, {say_day(stay.call.window_from, today)}")


def losses(technician: User, *, since: datetime) -> list[Loss]:
    """Kits that left this truck straight onto another one since an instant, newest first."""
    left = list(
        Custody.objects.filter(technician=technician, held_until__gte=since)
        .select_related("kit")
        .order_by("-held_until")
    )
    kits = {row.kit_id for row in left}
    onto = {
        (row.kit_id, row.held_from): row
        for row in Custody.objects.filter(kit__in=kits, place=Place.TRUCK, held_from__gte=since)
        .exclude(technician=technician)
        .select_related("technician")
    }
    lost_stays = {
        (stay.kit_id, stay.ended_at): stay
        for stay in Deployment.objects.filter(
            kit__in=kits, technician=technician, let_go=True, ended_at__gte=since
        ).select_related("call")
    }
    lost_calls = [stay.call_id for stay in lost_stays.values()]
    needing = set(calls_needing_kit().filter(pk__in=lost_calls).values_list("pk", flat=True))
    found = []
    for row in left:
        after = onto.get((row.kit_id, row.held_until))  # type: ignore[arg-type]
        if after is None or after.technician is None or row.held_until is None:
            continue
        stay = lost_stays.get((row.kit_id, row.held_until))
        call = stay.call if stay else None
        needs = bool(call and call.pk in needing)
        found.append(
            Loss(
                kit=row.kit, taken_by=after.technician, taken_at=row.held_until, call=call, needs_a_kit=needs
            )
        )
    return found
