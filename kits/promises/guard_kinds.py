"""The two kinds of guard the shop needs, written out for both databases.

Tables are found by name and rows by a whole-number `id`, so that an app can guard a table of an app below it without
importing it. On PostgreSQL a guard locks the row it relies on before it looks: a plain SELECT would let two
transactions each miss what the other is doing.
"""

from dataclasses import dataclass

from .guards import PREFIX, Guard
from .spans import INSTANTS, holds_something, is_odd_on_sqlite, lies_within, meets


@dataclass(frozen=True)
class Span:
    """A table whose rows each hold something during [start, until)."""

    table: str
    start: str
    until: str
    kind: str = INSTANTS

    def of(self, row: str) -> tuple[str, str]:
        """Start and until of the row called `row`."""
        return f"{row}.{self.start}", f"{row}.{self.until}"

    def is_odd(self, row: str) -> str:
        return " OR ".join(is_odd_on_sqlite(value, self.kind) for value in self.of(row))


@dataclass(frozen=True)
class Through:
    """The table between child and parent: `child_column` of the child is its id; its `column` is the parent's."""

    table: str
    child_column: str
    column: str
    parent_column: str


def Covered(name: str, *, child: Span, parent: Span, same: tuple[str, str], through: Through) -> Guard:
    """Every child's span lies within the span of one parent alike in `same` (child column, parent column) and through
    the table between.

    Looked at from all sides: a child is added or changed; a parent is changed or removed (its children must still be
    covered); the row between is given another parent column (refused while it has children).
    """
    child_key, parent_key = same
    covering = (
        f"covering.{parent_key} = child.{child_key} AND covering.{through.parent_column} = middle.{through.column} "
        f"AND {lies_within(*child.of('child'), *parent.of('covering'))}"
    )
    uncovered = (
        f"FROM {child.table} AS child LEFT JOIN {through.table} AS middle ON middle.id = child.{through.child_column} "
        f"WHERE NOT EXISTS (SELECT 1 FROM {parent.table} AS covering WHERE {covering})"
    )
    of_the_old_parent = (
        f"child.{child_key} = OLD.{parent_key} AND middle.{through.column} = OLD.{through.parent_column}"
    )
    has_children = f"FROM {child.table} AS child WHERE child.{through.child_column} = OLD.id"

    refuse = _refuse_on_sqlite(name)
    sqlite = [
        *(
            _sqlite_trigger(
                f"{name}_child_{verb.lower()}",
                f"AFTER {verb} ON {child.table}",
                f"{refuse} WHERE {child.is_odd('NEW')}; {refuse} {uncovered} AND child.id = NEW.id",
            )
            for verb in ("INSERT", "UPDATE")
        ),
        *(
            _sqlite_trigger(
                f"{name}_parent_{verb.lower()}",
                f"AFTER {verb} ON {parent.table}",
                f"{refuse} {uncovered} AND {of_the_old_parent}",
            )
            for verb in ("UPDATE", "DELETE")
        ),
        _sqlite_trigger(
            f"{name}_between_update",
            f"AFTER UPDATE OF id, {through.column} ON {through.table}",
            f"{refuse} {has_children} AND (NEW.id <> OLD.id OR NEW.{through.column} IS NOT OLD.{through.column})",
        ),
        # INSERT OR REPLACE gives the row between another parent column without an UPDATE.
        _sqlite_trigger(
            f"{name}_between_insert",
            f"AFTER INSERT ON {through.table}",
            f"{refuse} {uncovered} AND child.{through.child_column} = NEW.id",
        ),
    ]

    covered_new = covering.replace("child.", "NEW.")
    postgresql = [
        *_postgresql_trigger(
            f"{name}_child",
            name,
            f"PERFORM 1 FROM {parent.table} AS covering, {through.table} AS middle "
            f"WHERE middle.id = NEW.{through.child_column} AND {covered_new} FOR SHARE; "
            f"IF FOUND THEN RETURN NULL; END IF;",
            {f"{name}_child": f"AFTER INSERT OR UPDATE ON {child.table} FOR EACH ROW"},
        ),
        *_postgresql_trigger(
            f"{name}_parent",
            name,
            f"IF TG_OP = 'TRUNCATE' THEN PERFORM 1 {uncovered}; "
            f"ELSE PERFORM 1 {uncovered} AND {of_the_old_parent}; END IF; "
            f"IF NOT FOUND THEN RETURN NULL; END IF;",
            {
                f"{name}_parent": f"AFTER UPDATE OR DELETE ON {parent.table} FOR EACH ROW",
                f"{name}_parent_truncate": f"AFTER TRUNCATE ON {parent.table} FOR EACH STATEMENT",
            },
        ),
        *_postgresql_trigger(
            f"{name}_between",
            name,
            f"IF NEW.{through.column} IS NOT DISTINCT FROM OLD.{through.column} THEN RETURN NULL; END IF; "
            f"PERFORM 1 {has_children}; IF NOT FOUND THEN RETURN NULL; END IF;",
            {f"{name}_between": f"AFTER UPDATE ON {through.table} FOR EACH ROW"},
        ),
    ]
    return Guard(name, sqlite, postgresql, broken_rows=f"SELECT child.id {uncovered}")


def NeverBoth(name: str, *, first: Span, second: Span, same: str, owner_table: str) -> Guard:
    """Rows of two tables alike in the column `same` (the id of a row of `owner_table`) never share an instant."""
    sqlite, postgresql = [], []
    refuse = _refuse_on_sqlite(name)
    for side, mine, other in (("first", first, second), ("second", second, first)):
        clash = (
            f"FROM {other.table} AS other WHERE other.{same} = NEW.{same} "
            f"AND {holds_something(*mine.of('NEW'))} AND {holds_something(*other.of('other'))} "
            f"AND {meets(*mine.of('NEW'), *other.of('other'))}"
        )
        for verb in ("INSERT", "UPDATE"):
            sqlite.append(
                _sqlite_trigger(
                    f"{name}_{side}_{verb.lower()}",
                    f"AFTER {verb} ON {mine.table}",
                    f"{refuse} WHERE {mine.is_odd('NEW')}; {refuse} {clash}",
                )
            )
        postgresql += _postgresql_trigger(
            f"{name}_{side}",
            name,
            # Both sides queue at the owner's row, or two transactions would each miss the other's new row.
            f"PERFORM 1 FROM {owner_table} WHERE id = NEW.{same} FOR NO KEY UPDATE; "
            f"PERFORM 1 {clash}; IF NOT FOUND THEN RETURN NULL; END IF;",
            {f"{name}_{side}": f"AFTER INSERT OR UPDATE ON {mine.table} FOR EACH ROW"},
        )
    both = (
        f"SELECT mine.id FROM {first.table} AS mine JOIN {second.table} AS other ON other.{same} = mine.{same} "
        f"WHERE {holds_something(*first.of('mine'))} AND {holds_something(*second.of('other'))} "
        f"AND {meets(*first.of('mine'), *second.of('other'))}"
    )
    return Guard(name, sqlite, postgresql, broken_rows=both)


def _refuse_on_sqlite(name: str) -> str:
    return f"SELECT RAISE(ABORT, 'kept:{name}')"


def _sqlite_trigger(name: str, when: str, body: str) -> str:
    return f"CREATE TRIGGER {PREFIX}{name} {when} BEGIN {body}; END"


def _postgresql_trigger(function: str, rule: str, unless: str, triggers: dict[str, str]) -> list[str]:
    """A function that refuses unless `unless` returns first, and the triggers that call it."""
    body = (
        f"BEGIN {unless} "
        f"RAISE EXCEPTION USING ERRCODE = 'check_violation', MESSAGE = 'kept:{rule}', CONSTRAINT = '{rule}', "
        f"TABLE = TG_TABLE_NAME; END"
    )
    return [
        f"CREATE OR REPLACE FUNCTION {PREFIX}{function}() RETURNS trigger LANGUAGE plpgsql AS $kept$ {body} $kept$",
        *(
            f"CREATE TRIGGER {PREFIX}{name} {when} EXECUTE FUNCTION {PREFIX}{function}()"
            for name, when in triggers.items()
        ),
    ]
