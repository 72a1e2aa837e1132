"""The shell round every page: who sees it, what it shows when things fail, and what no template may hold."""

import re
from pathlib import Path

import pytest
from django import forms
from django.template import Context, Template
from django.template.loader import render_to_string
from django.test import Client
from django.urls import resolve

ROOT = Path(__file__).resolve().parent.parent.parent
TEMPLATES = sorted(
    path
    for app in ("config", "kits", "sites", "reports")
    for path in (ROOT / app / "templates").rglob("*.html")
    if path.parent.name != "mail"  # a mail program knows no content policy and wants its style inside
)
LOOK = (ROOT / "docs" / "look.md").read_text()


def test_the_page_for_a_fault_of_ours_needs_neither_database_nor_context() -> None:
    assert "Something broke here" in render_to_string(
        "500.html"
    )  # no db fixture: a query would fail the test


@pytest.mark.django_db
def test_a_nonsense_host_is_answered_in_our_look(client: Client) -> None:
    answer = client.get("/sign-in/", headers={"host": "elsewhere.example.com"})
    assert answer.status_code == 400
    assert "That did not come through whole" in answer.content.decode()


def test_a_page_that_is_not_there_keeps_the_ways_of_ones_role(client: Client, technician) -> None:
    client.force_login(technician)
    answer = client.get("/no/such/page/")
    html = answer.content.decode()
    assert answer.status_code == 404
    assert "Nothing at this address" in html
    assert 'class="thumb"' in html and technician.name in html


def test_the_office_finds_agreements_but_not_the_shop_among_its_ways(client: Client, office) -> None:
    client.force_login(office)
    html = client.get("/no/such/page/").content.decode()
    assert 'href="/agreements/"' in html and 'href="/shop/"' not in html


def test_the_office_has_no_thumb_bar(client: Client, office) -> None:
    client.force_login(office)
    assert 'class="thumb"' not in client.get("/no/such/page/").content.decode()


def test_signed_out_there_are_no_ways_and_no_search(client: Client, manager) -> None:
    html = client.get("/sign-in/").content.decode()
    assert "<h1>Sign in</h1>" in html
    assert 'id="menu"' not in html and 'id="find"' not in html


@pytest.mark.parametrize(
    ("cookie", "attribute"),
    [
        pytest.param("attic", 'data-light="attic"', id="dark"),
        pytest.param("sun", 'data-light="sun"', id="light"),
        pytest.param('"><script>', "", id="nonsense is not repeated"),
    ],
)
def test_light_chosen_by_hand_is_drawn_by_the_server(
    client: Client, manager, cookie: str, attribute: str
) -> None:
    client.cookies["light"] = cookie
    html = client.get("/sign-in/").content.decode()
    found = re.search(r"<html[^>]*>", html)
    assert found is not None and re.findall(r"data-light\S*(?=>)", found[0]) == (
        [attribute] if attribute else []
    )


def test_signing_out_is_a_form_and_not_a_link() -> None:
    assert resolve("/sign-out/").url_name == "sign_out"
    nav = (ROOT / "config" / "templates" / "_nav.html").read_text()
    assert re.search(r'<form method="post" action="{% url \'sign_out\' %}">', nav)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_template_holds_no_style_handler_or_script_of_its_own(path: Path) -> None:
    html = re.sub(r"{% comment.*?endcomment %}", "", path.read_text(), flags=re.DOTALL)
    assert not re.search(r"\sstyle\s*=", html)
    assert not re.search(r"<[^>]*\son[a-z]+\s*=", html)
    assert not re.search(r"<style\b(?![^>]*nonce)", html)
    assert not re.search(r"<script\b(?![^>]*(?:\bsrc=|nonce))", html)


class Named(forms.Form):
    name = forms.CharField()


@pytest.mark.parametrize("line", re.findall(r"{% include .+? %}", LOOK))
def test_an_example_in_the_guide_can_be_pasted(line: str) -> None:
    form = Named({})
    form.add_error(None, "This kit is on another truck.")
    assert Template("{% load kitperch %}" + line).render(Context({"form": form, "refused": "No."})).strip()


def test_every_token_of_the_guide_is_there() -> None:
    named = re.findall(r"`\.([a-z][\w-]+)", LOOK)
    sheets = "".join(path.read_text() for path in (ROOT / "config" / "static" / "css").glob("*.css"))
    assert [name for name in named if f".{name}" not in sheets] == []
