"""The guided steps: what each writes down, and what it says when something typed cannot be right."""

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from kits.actions import sensors as sensor_actions
from kits.models import Event, FollowUp, KeptAt, Kit, Place, Sensor, Told
from sites.books import contradictions
from sites.models import Deployment, Occasion, Position, ReferenceReading, Stage
from tests import make
from tests.conftest import signed_in
from tests.sites.payloads import count, days_from_now, install, leads, remove, said, send, spare_on_truck

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


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


# -- The whole way -------------------------------------------------------------------------------


def test_one_kit_goes_from_the_shelf_into_a_house_and_home_again(technician):
    make.shop()
    client, kit, call = signed_in(technician), make.kit(), make.call(technician=technician)
    dates = {"take_out_by": days_from_now(14), "back_in_shop_by": days_from_now(16)}
    assert send(client, kit, "load", {"call": call.number, **dates}).status_code == 302
    assert send(client, kit, "install", install(kit)).status_code == 302
    assert send(client, kit, "remove", remove(technician)).status_code == 302
    assert send(client, kit, "hand-back", count(kit)).status_code == 302
    kit = fresh(kit)
    assert kit.custody.place == Place.SHELF
    assert kit.deployments.get().stage == Stage.HANDED_BACK
    assert contradictions(kit) == []
    assert kit.follow_ups.count() == 0


# -- Load ----------------------------------------------------------------------------------------


def test_loading_without_a_plan_wants_both_dates(technician):
    make.shop()
    kit, call = make.kit(), make.call(technician=technician)
    response = send(technician, kit, "load", {"call": call.number})
    assert response.status_code == 422
    assert "Give the day the kit must be out of the house." in said(response)


def test_a_call_that_is_not_there_is_named_in_a_sentence(technician):
    response = send(technician, make.kit(), "load", {"call": "4711"})
    assert response.status_code == 422
    assert "There is no open call with that number." in said(response)


def test_a_kit_that_is_out_already_cannot_be_loaded_for_another_call(installed, technician):
    call = make.call(technician=technician)
    values = {"call": call.number, "take_out_by": days_from_now(9), "back_in_shop_by": days_from_now(11)}
    response = send(technician, installed.kit, "load", values)
    assert response.status_code == 409
    assert f"is installed at {installed.unit.site}" in said(response)
    assert days_from_now(9) in said(response), "what was typed is still there"


def test_the_office_says_whose_truck(office):
    make.shop()
    kit, call = make.kit(), make.call()
    values = {"call": call.number, "take_out_by": days_from_now(9), "back_in_shop_by": days_from_now(11)}
    assert "Say whose truck it rides on." in said(send(office, kit, "load", values))
    ben = make.technician(name="Ben Ortiz")
    assert send(office, kit, "load", {**values, "technician": ben.pk}).status_code == 302
    assert fresh(kit).custody.technician == ben


# -- Install -------------------------------------------------------------------------------------


def test_what_is_typed_at_the_unit_is_kept(loaded, technician):
    kit = loaded.kit
    values = install(kit, raw_SA="55.4", reference_SA="55.9", raw_RA="23.5 C", other_loads="27")
    assert send(technician, kit, "install", values).status_code == 302
    facts = fresh(loaded).installation
    assert (facts.volts_dead, facts.volts_after, facts.ports_drilled) == (0, Decimal("25.1"), 2)
    assert (facts.consent_by, facts.consent_part, facts.tap_place) == ("A. Tenant", "tenant", "upstream")
    assert "Other loads on this transformer: 27 VA." in facts.notes
    readings = {row.position.code: row for row in ReferenceReading.objects.all()}
    assert (readings["SA"].raw_celsius, readings["SA"].reference_celsius) == (
        Decimal("13.00"),
        Decimal("13.28"),
    )
    assert (readings["RA"].raw_celsius, readings["RA"].reference_celsius) == (Decimal("23.50"), None)


@pytest.mark.parametrize("way", ["tag", "tail", "tail with dots", "whole rom", "rom backwards", "terminal"])
def test_a_lead_may_be_typed_by_tag_tail_rom_or_terminal(way, loaded, technician):
    first, second, *_ = leads(loaded.kit)
    first.tag = "north red"
    first.save()
    backwards = bytes.fromhex(first.rom)[::-1].hex(":")
    typed = {
        "tag": "North Red",
        "tail": first.tail.lower(),
        "tail with dots": f"…{first.tail}",
        "whole rom": first.rom,
        "rom backwards": backwards,
        "terminal": "T1",
    }[way]
    values = install(loaded.kit, **{f"at_{first.rom}": None, f"at_{second.rom}": None, "sensor_LL": typed})
    response = send(technician, loaded.kit, "install", values)
    assert response.status_code == 302, said(response)
    placement = loaded.placements.get()
    assert (placement.sensor, placement.position.code) == (first, "LL")


def test_tapped_and_typed_may_say_the_same(loaded, technician):
    first, *_ = leads(loaded.kit)
    response = send(technician, loaded.kit, "install", install(loaded.kit, sensor_SA=first.tail))
    assert response.status_code == 302
    assert loaded.placements.count() == 2


def contradictions_of_placing(kit: Kit) -> dict[str, tuple[dict[str, object], str]]:
    first, second, third, *_ = leads(kit)
    return {
        "one sensor tapped at one position and typed at another": (
            {"sensor_LL": first.tail},
            f"Lead {first} is at SA already; it cannot be at LL too.",
        ),
        "two leads tapped at one position": (
            {f"at_{third.rom}": "SA"},
            f"Lead {first} is at SA already; one position takes one sensor.",
        ),
        "one sensor typed at two positions": (
            {f"at_{first.rom}": None, "sensor_SA": first.tail, "sensor_VL": first.tail},
            f"Lead {first} is at SA already; it cannot be at VL too.",
        ),
        "one sensor sent at two positions": (
            {f"at_{first.rom}": ["SA", "RA"], f"at_{second.rom}": None},
            "One sensor cannot sit at RA and SA at once.",
        ),
        "another lead typed where one was tapped": (
            {"sensor_SA": third.tail},
            f"Lead {first} is at SA already; one position takes one sensor.",
        ),
        "no such position": ({f"at_{first.rom}": "QQ"}, "There is no position QQ."),
        "no such position typed": ({"sensor_QQ": first.tail}, "There is no position QQ."),
        "no such lead": ({"sensor_LL": "purple"}, f"No lead of {kit} answers to purple."),
    }


@pytest.mark.parametrize(
    "case",
    [
        "one sensor tapped at one position and typed at another",
        "two leads tapped at one position",
        "one sensor typed at two positions",
        "one sensor sent at two positions",
        "another lead typed where one was tapped",
        "no such position",
        "no such position typed",
        "no such lead",
    ],
)
def test_a_placing_that_contradicts_itself_is_refused_and_nothing_typed_is_lost(case, loaded, technician):
    changes, sentence = contradictions_of_placing(loaded.kit)[case]
    values = install(loaded.kit, hookup_terminals="R and C, north closet", **changes)
    response = send(technician, loaded.kit, "install", values)
    assert response.status_code == 422
    assert sentence in said(response)
    assert "R and C, north closet" in said(response)
    assert fresh(loaded).stage == Stage.LOADED


@pytest.mark.parametrize("way", ["tapped", "typed"])
def test_a_sensor_of_another_kit_is_refused_saying_where_it_is(way, loaded, technician):
    other = make.kit(name="Other kit", sensors=1)
    (stranger,) = leads(other)
    changes = {f"at_{stranger.rom}": "LL"} if way == "tapped" else {"sensor_LL": stranger.rom}
    response = send(technician, loaded.kit, "install", install(loaded.kit, **changes))
    assert response.status_code == 422
    assert f"Sensor {stranger} is not in {loaded.kit}: in {other}, terminal 1." in said(response)


def test_no_sensor_placed_at_all_is_refused(loaded, technician):
    first, second, *_ = leads(loaded.kit)
    nowhere = {f"at_{first.rom}": "", f"at_{second.rom}": ""}
    response = send(technician, loaded.kit, "install", install(loaded.kit, **nowhere))
    assert response.status_code == 409
    assert "Say at least for one sensor where it sits" in said(response)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        pytest.param(
            {"take_out_by": "2020-01-03", "back_in_shop_by": "2020-01-05"},
            "Sun 5 Jan 2020 is past",
            id="due back in the past",
        ),
        pytest.param(
            {"back_in_shop_by": "2020-01-05"}, "cannot be back in the shop before", id="back before it is out"
        ),
        pytest.param({"take_out_by": "2020-01-05"}, "before the stay begins", id="out before it went in"),
        pytest.param({"take_out_by": ""}, "Give the day the kit must be out of the house.", id="no day out"),
        pytest.param({"volts_dead": "24.3"}, "24.3 V is not dead. Stop", id="not dead"),
        pytest.param({"volts_dead": ""}, "Type what the meter read", id="no meter"),
        pytest.param({"tap_place": ""}, "relative to the float switch", id="no place of the tap"),
        pytest.param({"hookup_terminals": ""}, "Say on which terminals it hangs", id="no terminals"),
        pytest.param({"ports_drilled": ""}, "none is an answer too", id="no count of holes"),
        pytest.param({"consent_by": ""}, "Say who agreed, before power goes on.", id="nobody agreed"),
        pytest.param({"raw_SA": "warm"}, "warm is no temperature", id="not a number"),
        pytest.param({"raw_SA": "999"}, "999 °F is no reading of this sensor", id="no such temperature"),
        pytest.param({"reference_SA": "55"}, "Type what the sensor reads too", id="thermometer alone"),
        pytest.param({"raw_LL": "90"}, "No sensor sits at LL", id="nothing there to read"),
        pytest.param({"happened_at": "2099-01-01T10:00"}, "still to come", id="tomorrow's news"),
        pytest.param({"happened_at": "2026-02-30T10:00"}, "valid date", id="no such day"),
    ],
)
def test_what_cannot_be_right_is_said_in_a_sentence_and_nothing_typed_is_lost(
    changes, sentence, loaded, technician
):
    values = install(
        loaded.kit, **{"notes": "Hatch sticks.", "hookup_terminals": "Board, R and C", **changes}
    )
    response = send(technician, loaded.kit, "install", values)
    assert response.status_code in {409, 422}
    assert sentence in said(response)
    for name, value in values.items():
        if name.startswith("at_") and value:
            assert f'name="{name}" value="{value}"' in said(response)
        elif name in {"notes", "hookup_terminals", "volts_after", "raw_SA", "take_out_by", "happened_at"}:
            assert value in said(response), name
    assert fresh(loaded).stage == Stage.LOADED


@pytest.mark.parametrize(
    ("typed", "flag"),
    [("185", "85.0 °C is what a sensor says"), ("-196.6", "-127 °C is what"), ("85 C", "85.0 °C is what")],
)
def test_power_on_and_no_answer_readings_are_kept_and_flagged(typed, flag, loaded, technician):
    client = signed_in(technician)
    response = client.post(f"/k/{loaded.kit.code}/install", install(loaded.kit, raw_SA=typed), follow=True)
    assert flag in said(response)
    assert ReferenceReading.objects.filter(occasion=Occasion.INSTALL).count() == 1


def test_too_few_volts_and_too_much_load_are_said_after_it_is_written_down(technician):
    make.shop()
    unit = make.unit(transformer_volt_ampere=40)
    kit = make.kit(power_draw_volt_ampere=5)
    make.stay(Stage.LOADED, kit=kit, call=make.call(unit=unit, technician=technician))
    values = install(kit, volts_after="21.4", other_loads="36")
    page = said(signed_in(technician).post(f"/k/{kit.code}/install", values, follow=True))
    assert "21.4 V with the kit running is under 22 V" in page
    assert "Too much: 41 of 40 VA (102 %)" in page


def test_the_page_shows_the_24_volt_budget_when_both_figures_are_known(technician):
    make.shop()
    kit = make.kit(power_draw_volt_ampere=5)
    stay = make.stay(
        Stage.LOADED,
        kit=kit,
        call=make.call(unit=make.unit(transformer_volt_ampere=40), technician=technician),
    )
    page = said(signed_in(technician).get(f"/k/{kit.code}/install"))
    assert "this kit takes 5 of 40 VA" in page and "may take 27 VA" in page
    stay.unit.transformer_volt_ampere = 4
    stay.unit.save()
    assert "Too much: 5 of 4 VA (125 %)" in said(signed_in(technician).get(f"/k/{kit.code}/install"))


def test_the_install_page_holds_its_cautions_in_the_order_of_the_work(loaded, technician):
    page = said(signed_in(technician).get(f"/k/{loaded.kit.code}/install"))
    marks = [
        "pacemaker",
        "15 minutes at a time",
        "prove both dead",
        "before you drill",
        "asbestos",
        "Class 2",
        "Never bridge",
        "It reads, locked out",
        "Leads to positions",
        "Panels on first, then power, then volts",
        "Volts with the kit running",
    ]
    assert [page.index(mark) for mark in marks] == sorted(page.index(mark) for mark in marks)
    assert page.count("Your local code") >= 3


def test_the_office_may_write_an_install_down_without_the_meter(loaded, office):
    values = install(loaded.kit, volts_dead=None, consent_by=None, did_by=loaded.technician.pk)
    assert send(office, loaded.kit, "install", values).status_code == 302
    event = Event.objects.get(what="installed")
    assert (event.did_by, event.typed_by, event.told) == (loaded.technician, office, Told.PHONE)


def test_a_step_typed_late_is_read_on_the_clock_of_the_site(technician):
    make.shop(time_zone="America/New_York")
    site = make.site(time_zone="America/Denver")
    began = timezone.now() - timedelta(days=2)
    stay = make.stay(
        Stage.LOADED,
        call=make.call(unit=make.unit(site=site), technician=technician, days_ahead=-1),
        began=began,
    )
    local = (timezone.now() - timedelta(hours=5)).astimezone(ZoneInfo("America/Denver"))
    values = install(stay.kit, happened_at=local.strftime("%Y-%m-%dT%H:%M"))
    response = send(technician, stay.kit, "install", values)
    assert response.status_code == 302, said(response)
    expected = datetime(*local.timetuple()[:5], tzinfo=ZoneInfo("America/Denver"))
    assert fresh(stay).installed_at == expected


def test_the_clock_of_a_house_is_named_where_it_is_not_the_shops(technician):
    make.shop(time_zone="America/New_York")
    for zone, named in (("America/Denver", True), ("America/New_York", False)):
        unit = make.unit(site=make.site(time_zone=zone))
        stay = make.stay(Stage.LOADED, call=make.call(unit=unit, technician=technician))
        page = said(signed_in(technician).get(f"/k/{stay.kit.code}/install"))
        assert (f"By the clock of the house, {zone}" in page) is named


def test_a_planned_kit_nobody_scanned_is_loaded_and_installed_in_one_step(technician):
    make.shop()
    stay = make.stay(call=make.call(technician=technician))
    page = said(signed_in(technician).get(f"/k/{stay.kit.code}/install"))
    assert "Nobody wrote down the loading." in page
    values = install(stay.kit, call=stay.call.number)
    assert send(technician, stay.kit, "install", values).status_code == 302
    assert fresh(stay).stage == Stage.INSTALLED


def test_the_auxiliary_contact_is_asked_about_only_where_one_is_fitted(loaded, technician):
    path = f"/k/{loaded.kit.code}/install"
    assert "Auxiliary contact" not in said(signed_in(technician).get(path))
    refused = send(technician, loaded.kit, "install", install(loaded.kit, aux_switches="fan"))
    assert "has no auxiliary contact fitted" in said(refused)
    Kit.objects.filter(pk=loaded.kit_id).update(has_aux_contact=True)
    assert "Auxiliary contact: switches nothing" in said(signed_in(technician).get(path))
    refused = send(technician, loaded.kit, "install", install(loaded.kit, aux_switches="fan"))
    assert "who agreed to it" in said(refused)


# -- Move and swap -------------------------------------------------------------------------------


def test_a_lead_moves_and_two_leads_exchange(installed, technician):
    first, second, *_ = leads(installed.kit)
    assert (
        send(technician, installed.kit, "move", {"sensor": first.tail, "position": "oa"}).status_code == 302
    )
    taken = send(technician, installed.kit, "move", {"sensor": first.rom, "position": "RA"})
    assert taken.status_code == 409 and f"Sensor {second} sits at RA" in said(taken)
    values = {"sensor": first.rom, "position": "RA", "exchange": "on"}
    assert send(technician, installed.kit, "move", values).status_code == 302
    sits = {row.position.code: row.sensor for row in installed.placements.filter(placed_until=None)}
    assert (sits["RA"], sits["OA"]) == (first, second)


def test_a_lead_that_fell_off_measures_nothing_any_more(installed, technician):
    first, *_ = leads(installed.kit)
    assert (
        send(technician, installed.kit, "move", {"sensor": first.rom, "position": "OFF"}).status_code == 302
    )
    assert not installed.placements.filter(sensor=first, placed_until=None).exists()


@pytest.mark.parametrize("name", ["new", "new_typed"])
def test_a_spare_from_the_truck_replaces_a_lead_and_takes_its_position_but_no_offset(
    name, installed, technician
):
    old, *_ = leads(installed.kit)
    spare = spare_on_truck(technician)
    page = said(signed_in(technician).get(f"/k/{installed.kit.code}/swap"))
    assert f'value="{spare.rom}"' in page
    values = {"old": old.rom, name: spare.rom, "why": "chewed by a squirrel", "cut_by": "me"}
    assert send(technician, installed.kit, "swap", values).status_code == 302
    assert installed.placements.get(placed_until=None, position__code="SA").sensor == spare
    assert fresh(old).spare_place.technician == technician
    assert spare.offset_at(timezone.now()) is None


def test_what_is_left_to_do_on_a_kit_is_told_before_it_goes_to_the_next_house(loaded, technician):
    FollowUp.objects.create(
        kit=loaded.kit, what="Wi-Fi still to be wiped", opened_at=timezone.now(), opened_by=technician
    )
    for step in ("load", "install"):
        page = said(signed_in(technician).get(f"/k/{loaded.kit.code}/{step}"))
        assert "Still to do on this kit" in page and "Wi-Fi still to be wiped" in page


def test_a_step_whose_answer_got_lost_is_said_to_be_written_down(loaded, technician):
    kit, client = loaded.kit, signed_in(technician)
    assert send(technician, kit, "install", install(kit)).status_code == 302
    page = said(client.get(f"/k/{kit.code}/install"))
    assert "was put in" in page and "Nothing is left to send." in page and "Load it for a call" not in page
    assert send(technician, kit, "remove", remove(technician)).status_code == 302
    page = said(client.get(f"/k/{kit.code}/remove"))
    assert "was taken out" in page and "It must be installed" not in page


def test_a_slip_of_the_thumb_about_ports_closed_can_be_taken_back(installed, technician):
    page = said(signed_in(technician).get(f"/k/{installed.kit.code}/remove"))
    assert "not seen" in page and 'name="ports_closed" value=""' in page
    assert send(technician, installed.kit, "remove", remove(technician, ports_closed="")).status_code == 302
    assert fresh(installed).removal.ports_closed is None


def test_a_wanted_position_without_a_lead_is_told_when_the_kit_is_in(loaded, technician):
    loaded.call.wanted_positions.set(Position.objects.filter(code__in=["SA", "OA"]))
    page = said(signed_in(technician).post(f"/k/{loaded.kit.code}/install", install(loaded.kit), follow=True))
    assert "The call wants OA too, and no lead sits there." in page


def test_ones_own_calls_stand_first_to_load_for(technician):
    make.shop()
    kit = make.kit()
    early, late = make.call(technician=make.user(role="technician")), make.call(technician=technician)
    page = said(signed_in(technician).get(f"/k/{kit.code}/load"))
    assert page.index(f'value="{late.number}"') < page.index(f'value="{early.number}"')


def test_a_lead_taken_out_is_no_spare_until_the_bench_has_looked_at_it(installed, technician):
    old, *_ = leads(installed.kit)
    spare = spare_on_truck(technician)
    values = {"old": old.rom, "new": spare.rom, "why": "chewed by a squirrel"}
    assert send(technician, installed.kit, "swap", values).status_code == 302
    client = signed_in(technician)
    offered = f'name="new" value="{old.rom}"'
    assert offered not in said(client.get(f"/k/{installed.kit.code}/swap"))
    truck = said(client.get("/truck/"))
    assert "Taken out, for the bench" in truck and "chewed by a squirrel" in truck
    sensor_actions.keep_spare(make.act(), sensor=old, place=KeptAt.BENCH)
    sensor_actions.keep_spare(make.act(), sensor=old, place=KeptAt.TRUCK, technician=technician)
    assert offered in said(client.get(f"/k/{installed.kit.code}/swap"))
    assert "Taken out, for the bench" not in said(client.get("/truck/"))


def test_a_lead_the_shop_does_not_have_yet_is_added_by_the_same_step_or_not_at_all(installed, technician):
    old, *_ = leads(installed.kit)
    rom = make.rom()
    values = {"old": old.rom, "new_typed": rom.lower(), "new_tag": "6", "why": ""}
    assert send(technician, installed.kit, "swap", values).status_code == 422
    assert not Sensor.objects.filter(rom=rom).exists()
    late = {**values, "why": "cut", "happened_at": "2025-12-01T10:00"}
    assert send(technician, installed.kit, "swap", late).status_code == 409
    assert not Sensor.objects.filter(rom=rom).exists(), "a refused swap adds no sensor"
    assert send(technician, installed.kit, "swap", {**values, "why": "cut"}).status_code == 302
    assert Sensor.objects.get(rom=rom).wiring.kit == installed.kit


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Say which lead is the new one."),
        ("nowhere", "No sensor has the tag nowhere"),
        ("28FF641E0016043B", "The CRC does not fit"),
    ],
)
def test_a_new_lead_that_cannot_be_is_refused(typed, sentence, installed, technician):
    old, *_ = leads(installed.kit)
    values = {"old": old.rom, "new_typed": typed, "why": "chewed"}
    response = send(technician, installed.kit, "swap", values)
    assert response.status_code == 422
    assert sentence in said(response)
    assert 'value="chewed"' in said(response)


def test_a_lead_out_of_another_kit_is_no_spare(installed, technician):
    other = make.kit(name="Other kit", sensors=1)
    old, (taken,) = leads(installed.kit)[0], leads(other)
    response = send(technician, installed.kit, "swap", {"old": old.rom, "new": taken.rom, "why": "chewed"})
    assert response.status_code == 409
    assert f"Sensor {taken} is in {other}, terminal 1." in said(response)
