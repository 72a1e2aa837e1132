"""Kits on the page: the list, new ones, one kit with its history, its steps, the shelf count, positions."""

import json
import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from kits.actions import kits as kit_actions
from kits.actions import sensors as sensor_actions
from kits.actions.custody import follow_up
from kits.codes import is_code
from kits.models import Condition, Event, Kit, Place, ShelfCount
from kits.templatetags.kitperch import when
from sites.actions import custody
from sites.actions.corrections import correct_time
from sites.models import Position, Stage
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
SHOP_ZONE = ZoneInfo("America/New_York")


@pytest.fixture(autouse=True)
def the_shop(db):
    return make.shop()


def fresh(kit: Kit) -> Kit:
    return Kit.objects.get(pk=kit.pk)


def slip(kit: Kit) -> str:
    """The kit's code with one character that no code has."""
    return kit.code[:5] + "0"


def as_typed(instant) -> str:
    return instant.astimezone(SHOP_ZONE).strftime("%Y-%m-%dT%H:%M")


# -- The list ------------------------------------------------------------------------------------


def test_an_empty_shop_is_told_how_to_begin(office_client):
    said = words(office_client.get("/kits/"))
    assert said.startswith("No kits yet") and "Build the first kit" in said


def test_the_list_tells_where_each_kit_is_and_when_it_comes_home(technician_client):
    stay = make.stay(Stage.INSTALLED)
    follow_up(make.act(), stay.kit, "Find the magnet")
    make.kit(name="Spare")
    said = words(technician_client.get("/kits/"))
    assert said.startswith("2 kits 1 on the shelf, 1 at a site.")
    assert f"{stay.unit.site}, {stay.call}" in said
    assert f"{stay.kit.code[:3]}\u00a0{stay.kit.code[3:]}".replace("\u00a0", " ") in said
    row = technician_client.get("/kits/").context["table"].rows[0]
    assert row.get_cell("sensor_count") == 4 and row.get_cell("follow_up_count") == 1


def test_a_late_kit_is_late_in_words(technician_client):
    began = timezone.now() - timedelta(days=30)
    make.stay(Stage.INSTALLED, call=make.call(days_ahead=-30), began=began)
    assert "late" in words(technician_client.get("/kits/"))


@pytest.mark.parametrize(
    ("question", "found"),
    [
        pytest.param("", {"Heron", "Wren", "Lost"}, id="all but retired"),
        pytest.param("where=retired", {"Old"}, id="retired when asked for"),
        pytest.param("where=missing", {"Lost"}, id="missing"),
        pytest.param("condition=needs_work", {"Wren"}, id="needs work"),
        pytest.param("q=her", {"Heron"}, id="by name"),
        pytest.param("q=old", {"Old"}, id="a retired one by name"),
        pytest.param("q=12 cedar", {"Heron"}, id="by the address it is at"),
        pytest.param("q=nothing such", set(), id="no match"),
    ],
)
def test_the_list_is_narrowed(office_client, manager, question, found):
    unit = make.unit(site=make.site(street="12 Cedar Hollow"))
    make.stay(Stage.INSTALLED, kit=make.kit(name="Heron"), call=make.call(unit=unit))
    wren, lost, old = make.kit(name="Wren"), make.kit(name="Lost"), make.kit(name="Old")
    kit_actions.set_condition(make.act(manager), kit=wren, condition=Condition.NEEDS_WORK, why="Hums")
    custody.mark_missing(make.act(manager), kit=lost, why="Nowhere")
    custody.retire(make.act(manager), kit=old, why="Cracked")
    rows = office_client.get(f"/kits/?{question}").context["table"].data
    assert {kit.name for kit in rows} == found


def test_a_kit_is_found_by_its_code_as_it_is_read_aloud(office_client):
    kit = make.kit()
    rows = office_client.get("/kits/", {"q": f"{kit.code[:3].lower()} {kit.code[3:].lower()}"}).context[
        "table"
    ]
    assert [row.pk for row in rows.data] == [kit.pk]


def test_three_kits_and_thirty_cost_the_same_queries(office_client, django_assert_max_num_queries):
    def queries() -> int:
        with django_assert_max_num_queries(12) as asked:
            assert office_client.get("/kits/").status_code == 200
        return len(asked)

    make.stay(Stage.INSTALLED, kit=make.kit(sensors=2))
    make.stay(Stage.LOADED, kit=make.kit(sensors=2))
    make.stay(Stage.PLANNED, kit=make.kit(sensors=2))
    few = queries()
    for number in range(27):
        kit = make.kit(sensors=2)
        if number % 9 == 0:
            make.stay(Stage.INSTALLED, kit=kit)
    assert queries() == few


def test_the_list_goes_out_as_a_file(office_client):
    stay = make.stay(Stage.INSTALLED)
    answer = office_client.get("/kits/?_export=csv")
    assert answer["Content-Type"].startswith("text/csv")
    assert f"{stay.kit.code},{stay.kit.name},site," in answer.content.decode()


# -- Building ------------------------------------------------------------------------------------


def built(**changes) -> dict[str, str]:
    """What the form sends for one kit with two parts."""
    values = {
        "name": "Heron",
        "count": "1",
        "built_on": "2026-03-02",
        "controller": "Board A",
        "firmware": "1.0",
        "power_input": "24vac",
        "power_draw_watt": "2.5",
        "power_draw_volt_ampere": "6",
        "sensor_limit": "5",
        "has_aux_contact": "on",
        "aux_contact_rating": "30 V, 2 A",
        "rated_to": "140",
        "adapter_isolated": "yes",
        "has_battery": "on",
        "replacement_value": "1,240.50",
        "notes": "Grey box",
        "part-TOTAL_FORMS": "3",
        "part-INITIAL_FORMS": "0",
        "part-0-name": "Adapter",
        "part-0-quantity": "1",
        "part-0-unit_cost": "14.50",
        "part-0-returns": "on",
        "part-1-name": "Lead",
        "part-1-quantity": "4",
        "part-1-unit_cost": "8.90",
        "part-2-name": "",
        "part-2-quantity": "1",
        "part-2-unit_cost": "",
    }
    return {**values, **changes}


def test_a_kit_is_built_with_everything_that_is_known_about_it(technician_client):
    answer = technician_client.post("/kits/new/", built())
    kit = Kit.objects.get()
    assert answer["Location"] == f"/kits/{kit.code}/"
    assert is_code(kit.code) and kit.custody.place == Place.BENCH
    assert (kit.controller, kit.firmware, kit.power_input) == ("Board A", "1.0", "24vac")
    assert (kit.power_draw_watt, kit.power_draw_volt_ampere) == (Decimal("2.5"), Decimal("6"))
    assert (kit.has_aux_contact, kit.aux_contact_rating) == (True, "30 V, 2 A")
    assert (kit.adapter_isolated, kit.has_battery, kit.notes) == ("yes", True, "Grey box")
    # 140 °F is 60 °C exactly: (140 - 32) x 5/9 (NIST SP 811, appendix B.8).
    assert kit.rated_to_celsius == Decimal("60.0")
    assert kit.replacement_value_cents == 124_050
    assert kit.build_cost_cents() == 1_450 + 4 * 890
    assert [part.returns for part in kit.parts.all()] == [True, False]
    said = words(technician_client.get(f"/kits/{kit.code}/"))
    assert (
        "2.5 W, 6 VA" in said
        and "$50.10" in said
        and "$1,240.50" in said
        and "140\u202f°F".replace("\u202f", " ") in said
    )


def test_a_batch_is_numbered_and_each_gets_a_code(office_client):
    answer = office_client.post("/kits/new/", built(count="3"), follow=True)
    kits = Kit.objects.order_by("pk")
    assert [kit.name for kit in kits] == ["Heron 1", "Heron 2", "Heron 3"]
    said = words(answer)
    for kit in kits:
        assert f"{kit.code[:3]} {kit.code[3:]}" in said and kit.parts.count() == 2
    link = "&amp;".join(f"kit={kit.code}" for kit in kits)
    assert link in answer.content.decode()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        pytest.param({"name": ""}, "This is needed.", id="no name"),
        pytest.param({"count": "61"}, "It must be at most 60.", id="too many at once"),
        pytest.param({"replacement_value": "ten"}, "Write it as a number", id="no money"),
        pytest.param({"power_draw_volt_ampere": "1"}, "never less than the power in watts", id="VA below W"),
        pytest.param({"part-1-quantity": "0"}, "Something in the parts list cannot be right", id="no lead"),
        pytest.param(
            {"part-2-unit_cost": "3"}, "Something in the parts list cannot be right", id="cost, no part"
        ),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_typed_is_lost(office_client, changes, sentence):
    answer = office_client.post("/kits/new/", built(**changes))
    page = answer.content.decode()
    assert answer.status_code == 422 and sentence in words(answer)
    assert 'value="Board A"' in page and 'value="Adapter"' in page and 'value="8.90"' in page
    assert not Kit.objects.exists()


def test_the_same_form_sent_twice_builds_once(office_client):
    request_id = str(uuid4())
    first = office_client.post("/kits/new/", built(request_id=request_id))
    second = office_client.post("/kits/new/", built(request_id=request_id))
    assert first["Location"] == second["Location"] and Kit.objects.count() == 1


def test_a_kit_is_built_by_a_script_too(office_client):
    payload = {
        "name": "Heron",
        "count": 2,
        "built_on": "2026-03-02",
        "power_input": "12vdc",
        "sensor_limit": 5,
    }
    payload["adapter_isolated"] = "no"
    answer = office_client.post(
        "/kits/new/",
        json.dumps(payload),
        content_type="application/json",
        headers={"accept": "application/json"},
    )
    assert answer.json()["ok"] and Kit.objects.count() == 2


def test_facts_are_changed_on_what_one_saw(office_client, manager_client):
    kit = make.kit(name="Heron")
    seen = fresh(kit).version
    typed = {key: value for key, value in built(name="Grey heron").items() if not key.startswith("part")}
    assert manager_client.post(f"/kits/{kit.code}/change/", {**typed, "based_on": seen}).status_code == 302
    assert fresh(kit).name == "Grey heron" and fresh(kit).replacement_value_cents == 124_050
    late = office_client.post(f"/kits/{kit.code}/change/", {**typed, "name": "Egret", "based_on": seen})
    assert late.status_code == 409
    assert "Nothing of yours was saved" in words(late) and 'value="Egret"' in late.content.decode()


def test_a_terminal_in_use_cannot_be_done_away_with(office_client):
    kit = make.kit(sensors=4)
    typed = {key: value for key, value in built(sensor_limit="3").items() if not key.startswith("part")}
    answer = office_client.post(f"/kits/{kit.code}/change/", typed)
    assert answer.status_code == 422 and "Terminal 4 carries sensor" in words(answer)


def test_a_part_is_left_out_and_another_added(office_client, office):
    kit = make.kit()
    parts = [{"name": "Adapter", "quantity": 1, "unit_cost_cents": 1450, "returns": True}]
    kit_actions.change_parts(make.act(office), kit=kit, parts=parts)
    typed = {
        "part-TOTAL_FORMS": "2",
        "part-INITIAL_FORMS": "1",
        "part-0-name": "Adapter",
        "part-0-quantity": "1",
    }
    typed |= {
        "part-0-DELETE": "on",
        "part-1-name": "Magnet",
        "part-1-quantity": "4",
        "part-1-unit_cost": "$2.10",
    }
    assert office_client.post(f"/kits/{kit.code}/parts/", typed).status_code == 302
    assert [str(part) for part in kit.parts.all()] == ["4 x Magnet"]
    assert kit.build_cost_cents() == 840


# -- One kit -------------------------------------------------------------------------------------


def test_a_code_in_any_writing_leads_to_the_page(technician_client):
    kit = make.kit()
    for typed in (kit.code.lower(), f"{kit.code[:3]}-{kit.code[3:]}", f" {kit.code}"):
        answer = technician_client.get(f"/kits/{typed}/?at=2026-05-04T15:20")
        assert answer.status_code == 302
        assert answer["Location"] == f"/kits/{kit.code}/?at=2026-05-04T15%3A20"


def test_a_wrong_code_is_not_there_and_the_near_one_is_offered(technician_client):
    kit = make.kit(name="Heron")
    answer = technician_client.get(f"/kits/{slip(kit)}/")
    assert answer.status_code == 404
    said = words(answer)
    assert "Character 6, 0, cannot be right" in said
    assert "Did you mean one of these?" in said and "Heron" in said


def test_the_page_of_a_kit_in_a_house_answers_where_it_is_and_what_comes_next(office_client):
    stay = make.stay(Stage.INSTALLED)
    said = words(office_client.get(f"/kits/{stay.kit.code}/"))
    assert f"Installed at {stay.unit.site} for {stay.call}." in said
    assert "It is to be taken out by" in said and "Take it out" in said
    assert "supply air" in said and "liquid line" in said
    assert "It is here, but nobody wrote down the pull" in said
    assert "Onto the shelf" not in said


def test_a_kit_out_of_the_house_is_on_a_truck_in_every_place_of_its_page(office_client):
    stay = make.stay(Stage.REMOVED)
    text = words(office_client.get(f"/kits/{stay.kit.code}/"))
    assert f"Held by {stay.kit.custody.word[0].upper()}{stay.kit.custody.word[1:]}" in text
    assert f"Out of {stay.unit.site}" in text and f"At {stay.unit.site}" not in text
    assert "Take out by" not in text


@pytest.mark.parametrize(
    ("offsets", "old", "answer"),
    [
        pytest.param(0, False, "were never checked.", id="no offset"),
        pytest.param(1, False, "was never checked.", id="one is missing"),
        pytest.param(2, False, "Yes: every sensor is in date", id="all of them"),
        pytest.param(2, True, "are due for a check on", id="older than the shop's interval"),
    ],
)
def test_can_i_trust_it(technician_client, office, offsets, old, answer):
    make.shop(check_interval_months=2 if old else 6)
    kit = make.kit(sensors=2, checked=False)
    for wiring in kit.wirings.all()[:offsets]:
        sensor_actions.give_offset(
            make.act(office),
            sensor=wiring.sensor,
            offset_kelvin=Decimal("-0.3"),
            in_force_from=make.long_ago(),
        )
    said = words(technician_client.get(f"/kits/{kit.code}/"))
    assert answer in said
    assert (f"added, from {make.long_ago().astimezone(SHOP_ZONE):%a} " in said) == bool(offsets)
    assert (f"given by {office.name}" in said) == bool(offsets)


def test_a_kit_without_sensors_tells_nothing(technician_client):
    said = words(technician_client.get(f"/kits/{make.kit(sensors=0).code}/"))
    assert "It carries no sensor, so it tells nothing." in said and "5 terminals are free" in said


def test_the_page_tells_condition_follow_ups_and_history(technician_client, office):
    kit = make.kit()
    kit_actions.set_condition(make.act(office), kit=kit, condition=Condition.NEEDS_WORK, why="Antenna loose")
    follow_up(make.act(office), kit, "Find the magnet", due_on=timezone.localdate() - timedelta(days=1))
    said = words(technician_client.get(f"/kits/{kit.code}/"))
    assert f"Antenna loose. Said by {office.name}" in said
    assert "Find the magnet" in said and "late" in said
    assert (
        said.index("needs work: Antenna loose") < said.index("put on the shelf") < said.index(f"{kit} built")
    )


def test_the_page_asks_the_database_no_more_often_for_a_longer_history(
    technician_client, office, django_assert_max_num_queries
):
    def queries(kit: Kit) -> int:
        with django_assert_max_num_queries(30) as asked:
            technician_client.get(f"/kits/{kit.code}/")
        return len(asked)

    short, long = make.kit(sensors=5), make.kit(sensors=5)
    for _ in range(12):
        custody.send_to_bench(make.act(office), kit=fresh(long))
        custody.put_on_shelf(make.act(office), kit=fresh(long))
    assert queries(long) == queries(short)


def test_a_long_history_is_cut_and_shown_whole_when_asked(technician_client, office):
    kit = make.kit(sensors=1, name="Heron")
    for _ in range(16):
        custody.send_to_bench(make.act(office), kit=fresh(kit))
        custody.put_on_shelf(make.act(office), kit=fresh(kit))
    cut = words(technician_client.get(f"/kits/{kit.code}/"))
    assert "Show all of it" in cut and f"{kit} built" not in cut
    whole = words(technician_client.get(f"/kits/{kit.code}/?history=all"))
    assert "Show all of it" not in whole and f"{kit} built" in whole


def test_a_corrected_time_tells_both_on_the_page_of_the_kit_too(office_client, manager):
    stay = make.stay(Stage.INSTALLED, began=timezone.now() - timedelta(days=3))
    zone, was, better = "America/New_York", stay.installed_at, stay.installed_at + timedelta(minutes=90)
    correct_time(make.act(manager), stay=stay, stage=Stage.INSTALLED, to=better, why="Typed wrong")
    said = words(office_client.get(f"/kits/{stay.kit.code}/"))
    assert f"Typed wrong (was {when(was, zone)}, is {when(better, zone)})" in said


# -- As of ---------------------------------------------------------------------------------------


def test_as_of_tells_where_it_was_what_it_carried_and_what_held(technician_client, office):
    make.shop(sensors_must_be_in_date=False)
    kit = make.kit(sensors=2, name="Heron", checked=False)
    supply = kit.wirings.get(terminal=1).sensor
    sensor_actions.give_offset(
        make.act(office), sensor=supply, offset_kelvin=Decimal("-0.3"), in_force_from=make.long_ago()
    )
    stay = make.stay(Stage.HANDED_BACK, kit=kit, began=timezone.now() - timedelta(days=3))
    sensor_actions.give_offset(
        make.act(office), sensor=supply, offset_kelvin=Decimal("1"), in_force_from=stay.handed_back_at
    )
    at = stay.installed_at + timedelta(minutes=20)
    said = words(technician_client.get(f"/kits/{kit.code}/", {"at": as_typed(at)}))
    then = said[said.index("Look back") : said.index("As known now")]
    assert f"Heron was at {stay.unit.site}, {stay.unit.name}, for {stay.call}" in then
    assert "It carried 2 sensors." in then
    assert "on terminal 1 sat at supply air" in then and "on terminal 2 sat at return air" in then
    assert "−0.54" in then and "+1.80" not in then and "No offset was in force" in then


def test_as_of_before_it_was_built(technician_client):
    kit = make.kit(name="Heron")
    said = words(technician_client.get(f"/kits/{kit.code}/?at=2001-05-04T15:20"))
    assert "Heron was not built yet." in said


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param("2999-01-01T00:00", "That time is still to come.", id="to come"),
        pytest.param("yesterday", "Enter a valid date/time.", id="no time"),
        pytest.param("", "This field is required.", id="nothing"),
    ],
)
def test_as_of_a_time_that_cannot_be(technician_client, typed, sentence):
    answer = technician_client.get(f"/kits/{make.kit().code}/", {"at": typed})
    assert answer.status_code == 200 and sentence in words(answer)


# -- Steps ---------------------------------------------------------------------------------------


def test_a_kit_goes_from_hand_to_hand(technician_client, technician, office):
    kit = make.kit()
    assert technician_client.post(f"/kits/{kit.code}/truck/").status_code == 302
    assert fresh(kit).whereabouts == f"{technician}'s truck"
    technician_client.post(f"/kits/{kit.code}/shelf/")
    assert fresh(kit).custody.place == Place.SHELF
    technician_client.post(f"/kits/{kit.code}/bench/", {"needs_work": "on", "why": "Hums"})
    assert (fresh(kit).custody.place, fresh(kit).condition_why) == (Place.BENCH, "Hums")
    technician_client.post(f"/kits/{kit.code}/missing/", {"why": "Looked everywhere"})
    assert fresh(kit).custody.place == Place.MISSING
    technician_client.post(f"/kits/{kit.code}/found/")
    assert fresh(kit).custody.place == Place.BENCH


def test_the_office_says_whose_truck_and_when(office_client):
    kit, ben = make.kit(), make.technician(name="Ben Ortiz")
    nobody = office_client.post(f"/kits/{kit.code}/truck/", {"technician": ""})
    assert nobody.status_code == 422 and "This is needed." in words(nobody)
    at = timezone.now() - timedelta(hours=3)
    told = {"technician": ben.pk, "did_by": ben.pk, "happened_at": as_typed(at)}
    office_client.post(f"/kits/{kit.code}/truck/", told)
    held = fresh(kit).custody
    assert held.technician == ben and abs(held.held_from - at) < timedelta(minutes=1)
    assert Event.objects.last().told == "phone"


def test_retiring_and_bringing_back_are_the_managers(manager_client, office_client):
    kit = make.kit()
    assert "Retire it" not in words(office_client.get(f"/kits/{kit.code}/"))
    assert "Retire it" in words(manager_client.get(f"/kits/{kit.code}/"))
    assert office_client.post(f"/kits/{kit.code}/retire/", {"why": "Cracked"}).status_code == 403
    manager_client.post(f"/kits/{kit.code}/retire/", {"why": "Cracked"})
    assert fresh(kit).custody.place == Place.RETIRED
    said = words(office_client.get(f"/kits/{kit.code}/"))
    assert "A manager can bring it back." in said and "Bring it back" not in said
    manager_client.post(f"/kits/{kit.code}/bring-back/", {"why": "Mended"})
    assert fresh(kit).custody.place == Place.BENCH


def test_a_retired_kit_goes_nowhere(technician_client, manager):
    kit = make.kit(name="Old")
    custody.retire(make.act(manager), kit=kit, why="Cracked")
    for step in ("shelf", "bench", "truck"):
        before = technician_client.get(f"/kits/{kit.code}/{step}/")
        assert "It is retired. A manager can bring it back" in words(before)
        answer = technician_client.post(f"/kits/{kit.code}/{step}/")
        assert answer.status_code == 409 and f"Old ({kit.code}) is retired" in words(answer)


def test_a_kit_the_books_have_in_a_house_is_settled_first(technician_client):
    stay = make.stay(Stage.INSTALLED)
    page = technician_client.get(f"/kits/{stay.kit.code}/shelf/")
    assert f"/k/{stay.kit.code}/settle" in page.content.decode()
    answer = technician_client.post(f"/kits/{stay.kit.code}/shelf/")
    assert answer.status_code == 409 and "settle when it was pulled" in words(answer)


def test_a_missing_kit_in_the_hand_is_found_again_first(technician_client, office):
    kit = make.kit()
    custody.mark_missing(make.act(office), kit=kit, why="Nowhere")
    said = words(technician_client.get(f"/kits/{kit.code}/"))
    assert "Nobody knows where it is." in said and "Before that: Shelf." in said
    page = technician_client.get(f"/kits/{kit.code}/truck/")
    assert "Found again" in words(page)
    assert technician_client.post(f"/kits/{kit.code}/truck/").status_code == 409


def test_a_move_tells_which_call_loses_its_kit(technician_client):
    stay = make.stay(Stage.LOADED)
    said = words(technician_client.get(f"/kits/{stay.kit.code}/shelf/"))
    assert f"It is loaded for {stay.call}, which then needs another kit." in said
    technician_client.post(f"/kits/{stay.kit.code}/shelf/")
    stay.call.refresh_from_db()
    assert "put back on the shelf" in stay.call.needs_kit_why


def test_two_people_move_one_kit_and_the_second_is_told(technician_client, office_client, technician):
    kit = make.kit()
    seen = fresh(kit).version
    technician_client.post(f"/kits/{kit.code}/truck/", {"based_on": seen})
    late = office_client.post(f"/kits/{kit.code}/missing/", {"why": "Not on the shelf", "based_on": seen})
    assert late.status_code == 409
    assert f"{technician}'s truck" in words(late) and 'value="Not on the shelf"' in late.content.decode()
    assert fresh(kit).custody.place == Place.TRUCK
    assert re.search(rf'name="based_on" value="{fresh(kit).version}"', late.content.decode())


def test_the_office_sends_a_taken_kit_back_once(office_client, technician_client):
    stay = make.stay(Stage.LOADED)
    technician_client.post(f"/kits/{stay.kit.code}/truck/")
    page = office_client.get(f"/kits/{stay.kit.code}/")
    undo = re.search(rf"/kits/{stay.kit.code}/undo-take/\d+/", page.content.decode())
    assert undo and "Send it back" in words(page)
    assert "undo-take" not in technician_client.get(f"/kits/{stay.kit.code}/").content.decode()
    assert technician_client.post(undo[0]).status_code == 403
    assert office_client.post(undo[0]).status_code == 302
    assert fresh(stay.kit).custody.technician == stay.technician
    assert stay.call.deployments.out().count() == 1
    assert "undo-take" not in office_client.get(f"/kits/{stay.kit.code}/").content.decode()
    again = office_client.post(undo[0])
    assert again.status_code == 409 and "can no longer be undone" in words(again)


def test_a_time_to_come_is_refused_and_stands_there_still(technician_client):
    kit = make.kit()
    answer = technician_client.post(f"/kits/{kit.code}/shelf/", {"happened_at": "2999-01-01T08:00"})
    assert answer.status_code == 409 and "That time is still to come" in words(answer)
    assert 'value="2999-01-01T08:00"' in answer.content.decode()


# -- The shelf -----------------------------------------------------------------------------------


def test_a_count_tells_what_is_wanting_and_what_should_not_be_here(technician_client, office):
    here, away = make.kit(name="Here"), make.kit(name="Away")
    lost, out = make.kit(name="Lost"), make.stay(Stage.INSTALLED).kit
    custody.mark_missing(make.act(office), kit=lost, why="Nowhere")
    typed = f"{here.code.lower()}\nHTTPS://127.0.0.1:8000/K/{lost.code}\n{out.code[:3]} {out.code[3:]}\n{here.code}"
    answer = technician_client.post("/kits/shelf-count/", {"typed": typed}, follow=True)
    count = ShelfCount.objects.get()
    assert count.seen == sorted([here.code, lost.code, out.code])
    assert (count.wanting, count.unexpected) == ([away.code], sorted([lost.code, out.code]))
    said, page = words(answer), answer.content.decode()
    assert "3 kits are otherwise than the books say" in said
    assert f"/kits/{away.code}/missing/?back=/kits/shelf-count/{count.pk}/" in page
    assert f"/kits/{lost.code}/found/?back=" in page and f"/k/{out.code}/settle?back=" in page


def test_a_kit_back_from_a_house_is_counted_in_from_the_shelf_count(technician_client):
    kit = make.stay(Stage.REMOVED).kit
    page = technician_client.post("/kits/shelf-count/", {"typed": kit.code}, follow=True).content.decode()
    assert f"/k/{kit.code}/hand-back?back=" in page and f"/k/{kit.code}/settle" not in page


def test_a_count_moves_nothing_and_shows_what_was_put_right_since(technician_client):
    kit = make.kit()
    technician_client.post("/kits/shelf-count/", {"is_empty": "on"})
    count = ShelfCount.objects.get()
    assert fresh(kit).custody.place == Place.SHELF and count.wanting == [kit.code]
    back = f"/kits/shelf-count/{count.pk}/"
    done = technician_client.post(f"/kits/{kit.code}/bench/?back={back}")
    assert done["Location"] == back
    said = words(technician_client.get(back))
    assert "Everything is put right" in said and "put right" in said


def test_ticking_is_counting_too_and_counts_are_kept(technician_client, technician):
    kits = [make.kit(), make.kit()]
    answer = technician_client.post("/kits/shelf-count/", {"ticked": [kit.code for kit in kits]}, follow=True)
    assert "Shelf and books agree" in words(answer)
    assert f"{technician}: 2 seen, 0 wanting, 0 not expected" in words(
        technician_client.get("/kits/shelf-count/")
    )


def test_a_wrong_code_in_a_count_is_named_with_the_near_one_and_the_rest_stays(technician_client):
    one, two = make.kit(name="Heron"), make.kit()
    typed = f"{two.code}\n{slip(one)}"
    answer = technician_client.post("/kits/shelf-count/", {"typed": typed})
    assert answer.status_code == 422
    assert f"“{slip(one)}”: Character 6, 0, cannot be right" in words(answer)
    assert f"Near it: Heron ({one.code})" in words(answer)
    assert typed in answer.content.decode()
    assert not ShelfCount.objects.exists()


@pytest.mark.parametrize("typed", [{}, {"typed": " \n "}])
def test_nothing_seen_is_said_in_so_many_words(technician_client, typed):
    make.kit()
    answer = technician_client.post("/kits/shelf-count/", typed)
    assert answer.status_code == 422 and "tick “The shelf is empty”" in words(answer)


# -- Positions -----------------------------------------------------------------------------------


def test_a_manager_adds_a_plain_place(manager_client, office_client):
    assert "5 positions" in words(office_client.get("/positions/"))
    assert "Add a place" not in words(office_client.get("/positions/"))
    assert office_client.post("/positions/", {"code": "AT", "name": "Attic air"}).status_code == 403
    manager_client.post("/positions/", {"code": "at", "name": "Attic air"})
    assert Position.objects.get(code="AT").built_in is False
    assert "the shop's own" in words(office_client.get("/positions/"))


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        pytest.param("SA", "SA stands for supply air already", id="taken"),
        pytest.param("A/C", "Use plain letters and digits only", id="no letter"),
        pytest.param("ATTIC", "at most 4 characters", id="too long"),
    ],
)
def test_a_position_that_cannot_be_is_refused(manager_client, code, sentence):
    answer = manager_client.post("/positions/", {"code": code, "name": "Attic air"})
    assert answer.status_code == 422 and sentence in words(answer)
    assert 'value="Attic air"' in answer.content.decode() and Position.objects.count() == 5
