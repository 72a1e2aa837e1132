"""Every page of the product with the demo's data, at the size of a phone and of a desk, by day and in an attic.

The demo is made once a run and served as a shop serves it: gunicorn, collected files, every header in force. Nothing here
writes, so all pages share it.
"""

import fcntl
import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Response

from tests import looks
from tests.browser.conftest import DESKTOP, PHONE, TABLET, WAIT_MS
from tests.browser.hands import sign_in
from tests.looks import ALL, COLOURS, SIZES
from tests.pages import DOWNLOADS, FEEDS, FIELD_PAGES, PAGES, PAPERS

ROOT = Path(__file__).resolve().parents[2]
START_SECONDS = 60
NOT_PAGES = PAPERS | FEEDS | DOWNLOADS | {"shop_logo", "sign_out"}
SIGNED_OUT = {"sign_in", "first_run"}  # somebody who is signed in is led away from these
SEEN = [page for page in PAGES if page.get and page.name not in NOT_PAGES]

# Told by a process of its own, which has the demo's database: where each page of the table is. What the demo has none of
# is made first.
PATHS_OF_PAGES = """
import django, json
django.setup()
from kits.models import User
from tests.pages import PAGES, add_what_lacks, things
add_what_lacks(User.objects.get(username="manager"))
found = things()
print(json.dumps({page.name: page.path(found) for page in PAGES}))
"""


# -- The demo, made once and served ----------------------------------------------------------------


@dataclass
class Shop:
    """The demo shop as it is served: its address and the path of every page."""

    address: str
    paths: dict[str, str]


def run(environment: dict[str, str], *command: str) -> str:
    done = subprocess.run(
        [sys.executable, *command], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def environment_in(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    return {
        **kept,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "KITPERCH_DATABASE": str(folder / "demo.sqlite3"),
        "KITPERCH_STATIC": str(folder / "static"),
        "KITPERCH_FILES": str(folder / "files"),
        "KITPERCH_SECRET_KEY": "only for the pages that these tests look at",
        "KITPERCH_LOG_LEVEL": "WARNING",
    }


def make_demo(folder: Path) -> None:
    """The demo's database, its collected files and the paths of its pages, once for all processes of this run."""
    folder.mkdir(exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if (folder / "paths.json").exists():
            return
        environment = environment_in(folder)
        run(environment, "manage.py", "migrate", "--verbosity", "0")
        run(environment, "manage.py", "load_demo")
        run(environment, "manage.py", "collectstatic", "--noinput", "--verbosity", "0")
        (folder / "paths.json").write_text(run(environment, "-c", PATHS_OF_PAGES))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"{address}/sign-in/", timeout=5) as answer:
            return bool(answer.status == 200)
    except urllib.error.HTTPError:
        raise
    except OSError:
        return False


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "demo"
    make_demo(folder)
    address = f"http://127.0.0.1:{free_port()}"
    command = [sys.executable, "-m", "gunicorn", "config.wsgi", "--bind", address.removeprefix("http://")]
    command += [
        "--worker-class",
        "gthread",
        "--threads",
        "4",
        "--log-level",
        "warning",
        "--no-control-socket",
    ]
    server = subprocess.Popen(command, cwd=ROOT, env=environment_in(folder), stdin=subprocess.DEVNULL)
    try:
        give_up_at = time.monotonic() + START_SECONDS
        while not answers(address):
            assert server.poll() is None, "the server of the demo stopped"
            assert time.monotonic() < give_up_at, "the server of the demo does not answer"
            time.sleep(0.1)
        yield Shop(address, json.loads((folder / "paths.json").read_text()))
    finally:
        server.terminate()
        server.wait()


# -- One browser page for each role ----------------------------------------------------------------


@dataclass
class Eye:
    """A browser page signed in as somebody, with what went wrong on it, and axe-core at hand."""

    context: BrowserContext
    page: Page
    shop: Shop
    faults: list[str]

    def open(self, name: str) -> Response:
        self.faults.clear()
        answer = self.page.goto(self.shop.address + self.shop.paths[name], wait_until="load")
        assert answer is not None
        return answer

    def at(self, size: dict[str, Any], scheme: str) -> None:
        self.page.set_viewport_size(size["viewport"])
        self.page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]

    def barriers(self, only: dict[str, Any]) -> list[str]:
        return looks.barriers(self.page, only)

    def overflow_px(self) -> int:
        return looks.overflow_px(self.page)

    def small_targets(self) -> list[str]:
        return looks.small_targets(self.page)


def eye(browser: Browser, shop: Shop, username: str) -> Iterator[Eye]:
    context = browser.new_context(**PHONE, locale="en-US", timezone_id="America/Chicago")
    context.set_default_timeout(WAIT_MS)
    page, faults = context.new_page(), []
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: faults.append(f"script failed: {error}"))
    if username:
        from config.demo.logins import LOGINS

        page.goto(f"{shop.address}/sign-in/")
        sign_in(page, username, next(login.password for login in LOGINS if login.username == username))
    yield Eye(context, page, shop, faults)
    context.close()


@pytest.fixture(scope="module")
def manager_eye(chromium: Browser, demo: Shop) -> Iterator[Eye]:
    yield from eye(chromium, demo, "manager")


@pytest.fixture(scope="module")
def technician_eye(chromium: Browser, demo: Shop) -> Iterator[Eye]:
    yield from eye(chromium, demo, "technician")


@pytest.fixture(scope="module")
def finder_eye(chromium: Browser, demo: Shop) -> Iterator[Eye]:
    yield from eye(chromium, demo, "")


@pytest.fixture(params=SEEN, ids=lambda page: page.name)
def opened(request: pytest.FixtureRequest) -> tuple[Eye, str]:
    """One page, open as the one who uses it most."""
    name = request.param.name
    who = "finder" if name in SIGNED_OUT else "technician" if name in FIELD_PAGES else "manager"
    seen: Eye = request.getfixturevalue(f"{who}_eye")
    answer = seen.open(name)
    assert answer.status == 200, answer.url
    return seen, name


def test_the_eye_finds_what_it_looks_for(finder_eye):
    finder_eye.open("sign_in")
    finder_eye.at(PHONE, "light")
    finder_eye.page.evaluate(
        "document.querySelector('main').innerHTML += `<p id=faint>faint</p><p id=wide>wide</p><a href=x id=tiny>x</a><img src='/static/tag.svg'>`"
    )
    finder_eye.page.evaluate("document.getElementById('faint').style.color = '#999'")
    finder_eye.page.evaluate("document.getElementById('wide').style.width = '900px'")
    finder_eye.page.evaluate("document.getElementById('tiny').style.display = 'inline-block'")
    barriers = " ".join(finder_eye.barriers(ALL))
    assert "color-contrast" in barriers and "image-alt" in barriers
    assert "color-contrast" in " ".join(finder_eye.barriers(COLOURS))
    assert finder_eye.overflow_px() > 0
    finder_eye.page.evaluate(
        "document.querySelector('main').innerHTML += `<p id=cut>words that are cut off</p><p>words below</p><p id=over>words above</p>`"
    )
    finder_eye.page.evaluate(
        "Object.assign(document.getElementById('cut').style, {width: '40px', overflow: 'hidden', whiteSpace: 'nowrap'})"
    )
    finder_eye.page.evaluate("document.getElementById('over').style.marginTop = '-48px'")
    assert "cut off" in " ".join(looks.cut_words(finder_eye.page))
    touching = " ".join(looks.touching_words(finder_eye.page))
    assert "words below" in touching and "words above" in touching
    assert "tiny" in " ".join(finder_eye.small_targets())
    finder_eye.page.evaluate(
        "document.body.append(Object.assign(document.createElement('script'), {text: '1'}))"
    )
    assert "Content Security Policy" in " ".join(finder_eye.faults)


def test_a_page_bars_nobody_and_fits_its_screen(opened):
    seen, name = opened
    wrong = []
    for screen, size in (("phone", PHONE), ("desktop", DESKTOP)):
        for light, rules in (("light", ALL), ("dark", COLOURS)):
            seen.at(size, light)
            wrong += [f"{screen}, {light}: {barrier}" for barrier in seen.barriers(rules)]
        if seen.overflow_px() > 0:
            wrong.append(f"{screen}: scrolls sideways by {seen.overflow_px()} px")
        if screen == "phone" and name in FIELD_PAGES:
            wrong += [f"phone: too small for a thumb: {target}" for target in seen.small_targets()]
    # Between the two nothing but room changes: what depends on it is looked at, all else was.
    seen.at(TABLET, "light")
    wrong += [f"tablet: {barrier}" for barrier in seen.barriers(SIZES)]
    wrong += [f"tablet: cut off: {words}" for words in looks.cut_words(seen.page)]
    wrong += [f"tablet: touching: {words}" for words in looks.touching_words(seen.page)]
    if seen.overflow_px() > 0:
        wrong.append(f"tablet: scrolls sideways by {seen.overflow_px()} px")
    wrong += [f"console: {fault}" for fault in seen.faults]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    "path, status",
    [
        pytest.param("/nowhere/", 404, id="no such page"),
        pytest.param("/people/", 403, id="not for technicians"),
        pytest.param("/kits/22222Q/", 404, id="a kit's page with a wrong code"),
        pytest.param("/scan/?code=2I4XYZ", 404, id="a wrong code typed"),
        pytest.param("/search/?q=zzzz", 200, id="nothing found"),
        pytest.param("/kits/?q=zzzz", 200, id="an empty list"),
    ],
)
def test_pages_that_say_no_bar_nobody(technician_eye, path, status):
    answer = technician_eye.page.goto(technician_eye.shop.address + path)
    assert answer.status == status
    for size in (PHONE, DESKTOP):
        technician_eye.at(size, "light")
        assert technician_eye.barriers(ALL) == []
        assert technician_eye.overflow_px() <= 0


def test_what_a_finder_sees_bars_nobody(finder_eye):
    answer = finder_eye.open("face")
    assert answer.status == 200
    finder_eye.at(PHONE, "light")
    assert finder_eye.barriers(ALL) == []
    assert finder_eye.overflow_px() <= 0
    assert finder_eye.small_targets() == []
    assert finder_eye.faults == []
