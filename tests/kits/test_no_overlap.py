"""NoOverlap: rows alike in some fields never share an instant, whoever writes them and whatever becomes of the table."""

import random
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, migrations, models
from django.db.migrations.writer import MigrationWriter
from django.db.models import Q

from kits.promises import NoOverlap, say, sentences
from tests.kits.scratch import (  # noqa: F401
    APP,
    Ground,
    day,
    ground,
    hour,
    instant_text,
    refused_by,
    run,
    transactional_db,
    trigger_names,
)

pytestmark = pytest.mark.usefixtures("transactional_db")

sqlite_only = pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has types for this")

ONE_PLACE = NoOverlap(
    name="box_in_one_place", same=("box",), start="since", until="until", condition=Q(void=False)
)
ONE_PART = NoOverlap(name="one_part_at_once", same=("box", "part"), start="day_from", until="day_until")


def box() -> migrations.CreateModel:
    return migrations.CreateModel("Box", [("id", models.BigAutoField(primary_key=True))])


def stay(*constraints: models.BaseConstraint) -> migrations.CreateModel:
    fields: list[tuple[str, models.Field[Any, Any]]] = [
        ("id", models.BigAutoField(primary_key=True)),
        ("box", models.ForeignKey(f"{APP}.Box", models.PROTECT, null=True)),
        ("part", models.CharField(max_length=20, null=True)),
        ("void", models.BooleanField(default=False)),
        ("since", models.DateTimeField(null=True)),
        ("until", models.DateTimeField(null=True)),
        ("day_from", models.DateField(null=True)),
        ("day_until", models.DateField(null=True)),
        ("note", models.CharField(max_length=20, default="")),
    ]
    return migrations.CreateModel("Stay", fields, options={"constraints": list(constraints)})


@pytest.fixture
def stays() -> Iterator[Ground]:
    """Stays under both rules, and two boxes."""
    with ground(box(), stay(ONE_PLACE, ONE_PART)) as patch:
        patch.model("Box").objects.bulk_create([patch.model("Box")(pk=1), patch.model("Box")(pk=2)])
        yield patch


def add(patch: Ground, **fields: Any) -> str:
    """Put in a row without asking Django's validation; the name of the rule that refused it."""
    return refused_by(lambda: patch.model("Stay").objects.create(**fields))


@pytest.mark.parametrize(
    ("fields", "refused"),
    [
        pytest.param({"box_id": 1, "since": hour(2), "until": hour(3)}, True, id="inside"),
        pytest.param({"box_id": 1, "since": hour(0), "until": hour(9)}, True, id="around"),
        pytest.param({"box_id": 1, "since": hour(1), "until": hour(5)}, True, id="the same"),
        pytest.param({"box_id": 1, "since": hour(0), "until": hour(1.001)}, True, id="over the start"),
        pytest.param({"box_id": 1, "since": hour(4.999), "until": None}, True, id="over the end, open"),
        pytest.param({"box_id": 1, "since": hour(0), "until": None}, True, id="open, from before"),
        pytest.param({"box_id": 1, "since": hour(0), "until": hour(1)}, False, id="ends where it starts"),
        pytest.param({"box_id": 1, "since": hour(5), "until": None}, False, id="starts where it ends"),
        pytest.param({"box_id": 1, "since": hour(2), "until": hour(2)}, False, id="empty span holds nothing"),
        pytest.param({"box_id": 1, "since": hour(3), "until": hour(2)}, False, id="backwards holds nothing"),
        pytest.param({"box_id": 1, "since": None, "until": hour(3)}, False, id="no start holds nothing"),
        pytest.param({"box_id": 2, "since": hour(2), "until": hour(3)}, False, id="another box"),
        pytest.param({"box_id": None, "since": hour(2), "until": hour(3)}, False, id="no box"),
        pytest.param(
            {"box_id": 1, "void": True, "since": hour(2), "until": hour(3)}, False, id="outside the condition"
        ),
    ],
)
def test_a_span_of_instants_is_kept_free_of_others(
    stays: Ground, fields: dict[str, Any], refused: bool
) -> None:
    assert add(stays, box_id=1, since=hour(1), until=hour(5)) == ""
    assert add(stays, **fields) == ("box_in_one_place" if refused else "")


@pytest.mark.parametrize(
    ("fields", "refused"),
    [
        pytest.param({"part": "owns", "day_from": day(4), "day_until": day(6)}, True, id="last day shared"),
        pytest.param(
            {"part": "owns", "day_from": day(5), "day_until": None}, False, id="from the day it ends"
        ),
        pytest.param(
            {"part": "Owns", "day_from": day(1), "day_until": day(2)}, False, id="another text by case"
        ),
        pytest.param(
            {"part": "own", "day_from": day(1), "day_until": day(2)}, False, id="a text it starts with"
        ),
        pytest.param({"part": "", "day_from": day(1), "day_until": day(2)}, False, id="the empty text"),
        pytest.param(
            {"part": "pays", "day_from": day(1), "day_until": day(2)}, True, id="second text taken too"
        ),
        pytest.param({"part": None, "day_from": day(1), "day_until": day(2)}, False, id="no text"),
    ],
)
def test_texts_and_whole_days_are_keys_and_spans_too(
    stays: Ground, fields: dict[str, Any], refused: bool
) -> None:
    for part in ("owns", "pays"):
        assert add(stays, box_id=1, part=part, day_from=day(1), day_until=day(5)) == ""
    assert add(stays, box_id=1, **fields) == ("one_part_at_once" if refused else "")


def test_rows_without_a_key_never_meet(stays: Ground) -> None:
    for _ in range(2):
        assert add(stays, box_id=None, since=hour(1)) == ""
        assert add(stays, box_id=1, part=None, day_from=day(1)) == ""


@pytest.mark.parametrize("change", ["box_id = 1", "void = false", "since = {0}, until = NULL"])
def test_an_update_by_raw_sql_is_refused_and_one_aside_is_not(stays: Ground, change: str) -> None:
    assert add(stays, box_id=1, since=hour(1), until=hour(5)) == ""
    stays.model("Stay").objects.create(
        pk=77,
        box_id=2 if "box_id" in change else 1,
        void="void" in change,
        since=hour(6) if "since" in change else hour(2),
    )
    change = change.format(instant_text(4))
    assert refused_by(lambda: run(f"UPDATE scratch_stay SET {change} WHERE id = 77")) == "box_in_one_place"
    run(f"UPDATE scratch_stay SET since = {instant_text(8)} WHERE id = 77")
    assert refused_by(
        lambda: run(f"UPDATE scratch_stay SET {change.format(instant_text(4))} WHERE id = 77")
    ) == ("box_in_one_place" if "since" in change else "")


@sqlite_only
@pytest.mark.parametrize("verb", ["INSERT OR REPLACE", "INSERT OR IGNORE", "REPLACE"])
def test_sqlite_conflict_clauses_do_not_get_round_it(stays: Ground, verb: str) -> None:
    assert add(stays, pk=1, box_id=1, since=hour(1), until=hour(5)) == ""
    values = "VALUES ({}, 1, false, {}, NULL, '')"
    sql = f"{verb} INTO scratch_stay (id, box_id, void, since, until, note) {values}"
    assert refused_by(lambda: run(sql.format(2, instant_text(2)))) == "box_in_one_place"
    assert refused_by(lambda: run(sql.format(2, instant_text(6)))) == ""
    assert refused_by(lambda: run("UPDATE OR REPLACE scratch_stay SET since = " + instant_text(2))) != ""


ODD_INSTANTS = [
    "2026-03-01T10:00:00",
    "2026-03-01 10:00",
    "2026-03-01",
    "2026-03-01 10:00:00Z",
    "2026-03-01 10:00:00+00:00",
    "2026-03-01 10:00:00.5",
    "2026-03-01 10:00:00.000000",
    "2026-03-01 10:00:00.12345x",
    "2026-02-30 10:00:00",
    "2026-03-01 24:00:00",
    " 2026-03-01 10:00:00",
    "10:00:00",
    "now",
    "",
    20260301,
    2461101.9,
    b"2026-03-01 10:00:00",
]


ODD_DAYS = [
    "2026-3-01",
    "2026-02-30",
    "2026-03-01 00:00:00",
    "03/01/2026",
    "now",
    "",
    20260301,
    b"2026-03-01",
]


@sqlite_only
def test_sqlite_takes_no_time_or_day_it_would_sort_wrongly(stays: Ground) -> None:
    insert = "INSERT INTO scratch_stay (box_id, void, note, {}) VALUES (1, false, '', %s)"
    for columns, odd_values, usual, rule in (
        (("since", "until"), ODD_INSTANTS, "2026-03-01 10:00:00.000001", "box_in_one_place"),
        (("day_from", "day_until"), ODD_DAYS, "2026-03-01", "one_part_at_once"),
    ):
        for column in columns:
            sql = insert.format(column)
            for odd in odd_values:
                assert refused_by(lambda sql=sql, odd=odd: run(sql, odd)) == rule, (column, odd)
            assert refused_by(lambda sql=sql, usual=usual: run(sql, usual)) == "", column
        run("DELETE FROM scratch_stay")


def test_the_last_microsecond_of_a_day_is_an_ordinary_instant(stays: Ground) -> None:
    last = hour(0).replace(hour=23, minute=59, second=59, microsecond=999_999)
    assert add(stays, box_id=1, since=last) == ""
    assert add(stays, box_id=1, since=last) == "box_in_one_place"


# A thousand strokes against a list in Python


def counts(row: dict[str, Any]) -> bool:
    filled = row["box_id"] is not None and row["since"] is not None and not row["void"]
    return filled and (row["until"] is None or row["since"] < row["until"])


def clash(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Told anew from the words of the rule: step through every half hour and ask who holds it."""
    if not (counts(one) and counts(other)) or one["box_id"] != other["box_id"]:
        return False
    instants = [hour(number / 2) for number in range(-2, 44)]

    def holds(row: dict[str, Any], instant: Any) -> bool:
        return row["since"] <= instant and (row["until"] is None or instant < row["until"])

    return any(holds(one, instant) and holds(other, instant) for instant in instants)


def drawn(dice: random.Random) -> dict[str, Any]:
    since = dice.choice([None, *range(20)])
    length = dice.choice([None, -1, 0, 1, 1, 2, 3])
    return {
        "box_id": dice.choice([None, 1, 1, 2]),
        "void": dice.random() < 0.15,
        "since": None if since is None else hour(since),
        "until": None if length is None else hour((since or 5) + length),
    }


def play(patch: Ground, seed: int, strokes: int) -> tuple[list[str], int, int]:
    """Random insertions, changes and removals: (disagreements with the oracle, taken, refused)."""
    dice, rows, model = random.Random(seed), dict[int, dict[str, Any]](), patch.model("Stay")
    disagreements, taken, refused = [], 0, 0
    for stroke in range(strokes):
        verb = dice.choice(["insert", "insert", "update", "delete"]) if len(rows) < 14 else "delete"
        pk = stroke if verb == "insert" or not rows else dice.choice(list(rows))
        new = drawn(dice)
        others = [row for key, row in rows.items() if key != pk]
        if verb == "delete":
            model.objects.filter(pk=pk).delete()
            rows.pop(pk, None)
            continue
        expected = any(clash(new, other) for other in others)
        foretold = False
        try:
            model(pk=pk, **new).validate_constraints()
        except ValidationError:
            foretold = True
        if pk in rows:
            got = bool(refused_by(lambda: model.objects.filter(pk=pk).update(**new)))  # noqa: B023
        else:
            got = bool(refused_by(lambda: model.objects.create(pk=pk, **new)))  # noqa: B023
        if not (got == expected == foretold):
            disagreements.append(f"stroke {stroke}: {verb} {new}: {got=} {expected=} {foretold=} {others=}")
        if not got:
            rows[pk] = new
        taken, refused = taken + (not got), refused + got
    return disagreements, taken, refused


def test_a_thousand_random_strokes_agree_with_a_list_in_python(stays: Ground) -> None:
    disagreements, taken, refused = play(stays, seed=20260301, strokes=1000)
    assert disagreements == []
    assert min(taken, refused) > 100


def test_the_list_in_python_notices_when_the_rule_is_gone(stays: Ground) -> None:
    stays.apply(migrations.RemoveConstraint("Stay", ONE_PLACE.name))
    disagreements, _taken, refused = play(stays, seed=20260301, strokes=120)
    assert disagreements
    assert refused == 0


# What becomes of the table


def later_operations() -> list[migrations.operations.base.Operation]:
    check = models.CheckConstraint(condition=~Q(note="never"), name="note_not_never")
    return [
        migrations.AddField("Stay", "colour", models.CharField(max_length=9, null=True)),
        migrations.AddField("Stay", "size", models.IntegerField(default=3)),
        migrations.AlterField("Stay", "size", models.BigIntegerField(default=4, unique=False)),
        migrations.RenameField("Stay", "size", "weight"),
        migrations.AlterField("Stay", "note", models.TextField(default="", db_index=True)),
        migrations.AddConstraint("Stay", check),
        migrations.RemoveConstraint("Stay", check.name),
        migrations.AddIndex("Stay", models.Index(fields=["weight"], name="stay_weight")),
        migrations.AlterUniqueTogether("Stay", {("id", "weight")}),
        migrations.RemoveField("Stay", "colour"),
        migrations.AlterField("Stay", "since", models.DateTimeField(null=True, db_index=True)),
        migrations.AlterField("Stay", "part", models.CharField(max_length=40, null=True)),
        migrations.AlterModelTable("Stay", "scratch_renamed"),
        migrations.RenameModel("Box", "Case"),
        migrations.RenameModel("Stay", "Visit"),
        migrations.AddField("Case", "name", models.CharField(max_length=9, default="x")),
    ]


def test_no_later_change_of_the_table_loses_the_rule(stays: Ground) -> None:
    assert add(stays, box_id=1, since=hour(1), until=hour(5)) == ""
    assert add(stays, box_id=1, part="owns", day_from=day(1), day_until=day(5)) == ""
    wanted = {name for rule in (ONE_PLACE, ONE_PART) for name in rule.trigger_names(connection.vendor)}
    for operation in later_operations():
        stays.apply(operation)
        names = {model.__name__ for model in stays.state.apps.get_models()}
        model = stays.model("Visit" if "Visit" in names else "Stay")
        told = operation.describe()
        assert wanted <= trigger_names(), told

        def add_here(model: Any = model, **fields: Any) -> str:
            return refused_by(lambda: model.objects.create(box_id=1, **fields))

        assert add_here(since=hour(2), until=hour(3)) == "box_in_one_place", told
        assert add_here(part="owns", day_from=day(4)) == "one_part_at_once", told
        assert add_here(since=hour(6), until=hour(7), part="owns", day_from=day(5), day_until=day(6)) == "", (
            told
        )
        model.objects.filter(since=hour(6)).delete()


def test_a_renamed_key_or_time_takes_its_rule_along(stays: Ground) -> None:
    """As makemigrations writes it: off, rename, on again."""
    renamed = NoOverlap(
        name=ONE_PLACE.name, same=("crate",), start="out_at", until="until", condition=Q(void=False)
    )
    for operation in (
        migrations.RemoveConstraint("Stay", ONE_PLACE.name),
        migrations.RemoveConstraint("Stay", ONE_PART.name),
        migrations.RenameField("Stay", "box", "crate"),
        migrations.RenameField("Stay", "since", "out_at"),
        migrations.AddConstraint("Stay", renamed),
    ):
        stays.apply(operation)
    assert add(stays, crate_id=1, out_at=hour(1)) == ""
    assert add(stays, crate_id=1, out_at=hour(2)) == "box_in_one_place"


def test_added_to_a_table_in_use_it_holds_from_then_on() -> None:
    with ground(box(), stay()) as patch:
        patch.model("Box").objects.create(pk=1)
        assert add(patch, box_id=1, since=hour(1), until=hour(2)) == ""
        patch.apply(migrations.AddConstraint("Stay", ONE_PLACE))
        assert add(patch, box_id=1, since=hour(1)) == "box_in_one_place"
        assert add(patch, box_id=1, since=hour(2)) == ""
        patch.apply(migrations.RemoveConstraint("Stay", ONE_PLACE.name))
        assert add(patch, box_id=1, since=hour(2)) == ""


def test_added_over_rows_that_clash_already_it_is_refused() -> None:
    with ground(box(), stay()) as patch:
        patch.model("Box").objects.create(pk=1)
        for _ in range(2):
            assert add(patch, box_id=1, since=hour(1)) == ""
        with pytest.raises(IntegrityError, match="box_in_one_place"):
            patch.apply(migrations.AddConstraint("Stay", ONE_PLACE))
        assert patch.model("Stay").objects.count() == 2
        run("DELETE FROM scratch_stay WHERE id = (SELECT max(id) FROM scratch_stay)")
        patch.apply(migrations.AddConstraint("Stay", ONE_PLACE))


@sqlite_only
def test_added_over_times_sqlite_would_sort_wrongly_it_is_refused() -> None:
    with ground(box(), stay()) as patch:
        run("INSERT INTO scratch_stay (void, since, note) VALUES (false, '2026-03-01T10:00', '')")
        with pytest.raises(IntegrityError, match="box_in_one_place"):
            patch.apply(migrations.AddConstraint("Stay", ONE_PLACE))


# Migrations


def test_the_rule_reads_back_from_a_migration_as_it_was() -> None:
    text, imports = MigrationWriter.serialize(ONE_PLACE)
    space: dict[str, Any] = {}
    exec("\n".join(imports), space)
    again = eval(text, space)
    assert again == ONE_PLACE == ONE_PLACE.clone()
    assert again != ONE_PART
    assert again != NoOverlap(name=ONE_PLACE.name, same=("box",), start="since", until="until")
    listed = NoOverlap(name="n", same=["box"], start="since", until="until")
    assert listed == NoOverlap(name="n", same=("box",), start="since", until="until")


# Validation and its words


def test_validation_speaks_the_models_own_sentence_before_the_database_has_to(
    stays: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    model = stays.model("Stay")
    model.objects.create(pk=1, box_id=1, since=hour(1), until=hour(5))
    second = model(box_id=1, since=hour(2))
    monkeypatch.setitem(sentences.SENTENCES, ONE_PLACE.name, "The box is elsewhere then.")
    with pytest.raises(ValidationError, match="The box is elsewhere then") as refusal:
        second.validate_constraints()
    assert refusal.value.error_dict["__all__"][0].code == ONE_PLACE.name

    model.overlap_sentence = staticmethod(
        lambda mine, name, other: f"{name}: row {other.pk} holds box {mine.box_id}."
    )
    with pytest.raises(ValidationError, match="box_in_one_place: row 1 holds box 1"):
        second.validate_constraints()
    second.since = hour(5)
    second.validate_constraints()
    model.objects.get(pk=1).validate_constraints()  # a row does not meet itself
    model(box_id=1, since=hour(2)).validate_constraints(exclude={"since"})  # left to the database


def test_a_sentence_is_said_once() -> None:
    say("scratch_rule", "One sentence.")
    say("scratch_rule", "One sentence.")
    with pytest.raises(ValueError, match="already has another sentence"):
        say("scratch_rule", "Another sentence.")
    del sentences.SENTENCES["scratch_rule"]


@pytest.mark.parametrize(
    ("rule", "told"),
    [
        (NoOverlap(name="n", same=("note_long",), start="since", until="until"), "keys are whole numbers"),
        (NoOverlap(name="n", same=("share",), start="since", until="until"), "keys are whole numbers"),
        (NoOverlap(name="n", same=("box",), start="since", until="day"), "both be date-time or both be date"),
        (NoOverlap(name="n", same=("box",), start="box", until="until"), "both be date-time or both be date"),
        (NoOverlap(name="n" * 51, same=("box",), start="since", until="until"), "longer than 50"),
        (NoOverlap(name="n", same=("gone",), start="since", until="until"), "nonexistent field 'gone'"),
    ],
)
def test_a_rule_the_databases_cannot_keep_is_told_by_the_system_check(rule: NoOverlap, told: str) -> None:
    fields = {
        "box": models.BigIntegerField(),
        "share": models.FloatField(),
        "note_long": models.TextField(),
        "since": models.DateTimeField(),
        "until": models.DateTimeField(null=True),
        "day": models.DateField(null=True),
    }
    meta = type("Meta", (), {"app_label": APP, "apps": Ground().state.apps, "constraints": [rule]})
    model = type("Checked", (models.Model,), {**fields, "__module__": __name__, "Meta": meta})
    messages = [message.msg for message in rule._check(model, connection)]
    assert any(told in message for message in messages), messages
    sound = NoOverlap(name="n", same=("box",), start="since", until="until")
    assert sound._check(model, connection) == []
