"""What every step of a random life shares: the clock, the act, what must hold afterwards."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, ClassVar, NamedTuple
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from kits.actions.acting import Act, Done
from kits.models import Condition, Custody, Event, Kit, SparePlace, User, Wiring
from sites.actions import custody
from sites.as_of import kit_as_of
from sites.books import contradictions
from sites.models import Deployment, Placement
from tests.sites import life_world as world_of
from tests.sites.life_oracle import Oracle

# How many minutes pass before a step, and how long before being typed it happened (mostly just now).
HOW = st.tuples(
    st.sampled_from([1, 45, 240, 1500, 6000]), st.sampled_from([0, 0, 0, 0, 0, 0, 0, 3, 40, 600, 3000])
)
NUMBER = st.integers(0, 59)


class Request(NamedTuple):
    """A step that was done, to be sent again."""

    action: Callable[..., Done]
    act: Act
    given: dict[str, Any]
    done: Done


class Note(NamedTuple):
    """What was true of a kit at an instant."""

    kit: int
    instant: datetime
    seen: tuple[object, ...]


def pick(number: int, fitting: Sequence[int], everything: Sequence[int]) -> int:
    """Mostly one that the step fits, sometimes just any."""
    among = fitting if fitting and number % 6 != 5 else everything
    return among[number // 6 % len(among)]


class LifeBase(RuleBasedStateMachine):
    """A life inside one transaction that is rolled back at its end."""

    world: ClassVar[world_of.World]
    done_count: ClassVar[int] = 0
    refused_count: ClassVar[int] = 0

    def __init__(self) -> None:
        super().__init__()
        self.whole_life = transaction.atomic()
        self.whole_life.__enter__()
        self.now = world_of.START
        self.oracle: Oracle = self.world.fresh_oracle()
        self.requests: list[Request] = []
        self.notes: list[Note] = []
        self.steps = 0
        self.events = Event.objects.count()
        self.versions = self.versions_now()
        self.looked_at: dict[int, int] = {}
        self.something_done = True

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.whole_life.__exit__(None, None, None)

    # -- Taking a step

    def act(self, how: tuple[int, int], user: User, **changes: Any) -> Act:
        """An act by `user` after some minutes, typed at once or later than it happened."""
        minutes_on, minutes_back = how
        self.now += timedelta(minutes=minutes_on)
        happened_at = self.now - timedelta(minutes=minutes_back)
        return Act.by(user, happened_at=happened_at, recorded_at=self.now, **changes)

    def based(self, act: Act, kit: int, number: int) -> Act:
        """The act as sent by somebody who saw the kit as it stands: by version, by their own last step, or not said."""
        if number % 3 == 0:
            return act
        last = next((sent for sent in reversed(self.requests) if ("kit", kit) in sent.done.subjects), None)
        if number % 3 == 1 and last is not None and last.act.typed_by == act.typed_by:
            return replace(act, based_on=last.act.request_id)
        return replace(act, based_on=self.versions[kit])

    def take(
        self,
        action: Callable[..., Done],
        act: Act,
        *,
        may: bool | None,
        since: datetime | None = None,
        **given: Any,
    ) -> Done | None:
        """Do it and check what every done or refused step owes; None when it was refused.

        `may`: whether it must be done (True, for what happened just now), must be refused (False), or depends (None).
        """
        try:
            done = action(act, **given)
        except ValidationError as refusal:
            assert may is not True or act.happened_at != act.recorded_at, f"refused: {refusal.messages}"
            assert all("violated" not in text and len(text) > 10 for text in refusal.messages), refusal
            self.nothing_changed()
            type(self).refused_count += 1
            return None
        assert may is not False, f"done, but must be refused: {done.sentence}"
        assert not done.again
        self.one_more_event(done)
        type(self).done_count += 1
        self.requests.append(Request(action, act, given, done))
        changed_since = min(since or act.happened_at, act.happened_at)
        kits = {row_id for kind, row_id in done.subjects if kind == "kit"}
        self.forget(changed_since, kits)
        for kit in kits:
            self.oracle.kits[kit].instants.append(act.happened_at)
        return done

    def forget(self, since: datetime, kits: set[int]) -> None:
        """Notes from `since` on no longer hold: the past was written anew."""
        self.notes = [note for note in self.notes if note.instant < since or note.kit not in kits]

    def versions_now(self) -> dict[int, int]:
        return dict(Kit.objects.filter(pk__in=self.world.kits).order_by().values_list("pk", "version"))

    def nothing_changed(self) -> None:
        assert Event.objects.count() == self.events
        assert self.versions_now() == self.versions

    def one_more_event(self, done: Done) -> None:
        """A done step leaves one event, and every kit it is about counts one up."""
        self.events += 1
        assert Event.objects.count() == self.events
        versions = self.versions_now()
        about = {row_id for kind, row_id in done.subjects if kind == "kit"}
        assert versions == {kit: old + (kit in about) for kit, old in self.versions.items()}
        self.versions = versions

    # -- Sending again

    @precondition(lambda self: self.requests)
    @rule(number=NUMBER, kind=st.sampled_from(["again", "again", "reused", "stale"]))
    def send_again(self, number: int, kind: str) -> None:
        if kind == "again":
            self.the_same_request_again(number)
        elif kind == "reused":
            self.the_same_request_for_something_else(number)
        else:
            self.a_step_based_on_what_is_no_longer_so(number)

    another_send_again = send_again

    def the_same_request_again(self, number: int) -> None:
        sent = self.requests[-1 - number % min(len(self.requests), 7)]
        try:
            again = sent.action(replace(sent.act, recorded_at=self.now), **sent.given)
        except ValidationError as refusal:
            raise AssertionError(f"refused when sent again: {refusal.messages}") from refusal
        assert again.again
        assert replace(again, again=False) == sent.done
        self.nothing_changed()

    def the_same_request_for_something_else(self, number: int) -> None:
        sent = self.requests[number % len(self.requests)]
        kit = world_of.kit(self.world.kits[number % len(self.world.kits)])
        act = Act.by(sent.act.typed_by, recorded_at=self.now, request_id=sent.act.request_id, why="another")
        self.must_refuse(custody.send_to_bench, act, "request_reused", kit=kit)

    def a_step_based_on_what_is_no_longer_so(self, number: int) -> None:
        kit = self.world.kits[number % len(self.world.kits)]
        stale = uuid4() if number % 4 == 0 else self.versions[kit] - 1
        act = Act.by(self.world.office, recorded_at=self.now, based_on=stale)
        code = "waiting" if number % 4 == 0 else "stale"
        self.must_refuse(custody.put_on_shelf, act, code, kit=world_of.kit(kit))

    def must_refuse(self, action: Callable[..., Done], act: Act, code: str, **given: Any) -> None:
        try:
            done = action(act, **given)
        except ValidationError as refusal:
            assert refusal.code == code, refusal
        else:
            raise AssertionError(f"done, but must be refused as {code}: {done.sentence}")
        self.nothing_changed()

    # -- What holds after every step

    @invariant()
    def the_books_tell_one_story(self) -> None:
        """Asked of the kits that something happened to, and every tenth step of all."""
        changed = [kit for kit, version in self.versions.items() if version != self.looked_at.get(kit)]
        self.steps += 1
        for kit in self.world.kits if self.steps % 10 == 0 else changed:
            found = contradictions(world_of.kit(kit))
            assert not found, found
        self.something_done = self.looked_at != self.versions
        self.looked_at = dict(self.versions)

    @invariant()
    def the_oracle_agrees(self) -> None:
        if not self.something_done and self.steps % 5:
            return
        kits = self.oracle.kits
        held = {
            kit: (place, technician)
            for kit, place, technician in Custody.objects.filter(held_until=None)
            .order_by()
            .values_list("kit", "place", "technician")
        }
        assert held == {kit: (book.place, book.holder) for kit, book in kits.items()}
        assert {
            stay.pk: (stay.stage.value, stay.take_out_by, stay.back_in_shop_by)
            for stay in Deployment.objects.order_by()
        } == {key: (stay.stage, stay.take_out_by, stay.back_day) for key, stay in self.oracle.stays.items()}
        wired = Wiring.objects.filter(wired_until=None).order_by().values_list("kit", "terminal", "sensor")
        assert set(wired) == {(kit, *pair) for kit, book in kits.items() for pair in book.wired.items()}
        spares = (
            SparePlace.objects.filter(kept_until=None).order_by().values_list("sensor", "place", "technician")
        )
        assert set(spares) == {(sensor, *kept) for sensor, kept in self.oracle.spares.items()}
        sits = Placement.objects.filter(placed_until=None).order_by()
        assert set(sits.values_list("deployment", "sensor", "position__code")) == {
            (key, *pair) for key, stay in self.oracle.stays.items() for pair in stay.sits.items()
        }
        needs_work = set(
            Kit.objects.filter(condition=Condition.NEEDS_WORK).order_by().values_list("pk", flat=True)
        )
        assert needs_work == {kit for kit, book in kits.items() if book.needs_work}

    @invariant()
    def time_can_be_looked_up_backwards(self) -> None:
        """One kit is noted as it is now, and one of the notes so far is held against what the books say of it."""
        if not self.something_done and self.steps % 3:
            return
        kit = self.world.kits[self.steps % len(self.world.kits)]
        self.notes.append(Note(kit, self.now, self.oracle.seen(kit, self.now)))
        note = self.notes[-1 if self.steps % 2 else self.steps * 7 % len(self.notes)]
        assert as_of(self.world.codes[note.kit], note) == note.seen

    def __repr__(self) -> str:
        return f"{type(self).__name__} at {self.now}"


def as_of(code: str, note: Note) -> tuple[object, ...]:
    """The answer of `kit_as_of` in the oracle's words."""
    then = kit_as_of(code, note.instant)
    assert then.custody is not None
    leads = {
        row.terminal: (
            row.sensor.pk,
            row.position.code if row.position else None,
            round(row.offset.offset_kelvin * 1000) if row.offset else None,
        )
        for row in then.sensors
    }
    stay = then.deployment.pk if then.deployment else None
    return then.custody.place, then.custody.technician_id, stay, leads
