"""What goes wrong in real life: refusals, two people at one step, the back button, a second tap, no script at all."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from kits.models import Event, Kit, Place
from sites.models import Deployment, Stage
from tests import make
from tests.browser.conftest import PHONE, Screen, screen
from tests.browser.hands import choice, fill, follow, press, press_and_be_refused, tap

INSTALL = {
    "consent_by": "Orla Venn",
    "consent_part": "tenant",
    "wifi": "guest",
    "volts_dead": "0.3",
    "hookup_terminals": "R and C at the furnace board",
    "tap_place": "downstream",
    "ports_drilled": "2",
    "volts_after": "25.9",
    "raw_SA": "56.1",
    "reference_SA": "55.2",
    "notes": "The hatch sticks.",
}
IS_IN = "It is in: write it down"
COUNTED = "Counted: hand it back"


@pytest.fixture
def loaded(transactional_db: None) -> Deployment:
    """A kit on Ben's truck for a call of his."""
    make.shop()
    ben = make.technician(name="Ben")
    return make.stay(Stage.LOADED, call=make.call(technician=ben, wanted=("SA", "RA")))


def take_further(stay: Deployment, *steps: Stage) -> Deployment:
    for step in steps:
        at = (Deployment.objects.get(pk=stay.pk).installed_at or stay.loaded_at) + timedelta(minutes=30)
        make.go_on(stay, step, at=at)
    return Deployment.objects.get(pk=stay.pk)


def face(stay: Deployment, step: str = "") -> str:
    return f"/k/{stay.kit.code}/{step}"


def roms(stay: Deployment) -> list[str]:
    wired = stay.kit.wirings.filter(wired_until=None).order_by("terminal")
    return list(wired.values_list("sensor__rom", flat=True))


@pytest.fixture
def ben(phone: Screen, loaded: Deployment) -> Screen:
    """Ben's phone, signed in."""
    phone.sign_in(loaded.call.technician)
    return phone


@pytest.fixture
def second(chromium: Browser, live_server: LiveServer) -> Iterator[Screen]:
    """Another phone."""
    yield from screen(chromium, live_server, PHONE)


@pytest.fixture
def scriptless(chromium: Browser, live_server: LiveServer, loaded: Deployment) -> Iterator[Screen]:
    """Ben's phone with scripts turned off."""
    for phone in screen(chromium, live_server, {**PHONE, "java_script_enabled": False}):
        phone.sign_in(loaded.call.technician)
        yield phone


def values_on(page, names) -> dict[str, str]:  # type: ignore[no-untyped-def]
    """What stands in the fields now; of a group of radio buttons the one that is chosen."""
    found = {}
    for name in names:
        fields = page.locator(f'main [name="{name}"]')
        if fields.first.get_attribute("type") == "radio":
            fields = page.locator(f'main [name="{name}"]:checked')
        found[name] = fields.first.input_value() if fields.count() else ""
    return found


# -- Refused, and nothing typed is lost ------------------------------------------------------------


def test_an_install_that_is_refused_keeps_all_that_was_typed(ben, loaded):
    first, second_rom, third, _ = roms(loaded)
    ben.open(face(loaded, "install"))
    fill(ben.page, {**INSTALL, "volts_dead": "26.4"})
    for rom, position in ((first, "SA"), (second_rom, "RA"), (third, "LL")):
        tap(ben.page, f"at_{rom}", position)
    press_and_be_refused(ben.page, IS_IN, "26.4 V is not dead.")
    assert values_on(ben.page, INSTALL) == {**INSTALL, "volts_dead": "26.4"}
    for rom, position in ((first, "SA"), (second_rom, "RA"), (third, "LL")):
        expect(choice(ben.page, f"at_{rom}", position)).to_be_checked()
    assert ben.barriers() == []
    assert ben.overflow_px() <= 0
    assert Deployment.objects.get().stage == Stage.LOADED
    fill(ben.page, {"volts_dead": "0.0"})
    press(ben.page, IS_IN)
    assert Deployment.objects.get().stage == Stage.INSTALLED
    assert Deployment.objects.get().installation.notes == "The hatch sticks."


def test_a_hand_back_that_is_refused_keeps_all_that_was_ticked(ben, loaded):
    stay = take_further(loaded, Stage.INSTALLED, Stage.REMOVED)
    here, missing = roms(stay)[:-1], roms(stay)[-1]
    ben.open(face(stay, "hand-back/"))
    fill(ben.page, {f"counted_{rom}": True for rom in here})
    fill(ben.page, {"account_wiped": True, "condition_note": "One magnet is loose"})
    press_and_be_refused(ben.page, COUNTED, missing[-4:])
    for rom in here:
        expect(ben.page.locator(f"[name=counted_{rom}]")).to_be_checked()
    expect(ben.page.locator(f"[name=counted_{missing}]")).not_to_be_checked()
    expect(ben.page.locator("[name=account_wiped]")).to_be_checked()
    expect(ben.page.locator("[name=condition_note]")).to_have_value("One magnet is loose")
    assert ben.barriers() == []
    assert Deployment.objects.get().stage == Stage.REMOVED
    fill(ben.page, {"rest_is_missing": True})
    press(ben.page, COUNTED)
    assert Deployment.objects.get().stage == Stage.HANDED_BACK
    assert Kit.objects.get().custody.place == Place.BENCH, "a kit with a lead missing goes to the bench"


# -- Two people ------------------------------------------------------------------------------------


def test_of_two_who_finish_the_same_step_the_second_is_told(ben, second, loaded):
    """The first one's story stands; the second is told what the books hold now, and what was typed is still there."""
    second.sign_in(make.technician(name="Ana"))
    for phone, name in ((ben, "Orla Venn"), (second, "Somebody else")):
        phone.open(face(loaded, "install"))
        fill(phone.page, {**INSTALL, "consent_by": name})
        tap(phone.page, f"at_{roms(loaded)[0]}", "SA")
    press(ben.page, IS_IN)
    events = Event.objects.count()
    with second.page.expect_navigation():
        second.page.get_by_role("button", name=IS_IN).click()
    expect(second.page.locator(".refusal")).to_be_visible()
    expect(second.page.locator("[name=consent_by]")).to_have_value("Somebody else")
    assert second.barriers() == []
    assert Event.objects.count() == events
    assert Deployment.objects.get().installation.consent_by == "Orla Venn"


def test_a_kit_taken_from_a_truck_meanwhile_is_not_lost(ben, second, loaded):
    ana = make.technician(name="Ana")
    second.sign_in(ana)
    ben.open(face(loaded, "install"))
    fill(ben.page, INSTALL)
    second.open(face(loaded))
    press(second.page, "Take it onto my truck")
    assert Kit.objects.get().custody.technician == ana
    with ben.page.expect_navigation():
        ben.page.get_by_role("button", name=IS_IN).click()
    expect(ben.page.locator(".refusal")).to_be_visible()
    expect(ben.page.locator("[name=notes]")).to_have_value("The hatch sticks.")
    assert Kit.objects.get().custody.technician == ana


# -- Back, twice, without script -------------------------------------------------------------------


def test_the_back_button_after_a_step_does_it_only_once(ben, loaded):
    ben.open(face(loaded, "install"))
    fill(ben.page, INSTALL)
    tap(ben.page, f"at_{roms(loaded)[0]}", "SA")
    press(ben.page, IS_IN)
    events = Event.objects.count()
    ben.page.go_back()
    button = ben.page.get_by_role("main").get_by_role("button", name=IS_IN)
    if button.count():  # the page as it was, from the browser's memory: sent again, it gets its first answer
        with ben.page.expect_navigation():
            button.click()
    else:
        expect(ben.page.get_by_role("main")).to_contain_text("that is written down")
    assert Event.objects.count() == events
    assert Deployment.objects.get().stage == Stage.INSTALLED


def test_a_button_tapped_twice_does_it_once(ben, loaded):
    ben.open(face(loaded, "install"))
    fill(ben.page, INSTALL)
    tap(ben.page, f"at_{roms(loaded)[0]}", "SA")
    with ben.page.expect_navigation():
        ben.page.get_by_role("main").get_by_role("button", name=IS_IN).dblclick()
    expect(ben.page.locator(".refusal")).to_have_count(0)
    assert Event.objects.filter(what="installed").count() == 1
    assert Deployment.objects.get().stage == Stage.INSTALLED


def test_a_form_half_filled_in_asks_before_it_goes(ben, loaded):
    asked = []
    ben.page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    ben.open(face(loaded, "install"))
    ben.page.locator("[name=notes]").click()
    ben.page.keyboard.type("The hatch")
    ben.open(face(loaded))
    assert asked == ["beforeunload"]


def test_a_stay_goes_from_truck_to_shelf_without_script(scriptless, loaded):
    page = scriptless.page
    first, other, *_ = roms(loaded)
    scriptless.open(face(loaded))
    follow(page, "Install it")
    fill(page, INSTALL)
    tap(page, f"at_{first}", "RA")
    tap(page, f"at_{other}", "RA")  # nothing lets go of the first one here: the shop refuses and says so
    press_and_be_refused(page, IS_IN, "one position takes one sensor")
    expect(choice(page, f"at_{first}", "RA")).to_be_checked()
    expect(page.locator("[name=notes]")).to_have_value("The hatch sticks.")
    tap(page, f"at_{first}", "SA")
    press(page, IS_IN)
    stay = Deployment.objects.get()
    sits = {row.position.code: row.sensor.rom for row in stay.placements.filter(placed_until=None)}
    assert sits == {"SA": first, "RA": other}
    follow(page, "Take it out")
    fill(page, {"ports_closed": "2", "wire_restored": "yes", "system_ran": "yes"})
    press(page, "It is out: write it down")
    follow(page, "Hand it back")
    fill(page, {f"counted_{rom}": True for rom in roms(loaded)})
    fill(page, {"wifi_wiped": True, "account_wiped": True})
    press(page, COUNTED)
    assert Kit.objects.get().custody.place == Place.SHELF


def test_days_changed_without_looking_again_are_the_days_planned(phone, transactional_db):
    make.shop()
    call = make.call(technician=make.technician(name="Ben"))
    make.kit()
    phone.sign_in(make.office())
    phone.open(f"/calls/{call.number}/assign/")
    out, back = call.window_from + timedelta(days=5), call.window_from + timedelta(days=6)
    phone.page.get_by_label("Take out by").fill(out.isoformat())
    phone.page.get_by_label("Back in shop by").fill(back.isoformat())
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name="Plan this kit").click()
    stay = Deployment.objects.get()
    assert (stay.take_out_by, stay.back_in_shop_by) == (out, back)
