"""Choosing the first free label on the picture of a sheet: by keyboard, by thumb, and without any script."""

from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser
from pytest_django.live_server_helper import LiveServer

from kits.models import User
from tests import make
from tests.browser.conftest import PHONE, Screen


@pytest.fixture
def by_hand(chromium: Browser, live_server: LiveServer):  # type: ignore[no-untyped-def]
    """A phone whose browser runs no script."""
    context = chromium.new_context(**PHONE, locale="en-US", java_script_enabled=False)
    yield Screen(context.new_page(), live_server.url)
    context.close()


def asked(address: str) -> dict[str, list[str]]:
    return parse_qs(urlsplit(address).query)


def test_without_scripts_the_sheet_is_chosen_and_its_first_label_tapped(
    by_hand: Screen, technician: User
) -> None:
    kit = make.kit(name="Heron")
    by_hand.sign_in(technician)
    by_hand.open(f"/papers/labels/?kit={kit.code}")
    page = by_hand.page
    page.get_by_label("Printer and label stock").select_option("a4-65up")
    page.get_by_role("button", name="Show this stock").click()
    assert page.get_by_role("radio").count() == 65
    page.locator("label", has_text="17").filter(has=page.get_by_role("radio")).first.click()
    with page.expect_request(lambda request: "pdf=1" in request.url) as sent:
        page.get_by_role("button", name="Make the sheet").click(no_wait_after=True)
    query = asked(sent.value.url)
    assert (query["kit"], query["stock"], query["start"]) == ([kit.code], ["a4-65up"], ["17"])


def test_the_arrow_keys_walk_over_the_sheet(desktop: Screen, office: User) -> None:
    kit = make.kit(name="Heron")
    desktop.sign_in(office)
    desktop.open(f"/papers/labels/?kit={kit.code}&stock=letter-30up")
    page = desktop.page
    page.get_by_role("radio", name="1", exact=True).focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    assert page.get_by_role("radio", name="5", exact=True).is_checked()
    assert desktop.barriers() == []


def test_a_thumb_finds_each_label_of_the_finest_sheet(phone: Screen, technician: User) -> None:
    make.kit(name="Heron")
    phone.sign_in(technician)
    phone.open("/papers/labels/?stock=a4-65up")
    boxes = [one.bounding_box() for one in phone.page.locator(".label-sheet-page label").all()]
    assert len(boxes) == 65
    assert all(box and box["width"] >= 44 and box["height"] >= 44 for box in boxes)
    assert phone.overflow_px() == 0 and phone.barriers() == []
