"""The guided steps on the way home: out of the house, counted, settled; and two people at the same step."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Event, Part, Place
from sites.books import contradictions
from sites.models import Deployment, Occasion, ReferenceReading, Stage
from tests import make
from tests.conftest import signed_in
from tests.sites.payloads import count, days_from_now, install, leads, remove, said, send, spare_on_truck

pytestmark = pytest.mark.django_db


def fresh(row):
    return type(row).objects.get(pk=row.pk)


@pytest.fixture
def loaded(technician) -> Deployment:
    make.shop()
    return make.stay(Stage.LOADED, call=make.call(technician=technician))


@pytest.fixture
def installed(technician) -> Deployment:
    make.shop()
    return make.stay(Stage.INSTALLED, call=make.call(technician=technician))


@pytest.fixture
def removed(technician) -> Deployment:
    make.shop()
    return make.stay(Stage.REMOVED, call=make.call(technician=technician))


# -- Remove --------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", ["remove", "move", "settle"])
def test_nothing_comes_out_before_it_went_in(step, loaded, technician):
    first, *_ = leads(loaded.kit)
    values = {
        "remove": remove(technician),
        "move": {"sensor": first.rom, "position": "SA"},
        "settle": count(loaded.kit),
    }[step]
    page = said(signed_in(technician).get(f"/k/{loaded.kit.code}/{step}"))
    assert "is loaded on call" in page and "What to do with this kit" in page
    response = send(technician, loaded.kit, step, values)
    assert response.status_code == 409
    assert "It must be installed for this." in said(response)
    assert fresh(loaded).stage == Stage.LOADED


def test_fewer_ports_closed_than_drilled_opens_a_visit_and_says_so(installed, technician):
    client = signed_in(technician)
    response = client.post(
        f"/k/{installed.kit.code}/remove", remove(technician, ports_closed="1"), follow=True
    )
    assert "Still to do: Ports drilled: 2, closed: 1: visit." in said(response)
    follow_up = installed.kit.follow_ups.get()
    assert "closed: 1" in follow_up.what and follow_up.due_on is not None


def test_whoever_told_of_the_pull_pulled_it_unless_another_is_named(installed, technician, office):
    told = remove(technician, pulled_by=None, did_by=technician.pk)
    assert send(office, installed.kit, "remove", told).status_code == 302
    assert fresh(installed).removal.pulled_by == technician.name


def test_ports_nobody_saw_are_told_apart_from_none_closed(installed, technician):
    send(technician, installed.kit, "remove", remove(technician, ports_closed=None))
    assert fresh(installed).removal.ports_closed is None
    assert "nobody saw them closed" in installed.kit.follow_ups.get().what


def test_somebody_without_a_login_pulled_it(installed, technician):
    send(
        technician,
        installed.kit,
        "remove",
        remove(technician, pulled_by="Uncle Pat", did_by_name="Uncle Pat"),
    )
    assert fresh(installed).removal.pulled_by == "Uncle Pat"
    assert Event.objects.get(what="removed").doer == "Uncle Pat"


def test_readings_at_removal_are_kept_beside_the_reference(installed, technician):
    values = remove(technician, raw_SA="54.5", reference_SA="54.9", raw_VL="50")
    assert send(technician, installed.kit, "remove", values).status_code == 302
    rows = ReferenceReading.objects.filter(occasion=Occasion.REMOVAL)
    assert {row.position.code: row.raw_celsius for row in rows} == {
        "SA": Decimal("12.50"),
        "VL": Decimal("10.00"),
    }


# -- Two people ----------------------------------------------------------------------------------


def test_of_two_people_finishing_the_same_step_the_second_is_told_and_keeps_what_was_typed(
    installed, technician
):
    other = make.technician(name="Ana Lindqvist")
    version = fresh(installed.kit).version
    first = send(other, installed.kit, "remove", remove(other, based_on=version))
    assert first.status_code == 302
    values = remove(technician, based_on=version, notes="Cat asleep on the box.", raw_SA="54.5")
    second = send(technician, installed.kit, "remove", values)
    assert second.status_code == 409
    assert "Meanwhile, about" in said(second) and "(Ana Lindqvist)" in said(second)
    assert "Cat asleep on the box." in said(second) and 'value="54.5"' in said(second)
    again = send(technician, installed.kit, "remove", {**values, "based_on": fresh(installed.kit).version})
    assert again.status_code == 409 and "is removed on call" in said(again)
    assert Event.objects.filter(what="removed").count() == 1


def test_a_stale_page_can_be_looked_at_and_sent_again(loaded, technician):
    version = fresh(loaded.kit).version
    spare = spare_on_truck(technician)
    old = leads(loaded.kit)[3]
    values = install(loaded.kit, based_on=version)
    send(technician, loaded.kit, "swap", {"old": old.rom, "new": spare.rom, "why": "chewed"})
    stale = send(technician, loaded.kit, "install", values)
    assert stale.status_code == 409 and "Nothing of yours was saved" in said(stale)
    now = fresh(loaded.kit).version
    assert f'name="based_on" value="{now}"' in said(stale)
    assert send(technician, loaded.kit, "install", {**values, "based_on": now}).status_code == 302


# -- Home again ----------------------------------------------------------------------------------


def test_what_is_not_ticked_is_asked_about_before_it_is_missing(removed, technician):
    kit = removed.kit
    Part.objects.create(kit=kit, name="Plug adapter", returns=True)
    lost = leads(kit)[2]
    values = count(kit, **{f"counted_{lost.rom}": None}, condition_note="dusty")
    response = send(technician, kit, "hand-back", values)
    assert response.status_code == 422
    assert f"…{lost.tail}; Plug adapter. Tick what is there" in said(response)
    assert 'value="dusty"' in said(response)
    assert send(technician, kit, "hand-back", {**values, "rest_is_missing": "on"}).status_code == 302
    assert fresh(removed).hand_back.missing == [f"sensor {lost}", "Plug adapter"]
    assert fresh(kit).custody.place == Place.BENCH
    assert kit.follow_ups.count() == 2


def test_parts_counted_come_home(removed, technician):
    Part.objects.create(kit=removed.kit, name="Plug adapter", returns=True)
    Part.objects.create(kit=removed.kit, name="Solder", returns=False)
    values = count(removed.kit, counted_parts=["Plug adapter"])
    assert send(technician, removed.kit, "hand-back", values).status_code == 302
    assert fresh(removed).hand_back.missing == []
    assert fresh(removed.kit).custody.place == Place.SHELF


def test_a_kit_checked_on_the_truck_stays_there_for_the_next_house(removed, technician):
    assert send(technician, removed.kit, "hand-back", count(removed.kit, where="truck")).status_code == 302
    assert fresh(removed.kit).custody.place == Place.TRUCK
    assert fresh(removed).stage == Stage.HANDED_BACK


def test_a_kit_found_here_that_the_books_have_in_a_house_is_settled_on_one_page(installed, office):
    kit = installed.kit
    asked = days_from_now(0)
    values = count(kit, where=None, customer_asked_on=asked)
    assert send(office, kit, "settle", values).status_code == 302
    stay = fresh(installed)
    assert stay.stage == Stage.HANDED_BACK
    assert stay.removed_at_is_known is False
    assert stay.removal.pulled_by == "not known"
    assert (stay.removal.wire_restored, stay.removal.system_ran) == (None, None), "nobody saw it"
    assert stay.customer_asked_on.isoformat() == asked
    assert kit.follow_ups.filter(what__contains="nobody saw them closed").exists()
    assert contradictions(fresh(kit)) == []


def test_a_pull_that_came_after_it_was_found_is_refused(installed, office):
    tomorrow = (timezone.now() + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    values = count(installed.kit, where=None, pulled_at=tomorrow, pulled_by="Sam")
    response = send(office, installed.kit, "settle", values)
    assert response.status_code == 409
    assert "It was here by then." in said(response)
    assert 'value="Sam"' in said(response)


@pytest.mark.parametrize(
    "step", ["take", "load", "shelf", "found", "install", "move", "swap", "remove", "hand-back", "settle"]
)
def test_a_wrong_code_is_explained_at_every_step(step, technician):
    kit = make.kit()
    wrong = kit.code[:4] + "0" + kit.code[5]
    response = send(technician, wrong, step, {})
    assert response.status_code == 404
    assert "Character 5, 0, cannot be right" in said(response)


@pytest.mark.parametrize(
    "step", ["take", "load", "shelf", "found", "install", "move", "swap", "remove", "hand-back", "settle"]
)
@pytest.mark.parametrize("role", ["technician", "office", "manager"])
def test_every_step_opens_for_every_role_and_offers_to_write_it_down_for_somebody_else(step, role, db):
    make.shop()
    stage = {"remove": Stage.INSTALLED, "move": Stage.INSTALLED, "settle": Stage.INSTALLED}.get(
        step, Stage.LOADED
    )
    kit = make.stay(Stage.REMOVED if step == "hand-back" else stage).kit
    response = signed_in(make.user(role)).get(f"/k/{kit.code}/{step}")
    assert response.status_code == 200
    assert "Not just now, or not you?" in said(response)
    assert said(response).count("button-main") == 1


@pytest.mark.parametrize(
    ("sent", "kept"),
    [("yes", True), ("on", True), ("no", False), ("", None)],
    ids=["yes", "a tick of a script", "no", "not seen"],
)
def test_what_nobody_saw_at_a_pull_is_neither_done_nor_left_undone(installed, technician, sent, kept):
    values = remove(technician, wire_restored=sent, system_ran=sent)
    assert send(technician, installed.kit, "remove", values).status_code == 302
    assert (fresh(installed).removal.wire_restored, fresh(installed).removal.system_ran) == (kept, kept)
