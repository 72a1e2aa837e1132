"""When `make run` makes the demo shop anew."""

import json
from datetime import date
from pathlib import Path

import pytest

from scripts import run

TODAY = date(2026, 4, 14)


@pytest.fixture
def var(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(run, "DEMO", tmp_path / "demo.sqlite3")
    monkeypatch.setattr(run, "DEMO_MADE", tmp_path / "demo.json")
    return tmp_path


def made(var: Path, day: str, code: str) -> None:
    (var / "demo.sqlite3").touch()
    (var / "demo.json").write_text(json.dumps({"day": day, "code": code}))


@pytest.mark.parametrize(
    ("day", "reason"),
    [
        pytest.param("2026-04-14", None, id="today"),
        pytest.param("2026-04-07", None, id="a week ago still holds"),
        pytest.param("2026-04-06", "made on 2026-04-06", id="eight days ago"),
        pytest.param("2026-04-15", "made on 2026-04-15", id="made tomorrow: the clock was wrong"),
    ],
)
def test_a_demo_keeps_a_week(var, day, reason):
    made(var, day, run.demo_code())
    found = run.why_demo_is_outdated(TODAY)
    assert (found is None) if reason is None else (reason in found)


def test_a_demo_of_other_code_is_made_anew(var):
    made(var, "2026-04-14", "of another day")
    assert "code" in run.why_demo_is_outdated(TODAY)


def test_there_is_none_at_first(var):
    assert run.why_demo_is_outdated(TODAY) == "there is none yet"


@pytest.mark.parametrize("note", ["", "{", "{}", '{"day": "soon", "code": ""}'], ids=repr)
def test_a_demo_without_a_readable_note_is_made_anew(var, note):
    (var / "demo.sqlite3").touch()
    (var / "demo.json").write_text(note)
    assert run.why_demo_is_outdated(TODAY) == "nothing says when it was made"


def test_a_changed_migration_changes_what_the_note_is_held_against(tmp_path, monkeypatch):
    monkeypatch.setattr(run, "ROOT", tmp_path)
    migration = tmp_path / "kits" / "migrations" / "0001_initial.py"
    migration.parent.mkdir(parents=True)
    migration.write_text("one")
    before = run.demo_code()
    migration.write_text("another")
    assert run.demo_code() != before


def test_the_demo_never_touches_a_database_the_shop_has_set_up(monkeypatch):
    monkeypatch.setenv("DATABASE_URL", "postgresql://db.example.com/shop")
    monkeypatch.setenv("KITPERCH_DATABASE", "/srv/shop.sqlite3")
    given = run.environment(run.DEMO)
    assert "DATABASE_URL" not in given
    assert given["KITPERCH_DATABASE"] == str(run.DEMO)
