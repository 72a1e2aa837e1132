"""Who may do what: every page of the URLconf, by everybody, with real requests against the table in `tests/pages.py`."""

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import get_resolver, reverse

from kits.models import Role, User
from tests import make, pages
from tests.conftest import signed_in
from tests.pages import PAGES, Page

# A code whose check character is right and that no kit of the test carries.
UNUSED_CODE = "22222P"
PEOPLE = ("signed out", "technician", "office", "manager")
# What a step answers to somebody it lets in who sends nothing but a request id: done (302), refused (409), not understood.
LET_IN = {302, 409, 422}
# Django's own forms show themselves again with 200, and a calendar's new address stands in the answer itself; the first
# run leads on to the sign-in (302) once there is somebody.
SHOWN_AGAIN = {"sign_in": 200, "my_password": 200, "my_calendar": 200, "kit_key_new": 200}
# Somebody who is let in but led on: where to.
LED_ON = {
    ("day_sheet", "technician"): "/truck/",
    ("first_run", ""): "/sign-in/",
    ("sign_in", "signed in"): "/",
}


pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def found(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, tuple[object, ...]]]:
    with pages.filled_shop(django_db_blocker) as things:
        yield things


def client_of(who: str) -> Client:
    """Somebody of that role, in a browser of their own."""
    return Client() if who == "signed out" else signed_in(make.user(Role(who)))


def is_led_to_sign_in(answer: HttpResponseBase) -> bool:
    return answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in/?next=")


def expected_get(page: Page, who: str) -> int | str:
    """What the table says about looking at a page."""
    if who not in page.get:
        if who == "signed out":
            return "sign in"
        # Of a page that is only sent to, somebody barred from sending hears that first.
        return 403 if page.get or who not in page.post else 405
    state = "signed out" if who == "signed out" else "signed in"
    for key in ((page.name, who), (page.name, state), (page.name, "")):
        if key in LED_ON:
            return LED_ON[key]
    return 200


def given(answer: HttpResponseBase) -> int | str:
    """What came back, in the table's words."""
    if is_led_to_sign_in(answer):
        return "sign in"
    return answer.headers["Location"] if answer.status_code == 302 else answer.status_code


# -- The table and the URLconf are one -------------------------------------------------------------


def test_every_address_has_one_name_and_one_row():
    names = pages.url_names()
    assert [name for name, number in Counter(names).items() if number > 1] == []
    assert sorted(set(names) - {page.name for page in PAGES} - pages.BY_KEY) == [], (
        "write a row for it in tests/pages.py"
    )


def test_every_row_has_an_address():
    assert sorted({page.name for page in PAGES} - set(pages.url_names())) == []
    assert len(PAGES) == len({page.name for page in PAGES})


# -- Looking and doing -----------------------------------------------------------------------------


@pytest.mark.parametrize("who", PEOPLE)
def test_looking_at_every_page(found, who):
    client = client_of(who)
    wrong = []
    for page in PAGES:
        answer = client.get(page.path(found))
        if given(answer) != expected_get(page, who):
            wrong.append(f"{page.name}: {given(answer)} instead of {expected_get(page, who)}")
    assert wrong == []


@pytest.mark.parametrize("who", PEOPLE)
def test_sending_something_to_every_page(found, who):
    wrong = []
    for page in PAGES:
        with rolled_back():
            answer = client_of(who).post(page.path(found), {"request_id": str(uuid4())})
        got = given(answer)
        if who in page.post:
            fits = not is_led_to_sign_in(answer) and (
                answer.status_code in LET_IN or got == SHOWN_AGAIN.get(page.name)
            )
        elif who == "signed out" and who not in page.get:
            fits = got == "sign in"
        else:
            # Somebody barred from a page that takes nothing may hear either of the two.
            barred = {403} if page.post else {405} if who in page.get else {403, 405}
            fits = got in barred
        if not fits:
            wrong.append(f"{page.name}: {got}")
    assert wrong == []


class rolled_back:
    """Whatever happens within is undone."""

    def __enter__(self) -> None:
        self.block = transaction.atomic()
        self.block.__enter__()

    def __exit__(self, *raised: object) -> None:
        transaction.set_rollback(True)
        self.block.__exit__(*raised)


def test_what_is_not_there_is_not_found():
    client, wrong = client_of("manager"), []
    for page in PAGES:
        if not page.thing:
            continue
        path = page.path({page.thing: unlike(page)})
        if page.get and client.get(path).status_code != 404:
            wrong.append(f"GET {path}")
        if page.post and client.post(path, {"request_id": str(uuid4())}).status_code != 404:
            wrong.append(f"POST {path}")
    assert wrong == []


def unlike(page: Page) -> tuple[object, ...]:
    """Address parts that fit the page's pattern and name nothing; the code and the ROM ID have right check characters."""
    (_, parts), *_ = get_resolver().reverse_dict.getlist(page.name)[0][0]
    nothing = {
        "code": UNUSED_CODE,
        "rom": make.rom(987_654),
        "pk": 987_654,
        "event": 987_654,
        "number": 987_654,
        "place": 987_654,
        "token": "no_calendar_of_anybody_has_this_secret_part",
        "table": "nothing",
        "kind": "units",
        "file_kind": "csv",
    }
    return tuple(nothing[part] for part in parts)


# -- Forged, wandering, and harmless requests ------------------------------------------------------


def test_nothing_is_taken_without_the_token_of_its_form(found):
    manager = make.manager()
    client = Client(enforce_csrf_checks=True)
    client.force_login(manager, backend="config.sessions.People")
    for page in PAGES:
        if page.post:
            answer = client.post(page.path(found), {"request_id": str(uuid4())})
            assert answer.status_code == 403, page.name


def rows() -> dict[str, int]:
    """How many rows each table of ours holds."""
    ours = [model for app in ("kits", "sites", "reports") for model in apps.get_app_config(app).get_models()]
    return {model._meta.label: model._default_manager.count() for model in ours}


def versions() -> dict[str, list[int]]:
    ours = [model for app in ("kits", "sites") for model in apps.get_app_config(app).get_models()]
    return {
        model._meta.label: list(model._default_manager.order_by("pk").values_list("version", flat=True))
        for model in ours
        if hasattr(model, "version")
    }


def test_looking_changes_nothing(found):
    client = client_of("manager")
    before = rows(), versions()
    assert before[0]["kits.Event"] > 0
    for page in PAGES:
        client.get(page.path(found))
        client.head(page.path(found))
        assert (rows(), versions()) == before, page.name


@pytest.mark.parametrize(
    "wanted, led_to",
    [
        pytest.param("/kits/", "/kits/", id="a page of ours"),
        pytest.param("https://elsewhere.example.com/", "/", id="another host"),
        pytest.param("//elsewhere.example.com/kits/", "/", id="another host without scheme"),
        pytest.param("https:elsewhere.example.com", "/", id="a scheme without slashes"),
        pytest.param("javascript:alert(1)", "/", id="a script"),
        pytest.param("/\\elsewhere.example.com", "/", id="a backslash that browsers take for a slash"),
    ],
)
def test_signing_in_leads_to_no_other_host(wanted, led_to):
    user = make.office()
    answer = Client().post(
        "/sign-in/", {"username": user.username, "password": make.PASSWORD, "next": wanted}
    )
    assert (answer.status_code, answer.headers["Location"]) == (302, led_to)


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example.com/", "//elsewhere.example.com/", "/\\elsewhere"]
)
def test_a_step_leads_back_to_no_other_host(found, back):
    (code,) = found["kit on a truck"]
    path = reverse("kit_shelf", args=[code])
    answer = client_of("office").post(f"{path}?back={back}", {"request_id": str(uuid4())})
    assert answer.status_code == 302
    assert answer.headers["Location"] == reverse("kit", args=[code])


# -- Signed out, before a label --------------------------------------------------------------------


def faces(code: str) -> Iterator[str]:
    """What a label may open: the path as printed, as typed, with and without the slash at its end."""
    for path in (f"/k/{code}", f"/K/{code}", f"/k/{code.lower()}", f"/K/{code[:3]}-{code[3:]}"):
        yield path
        yield f"{path}/"


def told_by(answer: HttpResponseBase) -> bytes:
    """The page without what only repeats the request: its nonce, and the way back to the same address."""
    return re.sub(rb'nonce="[^"]+"|next=[^"]+', b"", answer.content)


def test_a_finder_reads_the_same_whatever_the_code(found):
    make.shop(name="Larkspur Hollow", phone="+1 201 555 0142")
    (out,), (shelf,) = found["kit installed"], found["kit on the shelf"]
    answers = [Client().get(path) for code in (out, shelf, UNUSED_CODE, "NOSUCH") for path in faces(code)]
    assert {answer.status_code for answer in answers} == {200}
    assert len({told_by(answer) for answer in answers}) == 1
    assert b"Larkspur Hollow" in answers[0].content
    assert b"555 0142" in answers[0].content


def test_a_finder_learns_nothing_about_any_customer(found):
    from sites.models import Customer, Site

    text = Client().get(f"/k/{found['kit installed'][0]}").content.decode()
    private = [customer.name for customer in Customer.objects.all()]
    private += [site.street for site in Site.objects.all()]
    private += [person.name for person in User.objects.all()]
    assert private
    assert [words for words in private if words in text] == []


def test_a_finder_gets_no_further_than_the_face(found):
    for page in PAGES:
        if page.name in pages.FIELD_PAGES - {"face"}:
            assert is_led_to_sign_in(Client().get(page.path(found))), page.name


def test_somebody_who_may_no_longer_sign_in_is_out_at_once():
    user = make.office()
    client = signed_in(user)
    assert client.get("/kits/").status_code == 200
    User.objects.filter(pk=user.pk).update(is_active=False)
    assert is_led_to_sign_in(client.get("/kits/"))
