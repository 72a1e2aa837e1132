"""A real Chromium before a live server, at the size of a phone and of an office screen.

A test that asks for `phone` or `desktop` fails at its end if the browser's console told of a fault, the content security
policy refused something, or a file of the page was missing.
"""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, ConsoleMessage, Page, Response, sync_playwright
from pytest_django.live_server_helper import LiveServer

if TYPE_CHECKING:
    from kits.models import User

PHONE = {
    "viewport": {"width": 390, "height": 844},
    "is_mobile": True,
    "has_touch": True,
    "device_scale_factor": 2,
}
TABLET = {"viewport": {"width": 768, "height": 1024}}
DESKTOP = {"viewport": {"width": 1440, "height": 900}}
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
]
WAIT_MS = 10_000


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "/tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


@dataclass
class Screen:
    """One browser page and what went wrong on it so far."""

    page: Page
    address: str
    faults: list[str] = field(default_factory=list)

    def open(self, path: str) -> Response | None:
        """Go to a page of the shop by its path."""
        return self.page.goto(self.address + path)

    def sign_in(self, user: "User") -> None:
        """Come back as `user` with a valid session; the sign-in page has tests of its own."""
        client = Client()
        client.force_login(user, backend="config.sessions.People")
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        self.page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": self.address}])

    def barriers(self) -> list[str]:
        """What axe-core finds on the page as it stands: one line a finding, with the elements concerned."""
        found = Axe().run(self.page).response["violations"]
        return [
            f"{one['id']} ({one['impact']}): {one['help']}: "
            + ", ".join(str(node["target"]) for node in one["nodes"])
            for one in found
        ]

    def overflow_px(self) -> int:
        """How far the page is wider than the screen; a phone page must not scroll sideways."""
        return self.page.evaluate(
            "document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"
        )

    def listen(self) -> None:
        self.page.on("console", self._hear_console)
        self.page.on("pageerror", lambda error: self.faults.append(f"script failed: {error}"))

    def _hear_console(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        # The page itself answered 404 or 422: the test asked for that and looks at the status.
        if (
            message.text.startswith("Failed to load resource")
            and message.location.get("url") == self.page.url
        ):
            return
        self.faults.append(f"console: {message.text} ({message.location.get('url', '')})")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for the whole run."""
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if program is None:
        pytest.fail("Chromium is not installed. Run: sudo apt-get install chromium", pytrace=False)
    # Playwright keeps an event loop in this thread, and Django takes that for an asynchronous caller.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=CHROMIUM_ARGUMENTS)
            yield browser
            browser.close()
    finally:
        if before is None:
            del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
        else:
            os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = before


def screen(browser: Browser, server: LiveServer, look: dict[str, Any]) -> Iterator[Screen]:
    context = browser.new_context(**look, locale="en-US", timezone_id="America/Chicago")
    context.set_default_timeout(WAIT_MS)
    seen = Screen(context.new_page(), server.url)
    seen.listen()
    yield seen
    context.close()
    assert not seen.faults, "the browser reported faults:\n" + "\n".join(seen.faults)


@pytest.fixture
def phone(chromium: Browser, live_server: LiveServer) -> Iterator[Screen]:
    """A technician's phone, 390 x 844."""
    yield from screen(chromium, live_server, PHONE)


@pytest.fixture
def desktop(chromium: Browser, live_server: LiveServer) -> Iterator[Screen]:
    """An office screen, 1440 x 900."""
    yield from screen(chromium, live_server, DESKTOP)
