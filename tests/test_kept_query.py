"""Every query that is kept compiled gives exactly what Django gives for its query set, on both databases."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.db.models import Model
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from config.sessions import person, running_session
from config.shell import the_shop_row
from kits.kept_query import KEPT, Given, KeptQuery
from kits.models import Kit, User
from sites.in_hand import kit_with_stay, open_follow_ups, wirings_with_places
from sites.kit_list import NO_KIT, PLACES_OF_A_PAGE, kits_of_page
from sites.models import Deployment, Stage
from sites.next_step import earliest_plan, waiting_call
from tests import make
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db


def seen(row: Any, within: tuple[int, ...] = ()) -> Any:
    """All that a row holds, and the rows read along with it, some of which lead back to it."""
    if not isinstance(row, Model):
        return row
    if id(row) in within:
        return type(row).__name__, row.pk
    within = (*within, id(row))
    held = {name: seen(value, within) for name, value in vars(row).items() if name != "_state"}
    along = {name: seen(one, within) for name, one in row._state.fields_cache.items()}
    return type(row).__name__, held, along


def by_itself(kept: KeptQuery[Any], given: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What Django makes of the query set when the values stand in it."""

    def filled(self: Given, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        return "%s", [self.output_field.get_db_prep_value(given[self.name], connection)]

    with monkeypatch.context() as patch:
        patch.setattr(Given, "as_sql", filled)
        return list(kept.build())


def installed_stay(technician: User) -> Deployment:
    stay = make.stay(Stage.INSTALLED, began=timezone.now() - timedelta(days=3))
    stay.kit.follow_ups.create(what="One hole to plug.", opened_at=timezone.now(), opened_by=technician)
    return stay


def test_kept_queries_give_what_django_gives(technician: User, monkeypatch: pytest.MonkeyPatch) -> None:
    make.shop()
    signed_in(technician)
    now, out = timezone.now(), installed_stay(technician)
    promised = make.stay(Stage.PLANNED, kit=make.kit(sensors=2))
    shelved = make.kit()
    make.call(technician=technician)
    cases: list[tuple[KeptQuery[Any], dict[str, Any]]] = [
        (running_session, {"key": Session.objects.get().session_key, "now": now}),
        (person, {"pk": technician.pk}),
        (the_shop_row, {}),
        (kit_with_stay, {"code": out.kit.code}),
        (kit_with_stay, {"code": shelved.code}),
        (wirings_with_places, {"kit": out.kit_id, "stay": out.pk, "now": now}),
        (wirings_with_places, {"kit": shelved.pk, "stay": 0, "now": now}),
        (open_follow_ups, {"kit": out.kit_id}),
        (earliest_plan, {"kit": promised.kit_id}),
        (kits_of_page, dict.fromkeys(PLACES_OF_A_PAGE, NO_KIT) | {"kit_0": out.kit_id, "kit_49": shelved.pk}),
        (waiting_call, {"technician": technician.pk, "today": now.date()}),
    ]
    assert {id(query) for query, _ in cases} >= {id(query) for query in KEPT}, (
        "a kept query is not tested here"
    )
    for number, (query, given) in enumerate(cases):
        for run in ("compiled now", "kept"):
            found = [seen(row) for row in query.rows(**given)]
            assert found == [seen(row) for row in by_itself(query, given, monkeypatch)], (number, run)
            assert found, (number, run)


def test_a_kept_query_is_one_statement_and_sees_what_changed_meanwhile() -> None:
    kit = make.kit()
    assert kit_with_stay.first(code=kit.code) == kit
    Kit.objects.filter(pk=kit.pk).update(name="Renamed")
    with CaptureQueriesContext(connection) as asked:
        found = kit_with_stay.first(code=kit.code)
    assert found is not None
    assert (found.name, len(asked)) == ("Renamed", 1)
    assert kit_with_stay.first(code="000000") is None


def test_an_ended_session_and_a_person_who_left_are_nobody(technician: User) -> None:
    make.shop()
    client = signed_in(technician)
    assert client.get("/kits/").status_code == 200
    User.objects.filter(pk=technician.pk).update(is_active=False)
    assert client.get("/kits/").status_code == 302
    User.objects.filter(pk=technician.pk).update(is_active=True)
    assert client.get("/kits/").status_code == 200
    Session.objects.update(expire_date=timezone.now() - timedelta(seconds=1))
    assert client.get("/kits/").status_code == 302
