"""AppendOnly: what is kept can be neither changed nor removed, whoever tries and whatever becomes of the table."""

import random
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, migrations, models
from django.db.migrations.writer import MigrationWriter
from django.db.models import Q

from kits.promises import AppendOnly, missing_rules
from tests.kits.scratch import Ground, ground, refused_by, run, transactional_db, trigger_names  # noqa: F401

pytestmark = pytest.mark.usefixtures("transactional_db")

sqlite_only = pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own clauses")
postgresql_only = pytest.mark.skipif(connection.vendor != "postgresql", reason="PostgreSQL's own statements")

FOR_GOOD = AppendOnly(name="entry_for_good")
ONCE_CLOSED = AppendOnly(name="sheet_once_closed", when=Q(closed=True), may_change=("note",))


def entry(*constraints: models.BaseConstraint) -> migrations.CreateModel:
    fields = [
        ("id", models.BigAutoField(primary_key=True)),
        ("number", models.IntegerField(unique=True)),
        ("what", models.CharField(max_length=20)),
    ]
    return migrations.CreateModel("Entry", fields, options={"constraints": list(constraints)})


def sheet(*constraints: models.BaseConstraint) -> migrations.CreateModel:
    fields = [
        ("id", models.BigAutoField(primary_key=True)),
        ("what", models.CharField(max_length=20, null=True)),
        ("note", models.CharField(max_length=20, default="")),
        ("closed", models.BooleanField(null=True, default=False)),
    ]
    return migrations.CreateModel("Sheet", fields, options={"constraints": list(constraints)})


@pytest.fixture
def books() -> Iterator[Ground]:
    """Entries kept for good, and sheets kept once closed: one closed (1), one open (2)."""
    with ground(entry(FOR_GOOD), sheet(ONCE_CLOSED)) as patch:
        patch.model("Entry").objects.create(pk=1, number=10, what="kept")
        patch.model("Sheet").objects.create(pk=1, what="kept", closed=True)
        patch.model("Sheet").objects.create(pk=2, what="open", closed=False)
        yield patch


@pytest.mark.parametrize(
    ("sql", "refused"),
    [
        ("UPDATE scratch_entry SET what = 'forged'", "entry_for_good"),
        ("UPDATE scratch_entry SET what = what", "entry_for_good"),
        ("UPDATE scratch_entry SET id = 7", "entry_for_good"),
        ("DELETE FROM scratch_entry", "entry_for_good"),
        ("INSERT INTO scratch_entry (id, number, what) VALUES (2, 11, 'new')", ""),
        ("UPDATE scratch_sheet SET what = 'forged' WHERE id = 1", "sheet_once_closed"),
        ("UPDATE scratch_sheet SET what = NULL WHERE id = 1", "sheet_once_closed"),
        ("UPDATE scratch_sheet SET closed = false WHERE id = 1", "sheet_once_closed"),
        ("UPDATE scratch_sheet SET note = 'free', what = 'forged' WHERE id = 1", "sheet_once_closed"),
        ("UPDATE scratch_sheet SET note = 'free' WHERE id = 1", ""),
        ("UPDATE scratch_sheet SET what = 'open still' WHERE id = 2", ""),
        ("UPDATE scratch_sheet SET closed = true WHERE id = 2", ""),
        ("UPDATE scratch_sheet SET closed = NULL WHERE id = 2", ""),
        ("DELETE FROM scratch_sheet WHERE id = 1", "sheet_once_closed"),
        ("DELETE FROM scratch_sheet WHERE id = 2", ""),
        ("DELETE FROM scratch_sheet", "sheet_once_closed"),
    ],
)
def test_raw_statements_are_refused_exactly_where_something_kept_would_change(
    books: Ground, sql: str, refused: str
) -> None:
    assert refused_by(lambda: run(sql)) == refused


@sqlite_only
@pytest.mark.parametrize(
    ("sql", "refused"),
    [
        ("INSERT OR REPLACE INTO scratch_entry (id, number, what) VALUES (1, 10, 'forged')", True),
        ("REPLACE INTO scratch_entry (id, number, what) VALUES (1, 99, 'forged')", True),
        ("INSERT OR REPLACE INTO scratch_entry (number, what) VALUES (10, 'forged')", True),
        ("INSERT OR REPLACE INTO scratch_entry (id, number, what) VALUES (5, 10, 'forged')", True),
        ("INSERT OR REPLACE INTO scratch_entry (rowid, number, what) VALUES (1, 12, 'forged')", True),
        (
            "INSERT INTO scratch_entry (id, number, what) VALUES (1, 10, 'x') "
            "ON CONFLICT (id) DO UPDATE SET what = 'forged'",
            True,
        ),
        (
            "INSERT INTO scratch_entry (number, what) VALUES (10, 'x') "
            "ON CONFLICT (number) DO UPDATE SET what = 'forged'",
            True,
        ),
        ("UPDATE OR IGNORE scratch_entry SET what = 'forged'", True),
        ("INSERT OR REPLACE INTO scratch_entry (id, number, what) VALUES (2, 11, 'new')", False),
        (
            "INSERT OR REPLACE INTO scratch_sheet (id, what, note, closed) VALUES (1, 'forged', '', false)",
            True,
        ),
        (
            "INSERT OR REPLACE INTO scratch_sheet (id, what, note, closed) VALUES (2, 'open', '', false)",
            False,
        ),
        ("UPDATE OR REPLACE scratch_sheet SET id = 1 WHERE id = 2", True),
    ],
)
def test_no_conflict_clause_of_sqlite_forges_a_kept_row(books: Ground, sql: str, refused: bool) -> None:
    before = list(books.model("Entry").objects.filter(pk=1).values())
    assert bool(refused_by(lambda: run(sql))) == refused
    assert list(books.model("Entry").objects.filter(pk=1).values()) == before
    assert books.model("Sheet").objects.get(pk=1).what == "kept"


@sqlite_only
def test_the_second_unique_column_needs_the_pragma_that_the_settings_turn_on(books: Ground) -> None:
    forge = "INSERT OR REPLACE INTO scratch_entry (id, number, what) VALUES (5, 10, 'forged')"
    assert refused_by(lambda: run(forge)) == "entry_for_good"
    run("PRAGMA recursive_triggers = OFF")
    try:
        assert refused_by(lambda: run(forge)) == ""
    finally:
        run("PRAGMA recursive_triggers = ON")


@postgresql_only
@pytest.mark.parametrize(
    ("sql", "refused"),
    [
        ("TRUNCATE scratch_entry", "entry_for_good"),
        ("TRUNCATE scratch_sheet, scratch_entry CASCADE", "sheet_once_closed"),
        (
            "INSERT INTO scratch_entry (id, number, what) VALUES (1, 10, 'x') "
            "ON CONFLICT (id) DO UPDATE SET what = 'forged'",
            "entry_for_good",
        ),
        (
            "INSERT INTO scratch_entry (id, number, what) VALUES (1, 10, 'x') ON CONFLICT (id) DO NOTHING",
            "",
        ),
        (
            "MERGE INTO scratch_entry e USING (VALUES (1)) v(id) ON e.id = v.id WHEN MATCHED THEN DELETE",
            "entry_for_good",
        ),
        (
            "WITH gone AS (DELETE FROM scratch_entry RETURNING *) SELECT * FROM gone",
            "entry_for_good",
        ),
    ],
)
def test_no_other_statement_of_postgresql_gets_round_it(books: Ground, sql: str, refused: str) -> None:
    assert refused_by(lambda: run(sql)) == refused


def test_the_orm_is_refused_too(books: Ground) -> None:
    kept = books.model("Entry").objects.get(pk=1)
    assert refused_by(kept.save) == refused_by(kept.delete) == "entry_for_good"
    assert refused_by(lambda: books.model("Entry").objects.update(what="forged")) == "entry_for_good"
    assert refused_by(lambda: books.model("Entry").objects.bulk_update([kept], ["what"])) == "entry_for_good"
    assert refused_by(lambda: books.model("Entry").objects.create(pk=2, number=11)) == ""


# A thousand strokes against a list in Python


def play(patch: Ground, seed: int, strokes: int) -> tuple[list[str], int, int]:
    """Random changes and removals of sheets: (disagreements with the oracle, taken, refused)."""
    dice, model = random.Random(seed), patch.model("Sheet")
    rows: dict[int, dict[str, Any]] = {row.pop("id"): row for row in model.objects.values()}
    disagreements, taken, refused = [], 0, 0
    for stroke in range(100, 100 + strokes):
        new = {
            "what": dice.choice(["a", "b", None]),
            "note": dice.choice(["", "n"]),
            "closed": dice.choice([True, False, None]),
        }
        verb = dice.choice(["insert", "update", "update", "delete"])
        pk = stroke if verb == "insert" else dice.choice([*list(rows)[-12:], stroke])
        old = rows.get(pk)
        expected = False
        if old and old["closed"]:
            expected = verb == "delete" or (old["what"], old["closed"]) != (new["what"], new["closed"])
        one = model.objects.filter(pk=pk)
        work = {
            "insert": lambda: model.objects.create(pk=pk, **new),  # noqa: B023
            "update": lambda: one.update(**new),  # noqa: B023
            "delete": lambda: one._raw_delete(one.db),  # noqa: B023
        }[verb]
        got = bool(refused_by(work))
        if not got and verb == "delete":
            rows.pop(pk, None)
        elif not got and (old or verb == "insert"):
            rows[pk] = new
        if got != expected or (rows.get(pk) or None) != (
            one.values("what", "note", "closed").first() or None
        ):
            disagreements.append(f"{verb} {pk} {old} -> {new}: {got=} {expected=}")
        taken, refused = taken + (not got), refused + got
    return disagreements, taken, refused


def test_a_thousand_random_strokes_agree_with_a_list_in_python(books: Ground) -> None:
    disagreements, taken, refused = play(books, seed=20260301, strokes=1000)
    assert disagreements == []
    assert min(taken, refused) > 100


def test_the_list_in_python_notices_when_the_rule_is_gone(books: Ground) -> None:
    books.apply(migrations.RemoveConstraint("Sheet", ONCE_CLOSED.name))
    disagreements, _taken, refused = play(books, seed=20260301, strokes=100)
    assert disagreements
    assert refused == 0


# What becomes of the table


def remove_colour(name: str) -> list[migrations.operations.base.Operation]:
    """SQLite's trigger lists the columns where some are free, so there the rule steps aside meanwhile."""
    remove = migrations.RemoveField(name, "colour")
    if name == "Entry":
        return [remove]
    off = migrations.RemoveConstraint(name, ONCE_CLOSED.name)
    return [off, remove, migrations.AddConstraint(name, ONCE_CLOSED)]


def later_operations(name: str) -> list[migrations.operations.base.Operation]:
    check = models.CheckConstraint(condition=~Q(what="never"), name=f"{name.lower()}_not_never")
    return [
        migrations.AddField(name, "colour", models.CharField(max_length=9, null=True)),
        migrations.AddField(name, "size", models.IntegerField(default=3)),
        migrations.AlterField(name, "size", models.BigIntegerField(default=4)),
        migrations.RenameField(name, "size", "weight"),
        migrations.AlterField(name, "what", models.TextField(default="", null=True)),
        migrations.AddConstraint(name, check),
        migrations.RemoveConstraint(name, check.name),
        migrations.AddIndex(name, models.Index(fields=["weight"], name=f"{name.lower()}_weight")),
        *remove_colour(name),
        migrations.AlterModelTable(name, f"scratch_renamed_{name.lower()}"),
        migrations.AlterModelTable(name, f"scratch_{name.lower()}"),
    ]


def test_no_later_change_of_the_table_loses_the_rule(books: Ground) -> None:
    wanted = {name for rule in (FOR_GOOD, ONCE_CLOSED) for name in rule.trigger_names(connection.vendor)}
    for name in ("Entry", "Sheet"):
        for operation in later_operations(name):
            books.apply(operation)
            told = operation.describe()
            if isinstance(operation, migrations.RemoveConstraint) and operation.name == ONCE_CLOSED.name:
                continue
            if isinstance(operation, migrations.RemoveField) and name == "Sheet":
                continue
            assert wanted <= trigger_names(), told
            entries, sheets = (books.model(name).objects.filter(pk=1) for name in ("Entry", "Sheet"))
            assert refused_by(lambda rows=entries: rows.update(number=77)) == "entry_for_good", told
            assert refused_by(lambda rows=sheets: rows.update(what="forged")) == "sheet_once_closed", told
            assert refused_by(lambda rows=sheets: rows.update(note=told[:20])) == "", told  # noqa: B023


def test_a_column_added_later_is_kept_too(books: Ground) -> None:
    """On SQLite a nullable column comes without a remake, so the trigger's list of columns must be looked after."""
    books.apply(migrations.AddField("Sheet", "colour", models.CharField(max_length=9, null=True)))
    model = books.model("Sheet")
    if connection.vendor == "sqlite":
        assert missing_rules(connection, [model]) == ["sheet_once_closed"]
        ONCE_CLOSED.renew(model, connection)
    assert missing_rules(connection, [model]) == []
    assert refused_by(lambda: model.objects.filter(pk=1).update(colour="red")) == "sheet_once_closed"
    assert refused_by(lambda: model.objects.filter(pk=2).update(colour="red")) == ""


def test_added_and_taken_off_it_holds_just_between() -> None:
    change = "UPDATE scratch_entry SET what = 'changed'"
    with ground(entry()) as patch:
        patch.model("Entry").objects.create(number=10)
        assert refused_by(lambda: run(change)) == ""
        patch.apply(migrations.AddConstraint("Entry", FOR_GOOD))
        assert refused_by(lambda: run(change)) == "entry_for_good"
        patch.apply(migrations.RemoveConstraint("Entry", FOR_GOOD.name))
        assert refused_by(lambda: run(change)) == ""
        assert not trigger_names() & set(FOR_GOOD.trigger_names(connection.vendor))


def test_a_table_removed_and_made_again_has_its_rule() -> None:
    for _ in range(2):
        with ground(entry(FOR_GOOD)) as patch:
            patch.model("Entry").objects.create(number=10)
            assert refused_by(lambda: run("DELETE FROM scratch_entry")) == "entry_for_good"


# Migrations, validation, checks


@pytest.mark.parametrize("rule", [FOR_GOOD, ONCE_CLOSED], ids=lambda rule: rule.name)
def test_the_rule_reads_back_from_a_migration_as_it_was(rule: AppendOnly) -> None:
    text, imports = MigrationWriter.serialize(rule)
    space: dict[str, Any] = {}
    exec("\n".join(imports), space)
    assert eval(text, space) == rule == rule.clone()
    assert rule != AppendOnly(name=rule.name, when=Q(closed=False))


def test_validation_refuses_what_the_database_would_refuse(books: Ground) -> None:
    kept = books.model("Entry").objects.get(pk=1)
    with pytest.raises(ValidationError) as refusal:
        kept.validate_constraints()
    assert refusal.value.error_dict["__all__"][0].code == FOR_GOOD.name
    books.model("Entry")(number=11).validate_constraints()

    closed, open_sheet = (books.model("Sheet").objects.get(pk=pk) for pk in (1, 2))
    closed.note = "free"
    closed.validate_constraints()
    closed.what = "forged"
    with pytest.raises(ValidationError):
        closed.validate_constraints()
    open_sheet.closed = True
    open_sheet.validate_constraints()


def test_the_system_check_knows_fields_that_are_not_there(books: Ground) -> None:
    model = books.model("Sheet")
    for rule in (
        AppendOnly(name="n", may_change=("gone",)),
        AppendOnly(name="n", when=Q(gone=1)),
        AppendOnly(name="n", may_change=("id",)),
        AppendOnly(name="n" * 51),
    ):
        assert rule._check(model, connection), rule
    assert ONCE_CLOSED._check(model, connection) == []
