"""What has to move today, what is late, what is about to go wrong: the office's question, asked of the books at `now`."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TypeVar

from django.db.models import Exists, Model, OuterRef, Q, QuerySet, Subquery

from kits.models import Condition, Custody, FollowUp, Place, Shop, User, Wiring
from kits.units import Unit
from sites.bench_lines import in_doubt, to_check
from sites.counting import count_of
from sites.day_lines import (
    COMES_HOME_WITHIN_DAYS,
    Clock,
    Line,
    comes_home,
    follow_up,
    leaves,
    needs_kit,
    on_bench,
    overdue,
    plan_in_trouble,
)
from sites.free import shop_zone
from sites.models import Deployment, ServiceCall
from sites.work import calls_needing_kit

CALL_WANTS_KIT_WITHIN_DAYS = 7
Row = TypeVar("Row", bound=Model)
Held = TypeVar("Held", Custody, Deployment, ServiceCall)


@dataclass(kw_only=True)
class DaySheet:
    """The four parts of the sheet, in the order in which they are read."""

    today: date
    call_now: list[Line] = field(default_factory=list)
    leaves: list[tuple[User | None, list[Line]]] = field(default_factory=list)
    comes_home: list[Line] = field(default_factory=list)
    bench: list[Line] = field(default_factory=list)
    to_check: list[Line] = field(default_factory=list)
    to_do: list[Line] = field(default_factory=list)
    later_calls: int = 0
    places: Counter[str] = field(default_factory=Counter)

    def lines(self, most: int | None = None) -> list[Line]:
        """The lines of every part; of each, at most so many."""
        leaving = (lines for _, lines in self.leaves)
        parts = [self.call_now, *leaving, self.comes_home, self.bench, self.to_do, self.to_check]
        return [line for part in parts for line in part[:most]]

    @property
    def leaving(self) -> int:
        return sum(len(lines) for _, lines in self.leaves)

    @property
    def home_by(self) -> date:
        return self.today + timedelta(days=COMES_HOME_WITHIN_DAYS)

    @property
    def headline(self) -> str:
        """The answer in a sentence: what is late, what lacks a kit, what else waits."""
        late = sum(line.word == "late" for line in self.call_now)
        without = sum(line.word == "needs a kit" for line in self.call_now)
        rest = len(self.call_now) - late - without
        parts = []
        if late:
            parts.append(f"{late} kit{' is' if late == 1 else 's are'} late")
        if without:
            parts.append(f"{without} call{' needs a kit' if without == 1 else 's need a kit'}")
        if rest:
            more = "more " if parts else ""
            parts.append(f"{rest} {more}thing{' waits' if rest == 1 else 's wait'} for a call")
        return ", ".join(parts) or "Nothing is late and nobody waits for a call"


def day_sheet(now: datetime) -> DaySheet:
    """The sheet at `now`, in a number of queries that does not grow with the shop."""
    clock = Clock(now, shop_zone())
    today = clock.today
    unit: Unit = "F" if Shop.current().temperature_unit == "F" else "C"
    people = User.objects.in_bulk()
    custodies = {row.kit_id: row for row in with_technicians(Custody.objects.filter(held_until=None), people)}
    stays = with_technicians(stays_that_matter(today), people)
    for stay in stays:
        with_technicians([stay.call], people)
    out = {stay.kit_id: stay for stay in stays if stay.loaded_at}
    to_do = open_follow_ups()
    due = [(row, stay) for row, stay in to_do if row.due_on and row.due_on <= today]
    calls = list(picked_first(calls_needing_kit()).select_related("unit__site", "technician"))
    last_day = today + timedelta(days=CALL_WANTS_KIT_WITHIN_DAYS)
    urgent = [call for call in calls if call.needs_kit_why or call.window_from <= last_day]
    call_now = [
        *(line for stay in stays if (line := overdue(stay, clock, custodies))),
        *(line for stay in stays if (line := plan_in_trouble(stay, clock, out))),
        *(needs_kit(call, clock) for call in urgent),
        *(follow_up(row, stay, clock) for row, stay in due),
    ]
    return DaySheet(
        today=today,
        call_now=in_order(call_now),
        later_calls=len(calls) - len(urgent),
        leaves=by_technician(stays, clock, custodies),
        comes_home=in_order([line for stay in stays if (line := comes_home(stay, clock, custodies))]),
        bench=on_bench(at_the_bench(), clock),
        to_check=[*in_doubt(clock, unit), *to_check(clock)],
        to_do=[follow_up(row, stay, clock) for row, stay in to_do if (row, stay) not in due],
        places=Counter(row.place for row in custodies.values()),
    )


def with_technicians(rows: Iterable[Held], people: Mapping[int, User]) -> list[Held]:
    """Rows with a technician, each given that person, rather than joined to them thousands of times."""
    held = list(rows)
    for row in held:
        if row.technician_id is not None:
            row.technician = people[row.technician_id]
    return held


def at_the_bench() -> QuerySet[Custody]:
    """Kits on the bench, and those on the shelf that need work."""
    on_the_bench = Q(place=Place.BENCH) | Q(place=Place.SHELF, kit__condition=Condition.NEEDS_WORK)
    return Custody.objects.filter(on_the_bench, held_until=None).select_related("kit")


def open_follow_ups() -> list[tuple[FollowUp, Deployment | None]]:
    """What is still to be done, each with the stay it came up in: the kit's last one installed by then."""
    of_the_kit = Deployment.objects.filter(kit=OuterRef("kit"), installed_at__lte=OuterRef("opened_at"))
    latest = Subquery(of_the_kit.order_by("-installed_at").values("pk")[:1])
    rows = list(FollowUp.objects.filter(done_at=None).select_related("kit").annotate(stay_id=latest))
    stays = Deployment.objects.filter(pk__in={row.stay_id for row in rows}).with_places()
    found = {stay.pk: stay for stay in stays}
    return [(row, found.get(row.stay_id)) for row in rows]


def stays_that_matter(today: date) -> QuerySet[Deployment]:
    """Stays that have not ended, but for kits that hang in a house in peace: not due within days, not asked for by the
    customer, not promised to another call. With the leads of the kit and the positions wanted.
    """
    # A day more than is told ahead, since a house may be a day behind the shop.
    soon = today + timedelta(days=COMES_HOME_WITHIN_DAYS + 1)
    promised = Deployment.objects.running().filter(kit=OuterRef("kit"), loaded_at=None)
    matters = Q(installed_at=None) | Q(removed_at__isnull=False) | Q(customer_asked_on__isnull=False)
    stays = Deployment.objects.running().filter(matters | Q(take_out_by__lte=soon) | Q(Exists(promised)))
    leads = Wiring.objects.filter(kit=OuterRef("kit"), wired_until=None)
    wanted = ServiceCall.wanted_positions.through.objects.filter(servicecall=OuterRef("call"))
    return (
        picked_first(stays)
        .select_related("kit", "unit__site", "call")
        .annotate(lead_count=count_of(leads, "kit"), wanted_count=count_of(wanted, "servicecall"))
        .order_by("call__window_from", "pk")
    )


def picked_first(rows: QuerySet[Row]) -> QuerySet[Row]:
    """The same rows, picked from their own table before anything is joined.

    Else SQLite begins with every unit of the shop and looks through all the stays and calls it ever saw.
    """
    return rows.model._default_manager.filter(pk__in=rows.order_by().values("pk"))


def in_order(lines: list[Line]) -> list[Line]:
    return sorted(lines, key=lambda line: line.rank)


def by_technician(
    stays: Iterable[Deployment], clock: Clock, custodies: Mapping[int, Custody]
) -> list[tuple[User | None, list[Line]]]:
    """What goes out today or tomorrow, or should have gone, person by person; those without a person first."""
    groups: dict[User | None, list[Line]] = {}
    tomorrow = clock.today + timedelta(days=1)
    for stay in stays:
        if not stay.installed_at and stay.call.window_from <= tomorrow:
            who = stay.technician or stay.call.technician
            groups.setdefault(who, []).append(leaves(stay, clock, custodies[stay.kit_id]))
    return sorted(groups.items(), key=lambda group: (group[0] is not None, str(group[0])))
