"""What the pages of documentation say is so: commands, files, rules, tables, settings, words, pictures."""

import re
import tomllib
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import get_commands

from kits.models import Condition, KeptAt, Place
from kits.promises import SENTENCES
from kits.promises.guards import registered
from kits.promises.rule import DatabaseRule
from sites.models import BUILT_IN_POSITIONS, PartyRole, Stage

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
OUR_FOLDERS = "kits|sites|reports|config|tests|scripts|docs"
OUR_MODELS = [
    model for app in ("kits", "sites", "reports") for model in apps.get_app_config(app).get_models()
]
HEAVIEST_PICTURE_BYTES = 150_000

each_page = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def code_of(text: str) -> str:
    """What stands in backticks and in blocks of code, one piece a line."""
    blocks = re.findall(r"```.*?\n(.*?)```", text, re.DOTALL)
    rest = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    return "\n".join([*blocks, *re.findall(r"`([^`]+)`", rest)])


def table_names(text: str, heading: str) -> set[str]:
    """The names in backticks in the tables below a heading."""
    part = text.split(f"## {heading}\n")[1].split("\n## ")[0]
    rows = [line for line in part.splitlines() if line.startswith("| ")]
    return set(re.findall(r"`(\w+)`", "\n".join(rows)))


# -- Commands and files ----------------------------------------------------------------------------


@each_page
def test_every_make_command_is_in_the_makefile(page):
    targets = set(re.findall(r"^([a-z-]+):", text_of("Makefile"), re.MULTILINE))
    named = set(re.findall(r"^make ([a-z-]+)", code_of(page.read_text()), re.MULTILINE))
    assert named <= targets


@each_page
def test_every_management_command_is_there(page):
    named = set(re.findall(r"manage\.py ([a-z_]+)", code_of(page.read_text())))
    assert named <= set(get_commands())


@each_page
def test_every_file_named_is_there(page):
    named = set(re.findall(rf"(?<![\w/.-])(?:{OUR_FOLDERS})/[\w./*-]*", code_of(page.read_text())))
    assert sorted(name for name in named if not list(ROOT.glob(name.strip("./")))) == []


@each_page
def test_every_link_leads_to_a_file(page):
    links = re.findall(r"\]\(([^)]+)\)", page.read_text())
    assert sorted(link for link in links if not (page.parent / link.split("#")[0]).exists()) == []


def test_the_groups_of_tests_are_those_of_the_script():
    named = set(re.findall(r"--group (\w+)", text_of("DEVELOPERS.md")))
    known = re.search(r"^GROUPS.*?^}", text_of("scripts/test.py"), re.DOTALL | re.MULTILINE)
    assert known and named == set(re.findall(r'"(\w+)":', known[0]))


def test_the_first_pages_stay_short():
    assert len(text_of("README.md").splitlines()) <= 150
    assert len(text_of("DEVELOPERS.md").splitlines()) <= 250


# -- The database ----------------------------------------------------------------------------------


def test_every_promise_told_is_kept_under_that_name():
    kept = {rule.name for model in OUR_MODELS for rule in model._meta.constraints}
    kept |= {guard.name for guard in registered()}
    assert table_names(text_of("docs/data-model.md"), "Promises") - kept == set()


def test_every_rule_about_spans_history_and_several_tables_is_told():
    ours = {
        rule.name
        for model in OUR_MODELS
        for rule in model._meta.constraints
        if isinstance(rule, DatabaseRule)
    }
    ours |= {guard.name for guard in registered()}
    assert ours - table_names(text_of("docs/data-model.md"), "Promises") == set()


def test_every_promise_told_has_its_sentence():
    assert table_names(text_of("docs/data-model.md"), "Promises") - set(SENTENCES) == set()


def test_every_table_is_told():
    told = table_names(text_of("docs/data-model.md"), "What a row means")
    assert told == {model.__name__ for model in OUR_MODELS}


# -- Settings and dependencies ---------------------------------------------------------------------


def test_every_setting_is_told():
    read = re.findall(r'env_\w+\("((?:KITPERCH_)?\w+)"', text_of("config/settings.py"))
    told = re.findall(r"^\| `(\w+)`", text_of("docs/deploying.md"), re.MULTILINE)
    assert sorted(set(told)) == sorted(set(read))


def test_every_dependency_is_told_and_none_that_is_gone():
    project = tomllib.loads(text_of("pyproject.toml"))
    wanted = project["project"]["dependencies"] + project["dependency-groups"]["dev"]
    named = {re.match(r"[\w-]+", line)[0].lower() for line in wanted}
    page = text_of("docs/dependencies.md").lower()
    aliases = {"psycopg": "psycopg 3"}
    assert sorted(name for name in named if aliases.get(name, name) not in page) == []


# -- Words -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "choices", [Stage, Place, KeptAt, PartyRole, Condition], ids=lambda one: one.__name__
)
def test_every_state_is_among_the_words(choices):
    page = text_of("docs/words.md").lower()
    assert [label for label in choices.labels if label.lower() not in page] == []


def test_every_built_in_position_is_among_the_words():
    page = text_of("docs/words.md")
    told = [(code, name) for code, name in BUILT_IN_POSITIONS.items() if f"{code} {name.lower()}" in page]
    assert dict(told) == BUILT_IN_POSITIONS


# -- Pictures --------------------------------------------------------------------------------------


def pictures() -> list[Path]:
    return sorted((ROOT / "docs" / "pictures").glob("*"))


def test_every_picture_is_shown_and_made_by_the_script():
    shown = {name for page in PAGES for name in re.findall(r"pictures/([\w-]+)\.png", page.read_text())}
    made = set(re.findall(r'DocsPicture\(\s*"([\w-]+)"', text_of("scripts/pictures.py")))
    assert {path.stem for path in pictures()} == shown == made


def test_pictures_are_light():
    assert [path.name for path in pictures() if path.stat().st_size > HEAVIEST_PICTURE_BYTES] == []


def test_pictures_say_what_they_show():
    alts = [alt for page in PAGES for alt in re.findall(r"!\[([^\]]*)\]\(", page.read_text())]
    assert alts and all(len(alt) > 20 for alt in alts)
