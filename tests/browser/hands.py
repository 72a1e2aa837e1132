"""What a person does on a page: fill in what is asked, press a button, follow a way. By name and by words, as people see them."""

import re
from collections.abc import Mapping
from typing import Any

from playwright.sync_api import Locator, Page, expect


def fill(page: Page, values: Mapping[str, Any]) -> None:
    """Type, choose or tick each field by its name; a radio button is tapped on its label, as a thumb does."""
    for name, value in values.items():
        field = page.locator(f'main [name="{name}"]')
        kind = field.first.evaluate("field => field.type")
        if kind == "radio":
            tap(page, name, str(value))
        elif kind == "checkbox" and not isinstance(value, bool):
            for one in value:
                page.locator(f'main [name="{name}"][value="{one}"]').check()
        elif kind == "checkbox":
            field.set_checked(value)
        elif kind.startswith("select"):
            field.select_option(value)
        else:
            field.fill(str(value))


def choice(page: Page, name: str, value: str) -> Locator:
    """One radio button of a group."""
    return page.locator(f'main [name="{name}"][value="{value}"]')


def tap(page: Page, name: str, value: str) -> None:
    choice(page, name, value).locator("xpath=ancestor::label").click()


def press(page: Page, words: str | re.Pattern[str]) -> None:
    """Press the button with these words; the next page must not refuse anything."""
    with page.expect_navigation():
        page.get_by_role("main").get_by_role("button", name=words, exact=True).first.click()
    expect(page.locator(".refusal")).to_have_count(0)
    assert not page.locator(".has-error").count(), page.locator(".has-error").all_inner_texts()


def press_and_be_refused(page: Page, words: str, sentence: str) -> None:
    """Press the button; the page comes back and says why."""
    with page.expect_navigation():
        page.get_by_role("main").get_by_role("button", name=words, exact=True).first.click()
    expect(page.get_by_role("main")).to_contain_text(sentence)


def follow(page: Page, words: str) -> None:
    """Follow the way with these words."""
    with page.expect_navigation():
        page.get_by_role("main").get_by_role("link", name=words, exact=True).first.click()


def sign_in(page: Page, username: str, password: str) -> None:
    """Type name and password on the sign-in page that stands open."""
    page.locator("[name=username]").fill(username)
    page.locator("[name=password]").fill(password)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def sign_out(page: Page) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name="Sign out").click()
