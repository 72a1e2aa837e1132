"""The door of the shop, on a phone and on an office screen."""

import pytest
from playwright.sync_api import expect

from kits.models import User

RIGHT = "a long right password"


@pytest.fixture
def nadia(transactional_db) -> User:
    user = User(username="nadia", name="Nadia", role="office")
    user.set_password(RIGHT)
    user.save()
    return user


@pytest.fixture(params=["phone", "desktop"])
def door(request, nadia):
    screen = request.getfixturevalue(request.param)
    assert screen.open("/sign-in/").status == 200
    return screen


def try_password(screen, password: str) -> None:
    screen.page.locator("[name=username]").fill("nadia")
    screen.page.locator("[name=password]").fill(password)
    screen.page.keyboard.press("Enter")


def test_nothing_on_it_bars_anybody(door):
    assert door.barriers() == []
    assert door.overflow_px() <= 0


def test_a_wrong_password_says_so_and_keeps_the_name(door):
    try_password(door, "a wrong password")
    expect(door.page.locator("[name=username]")).to_have_value("nadia")
    assert door.barriers() == []


def test_after_five_wrong_passwords_the_page_says_how_long_to_wait(door):
    for number in range(5):
        try_password(door, f"wrong {number}")
        door.page.wait_for_load_state()
    expect(door.page.get_by_role("main")).to_contain_text("fifteen minutes")
    assert door.barriers() == []
