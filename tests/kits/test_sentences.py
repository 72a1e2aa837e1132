"""A database's refusal becomes one sentence, the same on both databases; a deadlock is tried twice more."""

import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, OperationalError, connection, connections, transaction
from django.db.models import UniqueConstraint
from django.utils import timezone

from kits.models import Custody, Event, Kit, Offset, Part, Place, Sensor, User
from kits.promises import Refused, kept, one_transaction, refusal_for, sentence_for, worded
from kits.promises import sentences as told
from tests import make


@pytest.fixture
def box(db: None) -> Kit:
    """A kit on the shelf with two sensors."""
    return make.kit(sensors=2)


def refusal_of(work: Callable[[], Any]) -> Refused:
    """The refusal that the database's own error becomes; fails when nothing is refused."""
    with pytest.raises(IntegrityError) as error, transaction.atomic():
        work()
        if connection.vendor == "sqlite":
            connection.check_constraints()
        else:
            connection.cursor().execute("SET CONSTRAINTS ALL IMMEDIATE")
    refusal = refusal_for(error.value)
    assert refusal is not None
    return refusal


def give_offset(sensor: Sensor) -> Offset:
    who = User.objects.first()
    return Offset.objects.create(
        sensor=sensor,
        in_force_from=make.utc(2026, 3, 1),
        offset_kelvin=0,
        recorded_at=timezone.now(),
        recorded_by=who,
    )


BROKEN: list[Any] = [
    pytest.param(
        lambda box: Custody.objects.create(
            kit=box,
            place=Place.BENCH,
            held_from=timezone.now(),
            held_until=timezone.now() + timedelta(hours=1),
        ),
        "kit_in_one_custody",
        id="no overlap",
    ),
    pytest.param(lambda box: Event.objects.update(why="forged"), "event_never_changes", id="append only"),
    pytest.param(
        lambda box: box.wirings.update(terminal=1),
        "one_sensor_a_terminal",
        id="no overlap of two keys",
    ),
    pytest.param(
        lambda box: make.sensor().wirings.create(kit=box, terminal=5, wired_from=timezone.now()),
        "sensor_wired_or_spare",
        id="guard",
    ),
    pytest.param(lambda box: Kit.objects.update(code="OIL0UX"), "kit_code_valid", id="check"),
    pytest.param(
        lambda box: Kit.objects.create(name="Second", code=box.code, built_on=box.built_on),
        "kits_kit.code",
        id="unique field with a sentence",
    ),
    pytest.param(
        lambda box: [give_offset(box.wirings.first().sensor) for _ in range(2)],
        "one_offset_an_instant",
        id="unique constraint",
    ),
]


@pytest.mark.parametrize(("work", "rule"), BROKEN)
def test_a_broken_rule_speaks_the_sentence_of_its_app(
    box: Kit, work: Callable[[Kit], Any], rule: str
) -> None:
    refusal = refusal_of(lambda: work(box))
    assert refusal.code == rule
    assert refusal.messages == [told.SENTENCES[rule]]


def test_a_unique_field_without_a_sentence_names_what_is_there_twice(box: Kit) -> None:
    person = make.user()
    refusal = refusal_of(lambda: User.objects.create(username=person.username, name="Somebody Else"))
    assert refusal.messages == ["There is already a user with this username."]
    assert refusal.code == "kits_user.username"


def test_an_empty_column_is_named_by_its_label(box: Kit) -> None:
    refusal = refusal_of(lambda: Kit.objects.update(built_on=None))
    assert refusal.messages == ["“Built on” is empty and must not be."]


def test_a_reference_to_nothing_is_told_without_column_names(box: Kit) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.create(kit_id=987_654, name="Magnet")
        connection.check_constraints()
    if connection.vendor == "postgresql":
        refusal = refusal_of(lambda: Part.objects.create(kit_id=987_654, name="Magnet"))
    else:
        refusal = refusal_for(IntegrityError("FOREIGN KEY constraint failed"))  # type: ignore[assignment]
    assert "not there" in refusal.messages[0]
    assert "kit_id" not in refusal.messages[0]


def test_a_rule_without_a_sentence_still_gives_its_name() -> None:
    refusal = refusal_for(IntegrityError("kept:some_new_rule"))
    assert refusal is not None
    assert refusal.messages == ["The books do not allow this (some new rule). Nothing was saved."]
    assert refusal.code == "some_new_rule"


def test_an_error_that_names_no_rule_is_left_as_it_is(db: None) -> None:
    assert refusal_for(IntegrityError("datatype mismatch")) is None

    def work() -> None:
        raise IntegrityError("datatype mismatch")

    with pytest.raises(IntegrityError, match="datatype mismatch"):
        kept(work)


def test_every_rule_of_our_models_has_a_sentence() -> None:
    """Plain UNIQUE gets one made from the labels; every other rule has its own."""
    nameless = [
        f"{model.__name__}: {rule.name}"
        for app in ("kits", "sites", "reports")
        for model in apps.get_app_config(app).get_models()
        for rule in model._meta.constraints
        if not (isinstance(rule, UniqueConstraint) and rule.condition is None)
        and rule.name not in told.SENTENCES
    ]
    assert nameless == []


def test_sentences_are_sentences() -> None:
    for name, sentence in told.SENTENCES.items():
        assert sentence[0].isupper(), name
        assert sentence.endswith((".", "?")), name
        assert name not in sentence


# kept()


def test_kept_gives_back_what_the_work_returns_and_saves_it(box: Kit) -> None:
    assert kept(lambda: Kit.objects.filter(pk=box.pk).update(name="Blue box")) == 1
    assert Kit.objects.get(pk=box.pk).name == "Blue box"


def test_kept_undoes_everything_when_a_rule_is_broken(box: Kit) -> None:
    @one_transaction
    def rename_and_forge(*, name: str) -> None:
        Kit.objects.filter(pk=box.pk).update(name=name)
        Event.objects.update(why="forged")

    with pytest.raises(Refused) as refusal:
        rename_and_forge(name="Never")
    assert refusal.value.code == "event_never_changes"
    assert isinstance(refusal.value.__cause__, IntegrityError)
    assert Kit.objects.get(pk=box.pk).name == box.name


def test_full_clean_inside_kept_speaks_our_sentences_too(box: Kit) -> None:
    def work() -> None:
        Kit(code="OIL0UX", name="", built_on=box.built_on).full_clean()

    with pytest.raises(Refused) as refusal:
        kept(work)
    assert refusal.value.message_dict["__all__"] == [told.SENTENCES["kit_code_valid"]]
    assert refusal.value.message_dict["name"] == ["This field cannot be blank."]
    plain = worded(ValidationError("Something else."))
    assert plain.messages == ["Something else."]
    assert sentence_for("kit_code_valid") == told.SENTENCES["kit_code_valid"]


def test_a_refusal_keeps_its_own_words_and_code(box: Kit) -> None:
    def work() -> None:
        raise Refused("The kit is on the bench. Put it on the shelf first.", code="wrong_place")

    with pytest.raises(Refused, match="on the bench") as refusal:
        kept(work)
    assert refusal.value.code == "wrong_place"


# Deadlocks


class Deadlock(Exception):
    sqlstate = "40P01"


def ends_in_deadlock(times: int, tries: list[int]) -> Callable[[], str]:
    def work() -> str:
        tries.append(len(tries))
        if len(tries) <= times:
            raise OperationalError("deadlock detected") from Deadlock()
        return "done"

    return work


@pytest.mark.django_db(transaction=True)
def test_a_deadlock_is_tried_twice_more_and_no_more() -> None:
    tries: list[int] = []
    for deadlocks in (1, 2):
        tries.clear()
        assert kept(ends_in_deadlock(deadlocks, tries)) == "done"
        assert len(tries) == deadlocks + 1
    tries.clear()
    with pytest.raises(OperationalError):
        kept(ends_in_deadlock(3, tries))
    assert len(tries) == 3


@pytest.mark.django_db(transaction=True)
def test_inside_a_transaction_only_the_outermost_tries_again() -> None:
    inner: list[int] = []
    outer: list[int] = []

    def work() -> str:
        outer.append(1)
        return kept(ends_in_deadlock(1, inner))

    assert kept(work) == "done"
    assert (len(outer), len(inner)) == (2, 2)


@pytest.mark.django_db(transaction=True)
def test_other_faults_of_the_database_are_not_tried_again() -> None:
    tries: list[int] = []

    def work() -> None:
        tries.append(1)
        raise OperationalError("disk I/O error")

    with pytest.raises(OperationalError):
        kept(work)
    assert len(tries) == 1


@pytest.fixture
def two_kits(transactional_db: None) -> Iterator[tuple[int, int]]:
    yield make.kit(sensors=0).pk, make.kit(sensors=0).pk


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
def test_two_people_who_lock_each_other_out_both_get_through(two_kits: tuple[int, int]) -> None:
    tries: list[int] = []
    both_hold_one = threading.Barrier(2, timeout=20)
    names: list[str] = []

    def rename(first: int, second: int, name: str) -> None:
        def work() -> None:
            tries.append(1)
            Kit.objects.filter(pk=first).update(name=name)
            if len(tries) <= 2:
                both_hold_one.wait()
            Kit.objects.filter(pk=second).update(name=name)

        try:
            kept(work)
            names.append(name)
        finally:
            connections.close_all()

    one, other = two_kits
    threads = [
        threading.Thread(target=rename, args=(one, other, "Ada")),
        threading.Thread(target=rename, args=(other, one, "Ben")),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert sorted(names) == ["Ada", "Ben"]
    assert len(tries) == 3
    assert Kit.objects.get(pk=one).name == Kit.objects.get(pk=other).name
