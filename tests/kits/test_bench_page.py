"""The bench: what lies on it and what is done next, conditions, follow-ups."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kits.actions.custody import follow_up
from kits.models import Condition, FollowUp, Kit, Place
from sites.actions import custody
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def the_shop(db):
    return make.shop()


def test_a_clear_bench_says_so_and_teaches(technician_client):
    said = words(technician_client.get("/bench/"))
    assert said.startswith("The bench is clear")
    assert "No kit lies on the bench." in said and "Nothing is left open." in said


def test_each_kit_on_the_bench_tells_what_is_done_next(technician_client):
    bare = make.kit(sensors=0, place=Place.BENCH, name="Bare")
    raw = make.kit(sensors=2, place=Place.BENCH, name="Raw", checked=False)
    ready = make.kit(sensors=1, place=Place.BENCH, name="Ready")
    answer = technician_client.get("/bench/")
    said, page = words(answer), answer.content.decode()
    assert said.startswith("3 kits are on the bench")
    assert "Carries no sensor yet." in said and f"/kits/{bare.code}/wire-in/" in page
    one, two = (wiring.sensor for wiring in raw.wirings.order_by("terminal"))
    assert f"Not ready: sensors {one}, {two} were never checked." in said
    assert f"/checks/new/?kit={raw.code}" in page
    assert "Ready: every sensor is in date." in said and f"/kits/{ready.code}/shelf/" in page


def test_a_kit_with_something_left_to_do_is_not_called_ready(technician_client, office):
    kit = make.kit(sensors=1, place=Place.BENCH, name="Heron")
    FollowUp.objects.create(kit=kit, what="Wipe the Wi-Fi", opened_at=timezone.now(), opened_by=office)
    for address in ("/bench/", f"/kits/{kit.code}/"):
        said = words(technician_client.get(address))
        assert "Not ready: 1 still to do about it." in said and "Ready: every sensor" not in said


def test_a_kit_that_needs_work_stands_there_wherever_it_is(technician_client):
    kit = make.kit(name="Heron")
    technician_client.post(
        f"/kits/{kit.code}/condition/", {"condition": "needs_work", "why": "Antenna is loose"}
    )
    said = words(technician_client.get("/bench/"))
    assert "Needs work, and is elsewhere" in said and "Antenna is loose" in said


def test_needs_work_says_why_and_mended_clears_it(technician_client, technician):
    kit = make.kit()
    bare = technician_client.post(f"/kits/{kit.code}/condition/", {"condition": "needs_work"})
    assert bare.status_code == 422 and "Say what is wrong with the kit" in words(bare)
    technician_client.post(f"/kits/{kit.code}/condition/", {"condition": "needs_work", "why": "Hums"})
    kit = Kit.objects.get(pk=kit.pk)
    assert (kit.condition, kit.condition_why, kit.condition_by) == (Condition.NEEDS_WORK, "Hums", technician)
    done = technician_client.post(
        f"/kits/{kit.code}/condition/?back=/bench/", {"condition": "in_service", "based_on": kit.version}
    )
    assert done["Location"] == "/bench/"
    assert Kit.objects.get(pk=kit.pk).condition == Condition.IN_SERVICE


def test_a_condition_based_on_an_older_state_is_told_what_happened(technician_client, office_client):
    kit = make.kit()
    seen = Kit.objects.get(pk=kit.pk).version
    office_client.post(f"/kits/{kit.code}/condition/", {"condition": "needs_work", "why": "Hums"})
    late = technician_client.post(
        f"/kits/{kit.code}/condition/", {"condition": "needs_work", "why": "Rattles", "based_on": seen}
    )
    assert late.status_code == 409
    assert "needs work: Hums" in words(late) and 'value="Rattles"' in late.content.decode()


def test_follow_ups_stand_by_due_day_and_late_ones_say_so(technician_client, office):
    kit, today = make.kit(name="Wren"), timezone.localdate()
    for what, due_on in (
        ("Some day", None),
        ("Close the port", today - timedelta(days=3)),
        ("Call them", today + timedelta(days=3)),
    ):
        follow_up(make.act(office), kit, what, due_on=due_on)
    said = words(technician_client.get("/bench/"))
    assert said.index("Close the port") < said.index("Call them") < said.index("Some day")
    assert said.count("late") == 1


def test_a_follow_up_is_done_once_and_says_how_it_ended(technician_client, office, technician):
    one = follow_up(make.act(office), make.kit(), "Find the magnet")
    empty = technician_client.post(f"/bench/follow-ups/{one.pk}/", {"outcome": " "})
    assert empty.status_code == 422
    technician_client.post(f"/bench/follow-ups/{one.pk}/", {"outcome": "It was in the van"})
    one = FollowUp.objects.get(pk=one.pk)
    assert (one.outcome, one.done_by) == ("It was in the van", technician)
    again = technician_client.post(f"/bench/follow-ups/{one.pk}/", {"outcome": "Bought a new one"})
    assert again.status_code == 409 and "That was done already: It was in the van" in words(again)


def test_a_step_leads_back_to_the_bench_and_nowhere_else(technician_client, office):
    one = follow_up(make.act(office), make.kit(), "Find the magnet")
    two = follow_up(make.act(office), make.kit(), "Find the other magnet")
    home = technician_client.post(f"/bench/follow-ups/{one.pk}/?back=/bench/", {"outcome": "Found"})
    assert home["Location"] == "/bench/"
    astray = technician_client.post(
        f"/bench/follow-ups/{two.pk}/?back=//elsewhere.example.com/", {"outcome": "Found"}
    )
    assert astray["Location"] == two.kit.get_absolute_url()


def test_what_is_due_stands_by_kit_with_its_reason(technician_client, office_client, office):
    raw = make.kit(sensors=1, place=Place.BENCH, name="Raw", checked=False)
    away = make.kit(sensors=1, name="Away", checked=False)
    custody.take_onto_truck(make.act(office), kit=away, technician=make.technician(name="Ben Ortiz"))
    spare = make.sensor(tag="9")
    make.kit(sensors=1, name="Fresh")
    answer = technician_client.get("/bench/")
    said, page = words(answer), answer.content.decode()
    assert "3 sensors are due for a check." in said
    assert said.index("Raw") < said.index("Away")
    assert "The kit is on Ben Ortiz's truck." in said
    assert f"/checks/new/?sensor={spare.rom}" in page and f"/checks/new/?kit={raw.code}" in page
    assert f"/checks/new/?kit={away.code}" not in page and "Fresh" not in said
    looking = office_client.get("/bench/").content.decode()
    assert "/checks/new/" not in looking.partition("<main")[2].partition('id="kits"')[0]


def test_an_open_check_waits_on_the_bench(technician_client):
    open_one = make.check([make.sensor(tag="4")], closed=False)
    answer = technician_client.get("/bench/")
    assert "Checks to go on with" in words(answer) and open_one.get_absolute_url() in answer.content.decode()


def test_a_lead_that_is_no_good_is_taken_out_and_not_checked_again(technician_client):
    kit = make.kit(sensors=1, place=Place.BENCH)
    lead = kit.wirings.get().sensor
    make.check([lead], errors=(1.6,))
    page = technician_client.get("/bench/").content.decode()
    assert f"Take sensor {lead} out" in page and f"/checks/new/?kit={kit.code}" not in page


def test_a_fuller_bench_asks_the_database_no_more_often(
    technician_client, office, django_assert_max_num_queries
):
    def queries() -> int:
        with django_assert_max_num_queries(22) as asked:
            technician_client.get("/bench/")
        return len(asked)

    def fill() -> None:
        follow_up(make.act(office), make.kit(sensors=2, place=Place.BENCH), "Look at it")
        make.sensor()
        make.kit(sensors=1, checked=False)
        make.check([make.sensor(), make.sensor()], closed=False)
        lame = make.kit(sensors=1)
        Kit.objects.filter(pk=lame.pk).update(
            condition="needs_work", condition_why="Hums", condition_by=office, condition_since=timezone.now()
        )

    fill()
    few = queries()
    for _ in range(5):
        fill()
    assert queries() == few
