"""A check driven on a phone: begun with a few taps, read in rounds, reloaded in the middle, closed, its offsets in force."""

from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kits.models import CalibrationCheck, CheckReading, Place
from tests import make
from tests.browser.conftest import Screen
from tests.browser.hands import press


@pytest.fixture
def bench(phone: Screen, transactional_db: None) -> Screen:
    """Ben's phone at the bench, where Heron waits for its first check."""
    make.shop(temperature_unit="C")
    kit = make.kit(sensors=0, place=Place.BENCH, name="Heron")
    for tag, colour in (("1", "red"), ("2", "blue")):
        make.sensor(kit=kit, tag=tag, tag_colour=colour, checked=False)
    phone.sign_in(make.technician(name="Ben"))
    return phone


def boxes(page):  # type: ignore[no-untyped-def]
    return page.locator("input[data-key]")


def test_a_check_survives_a_reload_and_a_dead_line_and_puts_its_offsets_in_force(bench: Screen):
    page = bench.page
    bench.open("/bench/")
    page.get_by_role("link", name="Begin a check of Heron").click()
    expect(page.get_by_role("checkbox", name="All 2 of Heron")).to_be_checked()
    expect(page.get_by_role("radio", name="Ice bath")).to_be_checked()
    assert bench.overflow_px() == 0
    press(page, "Begin the check")

    # Round by round, the keypad's own key going on; the minus sign comes from a button of the page.
    first = boxes(page).nth(0)
    assert first.get_attribute("inputmode") == "decimal" and first.bounding_box()["height"] >= 52
    first.fill("0.3")
    first.press("Enter")
    expect(boxes(page).nth(1)).to_be_focused()
    boxes(page).nth(1).fill("0.2")
    page.get_by_role("button", name="Turn the sign round: 2").first.click()
    expect(boxes(page).nth(1)).to_have_value("-0.2")
    expect(page.get_by_text("Kept at", exact=False)).to_be_visible()
    assert CheckReading.objects.count() == 2
    expect(page.locator("[data-general]")).to_contain_text("One reading only")

    # Without a line to the shop what is typed stays on the phone; the page is opened again and it is all there.
    page.context.set_offline(True)
    boxes(page).nth(2).fill("85")
    expect(page.get_by_text("No line to the shop.", exact=False)).to_be_visible()
    page.context.set_offline(False)
    bench.faults.clear()  # the browser's console told of the dead line
    page.reload()
    expect(boxes(page).nth(0)).to_have_value("0.3")
    expect(boxes(page).nth(2)).to_have_value("85")
    expect(page.locator(".reading-doubt:not(:empty)")).to_contain_text("before it has measured")
    boxes(page).nth(2).fill("0.3")
    boxes(page).nth(3).fill("-0.2")
    assert bench.barriers() == [] and bench.overflow_px() == 0
    press(page, "Keep these, and see what they say")

    check = CalibrationCheck.objects.get()
    expect(page.get_by_role("heading", level=1)).to_have_text("2 good, if you close it now")
    assert bench.barriers() == [] and bench.overflow_px() == 0
    press(page, "Close the check")
    expect(page.get_by_role("heading", level=1)).to_have_text("2 good")
    check.refresh_from_db()
    assert check.closed_by.name == "Ben"
    added = {
        row.sensor.tag: row.sensor.offset_at(timezone.now()).offset_kelvin
        for row in check.sensors.select_related("sensor")
    }
    assert added == {"1": Decimal("-0.300"), "2": Decimal("0.200")}
