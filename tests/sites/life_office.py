"""The steps of a random life that move a kit between hands, and those of the office and the manager."""

from datetime import datetime, timedelta

from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from kits.models import Event
from sites.actions import corrections, custody, places, planning
from sites.models import Deployment, Stage
from tests.sites import life_world as world_of
from tests.sites.life_machine import HOW, NUMBER, LifeBase, pick
from tests.sites.life_oracle import RUNNING, SHOP_ZONE, StayBook

IN_ORDER = ("loaded", "installed", "removed")


class Office(LifeBase):
    """Hands, the office, the manager."""

    def __init__(self) -> None:
        super().__init__()
        # The last time each kit was taken onto a truck: the event, whose truck it came from, the stay that lost it.
        self.taken: dict[int, tuple[int, int | None, int | None]] = {}

    @rule(number=NUMBER, who=st.integers(0, 1), how=HOW)
    def take_onto_truck(self, number: int, who: int, how: tuple[int, int]) -> None:
        kit = pick(number, self.oracle.kits_in("shelf", "bench", "truck"), self.world.kits)
        technician = self.world.technicians[who]
        act = self.based(self.act(how, technician), kit, number)
        may = self.oracle.may_take(kit, technician.pk)
        done = self.take(custody.take_onto_truck, act, may=may, kit=world_of.kit(kit), technician=technician)
        if done:
            out = self.oracle.out(kit)
            self.taken[kit] = done.event_id, self.oracle.kits[kit].holder, out[0] if out else None
            self.oracle.let_go_out(kit, act.happened_at)
            self.oracle.move(kit, "truck", technician.pk)

    @rule(
        kind=st.sampled_from(
            ["undo", "missing", "turn up", "retire", "call off", "given up", "extend", "extend", "speaks"]
        ),
        number=NUMBER,
        other=NUMBER,
        how=HOW,
    )
    def office(self, kind: str, number: int, other: int, how: tuple[int, int]) -> None:
        """One of the steps that the office or the manager takes."""
        odd = other % 2 == 1
        if kind == "missing":
            self.mark_missing(number, how)
        elif kind == "turn up":
            self.turn_up(number, odd, how)
        elif kind == "retire":
            self.retire(number, how)
        elif kind == "undo" and self.taken:
            self.undo_take(number, how)
        elif kind == "given up" and self.oracle.kits_at("loaded", "installed", "removed"):
            self.not_recovered(number, how)
        elif kind == "call off" and self.oracle.stays:
            self.call_off(number, how)
        elif kind == "extend" and self.oracle.stays:
            self.extend(number, 1 + other % 9, how)
        elif kind == "speaks" and self.oracle.stays:
            self.customer_speaks(number, odd, how)

    def undo_take(self, number: int, how: tuple[int, int]) -> None:
        kit = list(self.taken)[number % len(self.taken)]
        event_id, holder, lost = self.taken[kit]
        latest = self.latest_about(kit)
        act = self.act(how, self.world.office)
        may = holder is not None and latest == event_id
        event = Event.objects.get(pk=event_id)
        done = self.take(custody.undo_take, act, may=may, event=event)
        if done:
            self.oracle.move(kit, "truck", holder)
            stay = self.oracle.stays[lost] if lost is not None else None
            if stay and self.oracle.of_call(stay.call) is None:
                again = StayBook(kit, stay.call, "loaded", stay.from_day, stay.take_out_by, stay.back_day)
                again.times["loaded"] = act.happened_at
                self.oracle.stays[done.row(Deployment).pk] = again

    def latest_about(self, kit: int) -> int | None:
        about = [sent.done.event_id for sent in self.requests if ("kit", kit) in sent.done.subjects]
        return about[-1] if about else None

    @rule(number=NUMBER, on_shelf=st.booleans(), broken=st.booleans(), how=HOW)
    def put_away(self, number: int, on_shelf: bool, broken: bool, how: tuple[int, int]) -> None:
        """On the shelf or on the bench, there perhaps to be mended."""
        kit = pick(number, self.oracle.kits_in("shelf", "bench", "truck"), self.world.kits)
        act = self.based(self.act(how, self.world.office), kit, number)
        may, row = self.oracle.may_shelve(kit), world_of.kit(kit)
        broken = broken and not on_shelf and number % 4 == 0
        if on_shelf:
            done = self.take(custody.put_on_shelf, act, may=may, kit=row)
        else:
            words = {"needs_work": True, "why": "dead terminal"} if broken else {}
            done = self.take(custody.send_to_bench, act, may=may, kit=row, **words)
        if done:
            self.oracle.let_go_out(kit, act.happened_at)
            self.oracle.move(kit, "shelf" if on_shelf else "bench")
            self.oracle.kits[kit].needs_work |= broken

    def mark_missing(self, number: int, how: tuple[int, int]) -> None:
        kit = pick(number, self.oracle.kits_in("truck"), self.world.kits)
        act = self.based(self.act(how, self.world.office), kit, number)
        may = self.oracle.may_shelve(kit)
        if self.take(custody.mark_missing, act, may=may, kit=world_of.kit(kit), why="looked everywhere"):
            self.oracle.let_go_out(kit, act.happened_at)
            self.oracle.given_up(kit, "missing", act.happened_at)

    def turn_up(self, number: int, back: bool, how: tuple[int, int]) -> None:
        """A missing kit is found, or a retired one brought back."""
        kit = pick(number, self.oracle.kits_in("retired" if back else "missing"), self.world.kits)
        act = self.based(self.act(how, self.world.manager), kit, number)
        place, row = self.oracle.kits[kit].place, world_of.kit(kit)
        if back:
            done = self.take(custody.bring_back, act, may=place == "retired", kit=row, why="needed again")
        else:
            done = self.take(custody.found_again, act, may=place == "missing", kit=row)
        if done:
            self.oracle.move(kit, "bench")

    def retire(self, number: int, how: tuple[int, int]) -> None:
        kit = self.world.kits[number // 6 % len(self.world.kits)]
        user = self.world.office if number % 6 == 5 else self.world.manager
        act = self.based(self.act(how, user), kit, number)
        may = self.oracle.kits[kit].place in {"shelf", "bench", "missing"} and user == self.world.manager
        if number % 3 == 0 and self.take(custody.retire, act, may=may, kit=world_of.kit(kit), why="worn out"):
            self.oracle.given_up(kit, "retired", act.happened_at)

    # -- Stays

    def stay_of(self, number: int, *stages: str) -> int:
        fitting = [key for key, stay in self.oracle.stays.items() if stay.stage in stages]
        return pick(number, fitting, list(self.oracle.stays))

    def call_off(self, number: int, how: tuple[int, int]) -> None:
        key = self.stay_of(number, "planned", "loaded")
        act = self.act(how, self.world.office)
        may = self.oracle.stays[key].stage in {"planned", "loaded"}
        stay = Deployment.objects.get(pk=key)
        if self.take(planning.call_off, act, may=may, stay=stay, why="no access"):
            stay.refresh_from_db()  # a plan made later than that ends when it was made
            assert stay.called_off_at is not None
            self.oracle.let_go([key], stay.called_off_at)

    def not_recovered(self, number: int, how: tuple[int, int]) -> None:
        key = self.stay_of(number, "loaded", "installed", "removed")
        if number % 4:
            return
        stay = self.oracle.stays[key]
        act = self.act(how, self.world.manager)
        row = Deployment.objects.get(pk=key)
        if self.take(custody.not_recovered, act, may=stay.is_out, stay=row, why="moved away"):
            stay.stage, stay.sits = "not_recovered", {}
            stay.times["not_recovered"] = act.happened_at
            self.oracle.given_up(stay.kit, "missing", act.happened_at)

    def extend(self, number: int, days: int, how: tuple[int, int]) -> None:
        key = self.stay_of(number, "planned", "loaded", "installed")
        stay = self.oracle.stays[key]
        act = self.act(how, self.world.manager)
        today = self.now.astimezone(SHOP_ZONE).date()
        take_out_by = max(stay.take_out_by, today) + timedelta(days=days)
        back_day = take_out_by + timedelta(days=1)
        clash = any(
            other.from_day < back_day and stay.from_day < other.back_day
            for other_key, other in self.oracle.stays.items()
            if other.kit == stay.kit and other_key != key and other.stage in RUNNING
        )
        done = self.take(
            planning.extend,
            act,
            may=stay.stage in {"planned", "loaded", "installed"} and not clash and back_day > stay.back_day
            if back_day > stay.back_day
            else None,
            stay=Deployment.objects.get(pk=key),
            agreed_by="the tenant",
            agreed_on=today,
            how="phone",
            take_out_by=take_out_by,
            back_in_shop_by=back_day,
        )
        if done:
            stay.take_out_by, stay.back_day = take_out_by, back_day

    def customer_speaks(self, number: int, sold: bool, how: tuple[int, int]) -> None:
        """They ask for the kit, or the house has changed hands."""
        key = self.stay_of(number, "installed")
        act = self.act(how, self.world.office)
        row = Deployment.objects.select_related("unit__site").get(pk=key)
        today = self.now.astimezone(SHOP_ZONE).date()
        if sold and number % 3 == 0:
            buyer = self.world.buyer if number % 2 else None
            self.take(places.house_sold, act, may=None, site=row.unit.site, on=today, new_owner=buyer)
        elif not sold:
            may = "installed" in self.oracle.stays[key].times
            self.take(planning.note_customer_asked, act, may=may, stay=row, asked_on=today)

    # -- Times corrected

    @precondition(lambda self: any(stay.times for stay in self.oracle.stays.values()))
    @rule(number=NUMBER, step=NUMBER, minutes=st.sampled_from([-600, -30, -1, 1, 30, 600]), how=HOW)
    def correct_time(self, number: int, step: int, minutes: int, how: tuple[int, int]) -> None:
        key = pick(number, [key for key, row in self.oracle.stays.items() if row.times], [*self.oracle.stays])
        stay = self.oracle.stays[key]
        if not stay.times:
            return
        stage = list(stay.times)[step % len(stay.times)]
        was = stay.times[stage]
        to = was + timedelta(minutes=minutes)
        act = self.act((how[0], 0), self.world.manager)
        done = self.take(
            corrections.correct_time,
            act,
            may=self.may_correct(key, stage, was, to),
            since=min(was, to),
            stay=Deployment.objects.get(pk=key),
            stage=Stage(stage),
            to=to,
            why="clock of the phone was wrong",
        )
        if done:
            stay.times[stage] = to
            self.oracle.kits[stay.kit].instants.append(to)

    def may_correct(self, key: int, stage: str, was: datetime, to: datetime) -> bool | None:
        """It must be possible where nothing else was done with the kit in between; it must not be out of order."""
        stay = self.oracle.stays[key]
        if to > self.now:
            return False
        for other, when in stay.times.items():
            earlier = other in IN_ORDER and (
                stage not in IN_ORDER or IN_ORDER.index(other) < IN_ORDER.index(stage)
            )
            if other != stage and (to < when if earlier else to > when):
                return False
        first, last = min(was, to), max(was, to)
        instants = self.oracle.kits[stay.kit].instants
        alone = instants.count(was) == 1 and not any(first <= at <= last for at in instants if at != was)
        shared = sum(when == was for row in self.oracle.stays.values() for when in row.times.values()) > 1
        lost_later = stage == "handed_back" and to > was
        return True if alone and not shared and not lost_later else None
