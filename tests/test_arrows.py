"""Arrows that import-linter cannot see: which templates name which pages. And what must stand in no file at all.

`config -> reports -> sites -> kits`: a template names pages of its own app and of those below. A page above it is named
by `{% url "..." as way %}` only, which leaves the way out when there is no such page.
"""

import re
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path

import pytest
from django.urls import URLPattern, URLResolver

ROOT = Path(__file__).resolve().parent.parent
ORDER = ("kits", "sites", "reports", "config")  # each may name those before it
MAPS = {
    "kits": ("kits.urls", "kits.urls_people"),
    "sites": ("sites.urls",),
    "reports": ("reports.urls",),
    "config": ("config.urls",),
}
URL_TAG = re.compile(r"""\{%\s*url\s+(['"])(?P<name>[\w-]+)\1(?P<rest>[^%]*)%\}""")
TEMPLATE_TAG = re.compile(r"""\{%\s*(?:include|extends)\s+(['"])(?P<name>[^'"]+)\1""")
SKIPPED = {"var", "__pycache__", "node_modules", "pictures"}
TEXT = {
    ".py",
    ".html",
    ".md",
    ".toml",
    ".txt",
    ".css",
    ".js",
    ".sh",
    ".svg",
    ".yml",
    ".yaml",
    ".json",
    ".cfg",
    "",
}


@cache
def names_of(app: str) -> frozenset[str]:
    """The names that an app's own maps give out."""

    def walk(patterns: list[URLPattern | URLResolver]) -> Iterator[str]:
        for pattern in patterns:
            if isinstance(pattern, URLResolver):
                if app != "config":  # what it includes belongs to others
                    yield from walk(pattern.url_patterns)
            elif pattern.name:
                yield pattern.name

    return frozenset(name for place in MAPS[app] for name in walk(import_module(place).urlpatterns))


def templates_of(app: str) -> list[Path]:
    return sorted((ROOT / app / "templates").rglob("*.html"))


def below(app: str) -> tuple[str, ...]:
    """The app itself and what it stands on."""
    return ORDER[: ORDER.index(app) + 1]


def firm_names(text: str) -> Iterator[str]:
    """Names in `{% url %}` tags that fail when there is no such page."""
    for tag in URL_TAG.finditer(text):
        if not re.search(r"\sas\s+\w+\s*$", tag["rest"]):
            yield tag["name"]


def test_the_reader_of_templates_tells_firm_ways_from_optional_ones():
    text = """{% url "kit" kit.code %}{% url 'stay' 1 as way %}{%url "day_sheet"%}{% url "calls" as c %}"""
    assert list(firm_names(text)) == ["kit", "day_sheet"]


@pytest.mark.parametrize("app", ["kits", "sites", "reports"])
def test_templates_name_no_page_above_their_app(app):
    known = {name for lower in below(app) for name in names_of(lower)}
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in templates_of(app)
        for name in firm_names(path.read_text())
        if name not in known
    ]
    assert templates_of(app)
    assert wrong == []


@pytest.mark.parametrize("app", ["kits", "sites", "reports"])
def test_templates_draw_on_no_template_above_their_app(app):
    above = tuple(f"{other}/" for other in ORDER[:-1] if other not in below(app))
    wrong = [
        f"{path.relative_to(ROOT)}: {tag['name']}"
        for path in templates_of(app)
        for tag in TEMPLATE_TAG.finditer(path.read_text())
        if above and tag["name"].startswith(above)
    ]
    assert wrong == []


def test_the_shell_names_pages_that_exist():
    known = {name for app in ORDER for name in names_of(app)}
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in templates_of("config")
        for name in firm_names(path.read_text())
        if name not in known
    ]
    assert wrong == []


def test_each_app_gives_out_names_of_its_own():
    assert names_of("kits") and names_of("sites") and names_of("reports")
    assert not names_of("kits") & names_of("sites")
    assert not names_of("sites") & names_of("reports")


# -- What must stand in no file --------------------------------------------------------------------


def files() -> list[Path]:
    """Every text file of the project."""
    found = []
    for path in ROOT.rglob("*"):
        parts = path.relative_to(ROOT).parts
        hidden = any(part.startswith(".") and part != ".ci" for part in parts[:-1])
        if path.is_file() and not hidden and not SKIPPED & set(parts) and path.suffix in TEXT:
            found.append(path)
    return found


def lines_with(pattern: re.Pattern[str], *, under: tuple[str, ...] = ()) -> Iterator[tuple[str, str]]:
    """Where a pattern occurs, and what it found."""
    for path in files():
        place = path.relative_to(ROOT).as_posix()
        if under and not place.startswith(under):
            continue
        for number, line in enumerate(path.read_text(errors="replace").splitlines(), start=1):
            for hit in pattern.finditer(line):
                yield f"{place}:{number}", hit.group(0)


def test_no_file_names_a_registry_of_packages():
    """Where packages come from is the installing machine's affair. The hosts are put together here, so as not to name them."""
    hosts = [
        *("pypi" + end for end in (".org", ".python.org")),
        *("python" + "hosted.org", "npm" + "js.org", "npm" + "js.com", "crates" + ".io", "rubygems" + ".org"),
        *("proxy." + "golang.org", "docker" + ".io", "conda" + ".anaconda.org"),
    ]
    pattern = re.compile("|".join(re.escape(host) for host in hosts), re.IGNORECASE)
    assert list(lines_with(pattern)) == []


def test_every_mail_address_is_at_a_domain_kept_for_examples():
    """RFC 2606 keeps example.com, .net, .org and the end .example for documentation."""
    address = re.compile(r"(?<![\w./:-])[a-z0-9][\w.+-]*@[\w-]+(?:\.[\w-]+)+", re.IGNORECASE)
    reserved = re.compile(
        r"@([\w-]+\.)*(example\.(com|net|org)|example|invalid|test|localhost)$", re.IGNORECASE
    )
    found = list(lines_with(address))
    assert found
    assert [(place, hit) for place, hit in found if not reserved.search(hit)] == []


def test_every_phone_number_is_one_kept_for_stories():
    """In North America 555-0100 to 555-0199 are kept for fiction; no house has one of them."""
    number = re.compile(r"(?<![\w.#-])(?:\+?1[ .-])?\(?[2-9]\d{2}\)?[ .-]\d{3}[ .-]\d{4}(?![\w-])")
    kept = re.compile(r"555[ .-]01\d{2}$")
    found = list(
        lines_with(number, under=("config/", "docs/", "README", "kits/", "sites/", "reports/", "tests/"))
    )
    assert len(found) > 10
    assert [(place, hit) for place, hit in found if not kept.search(hit)] == []
