"""Guards: rules across tables, held from every side, told when missing, made again after every migrate."""

import random
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import (
    IntegrityError,
    OperationalError,
    connection,
    connections,
    migrations,
    models,
    transaction,
)

from kits.promises import (
    Covered,
    Guard,
    NeverBoth,
    Span,
    Through,
    guards,
    missing_guards,
    register,
    without_guards,
)
from tests.kits.scratch import (  # noqa: F401
    Ground,
    ground,
    instant_text,
    refused_by,
    run,
    transactional_db,
    trigger_names,
)

pytestmark = pytest.mark.usefixtures("transactional_db")

sqlite_only = pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own trap")
postgresql_only = pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite has one writer at a time"
)

PLUGGED = Span("scratch_plugged", "since", "until")
SEATED = Span("scratch_seated", "since", "until")
DRAWER = Span("scratch_drawer", "since", "until")
SEATED_WHILE_PLUGGED = Covered(
    "seated_while_plugged",
    child=SEATED,
    parent=PLUGGED,
    same=("probe", "probe"),
    through=Through("scratch_visit", "visit", "box", "box"),
)
PLUGGED_OR_PUT_AWAY = NeverBoth(
    "plugged_or_put_away", first=PLUGGED, second=DRAWER, same="probe", owner_table="scratch_probe"
)


def table(name: str, *columns: str, spans: bool = True) -> migrations.CreateModel:
    fields: list[tuple[str, models.Field[Any, Any]]] = [("id", models.BigAutoField(primary_key=True))]
    fields += [(column, models.BigIntegerField()) for column in columns]
    if spans:
        fields += [("since", models.DateTimeField()), ("until", models.DateTimeField(null=True))]
    return migrations.CreateModel(name, fields)


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Iterator[Ground]:
    """Probes plugged into boxes, put away in drawers, and seated during visits of a box; both guards in force."""
    tables = (
        table("Probe", spans=False),
        table("Visit", "box", spans=False),
        table("Plugged", "probe", "box"),
        table("Drawer", "probe"),
        table("Seated", "probe", "visit"),
    )
    with ground(*tables) as patch, monkeypatch.context() as only:
        only.setattr(guards, "_guards", {})
        register(SEATED_WHILE_PLUGGED)
        register(PLUGGED_OR_PUT_AWAY)
        guards.make_guards(connection)
        patch.model("Probe").objects.bulk_create([patch.model("Probe")(pk=pk) for pk in (1, 2)])
        patch.model("Visit").objects.bulk_create([patch.model("Visit")(pk=pk, box=pk) for pk in (1, 2)])
        try:
            yield patch
        finally:
            guards.drop_guards(connection)
    guards.make_guards(connection)  # the shop's own


def at(*hours: float | None) -> str:
    """Hours as instants of a raw statement: "'2026-…', NULL"."""
    return ", ".join("NULL" if number is None else instant_text(number) for number in hours)


def plug(pk: int, probe: int, box: int, *span: float | None) -> str:
    return f"INSERT INTO scratch_plugged (id, probe, box, since, until) VALUES ({pk}, {probe}, {box}, {at(*span)})"


def seat(pk: int, probe: int, visit: int, *span: float | None) -> str:
    return f"INSERT INTO scratch_seated (id, probe, visit, since, until) VALUES ({pk}, {probe}, {visit}, {at(*span)})"


def put_away(pk: int, probe: int, *span: float | None) -> str:
    return f"INSERT INTO scratch_drawer (id, probe, since, until) VALUES ({pk}, {probe}, {at(*span)})"


# The stage of every case: probe 1 is plugged into box 1 from 1 to 9 and seated at visit 1 from 2 to 8.
COVERED_CASES = [
    pytest.param(seat(5, 1, 1, 3, 4), "", id="seated meanwhile"),
    pytest.param(seat(5, 1, 1, 1, 9), "", id="seated just as long"),
    pytest.param(seat(5, 1, 1, 9, 9), "", id="seated for no time at the very end"),
    pytest.param(seat(5, 1, 1, 0.5, 4), "seated_while_plugged", id="seated before plugged"),
    pytest.param(seat(5, 1, 1, 4, 9.5), "seated_while_plugged", id="seated after unplugged"),
    pytest.param(seat(5, 1, 1, 4, None), "seated_while_plugged", id="seated for ever"),
    pytest.param(seat(5, 2, 1, 3, 4), "seated_while_plugged", id="a probe never plugged"),
    pytest.param(seat(5, 1, 2, 3, 4), "seated_while_plugged", id="at the visit of another box"),
    pytest.param(seat(5, 1, 9, 3, 4), "seated_while_plugged", id="at no visit"),
    pytest.param(f"UPDATE scratch_seated SET since = {at(1)}", "", id="seat earlier, still plugged"),
    pytest.param(f"UPDATE scratch_seated SET since = {at(0)}", "seated_while_plugged", id="seat too early"),
    pytest.param("UPDATE scratch_seated SET until = NULL", "seated_while_plugged", id="seat without end"),
    pytest.param("UPDATE scratch_seated SET probe = 2", "seated_while_plugged", id="seat another probe"),
    pytest.param("UPDATE scratch_seated SET visit = 2", "seated_while_plugged", id="seat at another visit"),
    pytest.param("DELETE FROM scratch_seated", "", id="unseat"),
    pytest.param(f"UPDATE scratch_plugged SET until = {at(8)}", "", id="unplug as it is unseated"),
    pytest.param(
        f"UPDATE scratch_plugged SET until = {at(7)}", "seated_while_plugged", id="unplug while seated"
    ),
    pytest.param(
        f"UPDATE scratch_plugged SET since = {at(3)}", "seated_while_plugged", id="plugged only later"
    ),
    pytest.param("UPDATE scratch_plugged SET box = 2", "seated_while_plugged", id="plugged elsewhere"),
    pytest.param("UPDATE scratch_plugged SET probe = 2", "seated_while_plugged", id="another probe plugged"),
    pytest.param("UPDATE scratch_plugged SET until = NULL", "", id="plugged for longer"),
    pytest.param("UPDATE scratch_plugged SET id = 77", "", id="another number for the same"),
    pytest.param("DELETE FROM scratch_plugged", "seated_while_plugged", id="never plugged at all"),
    pytest.param(
        "UPDATE scratch_visit SET box = 2 WHERE id = 1", "seated_while_plugged", id="visit of another box"
    ),
    pytest.param("UPDATE scratch_visit SET box = 1 WHERE id = 2", "", id="an empty visit of another box"),
    pytest.param("UPDATE scratch_visit SET box = 1 WHERE id = 1", "", id="visit of the same box"),
]


@pytest.mark.parametrize(("sql", "refused"), COVERED_CASES)
def test_a_child_lies_within_its_parent_from_whichever_side_it_is_touched(
    bench: Ground, sql: str, refused: str
) -> None:
    run(plug(1, 1, 1, 1, 9))
    run(seat(1, 1, 1, 2, 8))
    assert refused_by(lambda: run(sql)) == refused


@sqlite_only
@pytest.mark.parametrize(
    "sql",
    [
        "INSERT OR REPLACE INTO scratch_visit (id, box) VALUES (1, 2)",
        f"INSERT OR REPLACE INTO scratch_plugged (id, probe, box, since, until) VALUES (1, 1, 1, {at(3, None)})",
        "INSERT OR REPLACE INTO scratch_seated (id, probe, visit, since, until) VALUES (1, 1, 1, '2026-03-01T09:00', NULL)",
        "UPDATE scratch_seated SET until = '2026-03-01T12'",
        "UPDATE OR IGNORE scratch_plugged SET box = 2",
    ],
)
def test_no_conflict_clause_or_odd_time_of_sqlite_gets_round_it(bench: Ground, sql: str) -> None:
    run(plug(1, 1, 1, 1, 9))
    run(seat(1, 1, 1, 2, 8))
    assert refused_by(lambda: run(sql)) == "seated_while_plugged"


@postgresql_only
def test_truncate_is_refused_while_there_are_children(bench: Ground) -> None:
    run(plug(1, 1, 1, 1, 9))
    run(seat(1, 1, 1, 2, 8))
    assert refused_by(lambda: run("TRUNCATE scratch_plugged")) == "seated_while_plugged"
    assert refused_by(lambda: run("TRUNCATE scratch_plugged, scratch_seated")) == ""


@pytest.mark.parametrize(
    ("sql", "refused"),
    [
        pytest.param(put_away(5, 1, 3, 4), "plugged_or_put_away", id="put away meanwhile"),
        pytest.param(put_away(5, 1, 0, None), "plugged_or_put_away", id="put away for ever"),
        pytest.param(put_away(5, 1, 9, None), "", id="put away as it is unplugged"),
        pytest.param(put_away(5, 1, 0, 1), "", id="put away until plugged"),
        pytest.param(put_away(5, 1, 3, 3), "", id="put away for no time"),
        pytest.param(put_away(5, 2, 3, 4), "", id="another probe put away"),
        pytest.param(plug(5, 2, 1, 21, 22), "plugged_or_put_away", id="plugged while put away"),
        pytest.param(plug(5, 2, 1, 19, 20), "", id="plugged until put away"),
        pytest.param(f"UPDATE scratch_drawer SET since = {at(19)}", "", id="put away earlier"),
        pytest.param("UPDATE scratch_drawer SET probe = 1", "", id="the other probe put away, later"),
        pytest.param(
            f"UPDATE scratch_drawer SET probe = 1, since = {at(8)}",
            "plugged_or_put_away",
            id="the plugged probe put away",
        ),
        pytest.param("UPDATE scratch_plugged SET until = NULL", "", id="plugged for longer"),
        pytest.param(
            "UPDATE scratch_plugged SET until = NULL, probe = 2", "plugged_or_put_away", id="the other one"
        ),
        pytest.param("DELETE FROM scratch_drawer", "", id="taken out of the drawer"),
    ],
)
def test_a_probe_is_never_in_both_tables_at_once(bench: Ground, sql: str, refused: str) -> None:
    run(plug(1, 1, 1, 1, 9))
    run(put_away(1, 2, 20, None))
    assert refused_by(lambda: run(sql)) == refused


# A thousand strokes against sets of hours in Python


def hours_of(span: tuple[int, int | None]) -> frozenset[int]:
    since, until = span
    return frozenset(range(since, 60 if until is None else until))


class Oracle:
    """The three tables as dictionaries: id -> (probe, box or visit, span)."""

    def __init__(self) -> None:
        self.plugged: dict[int, tuple[int, int, tuple[int, int | None]]] = {}
        self.seated: dict[int, tuple[int, int, tuple[int, int | None]]] = {}
        self.drawer: dict[int, tuple[int, int, tuple[int, int | None]]] = {}
        self.box_of_visit = {1: 1, 2: 2}

    def is_sound(self) -> bool:
        for probe, visit, span in self.seated.values():
            box = self.box_of_visit[visit]
            covering = [hours_of(s) for p, b, s in self.plugged.values() if (p, b) == (probe, box)]
            if not any(hours_of(span) <= hours for hours in covering):
                return False
        return not any(
            probe == other and hours_of(span) & hours_of(drawn)
            for probe, _box, span in self.plugged.values()
            for other, _zero, drawn in self.drawer.values()
        )


def play(patch: Ground, seed: int, strokes: int) -> tuple[list[str], int, int]:
    """Random strokes on all tables: (disagreements with the oracle, taken, refused)."""
    dice, oracle = random.Random(seed), Oracle()
    disagreements, taken, refused = [], 0, 0
    for stroke in range(1, strokes + 1):
        name = dice.choice(["plugged", "plugged", "seated", "seated", "drawer", "visit"])
        since = dice.randrange(20)
        length = dice.choice([1, 2, 3, 8, 30, None])
        span = (since, None if length is None else since + length)
        probe, other = dice.choice([1, 2]), dice.choice([1, 2])
        before = {
            kind: dict(getattr(oracle, kind)) for kind in ("plugged", "seated", "drawer", "box_of_visit")
        }
        if name == "visit":
            may = all(visit != probe for _p, visit, _s in oracle.seated.values()) or (
                oracle.box_of_visit[probe] == other
            )
            oracle.box_of_visit[probe] = other
            sql = f"UPDATE scratch_visit SET box = {other} WHERE id = {probe}"
        else:
            may, rows = True, getattr(oracle, name)
            column = {"plugged": "box", "seated": "visit"}.get(name)
            verb = dice.choice(["insert", "insert", "update", "delete"]) if rows else "insert"
            pk = stroke if verb == "insert" else dice.choice(list(rows))
            pk = dice.choice(list(rows)) if verb == "insert" and len(rows) > 5 else pk
            verb = "delete" if verb == "insert" and pk in rows else verb
            values = f"probe = {probe}, since = {at(span[0])}, until = {at(span[1])}"
            if verb == "delete":
                rows.pop(pk)
                sql = f"DELETE FROM scratch_{name} WHERE id = {pk}"
            elif verb == "update":
                rows[pk] = (probe, other, span)
                more = f", {column} = {other}" if column else ""
                sql = f"UPDATE scratch_{name} SET {values}{more} WHERE id = {pk}"
            else:
                rows[pk] = (probe, other, span)
                sql = {
                    "plugged": plug(pk, probe, other, *span),
                    "seated": seat(pk, probe, other, *span),
                    "drawer": put_away(pk, probe, *span),
                }[name]
        expected = not (may and oracle.is_sound())
        got = bool(refused_by(lambda sql=sql: run(sql)))
        if got != expected:
            disagreements.append(f"{sql}: {got=} {expected=} {before}")
        if got:
            for kind, rows_before in before.items():
                setattr(oracle, kind, rows_before)
        taken, refused = taken + (not got), refused + got
    return disagreements, taken, refused


def test_a_thousand_random_strokes_agree_with_sets_of_hours_in_python(bench: Ground) -> None:
    disagreements, taken, refused = play(bench, seed=20260301, strokes=1000)
    assert disagreements == []
    assert min(taken, refused) > 150


def test_the_oracle_notices_when_the_guards_are_gone(bench: Ground) -> None:
    guards.drop_guards(connection)
    disagreements, _taken, refused = play(bench, seed=20260301, strokes=60)
    assert disagreements
    assert refused == 0


# Two at once


def waits_for_a_lock(attempt: Callable[[], Any]) -> tuple[threading.Thread, list[str]]:
    """Start `attempt` in a thread of its own and come back when PostgreSQL says that it waits."""
    answer: list[str] = []

    def work() -> None:
        try:
            answer.append(refused_by(attempt))
        finally:
            connections.close_all()

    thread = threading.Thread(target=work)
    thread.start()
    deadline = time.monotonic() + 20
    while thread.is_alive() and time.monotonic() < deadline:
        with connection.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
            if cursor.fetchone()[0]:
                break
    return thread, answer


@postgresql_only
@pytest.mark.parametrize(
    ("first", "second", "refused"),
    [
        pytest.param(
            seat(1, 1, 1, 2, 8), f"UPDATE scratch_plugged SET until = {at(5)}", "seated_while_plugged", id="a"
        ),
        pytest.param(
            f"UPDATE scratch_plugged SET until = {at(5)}", seat(1, 1, 1, 2, 8), "seated_while_plugged", id="b"
        ),
        pytest.param(seat(1, 1, 1, 2, 8), "DELETE FROM scratch_plugged", "seated_while_plugged", id="c"),
        pytest.param("DELETE FROM scratch_plugged", seat(1, 1, 1, 2, 8), "seated_while_plugged", id="d"),
        pytest.param(seat(1, 1, 1, 2, 8), "UPDATE scratch_visit SET box = 2", "seated_while_plugged", id="e"),
        pytest.param("UPDATE scratch_visit SET box = 2", seat(1, 1, 1, 2, 8), "seated_while_plugged", id="f"),
        pytest.param(plug(2, 2, 1, 2, 8), put_away(2, 2, 3, 4), "plugged_or_put_away", id="g"),
        pytest.param(put_away(2, 2, 3, 4), plug(2, 2, 1, 2, 8), "plugged_or_put_away", id="h"),
        pytest.param(
            seat(1, 1, 1, 2, 4), f"UPDATE scratch_plugged SET until = {at(5)}", "", id="no clash: both"
        ),
        pytest.param(plug(2, 2, 1, 2, 8), put_away(2, 2, 8, 9), "", id="no clash either: both"),
    ],
)
def test_of_two_transactions_that_cannot_see_each_other_the_second_waits_and_is_judged(
    bench: Ground, first: str, second: str, refused: str
) -> None:
    run(plug(1, 1, 1, 1, 9))
    with transaction.atomic():
        run(first)
        thread, answer = waits_for_a_lock(lambda: run(second))
        assert thread.is_alive(), f"it did not wait: {answer}"
    thread.join(timeout=20)
    assert answer == [refused]


# The list, the catalogue and migrate


def test_what_is_missing_is_told_and_made_again(bench: Ground) -> None:
    assert missing_guards(connection) == []
    guards.drop_guards(connection)
    assert missing_guards(connection) == ["seated_while_plugged", "plugged_or_put_away"]
    assert not any(name.startswith(guards.PREFIX) for name in trigger_names())
    run(seat(1, 1, 1, 2, 8))
    run("DELETE FROM scratch_seated")
    guards.make_guards(connection)
    assert missing_guards(connection) == []
    assert refused_by(lambda: run(seat(1, 1, 1, 2, 8))) == "seated_while_plugged"


@pytest.mark.parametrize(
    ("sql", "guard"),
    [(seat(1, 2, 1, 2, 8), "seated_while_plugged"), (put_away(1, 1, 5, None), "plugged_or_put_away")],
)
def test_made_again_over_rows_that_break_it_already_it_is_refused(
    bench: Ground, sql: str, guard: str
) -> None:
    run(plug(1, 1, 1, 1, 9))
    guards.drop_guards(connection)
    run(sql)
    with pytest.raises(IntegrityError, match=f"{guard} - rows break"):
        guards.make_guards(connection)
    assert guard in missing_guards(connection)
    run("DELETE FROM scratch_seated")
    run("DELETE FROM scratch_drawer")
    guards.make_guards(connection)
    assert missing_guards(connection) == []


def test_one_trigger_taken_off_or_switched_off_is_noticed(bench: Ground) -> None:
    if connection.vendor == "sqlite":
        run("DROP TRIGGER guard_seated_while_plugged_parent_delete")
    else:
        run("ALTER TABLE scratch_plugged DISABLE TRIGGER guard_seated_while_plugged_parent")
    assert missing_guards(connection) == ["seated_while_plugged"]
    guards.make_guards(connection)
    assert missing_guards(connection) == []
    run(plug(1, 1, 1, 1, 9))
    run(seat(1, 1, 1, 2, 8))
    assert refused_by(lambda: run("DELETE FROM scratch_plugged")) == "seated_while_plugged"


def test_a_guard_whose_text_changed_is_out_of_date_until_it_is_made_anew(
    bench: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    reworded = Covered(
        "seated_while_plugged",
        child=SEATED,
        parent=Span("scratch_drawer", "since", "until"),
        same=("probe", "probe"),
        through=Through("scratch_visit", "visit", "box", "probe"),
    )
    monkeypatch.setitem(guards._guards, "seated_while_plugged", reworded)
    assert missing_guards(connection) == ["seated_while_plugged"]
    guards.drop_guards(connection)
    guards.make_guards(connection)
    assert missing_guards(connection) == []
    run(put_away(1, 1, 1, 9))
    assert refused_by(lambda: run(seat(1, 1, 1, 2, 8))) == ""


def test_a_guard_no_longer_on_the_list_is_taken_off_with_the_others(
    bench: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(guards._guards, "seated_while_plugged")
    guards.drop_guards(connection)
    guards.make_guards(connection)
    assert refused_by(lambda: run(seat(1, 1, 1, 2, 8))) == ""
    assert refused_by(lambda: run(put_away(1, 1, 1, 9)) or run(plug(1, 1, 1, 1, 9))) == "plugged_or_put_away"


def test_a_guard_waits_for_tables_that_are_not_there_yet(
    bench: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    early = NeverBoth(
        "too_early",
        first=PLUGGED,
        second=Span("scratch_not_yet", "since", "until"),
        same="probe",
        owner_table="x",
    )
    monkeypatch.setitem(guards._guards, "too_early", early)
    guards.make_guards(connection)
    assert missing_guards(connection) == ["too_early"]
    assert not any("too_early" in name for name in trigger_names())


def test_a_name_stands_for_one_guard_and_its_triggers_carry_it(bench: Ground) -> None:
    assert register(SEATED_WHILE_PLUGGED) is SEATED_WHILE_PLUGGED
    with pytest.raises(ValueError, match="already another guard"):
        register(
            Guard(SEATED_WHILE_PLUGGED.name, SEATED_WHILE_PLUGGED.sqlite[:1], SEATED_WHILE_PLUGGED.postgresql)
        )
    with pytest.raises(ValueError, match="trigger is called guard_nameless"):
        register(Guard("nameless", sqlite=["CREATE TRIGGER other AFTER INSERT ON t BEGIN SELECT 1; END"]))
    with pytest.raises(ValueError, match="trigger is called guard_nothing"):
        register(Guard("nothing"))


@sqlite_only
def test_the_trap_a_remake_dies_under_guards_and_passes_without_them(bench: Ground) -> None:
    remake = migrations.AddField("Plugged", "colour", models.IntegerField(default=1))
    with pytest.raises(OperationalError, match="guard_"):
        bench.apply(remake)
    with without_guards(connection):
        bench.apply(remake)
    assert missing_guards(connection) == []


def test_forced_changes_of_every_guarded_table_lose_no_guard(bench: Ground) -> None:
    run(plug(1, 1, 1, 1, 9))
    run(seat(1, 1, 1, 2, 8))
    run(put_away(1, 2, 3, 4))
    for name in ("Plugged", "Seated", "Visit", "Drawer", "Probe"):
        for operation in (
            migrations.AddField(name, "colour", models.IntegerField(default=1)),
            migrations.AlterField(name, "colour", models.BigIntegerField(default=2)),
            migrations.RenameField(name, "colour", "shade"),
            migrations.RemoveField(name, "shade"),
        ):
            with without_guards(connection):
                bench.apply(operation)
            assert missing_guards(connection) == []
            assert refused_by(lambda: run("DELETE FROM scratch_plugged")) == "seated_while_plugged"
            assert refused_by(lambda: run("UPDATE scratch_drawer SET probe = 1")) == "plugged_or_put_away"
            assert refused_by(lambda: run("UPDATE scratch_visit SET box = 2")) == "seated_while_plugged"


def test_migrate_brings_the_shops_own_guards_back() -> None:
    own = [guard.name for guard in guards.registered()]
    assert own
    guards.drop_guards(connection)
    assert missing_guards(connection) == own
    call_command("migrate", verbosity=0)
    assert missing_guards(connection) == []
