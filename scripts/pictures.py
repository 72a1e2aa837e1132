"""Take a picture of every page of a fresh demo shop, and those that the documentation shows.

    .venv/bin/python scripts/pictures.py                       all of it, what `make pictures` runs
    .venv/bin/python scripts/pictures.py --docs                only docs/pictures
    .venv/bin/python scripts/pictures.py --page kit --page stay --size 390x844 --light attic
    .venv/bin/python scripts/pictures.py --state long          a shop of tests/states.py instead: empty, one, many, long

The demo has a database and a port of its own and is thrown away afterwards. Which pages there are, who may see them and
what they are about is told by tests/pages.py, so that a new page is in the pictures the day it is in the URLconf. A page
that answers wrongly, is wider than the screen, cuts words off, lets them touch, bars somebody (axe-core), is too small
for a thumb or makes the browser complain is named at the end.
"""

import argparse
import importlib
import io
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
FOR_LOOKING = ROOT / "var" / "pictures"
FOR_DOCS = ROOT / "docs" / "pictures"
SIZES = {"390x844": (390, 844), "768x1024": (768, 1024), "1440x900": (1440, 900)}
LIGHTS = ("sun", "attic")
HEAVIEST_DOCS_PICTURE_BYTES = 150_000
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
]


@dataclass(frozen=True)
class View:
    """One page as somebody sees it. `who` is a user name of the demo, empty for nobody."""

    name: str
    path: str
    who: str
    expected: int = 200


@dataclass(frozen=True)
class DocsPicture:
    """A picture that a page of the documentation shows. `page` is a URL name of tests/pages.py."""

    file: str
    page: str
    thing: str = ""
    who: str = "office"
    size: str = "1440x900"
    light: str = "sun"
    scroll_to: str = ""
    placed: tuple[str, ...] = ()  # positions tapped, the first lead's first


DOCS_PICTURES = (
    DocsPicture("day-sheet", "day_sheet"),
    DocsPicture("assign", "assign", "call in need"),
    DocsPicture("kit", "kit", "kit with a past"),
    DocsPicture("kit-drawn", "kit", "kit with a past", scroll_to="#drawn"),
    DocsPicture("stay", "stay", "stay with a past"),
    DocsPicture("truck", "truck", who="technician", size="390x844"),
    DocsPicture("kit-face", "face", "kit loaded", who="technician", size="390x844"),
    DocsPicture(
        "install",
        "install",
        "kit loaded",
        who="technician",
        size="390x844",
        scroll_to="text=3 Leads to positions",
        placed=("SA", "RA", "LL"),
    ),
    DocsPicture("correct-time", "correct_time", "stay removed", who="manager"),
)


# -- The demo ------------------------------------------------------------------------------------


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def manage(*arguments: str) -> None:
    command = [sys.executable, "manage.py", *arguments]
    subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, check=True)


@contextmanager
def served_shop(home: Path, state: str) -> Iterator[str]:
    """A served shop whose files all lie in `home`: the demo, or one of tests/states.py. Gives its address. Django is set
    up for it in this process too.
    """
    os.environ |= {
        "KITPERCH_DATABASE": str(home / "demo.sqlite3"),
        "KITPERCH_FILES": str(home / "files"),
        "KITPERCH_STATIC": str(home / "static"),
        "KITPERCH_SECRET_KEY_FILE": str(home / "secret.key"),
        "DJANGO_SETTINGS_MODULE": "config.settings",
        # The queries by which pages are chosen run beside Playwright's event loop, in no other thread.
        "DJANGO_ALLOW_ASYNC_UNSAFE": "true",
    }
    os.environ.pop("DATABASE_URL", None)
    manage("migrate", "--verbosity", "0")
    if state == "demo":
        manage("load_demo")
    manage("collectstatic", "--noinput", "--verbosity", "0")
    sys.path.insert(0, str(ROOT))
    import django

    django.setup()
    if state != "demo":
        importlib.import_module("tests.states").fill(state)
    port = free_port()
    program = str(Path(sys.executable).parent / "gunicorn")
    command = [
        program,
        "config.wsgi",
        "--bind",
        f"127.0.0.1:{port}",
        "--threads",
        "4",
        "--log-level",
        "warning",
    ]
    log = home / "log"
    with log.open("w") as output:
        server = subprocess.Popen(
            [*command, "--no-control-socket"],
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        address = f"http://127.0.0.1:{port}"
        wait_for(f"{address}/sign-in/", server, log)
        yield address
    finally:
        server.terminate()
        server.wait()


def wait_for(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(300):
        if server.poll() is not None:
            raise SystemExit(f"The demo stopped before it answered:\n{log.read_text()}")
        try:
            with urllib.request.urlopen(url, timeout=5):
                return
        except OSError:
            time.sleep(0.1)
    raise SystemExit(f"{url} did not answer within 30 seconds.")


# -- What there is to see ------------------------------------------------------------------------


def things() -> dict[str, tuple[object, ...]]:
    """What pages are about, from the table of the tests, and those whose stories are worth showing."""
    from sites.models import Deployment, ServiceCall

    found: dict[str, tuple[object, ...]] = importlib.import_module("tests.pages").things()
    swapped = Deployment.objects.filter(ended_at=None, placements__placed_until__isnull=False).first()
    if swapped is None:
        raise SystemExit("The demo has no running stay in which a lead was swapped.")
    in_need = ServiceCall.objects.filter(closed_on=None).exclude(needs_kit_why="").first()
    return {
        **found,
        "kit with a past": (swapped.kit.code,),
        "stay with a past": (swapped.pk,),
        "call in need": (in_need.number,) if in_need else found["call open"],
    }


def every_view(found: dict[str, tuple[object, ...]]) -> list[View]:
    """Each page as the first who may see it: technician where the page is for the hand, else office, else manager."""
    pages = importlib.import_module("tests.pages")
    views = []
    for page in pages.PAGES:
        if page.name == "first_run" or page.thing not in found:
            continue  # the demo is past its first run
        path = page.path(found)
        if "." in path.rpartition("/")[2]:
            continue  # a file: a paper, a table, a calendar
        order: tuple[str, ...] = ("office", "manager", "technician")
        if page.name in pages.FIELD_PAGES:
            order = ("technician", "office", "manager")
        if page.name == "sign_in":
            order = ("",)
        who = next((role for role in order if role in page.get or not role), None)
        if who is not None:
            views.append(View(page.name, path, who))
    if "kit with a past" in found:
        views += [
            View("kit_with_a_past", f"/kits/{found['kit with a past'][0]}/", "office"),
            View("stay_with_a_past", f"/stays/{found['stay with a past'][0]}/", "office"),
        ]
    if "kit installed" in found:
        face = next(page for page in pages.PAGES if page.name == "face")
        views.append(View("face_signed_out", face.path(found), ""))
    return [
        *views,
        View("search_found", "/search/?q=wren", "office"),
        View("error_403", "/shop/", "office", expected=403),
        View("error_404", "/nothing-here/", "office", expected=404),
    ]


def view_of(picture: DocsPicture, found: dict[str, tuple[object, ...]]) -> View:
    from django.urls import reverse

    return View(picture.file, reverse(picture.page, args=found[picture.thing]), picture.who)


def session_of(username: str) -> str:
    """The session cookie of somebody who has just signed in."""
    from django.conf import settings
    from django.test import Client

    from kits.models import User

    client = Client()
    client.force_login(User.objects.get(username=username), backend="config.sessions.People")
    return str(client.cookies[settings.SESSION_COOKIE_NAME].value)


# -- Taking them ---------------------------------------------------------------------------------


class Studio:
    """A browser before the demo: takes pictures and remembers what was wrong with the pages."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.browser, self.address = browser, address
        self.sessions = {who: session_of(who) for who in ("office", "technician", "manager")}
        self.faults: list[str] = []

    def context(self, size: str, light: str, who: str) -> BrowserContext:
        width, height = SIZES[size]
        scheme: Any = "dark" if light == "attic" else "light"
        context = self.browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,
            device_scale_factor=2 if width < 500 else 1,
            has_touch=width < 500,
            is_mobile=width < 500,
            locale="en-US",
            reduced_motion="reduce",
        )
        if who:
            cookie: Any = {"name": "sessionid", "value": self.sessions[who], "url": self.address}
            context.add_cookies([cookie])
        return context

    def open(self, page: Page, view: View, seen_as: str) -> None:
        answer = page.goto(self.address + view.path)
        status = answer.status if answer else 0
        if status != view.expected:
            self.faults.append(f"{view.path} {seen_as}: answered {status}")
        if page.url.startswith(f"{self.address}/sign-in/") and view.who:
            self.faults.append(f"{view.path} {seen_as}: {view.who} was asked to sign in")
        page.evaluate("document.fonts.ready")
        too_wide_px = page.evaluate(
            "document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"
        )
        if too_wide_px > 0:
            self.faults.append(f"{view.path} {seen_as}: {too_wide_px} px wider than the screen")

    def look_at_all(self, views: list[View], size: str, lights: Sequence[str], folder: Path) -> None:
        """Every page from top to bottom into `folder`, and what is wrong with it."""
        for who in sorted({view.who for view in views}):
            context = self.context(size, lights[0], who)
            page = context.new_page()
            page.on("pageerror", lambda error: self.faults.append(f"{size}: script failed: {error}"))
            for view in (view for view in views if view.who == who):
                self.open(page, view, size)
                for light in lights:
                    page.emulate_media(color_scheme="dark" if light == "attic" else "light")
                    path = folder / f"{size}-{light}" / f"{view.name}.png"
                    path.parent.mkdir(parents=True, exist_ok=True)
                    page.screenshot(path=path, full_page=True, animations="disabled", scale="css")
                    self.find_faults(page, view, size, light, whole=light == lights[0])
            context.close()

    def find_faults(self, page: Page, view: View, size: str, light: str, *, whole: bool) -> None:
        """What the eye of a program sees; in the second light only what light changes."""
        looks = importlib.import_module("tests.looks")
        wrong = looks.barriers(page, looks.ALL if whole else looks.COLOURS)
        if whole:
            wrong += [f"cut off: {words}" for words in looks.cut_words(page)]
            wrong += [f"touching: {words}" for words in looks.touching_words(page)]
            is_field_page = view.name in importlib.import_module("tests.pages").FIELD_PAGES
            if is_field_page and size == "390x844":
                wrong += [f"too small for a thumb: {target}" for target in looks.small_targets(page)]
        self.faults += [f"{view.name} ({view.path}) {size} {light}: {fault}" for fault in wrong]

    def for_docs(self, picture: DocsPicture, view: View) -> None:
        """One screen, made small enough to commit."""
        context = self.context(picture.size, picture.light, picture.who)
        page = context.new_page()
        self.open(page, view, picture.size)
        for number, code in enumerate(picture.placed):
            square = page.locator(f'[name^="at_"][value="{code}"]').nth(number)
            square.locator("xpath=ancestor::label").click()
        if picture.scroll_to:
            page.locator(picture.scroll_to).first.evaluate("element => element.scrollIntoView()")
        shot = page.screenshot(animations="disabled")
        context.close()
        small = Image.open(io.BytesIO(shot)).convert("RGB").quantize(128, dither=Image.Dither.NONE)
        FOR_DOCS.mkdir(parents=True, exist_ok=True)
        path = FOR_DOCS / f"{picture.file}.png"
        small.save(path, optimize=True)
        if path.stat().st_size > HEAVIEST_DOCS_PICTURE_BYTES:
            self.faults.append(f"{path.relative_to(ROOT)}: {path.stat().st_size} bytes")


def chromium() -> str:
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        raise SystemExit("Chromium is not installed. Run: sudo apt-get install chromium")
    return found


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    arguments.add_argument("--docs", action="store_true", help="only the pictures of the documentation")
    arguments.add_argument("--page", action="append", help="only pages of this name, and none for the docs")
    arguments.add_argument("--size", action="append", choices=SIZES)
    arguments.add_argument("--light", action="append", choices=LIGHTS)
    arguments.add_argument(
        "--state",
        choices=("demo", "empty", "one", "many", "long"),
        default="demo",
        help="which shop to look at",
    )
    given = arguments.parse_args()
    is_demo = given.state == "demo"

    with tempfile.TemporaryDirectory(prefix="kitperch-pictures-") as home, ExitStack() as open_things:
        address = open_things.enter_context(served_shop(Path(home), given.state))
        found = things() if is_demo else importlib.import_module("tests.states").things()
        playwright = open_things.enter_context(sync_playwright())
        browser = playwright.chromium.launch(executable_path=chromium(), args=CHROMIUM_ARGUMENTS)
        studio = Studio(browser, address)
        if is_demo and not given.page:
            for picture in DOCS_PICTURES:
                studio.for_docs(picture, view_of(picture, found))
        if not given.docs:
            views = [view for view in every_view(found) if not given.page or view.name in given.page]
            for size in given.size or SIZES:
                print(f"{len(views)} pages at {size}", flush=True)
                folder = FOR_LOOKING if is_demo else FOR_LOOKING / given.state
                studio.look_at_all(views, size, given.light or LIGHTS, folder)
        browser.close()
    for fault in studio.faults:
        print(fault)
    print(f"{len(studio.faults)} faults" if studio.faults else "Nothing wrong was seen.")
    return 1 if studio.faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
