"""Emptying the tables between tests leaves every trigger and every built-in row in place."""

import uuid

import pytest
from django.db import DatabaseError, connection
from django.utils import timezone

from kits.models import Event, User
from kits.promises import guards
from sites.models import Position

ROUNDS = pytest.mark.parametrize(
    "round_number", [1, 2]
)  # the second one sees what the first one's flush left


def triggers() -> list[str]:
    sql = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger' ORDER BY name",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O' ORDER BY tgname",
    }
    with connection.cursor() as cursor:
        cursor.execute(sql[connection.vendor])
        return [name for (name,) in cursor.fetchall()]


def event(typed_by: User) -> Event:
    now = timezone.now()
    return Event.objects.create(
        what="tried",
        summary="Tried.",
        did_by=typed_by,
        answers_for=typed_by,
        typed_by=typed_by,
        happened_at=now,
        recorded_at=now,
        request_id=uuid.uuid4(),
    )


@pytest.fixture(scope="session")
def triggers_at_first() -> list[str]:
    return []


@ROUNDS
@pytest.mark.django_db(transaction=True)
def test_a_kept_row_is_gone_after_the_flush_and_its_keepers_are_not(round_number, triggers_at_first):
    assert Event.objects.count() == 0
    assert guards.missing_guards(connection) == []
    triggers_at_first[:] = triggers_at_first or triggers()
    assert triggers() == triggers_at_first != []

    event(User.objects.create(username="office", name="Office", role="office"))
    with pytest.raises(DatabaseError), connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {Event._meta.db_table}")
    assert Event.objects.count() == 1


@ROUNDS
@pytest.mark.django_db(transaction=True)
def test_the_built_in_positions_are_there_again(round_number):
    assert set(Position.objects.values_list("code", flat=True)) == {"SA", "RA", "LL", "VL", "OA"}
