"""Fifty people at once: real threads, real transactions, on whichever database the run is for."""

from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from threading import Barrier
from uuid import uuid4

import pytest
from django.db import connections

from kits.actions import checks, closing
from kits.actions.acting import Act, Done
from kits.models import CalibrationCheck, Event, Kit, Offset, Place, Receipt, User
from kits.promises import Refused
from sites.actions import custody, planning, stays
from sites.books import contradictions
from sites.models import Deployment, ServiceCall, Stage
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)

MANY = 50
ROUNDS = 20


@pytest.fixture
def pool() -> Iterator[ThreadPoolExecutor]:
    """Threads that keep their own database connection, closed at the end so that the test database can go."""
    threads = ThreadPoolExecutor(MANY)
    yield threads
    gone = Barrier(MANY)

    def close() -> None:
        gone.wait(timeout=30)  # each thread closes its own: none may take two of these jobs
        connections.close_all()

    for job in [threads.submit(close) for _ in range(MANY)]:
        job.result()
    threads.shutdown()


def at_once(pool: ThreadPoolExecutor, attempts: list[Callable[[], Done]]) -> list[Done | Refused]:
    """Every attempt in a thread of its own, as many at once as there are threads; answers in the order given.

    A locked database, a deadlock or any other error than a refusal fails the test.
    """

    def attempt(job: Callable[[], Done]) -> Done | Refused:
        try:
            return job()
        except Refused as refusal:
            return refusal

    return list(pool.map(attempt, attempts))


def won(answers: list[Done | Refused]) -> list[Done]:
    return [answer for answer in answers if isinstance(answer, Done)]


def words(answers: list[Done | Refused]) -> list[str]:
    return [" ".join(answer.messages) for answer in answers if isinstance(answer, Refused)]


def loading(kit: Kit, call: ServiceCall, technician: User, seen: int) -> Callable[[], Done]:
    act = Act.by(technician, based_on=seen)
    return lambda: stays.load(act, kit=kit, call=call, technician=technician, **make.dates(call))


def one_kit_loaded_by_many(pool: ThreadPoolExecutor, people: list[User], calls: list[ServiceCall]) -> None:
    kit = make.kit(sensors=2)
    attempts = [loading(kit, call, person, kit.version) for person, call in zip(people, calls, strict=True)]
    answers = at_once(pool, attempts)
    assert len(won(answers)) == 1, Counter(words(answers))
    kit = Kit.objects.get(pk=kit.pk)
    stay = kit.deployments.get()
    assert stay.stage == Stage.LOADED and kit.custody.technician == stay.technician
    held_by = f"is on {stay.technician}'s truck for {stay.call}"
    assert all(held_by in sentence for sentence in words(answers)), words(answers)[:3]
    assert len(words(answers)) == len(people) - 1
    assert contradictions(kit) == []
    # The next round starts with free calls.
    custody.put_on_shelf(make.act(people[0]), kit=kit)


def crowd(count: int, role: str) -> list[User]:
    return [make.user(role, name=f"{role} {number}") for number in range(count)]


def test_of_fifty_technicians_who_load_one_kit_at_once_exactly_one_has_it(pool):
    people, calls = crowd(MANY, "technician"), [make.call() for _ in range(MANY)]
    one_kit_loaded_by_many(pool, people, calls)
    for _ in range(ROUNDS - 1):
        one_kit_loaded_by_many(pool, people[:12], calls[:12])


@pytest.mark.soak
def test_two_hundred_rounds_of_fifty_technicians(pool):
    people, calls = crowd(MANY, "technician"), [make.call() for _ in range(MANY)]
    for _ in range(200):
        one_kit_loaded_by_many(pool, people, calls)


def one_kit_planned_by_many(pool: ThreadPoolExecutor, people: list[User], calls: list[ServiceCall]) -> None:
    kit = make.kit(sensors=2)

    def planning_of(call: ServiceCall, person: User) -> Callable[[], Done]:
        act = Act.by(person)
        return lambda: planning.plan(act, call=call, kit=kit, **make.dates(call))

    jobs = [planning_of(call, person) for call, person in zip(calls, people, strict=True)]
    answers = at_once(pool, jobs)
    assert len(won(answers)) == 1, Counter(words(answers))
    stay = kit.deployments.get()
    assert all(f"promised to call {stay.call.number}" in sentence for sentence in words(answers))
    assert len(words(answers)) == len(people) - 1
    planning.call_off(make.act(people[0]), stay=stay, why="next round")


def test_of_fifty_office_people_who_plan_one_kit_at_once_exactly_one_gets_it(pool):
    people, calls = crowd(MANY, "office"), [make.call() for _ in range(MANY)]
    one_kit_planned_by_many(pool, people, calls)
    for _ in range(ROUNDS - 1):
        one_kit_planned_by_many(pool, people[:12], calls[:12])


@pytest.mark.soak
def test_two_hundred_rounds_of_fifty_office_people(pool):
    people, calls = crowd(MANY, "office"), [make.call() for _ in range(MANY)]
    for _ in range(200):
        one_kit_planned_by_many(pool, people, calls)


def test_of_twenty_kits_planned_for_one_call_at_once_exactly_one_is(pool):
    call, kits, people = make.call(), [make.kit(sensors=2) for _ in range(20)], crowd(20, "office")

    def planning_of(kit: Kit, person: User) -> Callable[[], Done]:
        act = Act.by(person)
        return lambda: planning.plan(act, call=call, kit=kit, **make.dates(call))

    answers = at_once(pool, [planning_of(kit, person) for kit, person in zip(kits, people, strict=True)])
    assert len(won(answers)) == 1
    stay = call.deployments.get()
    assert all(str(stay.kit) in sentence for sentence in words(answers)), words(answers)[:3]


def test_one_request_sent_twenty_times_at_once_is_one_event_and_one_answer(pool):
    call, kit, person = make.call(), make.kit(sensors=2), make.office()
    for _ in range(5):
        act = Act.by(person, request_id=uuid4())
        events = Event.objects.count()
        job = [lambda act=act: custody.send_to_bench(act, kit=kit)] * 20
        answers = at_once(pool, job)
        assert Event.objects.count() == events + 1
        assert len(won(answers)) == 20
        assert {(done.sentence, done.version, done.event_id) for done in won(answers)} == {
            (answers[0].sentence, answers[0].version, answers[0].event_id)
        }
        assert sum(not done.again for done in won(answers)) == 1
        assert Receipt.objects.filter(request_id=act.request_id).count() == 1
    act = Act.by(person, request_id=uuid4())
    job = [lambda: planning.plan(act, call=call, kit=kit, **make.dates(call))] * 20
    assert len(won(at_once(pool, job))) == 20
    assert Deployment.objects.filter(call=call).count() == 1


def test_two_technicians_who_take_each_others_kits_for_each_others_calls_never_lock_each_other_out(pool):
    """Loading one call's kit for another call touches both calls; PostgreSQL may end one of two, which is tried again."""
    for _ in range(6):
        first, second = make.stay(Stage.LOADED), make.stay(Stage.LOADED)
        ann, ben = make.technician(), make.technician()
        jobs = [
            loading(first.kit, second.call, ann, Kit.objects.get(pk=first.kit_id).version),
            loading(second.kit, first.call, ben, Kit.objects.get(pk=second.kit_id).version),
        ]
        answers = at_once(pool, jobs)
        for kit in (first.kit, second.kit):
            assert contradictions(Kit.objects.get(pk=kit.pk)) == []
            assert kit.custodies.get(held_until=None).place == Place.TRUCK
        assert len(answers) == 2


def test_of_two_people_who_close_one_check_at_once_one_does_and_the_other_is_told_who(pool):
    people = crowd(6, "technician")
    for _ in range(3):
        sensors = [wiring.sensor for wiring in make.kit(sensors=2, checked=False).wirings.all()]
        check = make.check(sensors, closed=False)
        attempts = [partial(closing.close_check, Act.by(who), check=check) for who in people]
        answers = at_once(pool, attempts)
        assert len(won(answers)) == 1, Counter(words(answers))
        check.refresh_from_db()
        said = f"was closed by {check.closed_by} on"
        assert all(said in sentence for sentence in words(answers)), words(answers)[:3]
        assert check.results.count() == 2 and Offset.objects.filter(result__sitting=check).count() == 2
        assert Event.objects.filter(what="check closed").count() == CalibrationCheck.objects.count()


def test_readings_typed_while_a_check_is_being_closed_are_in_it_or_refused(pool):
    person = make.technician()
    for _ in range(3):
        sensors = [wiring.sensor for wiring in make.kit(sensors=2, checked=False).wirings.all()]
        check = make.check(sensors, closed=False, errors=(0.1,))
        point = check.points.get()

        def typed() -> Done:
            readings = {sensors[0]: [0.25] * 5}  # noqa: B023 -- done before the next round
            return checks.keep_readings(Act.by(person), check=check, point=point, readings=readings)  # noqa: B023

        def close() -> Done:
            return closing.close_check(Act.by(person), check=check)  # noqa: B023

        closed, kept = at_once(pool, [close, typed])
        assert isinstance(closed, Done)
        found = check.results.get(sensor=sensors[0]).arithmetic["points"][0]["sensor_readings_celsius"]
        stored = [float(row.celsius) for row in point.readings.filter(sensor=sensors[0])]
        assert found == stored
        assert isinstance(kept, Done) == (found == [0.25] * 5)
