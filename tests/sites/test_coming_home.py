"""A stay coming home: pulled by whomever, counted, and settled when nobody wrote the pull down."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kits.models import Condition, Event, FollowUp, KeptAt, Place
from sites.actions import stays
from sites.books import contradictions
from sites.models import HandBackPlace, Installation, Removal, Stage, WifiUse
from tests import make
from tests.refusals import fresh, refused

pytestmark = pytest.mark.django_db

# -- Taking out


def test_a_helper_without_a_login_can_have_pulled_it():
    stay, tech = make.stay(Stage.INSTALLED), make.technician()
    act = make.act(tech, did_by_name="Sam from the crew")
    stays.remove(act, kit=stay.kit, carrier=tech, pull=stays.Pull(pulled_by="Sam from the crew"))
    event = Event.objects.get(what="removed")
    assert event.doer == "Sam from the crew" and event.did_by is None
    assert event.typed_by == event.answers_for == tech
    assert Removal.objects.get().pulled_by == "Sam from the crew"


@pytest.mark.parametrize(
    ("pull", "left_open"),
    [
        ({"ports_closed": 2, "wire_restored": True, "system_ran": True}, []),
        ({"ports_closed": 1, "wire_restored": True, "system_ran": True}, ["Ports drilled: 2, closed: 1"]),
        ({"wire_restored": True, "system_ran": True}, ["nobody saw them closed"]),
        ({"ports_closed": 2}, ["24 V hook-up", "system run"]),
        ({}, ["nobody saw them closed", "24 V hook-up", "system run"]),
    ],
)
def test_what_nobody_saw_put_right_becomes_a_visit_within_two_days(pull, left_open):
    stay, tech = make.stay(Stage.INSTALLED), make.technician()
    stays.remove(make.act(tech), kit=stay.kit, carrier=tech, pull=stays.Pull(pulled_by="Sam", **pull))
    todo = list(FollowUp.objects.filter(kit=stay.kit).order_by("pk"))
    assert len(todo) == len(left_open)
    assert all(words in row.what for words, row in zip(left_open, todo, strict=True))
    assert all((row.due_on - timezone.now().date()).days <= 2 for row in todo)


def test_a_pull_says_who_did_it():
    stay, tech = make.stay(Stage.INSTALLED), make.technician()
    pull = stays.Pull(pulled_by="  ")
    assert "who pulled it" in refused(stays.remove, make.act(tech), kit=stay.kit, carrier=tech, pull=pull)


def test_a_kit_pulled_early_is_never_held_back_by_its_plan():
    stay = make.stay(Stage.INSTALLED, call=make.call(days_ahead=30))
    make.go_on(stay, Stage.REMOVED, at=timezone.now())
    make.go_on(stay, Stage.HANDED_BACK, at=timezone.now())
    assert fresh(stay).stage == Stage.HANDED_BACK


# -- Coming home


def test_what_is_missing_at_hand_back_is_followed_up_and_the_kit_goes_to_the_bench():
    stay = make.stay(Stage.REMOVED)
    Installation.objects.filter(deployment=stay).update(wifi=WifiUse.GUEST)
    wired = [row.sensor for row in stay.kit.wirings.all()]
    count = make.full_count(
        stay.kit, sensors=frozenset(wired[1:]), missing_parts=("power adapter",), wifi_wiped=False
    )
    done = stays.hand_back(make.act(), kit=stay.kit, count=count)
    todo = [row.what for row in FollowUp.objects.filter(kit=stay.kit).order_by("pk")]
    assert (
        f"sensor {wired[0]}" in todo[0]
        and "power adapter" in todo[1]
        and todo[2].startswith("Wi-Fi of the last house")
    )
    assert len(todo) == 3
    assert f"missing: sensor {wired[0]}, power adapter" in done.sentence
    assert fresh(stay.kit).custody.place == Place.BENCH
    assert wired[0].spare_place.place == KeptAt.MISSING
    assert fresh(stay).hand_back.sensors_counted == 3
    assert contradictions(fresh(stay.kit)) == []


def test_where_the_house_lent_no_wi_fi_none_is_to_be_wiped(technician_client):
    stay = make.stay(Stage.REMOVED)
    page = technician_client.get(f"/k/{stay.kit.code}/hand-back/").content.decode()
    assert 'name="wifi_wiped"' not in page and 'name="account_wiped"' in page
    stays.hand_back(make.act(), kit=stay.kit, count=make.full_count(stay.kit, wifi_wiped=False))
    assert not FollowUp.objects.filter(kit=stay.kit).exists()
    lent = make.stay(Stage.REMOVED)
    Installation.objects.filter(deployment=lent).update(wifi=WifiUse.HOME)
    assert 'name="wifi_wiped"' in technician_client.get(f"/k/{lent.kit.code}/hand-back/").content.decode()


def test_a_sensor_that_is_not_of_this_kit_is_told_too():
    stay, stray = make.stay(Stage.REMOVED), make.sensor()
    count = make.full_count(stay.kit)
    count = make.full_count(stay.kit, sensors=count.sensors | {stray})
    stays.hand_back(make.act(), kit=stay.kit, count=count)
    assert str(stray) in FollowUp.objects.get(kit=stay.kit).what


def test_a_kit_that_needs_work_goes_to_the_bench_and_says_why():
    stay = make.stay(Stage.REMOVED)
    stays.hand_back(make.act(), kit=stay.kit, count=make.full_count(stay.kit, needs_work="Cracked lid"))
    kit = fresh(stay.kit)
    assert (kit.condition, kit.condition_why) == (Condition.NEEDS_WORK, "Cracked lid")
    assert kit.custody.place == Place.BENCH


def test_checked_on_the_truck_it_stays_there_ready_for_the_next_house():
    stay = make.stay(Stage.REMOVED)
    carrier = stay.kit.custody.technician
    stays.hand_back(make.act(carrier), kit=stay.kit, count=make.full_count(stay.kit, HandBackPlace.TRUCK))
    assert fresh(stay).stage == Stage.HANDED_BACK
    assert fresh(stay.kit).custody.technician == carrier
    following = make.call(days_ahead=1)
    stays.load(make.act(carrier), kit=stay.kit, call=following, technician=carrier, **make.dates(following))
    assert contradictions(fresh(stay.kit)) == []


# -- Nobody wrote it down


def test_a_pull_of_unknown_time_is_put_at_the_finding_and_marked():
    stay = make.stay(Stage.INSTALLED)
    now = timezone.now()
    stays.settle(
        make.act(at=now),
        kit=stay.kit,
        pull=stays.Pull(pulled_by="not known"),
        count=make.full_count(stay.kit),
        customer_asked_on=now.astimezone(stay.unit.site.zone).date(),
    )
    stay = fresh(stay)
    assert stay.stage == Stage.HANDED_BACK and stay.removed_at == now
    assert not stay.removed_at_is_known and stay.customer_asked_on
    assert fresh(stay.kit).custody.place == Place.SHELF
    assert contradictions(stay.kit) == []


def test_a_pull_of_known_time_ends_the_time_in_the_house_then():
    stay = make.stay(Stage.INSTALLED)
    pulled_at = timezone.now() - timedelta(hours=2)
    stays.settle(
        make.act(),
        kit=stay.kit,
        pull=stays.Pull(pulled_by="Ben"),
        count=make.full_count(stay.kit),
        pulled_at=pulled_at,
    )
    stay = fresh(stay)
    assert stay.removed_at == pulled_at and stay.removed_at_is_known
    assert not stay.placements.exclude(placed_until=pulled_at).exists()
    assert contradictions(stay.kit) == []


@pytest.mark.parametrize("reached", [Stage.INSTALLED, Stage.REMOVED])
def test_a_kit_settled_on_a_truck_is_on_the_truck_of_the_one_who_found_it(reached):
    stay, ben = make.stay(reached), make.technician()
    count = make.full_count(stay.kit, HandBackPlace.TRUCK)
    stays.settle(make.act(ben), kit=stay.kit, pull=stays.Pull(pulled_by="not known"), count=count)
    assert fresh(stay.kit).custody.technician == ben
    assert contradictions(fresh(stay.kit)) == []


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"pulled_at": timedelta(hours=1)}, "here by then"),
        ({"pulled_at": -timedelta(days=3)}, "installed later than that"),
        ({"customer_asked_on": timedelta(days=3)}, "still to come"),
        ({"customer_asked_on": -timedelta(days=30)}, "not in the house on that day"),
    ],
)
def test_a_settling_that_cannot_have_been_is_refused(changes, sentence):
    stay, now = make.stay(Stage.INSTALLED), timezone.now()
    given = {name: now + ahead for name, ahead in changes.items()}
    if "customer_asked_on" in given:
        given["customer_asked_on"] = given["customer_asked_on"].date()
    pull, count = stays.Pull(pulled_by="Ben"), make.full_count(stay.kit)
    assert sentence in refused(stays.settle, make.act(at=now), kit=stay.kit, pull=pull, count=count, **given)
    assert fresh(stay).stage == Stage.INSTALLED
