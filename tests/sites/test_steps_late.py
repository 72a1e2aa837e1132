"""A phone that was in an attic without signal sends its steps late, twice and out of order; the books end up right.

The script below is all a phone needs: a signed-in client, flat payloads, a request id for each step and, for a step that
builds on an earlier one, that one's request id as what it is based on.
"""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from kits.models import Event, Kit, User
from sites.books import contradictions
from sites.models import Stage
from tests import make
from tests.conftest import signed_in
from tests.sites.payloads import install, leads, remove, without_nothing

pytestmark = pytest.mark.django_db


@dataclass
class Phone:
    """What waits to be sent, and the sending."""

    client: Client
    kit: Kit

    def send(
        self, step: str, payload: dict[str, Any], *, as_json: bool = False
    ) -> tuple[int, dict[str, Any]]:
        how: dict[str, Any] = {"headers": {"accept": "application/json"}}
        if as_json:
            how["content_type"] = "application/json"
        response = self.client.post(f"/K/{self.kit.code}/{step}", payload, **how)
        assert response["Content-Type"] == "application/json"
        return response.status_code, response.json()


def ago(hours: float) -> str:
    return (timezone.now() - timedelta(hours=hours)).isoformat(timespec="seconds")


@pytest.fixture
def phone(technician: User) -> Phone:
    make.shop()
    stay = make.stay(call=make.call(technician=technician), began=timezone.now() - timedelta(hours=8))
    return Phone(signed_in(technician), stay.kit)


def waiting_to_send(phone: Phone) -> tuple[dict[str, Any], dict[str, Any]]:
    """A load at nine and an install at noon, neither sent yet; the install builds on the load."""
    call = phone.kit.deployments.get().call
    load = {"request_id": str(uuid4()), "call": call.number, "happened_at": ago(6)}
    installed = install(
        phone.kit, request_id=str(uuid4()), based_on=load["request_id"], happened_at=ago(3), raw_SA="55.4"
    )
    return load, installed


@pytest.mark.parametrize("as_json", [False, True], ids=["form", "one flat JSON object"])
def test_load_and_install_sent_late_twice_and_out_of_order_happen_once(phone, as_json):
    load, installed = waiting_to_send(phone)

    early, answer = phone.send("install", installed, as_json=as_json)
    assert (early, answer["ok"], answer["code"]) == (409, False, "waiting")
    assert Event.objects.filter(what__in=["loaded", "installed"]).count() == 0

    answers = {}
    for step, payload in (("load", load), ("load", load), ("install", installed), ("install", installed)):
        status, answer = phone.send(step, payload, as_json=as_json)
        assert status == 200, answer
        assert answer["again"] is (step in answers)
        first = answers.setdefault(step, answer)
        assert {**answer, "again": None} == {**first, "again": None}, "the same request has the same answer"

    stay = phone.kit.deployments.get()
    assert stay.stage == Stage.INSTALLED
    for what in ("loaded", "installed"):
        event = Event.objects.get(what=what)
        assert event.recorded_at - event.happened_at > timedelta(hours=2), "both times are kept"
    assert stay.placements.count() == 2
    assert contradictions(Kit.objects.get(pk=phone.kit.pk)) == []


def test_a_repeat_is_answered_though_its_form_would_no_longer_be_valid(phone):
    """After a swap the old lead is gone from the kit, and after a load the call has its kit: repeats say so again."""
    load, installed = waiting_to_send(phone)
    phone.send("load", load)
    phone.send("install", installed)
    old = leads(phone.kit)[0]
    swap = {"request_id": str(uuid4()), "old": old.tag, "new": make.rom(), "why": "chewed"}
    first = phone.send("swap", swap)
    again = phone.send("swap", swap)
    assert first[0] == again[0] == 200
    assert again[1] == {**first[1], "again": True}
    assert Event.objects.filter(what="lead swapped").count() == 1
    assert Event.objects.filter(what="sensor added", summary__contains="spare").count() == 1


def test_one_request_id_for_two_different_stories_is_refused(phone, technician):
    load, installed = waiting_to_send(phone)
    phone.send("load", load)
    status, answer = phone.send("install", {**without_nothing(installed), "request_id": load["request_id"]})
    assert (status, answer["code"]) == (409, "request_reused")
    assert phone.kit.deployments.get().stage == Stage.LOADED


def test_somebody_elses_request_is_nothing_to_build_on(phone):
    load, installed = waiting_to_send(phone)
    phone.send("load", load)
    other = Phone(signed_in(make.technician()), phone.kit)
    status, answer = other.send("install", installed)
    assert (status, answer["code"]) == (409, "waiting")


def test_a_step_overtaken_by_somebody_else_is_answered_with_what_the_shop_holds(phone, technician):
    load, installed = waiting_to_send(phone)
    phone.send("load", load)
    ana = make.technician(name="Ana Lindqvist")
    Phone(signed_in(ana), phone.kit).send("take", {})
    status, answer = phone.send("install", installed)
    assert (status, answer["code"]) == (409, "stale")
    assert "Ana Lindqvist" in answer["sentence"]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"take_out_by": "soon"}, "take_out_by"),
        ({"raw_SA": "warm"}, "raw_SA"),
        ({"at_NONE": "SA"}, "__all__"),
    ],
)
def test_what_is_not_understood_names_the_field(changes, field, phone):
    load, installed = waiting_to_send(phone)
    phone.send("load", load)
    status, answer = phone.send("install", {**installed, **changes})
    assert (status, answer["code"]) == (422, "not_understood")
    assert answer["errors"][field]


@pytest.mark.parametrize("body", ["{", "[1, 2]", '"x"'])
def test_a_body_that_is_no_flat_object_is_answered_and_not_a_crash(body, phone):
    response = phone.client.post(
        f"/k/{phone.kit.code}/load",
        body,
        content_type="application/json",
        headers={"accept": "application/json"},
    )
    assert response.status_code == 422
    assert response.json()["sentence"] == "Send one flat JSON object."


def test_a_wrong_code_is_answered_as_json_too(phone):
    response = phone.client.post("/k/ABC0EF/load", {}, headers={"accept": "application/json"})
    assert response.status_code == 404
    assert "Character 4, 0, cannot be right" in response.json()["sentence"]


def test_a_whole_stay_told_from_one_phone_in_the_evening(phone, technician):
    """Each step builds on the one before; the request ids are all that ties them."""
    load, installed = waiting_to_send(phone)
    out = remove(technician, request_id=str(uuid4()), based_on=installed["request_id"], happened_at=ago(1))
    queue = [("remove", out), ("install", installed), ("load", load)]
    rounds = 0
    while queue:
        rounds += 1
        assert rounds < 10
        queue = [(step, payload) for step, payload in queue if phone.send(step, payload)[0] != 200]
    assert rounds == 3
    assert phone.kit.deployments.get().stage == Stage.REMOVED
