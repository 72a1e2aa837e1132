"""Which lead is which, on a phone: a kit sends through its door while a lead is held, and the page names it."""

import json
import re
import urllib.request
from datetime import datetime

import pytest
from playwright.sync_api import expect

from config.demo.leads import Leads, pack
from kits import live
from kits.actions.live import make_key
from kits.models import Kit, Place, Sensor, User
from tests import make
from tests.browser import hands
from tests.browser.conftest import Screen

KEY = "the key of a simulated kit"


@pytest.fixture
def kit(live_server) -> Kit:
    made = make.kit(sensors=0, place=Place.BENCH)
    for _ in range(2):
        make.sensor(kit=made, tag="")
    make_key(make.act(), kit=made, sha256=live.key_sha256(KEY))
    return made


def send(screen: Screen, kit: Kit, rounds: list[list[dict[str, object]]]) -> None:
    """What the box sends, as it does: over the line, with its key."""
    records = [record for one in rounds for record in one]
    headers = {"Authorization": f"Bearer {KEY}", "Content-Type": "application/senml+json"}
    request = urllib.request.Request(
        f"{screen.address}/live/{kit.code}/", json.dumps(records).encode(), headers
    )
    with urllib.request.urlopen(request) as answer:
        assert json.load(answer)["kept"] == len(records)


def rounds(leads: Leads, first_s: int, last_s: int) -> list[list[dict[str, object]]]:
    """Rounds of readings from so many seconds ago to so many seconds ago, two seconds apart."""
    found = []
    for ago in range(first_s, last_s - 1, -2):
        leads.advance(2)
        found.append(pack(leads.read(), ago))
    return found


def test_a_held_lead_names_itself_on_a_phone(phone: Screen, technician: User, kit: Kit) -> None:
    make.shop()
    phone.sign_in(technician)
    page = phone.page
    first, last = (row.sensor.rom for row in live.wired(kit))
    leads = Leads([first, last], seed=2)
    phone.open(f"/kits/{kit.code}/leads/")
    send(phone, kit, rounds(leads, 110, 40))
    # Forty seconds of holding are sent at once: the page is opened as if it had stood there since the hand closed.
    began = datetime.now().timestamp() - 40
    phone.open(f"/kits/{kit.code}/leads/?began={began:.2f}")
    expect(page.get_by_role("main")).to_contain_text("Not sure yet")
    assert phone.barriers() == [] and phone.overflow_px() == 0
    leads.hold(first)
    send(phone, kit, rounds(leads, 38, 0))
    # Nothing is pressed: the page looks by itself.
    expect(page.get_by_role("button", name="Name it")).to_be_visible()
    expect(page.get_by_role("main")).to_contain_text(re.compile(f"It is …\u2060?{first[-4:]}"))
    assert phone.barriers() == [] and phone.overflow_px() == 0
    hands.tap(page, "tag", "4")
    hands.press(page, "Name it")
    assert Sensor.objects.get(rom=first).tag == "4"
    expect(page.locator("h1")).to_have_text("One lead is left")
    hands.tap(page, "tag", "1")
    page.locator("[name=confirmed]").check()
    hands.press(page, "Name it")
    assert Sensor.objects.get(rom=last).tag == "1"
    expect(page.get_by_role("link", name="Print its flag")).to_be_visible()
