"""What every page tells the browser, and that nothing people typed ever becomes part of a page's own code."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
from django.apps import apps
from django.db import models
from django.http import HttpResponse
from django.test import Client

from tests import make, pages
from tests.conftest import signed_in
from tests.pages import PAGES, Page

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

# What a page can be asked for besides its bare address: each draws another part of it.
ASKED = {
    "kits": "?q=one",
    "calls": "?state=all",
    "call_new": "?unit={unit}",
    "labels": "?kit={kit}",
    "kit": "?history=all&at=2026-01-02T03:04",
    "truck": "?technician={person}",
    "search": "?q=test",
    "scan": "?code=2I4XYZ",
}


@pytest.fixture(scope="module")
def found(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, tuple[object, ...]]]:
    with pages.filled_shop(django_db_blocker) as things:
        yield things


def every_page(found: dict[str, tuple[object, ...]], client: Client) -> Iterator[tuple[Page, HttpResponse]]:
    """Each page that can be looked at, bare and asked for more, as `client` gets it."""
    plain = {words: found[words][0] for words in ("unit", "person")}
    plain["kit"] = found["kit on the shelf"][0]
    for page in PAGES:
        if not page.get:
            continue
        path = page.path(found)
        yield page, client.get(path)
        if page.name in ASKED:
            yield page, client.get(path + ASKED[page.name].format(**plain))


def is_html(answer: HttpResponse) -> bool:
    return answer.headers["Content-Type"].startswith("text/html")


@pytest.fixture
def manager_browser(found) -> Client:
    return signed_in(make.manager())


# -- Headers ---------------------------------------------------------------------------------------


def policy_of(answer: HttpResponse) -> dict[str, list[str]]:
    """The content security policy, directive by directive."""
    parts = [part.split() for part in answer.headers["Content-Security-Policy"].split(";") if part.strip()]
    return {name: sources for name, *sources in parts}


@pytest.mark.parametrize("who", ["manager", "signed out"])
def test_every_page_says_what_a_browser_may_do_with_it(found, manager_browser, who):
    client = manager_browser if who == "manager" else Client()
    seen = 0
    for page, answer in every_page(found, client):
        headers = answer.headers
        assert headers["X-Content-Type-Options"] == "nosniff", page.name
        assert headers["X-Frame-Options"] == "DENY", page.name
        assert headers["Referrer-Policy"] == "same-origin", page.name
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin", page.name
        policy = policy_of(answer)
        assert not [word for words in policy.values() for word in words if "unsafe" in word or word == "*"]
        assert policy["default-src"] == ["'self'"], page.name
        assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == ["'none'"]
        assert policy["form-action"] == ["'self'"], page.name
        seen += 1
    assert seen > sum(bool(page.get) for page in PAGES)


def test_a_nonce_is_new_with_every_answer_and_stands_in_the_policy(manager_browser):
    nonces = []
    for _ in range(2):
        answer = manager_browser.get("/kits/")
        on_page = set(re.findall(r'nonce="([^"]+)"', answer.content.decode()))
        assert len(on_page) <= 1
        in_policy = re.findall(r"'nonce-([^']+)'", answer.headers["Content-Security-Policy"])
        assert on_page <= set(in_policy)
        nonces += on_page or set(in_policy)
    assert nonces == [] or len(set(nonces)) == 2


def test_pages_behind_the_sign_in_do_not_stay_in_shared_caches(found, manager_browser):
    for page, answer in every_page(found, manager_browser):
        if page.name in pages.FEEDS:
            continue
        caching = answer.headers.get("Cache-Control", "")
        assert "public" not in caching, page.name
        assert "Cookie" in answer.headers.get("Vary", ""), page.name


# -- The markup ------------------------------------------------------------------------------------


class Markup(HTMLParser):
    """Collects what a content security policy would have to allow."""

    def __init__(self) -> None:
        super().__init__()
        self.refused: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        for name, value in attrs:
            if name == "style" or name.startswith("on"):
                self.refused.append(f"<{tag} {name}={value!r}>")
            if (
                name in {"href", "src", "action", "formaction"}
                and (value or "").strip().lower().partition(":")[0] == "javascript"
            ):
                self.refused.append(f"<{tag} {name}={value!r}>")
        is_code = tag == "style" or (tag == "script" and "src" not in given)
        if is_code and not given.get("nonce"):
            self.refused.append(f"<{tag}> in the page without nonce")
        for name in ("src", "href"):
            outside = (given.get(name) or "").startswith(("http:", "https:", "//"))
            if outside and tag in {"script", "img", "link", "iframe", "source"}:
                self.refused.append(f"<{tag} {name}={given[name]!r}> from another host")


def refused_in(answer: HttpResponse) -> list[str]:
    markup = Markup()
    markup.feed(answer.content.decode())
    return markup.refused


def test_the_reader_of_markup_finds_what_it_looks_for():
    markup = Markup()
    markup.feed(
        '<p style="color:red" onclick="x()">a<script>1</script><style>b{}</style><a href="JavaScript:1">'
        '<img src="//elsewhere.example.com/x.png"><script nonce="n">1</script><script src="/static/a.js"></script>'
    )
    assert len(markup.refused) == 6


def test_no_page_has_code_or_style_that_its_policy_refuses(found, manager_browser):
    wrong = {}
    for client in (manager_browser, Client()):
        for page, answer in every_page(found, client):
            if is_html(answer) and (refused := refused_in(answer)):
                wrong[page.name] = refused
    assert wrong == {}


def test_pages_that_say_no_have_the_same_headers_and_no_code_of_their_own(found):
    technician = signed_in(make.technician())
    careful = Client(enforce_csrf_checks=True)
    answers = {
        404: technician.get("/nowhere/"),
        403: technician.get("/people/"),
        405: technician.post("/kits/"),
    }
    forged = careful.post("/sign-in/", {"username": "x", "password": "y"})
    assert forged.status_code == 403
    for status, answer in [*answers.items(), (403, forged)]:
        assert answer.status_code == status
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert policy_of(answer)["default-src"] == ["'self'"]
        assert refused_in(answer) == []


# -- What people typed stays text ------------------------------------------------------------------

HOSTILE = "<img src=x onerror=alert(1)>{{7*7}}'\"</script>"
RAW = ("<img src=x", "</script>{", "49'")


def hostile_fields(model: type[models.Model]) -> list[models.Field]:
    """The free text of a model: what people type, without choices, codes and keys."""
    return [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, models.CharField | models.TextField)
        and not field.choices
        and field.name not in NOT_FREE
    ]


# Held to a form of their own by the database or by what reads them; `folded` is never shown.
NOT_FREE = frozenset(
    {
        *("code", "rom", "currency", "time_zone", "folded", "password", "username", "what"),
        *("label_host", "payload_sha256", "subject_kind", "kind"),
    }
)


def make_hostile() -> list[str]:
    """Write hostile text into every free text of every row, past all forms; returns the fields written."""
    written = []
    for app in ("kits", "sites"):
        for model in apps.get_app_config(app).get_models():
            fields = hostile_fields(model)
            if not fields or model._meta.model_name in KEPT:
                continue
            for row in model._default_manager.all():
                if getattr(row, "never_changes", False):
                    continue
                # The row's number at the end: some texts must not be the same twice.
                text = {field.name: (HOSTILE + f" {row.pk}")[: field.max_length] for field in fields}
                model._default_manager.filter(pk=row.pk).update(**text)
            written += [f"{model._meta.label}.{field.name}" for field in fields]
    return written


# Rows the database keeps as they are; hostile ones are added instead.
KEPT = frozenset(
    {
        "event",
        "eventabout",
        "receipt",
        "offset",
        "certificate",
        "checkresult",
        "checkwithdrawal",
        "duenow",
        "terms",
    }
)


def add_hostile_events() -> None:
    """One more event with hostile words about every row that earlier events were about."""
    from kits.models import Event, EventAbout

    for about in list(EventAbout.objects.values("kind", "subject_id").distinct()):
        last = Event.objects.order_by("-pk").first()
        words = {"summary": HOSTILE, "why": HOSTILE, "did_by_name": HOSTILE}
        copy = Event.objects.create(
            what="kit built",
            **words,
            answers_for=last.answers_for,
            typed_by=last.typed_by,
            happened_at=last.happened_at,
            recorded_at=last.recorded_at,
            request_id=make.act(last.typed_by).request_id,
        )
        EventAbout.objects.create(event=copy, **about)


def add_hostile_bench() -> None:
    """A certificate, a withdrawal and something that happened to a sensor, in hostile words."""
    from kits.models import CalibrationCheck, Certificate, CheckWithdrawal, DueNow

    for paper in list(Certificate.objects.all()):
        paper.pk, paper.number, paper.issuer = None, HOSTILE[:60], HOSTILE
        paper.save(force_insert=True)
    closed = CalibrationCheck.objects.filter(closed_at__isnull=False, withdrawal=None).first()
    CheckWithdrawal.objects.create(
        sitting=closed, withdrawn_at=closed.closed_at, withdrawn_by=closed.closed_by, why=HOSTILE
    )
    for sensor in [row.sensor for row in closed.results.all()]:
        DueNow.objects.create(sensor=sensor, since=closed.closed_at, reason="dropped", note=HOSTILE)


def test_what_people_typed_never_becomes_markup(found, manager_browser):
    written = make_hostile()
    add_hostile_events()
    add_hostile_bench()
    assert len(written) > 40
    shown, wrong = 0, []
    technician = signed_in(make.technician())
    for client in (manager_browser, technician, Client()):
        for page, answer in every_page(found, client):
            if not is_html(answer):
                continue
            text = answer.content.decode()
            assert answer.status_code < 500, page.name
            wrong += [f"{page.name}: {raw}" for raw in RAW if raw in text] + refused_in(answer)
            shown += "&lt;img src=x" in text
    assert wrong == []
    assert shown > 40, "the text was hardly shown; this test would prove nothing"


def test_what_people_send_comes_back_as_text(found, manager_browser):
    wrong, shown = [], 0
    for page in PAGES:
        if not page.post or page.name in {"sign_out", "first_run"}:
            continue
        names = names_of_fields(manager_browser.get(page.path(found)))
        answer = manager_browser.post(page.path(found), dict.fromkeys(names, HOSTILE))
        text = answer.content.decode()
        wrong += [f"{page.name}: {raw}" for raw in RAW if raw in text] + refused_in(answer)
        shown += "&lt;img src=x" in text
    assert wrong == []
    assert shown > 20


def names_of_fields(answer: HttpResponse) -> set[str]:
    found = set(re.findall(r'<(?:input|textarea|select)[^>]*\sname="([^"]+)"', answer.content.decode()))
    return found - {"csrfmiddlewaretoken"}


@pytest.mark.parametrize("path", ["/k/{}", "/kits/{}/", "/scan/?code={}", "/search/?q={}", "/sensors/{}/"])
def test_what_stands_in_an_address_comes_back_as_text(manager_browser, path):
    from urllib.parse import quote

    answer = manager_browser.get(path.format(quote(HOSTILE, safe="")))
    text = answer.content.decode()
    assert answer.status_code in {200, 404}
    assert [raw for raw in RAW if raw in text] == []
    assert refused_in(answer) == []
