"""The steps of a random life: going out and coming home. The smaller ones are in `life_leads` and `life_office`."""

from datetime import date, timedelta

from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from kits.models import Kit
from sites.actions import planning, stays
from sites.models import Deployment, HandBackPlace
from tests import make
from tests.sites import life_world as world_of
from tests.sites.life_leads import Leads
from tests.sites.life_machine import HOW, NUMBER, pick
from tests.sites.life_office import Office
from tests.sites.life_oracle import SHOP_ZONE, StayBook


def too_long(from_day: date, dates: dict[str, date]) -> bool:
    """Longer than two months is the manager's to say; in these lives others plan and load."""
    return (dates["take_out_by"] - from_day).days > 60


class Life(Leads, Office):
    """Whole lives of kits: every action, in any order, now and backdated."""

    def today(self) -> date:
        return self.now.astimezone(SHOP_ZONE).date()

    def dates(self, from_day: date, length: int) -> dict[str, date]:
        """Two days that suit a stay beginning on `from_day`, however late it is."""
        take_out_by = max(from_day, self.today()) + timedelta(days=length)
        return {"take_out_by": take_out_by, "back_in_shop_by": take_out_by + timedelta(days=2)}

    @rule(number=NUMBER, call=NUMBER, length=st.integers(1, 12), how=HOW)
    def plan(self, number: int, call: int, length: int, how: tuple[int, int]) -> None:
        kit = self.world.kits[number // 6 % len(self.world.kits)]
        free = [pk for pk in self.world.calls if self.oracle.of_call(pk) is None]
        call_pk = pick(call, free, self.world.calls)
        act = self.based(self.act(how, self.world.office), kit, number)
        dates = self.dates(self.oracle.call_days[call_pk], length)
        days = self.oracle.call_days[call_pk], dates["back_in_shop_by"]
        may = self.oracle.may_plan(kit, call_pk, *days, len(world_of.WANTED), act.recorded_at)
        may = may and not too_long(self.oracle.call_days[call_pk], dates)
        done = self.take(
            planning.plan, act, may=may, kit=world_of.kit(kit), call=world_of.call(call_pk), **dates
        )
        if done:
            self.oracle.planned(done.row(Deployment).pk, kit, call_pk, *dates.values())

    @rule(number=NUMBER, length=st.integers(1, 9), how=HOW)
    def go_on(self, number: int, length: int, how: tuple[int, int]) -> None:
        """A kit takes the next step of an ordinary stay."""
        kit = self.world.kits[number // 6 % len(self.world.kits)]
        chosen = self.world.kits.index(kit) * 6
        stage = self.oracle.stage(kit)
        if stage == "loaded":
            chosen = self.oracle.kits_at("loaded").index(kit) * 6
            self.install(chosen, 3, length - 1, False, how)
        elif stage == "installed":
            chosen = self.oracle.kits_at("installed").index(kit) * 6
            self.remove(chosen, number % 2, True, how)
        elif stage == "removed":
            chosen = self.oracle.kits_at("removed").index(kit) * 6
            self.hand_back(chosen, 0, False, False, how)
        elif self.oracle.plans(kit):
            chosen = self.oracle.kits_at("").index(kit) * 6
            self.load(chosen, 0, number % 2, 0, how)
        else:
            self.plan(chosen, number, length, how)

    another_goes_on = go_on

    @rule(number=NUMBER, call=NUMBER, who=st.integers(0, 1), length=st.integers(0, 9), how=HOW)
    def load(self, number: int, call: int, who: int, length: int, how: tuple[int, int]) -> None:
        """For the call it is planned for, or for any; without dates where `length` is 0."""
        kit = pick(number, self.oracle.kits_at("", "loaded"), self.world.kits)
        planned = [stay.call for stay in self.oracle.plans(kit).values()]
        without = [pk for pk in self.world.calls if not ((of := self.oracle.of_call(pk)) and of[1].is_out)]
        call_pk = pick(call, planned if call % 3 == 0 else without, self.world.calls)
        technician = self.world.technicians[who]
        act = self.based(self.act(how, technician), kit, number)
        dates = self.dates(self.oracle.call_days[call_pk], length) if length else {}
        may: bool | None = self.oracle.may_load(kit, call_pk, technician.pk, bool(dates))
        hand_over = (out := self.oracle.out(kit)) is not None and out[1].call == call_pk
        if dates and not hand_over and too_long(self.oracle.call_days[call_pk], dates):
            may = False
        elif may and dates and call_pk in planned:
            may = None  # a new end may run into the next plan
        done = self.take(
            stays.load,
            act,
            may=may,
            kit=world_of.kit(kit),
            call=world_of.call(call_pk),
            technician=technician,
            **dates,
        )
        if done:
            days = tuple(dates.values()) if dates else None
            key = done.row(Deployment).pk
            self.oracle.loaded(key, kit, call_pk, technician.pk, days, act.happened_at)  # type: ignore[arg-type]

    another_load = load

    def kit_to_install(self, number: int, unwritten: bool) -> tuple[int, StayBook | None, bool]:
        """A kit, the stay it would be installed for, and whether that is one it was never scanned for."""
        planned = [kit for kit in self.oracle.kits_at("") if self.oracle.plans(kit)]
        if unwritten and planned:
            kit = pick(number, planned, planned)
            return kit, next(iter(self.oracle.plans(kit).values())), True
        kit = pick(number, self.oracle.kits_at("loaded"), self.world.kits)
        out = self.oracle.out(kit)
        return kit, out[1] if out else None, False

    @rule(number=NUMBER, count=st.integers(0, 3), length=st.integers(0, 9), unwritten=st.booleans(), how=HOW)
    def install(self, number: int, count: int, length: int, unwritten: bool, how: tuple[int, int]) -> None:
        """With the planned days where these still suit and `length` is 0, else with new ones."""
        kit, stay, unwritten = self.kit_to_install(number, unwritten and number % 2 == 0)
        act = self.based(self.act(how, self.world.technicians[number % 2]), kit, number)
        sensors = list(self.oracle.kits[kit].wired.values())[:count]
        start = act.happened_at.astimezone(SHOP_ZONE).date()
        if stay and not length and stay.back_day >= self.today() and start <= stay.take_out_by:
            days, fits = (stay.take_out_by, stay.back_day), stay.back_day > start
        else:
            chosen = self.dates(max(start, stay.from_day) if stay else start, length + 1)
            days = (chosen["take_out_by"], chosen["back_in_shop_by"])
            fits = stay is not None and not self.runs_into_a_plan(kit, stay, days[1])
        possible = stay is not None and (unwritten or stay.stage == "loaded")
        may = possible and bool(sensors) and fits
        done = self.take(
            stays.install,
            act,
            may=may,
            kit=world_of.kit(kit),
            placements=dict(zip(make.POSITIONS, map(world_of.sensor, sensors), strict=False)),
            take_out_by=days[0],
            back_in_shop_by=days[1],
            facts={"hookup_terminals": "R and C", "tap_place": "upstream", "ports_drilled": number % 3},
            call=world_of.call(stay.call) if stay and unwritten else None,
        )
        if done:
            sits = dict(zip(sensors, make.POSITIONS, strict=False))
            self.oracle.installed(done.row(Deployment).pk, kit, sits, days, act.happened_at)

    def runs_into_a_plan(self, kit: int, stay: StayBook, back_day: date) -> bool:
        return any(
            plan.from_day < back_day and stay.from_day < plan.back_day
            for plan in self.oracle.plans(kit).values()
            if plan is not stay
        )

    @precondition(lambda self: self.oracle.kits_at("installed") or self.steps % 4 == 0)
    @rule(number=NUMBER, who=st.integers(0, 1), seen=st.booleans(), how=HOW)
    def remove(self, number: int, who: int, seen: bool, how: tuple[int, int]) -> None:
        kit = pick(number, self.oracle.kits_at("installed"), self.world.kits)
        carrier = self.world.technicians[who]
        act = self.based(self.act(how, carrier), kit, number)
        may = self.oracle.stage(kit) == "installed"
        pull = stays.Pull(pulled_by="Pat Helper", ports_closed=number % 3 if seen else None)
        done = self.take(stays.remove, act, may=may, kit=world_of.kit(kit), carrier=carrier, pull=pull)
        if done:
            self.oracle.removed(kit, carrier.pk, act.happened_at)

    def count(self, kit: int, lost: int, spoiled: bool, on_truck: bool) -> tuple[stays.Count, list[int]]:
        """A count at hand-back in which some of the wired sensors are not there."""
        wired = list(self.oracle.kits[kit].wired.values())
        here = frozenset(world_of.sensor(pk) for pk in wired[lost:])
        place = HandBackPlace.TRUCK if on_truck else HandBackPlace.SHOP
        count = stays.Count(
            where=place,
            sensors=here,
            account_wiped=True,
            wifi_wiped=not spoiled,
            needs_work="Lid cracked" if spoiled else "",
        )
        return count, wired[:lost]

    @precondition(lambda self: self.oracle.kits_at("removed") or self.steps % 4 == 0)
    @rule(
        number=NUMBER,
        lost=st.sampled_from([0, 0, 0, 1, 2]),
        spoiled=st.booleans(),
        on_truck=st.booleans(),
        how=HOW,
    )
    def hand_back(self, number: int, lost: int, spoiled: bool, on_truck: bool, how: tuple[int, int]) -> None:
        kit = pick(number, self.oracle.kits_at("removed"), self.world.kits)
        spoiled = spoiled and number % 4 == 0
        act = self.based(self.act(how, self.world.office), kit, number)
        count, gone = self.count(kit, lost, spoiled, on_truck)
        may = self.oracle.stage(kit) == "removed"
        if self.take(stays.hand_back, act, may=may, kit=world_of.kit(kit), count=count):
            self.oracle.handed_back(kit, gone, spoiled, on_truck, act.happened_at)

    @precondition(lambda self: self.oracle.kits_at("installed", "removed"))
    @rule(
        number=NUMBER,
        hours_ago=st.sampled_from([None, 1, 5, 60]),
        lost=st.integers(0, 1),
        on_truck=st.booleans(),
        how=HOW,
    )
    def settle(
        self, number: int, hours_ago: int | None, lost: int, on_truck: bool, how: tuple[int, int]
    ) -> None:
        kit = pick(number, self.oracle.kits_at("installed", "removed"), self.world.kits)
        finder = self.world.technicians[number % 2]
        act = self.based(self.act(how, finder), kit, number)
        count, gone = self.count(kit, lost, False, on_truck)
        pulled_at = act.happened_at - timedelta(hours=hours_ago) if hours_ago else None
        was = self.oracle.out(kit)
        may: bool | None = was is not None and was[1].stage in {"installed", "removed"}
        inside = was is not None and was[1].stage == "installed"
        if may and inside and pulled_at:
            may = None
        pull = stays.Pull(pulled_by="nobody knows")
        done = self.take(
            stays.settle,
            act,
            may=may,
            since=pulled_at if inside else None,
            kit=world_of.kit(kit),
            pull=pull,
            count=count,
            pulled_at=pulled_at,
        )
        if done and was:
            if inside:
                was[1].times["removed"] = pulled_at or act.happened_at
                self.oracle.kits[kit].instants.append(pulled_at or act.happened_at)
            if on_truck:
                self.oracle.move(kit, "truck", finder.pk)
            elif inside:
                self.oracle.move(kit, "bench")
            self.oracle.handed_back(kit, gone, False, on_truck, act.happened_at)

    @precondition(lambda self: any(book.needs_work for book in self.oracle.kits.values()))
    @rule(number=NUMBER, how=HOW)
    def mend(self, number: int, how: tuple[int, int]) -> None:
        """The bench says that the kit is fit again."""
        from kits.actions import kits as kit_actions
        from kits.models import Condition

        broken = [kit for kit, book in self.oracle.kits.items() if book.needs_work]
        kit = pick(number, broken, self.world.kits)
        act = self.based(self.act(how, self.world.office), kit, number)
        row: Kit = world_of.kit(kit)
        if self.take(kit_actions.set_condition, act, may=True, kit=row, condition=Condition.IN_SERVICE):
            self.oracle.kits[kit].needs_work = False
