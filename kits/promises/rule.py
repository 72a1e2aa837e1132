"""What every rule kept by the database itself has in common."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.core import checks
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.ddl_references import Statement, Table
from django.db.models import BaseConstraint, Field, Model, Q
from django.db.models.sql import Query

LONGEST_NAME = 50  # PostgreSQL cuts names at 63 bytes and triggers add an ending of their own


class DatabaseRule(BaseConstraint):
    """A constraint PostgreSQL keeps by its own means and SQLite by triggers.

    On SQLite the triggers ride in `schema_editor.deferred_sql`: Django runs that list again after every remake
    of a table, so a later migration cannot lose them.

    Sentences are not part of a rule (each rewording would be a migration); see `sentences.say`.
    """

    def constraint_sql(  # type: ignore[override]  # Django hands out statements, its stubs say text
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> Statement | None:
        """The rule as a clause of CREATE TABLE, or None when it comes as statements after it."""
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.deferred_sql.extend(self.sqlite_statements(model, schema_editor))
            return None
        return self.postgresql_clause(model, schema_editor)

    def sqlite_statements(
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> list[Statement]:
        """The triggers, then whatever must be asked of the rows already there."""
        raise NotImplementedError

    def postgresql_clause(
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> Statement | None:
        raise NotImplementedError

    def trigger_names(self, vendor: str) -> list[str]:
        """The rule's triggers; on SQLite in the order of `sqlite_statements`."""
        raise NotImplementedError

    def is_in_force(
        self, model: type[Model], connection: BaseDatabaseWrapper, found: Mapping[str, str]
    ) -> bool:
        """Whether the database keeps this rule. `found`: names in its catalogue, on SQLite with their text."""
        names = self.trigger_names(connection.vendor) or [self.name]
        if connection.vendor != "sqlite":
            return all(name in found for name in names)
        statements = self.sqlite_statements(model, connection.schema_editor(collect_sql=True))
        return all(found.get(name) == str(text) for name, text in zip(names, statements, strict=False))

    def renew(self, model: type[Model], connection: BaseDatabaseWrapper) -> None:
        """Make the rule's triggers on SQLite anew. Raises IntegrityError when rows break the rule already."""
        statements = self.sqlite_statements(model, connection.schema_editor(collect_sql=True))
        with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
            for name in self.trigger_names("sqlite"):
                cursor.execute(f"DROP TRIGGER IF EXISTS {connection.ops.quote_name(name)}")
            for statement in statements:
                cursor.execute(str(statement))

    def _check(self, model: type[Model], connection: BaseDatabaseWrapper) -> list[checks.CheckMessage]:
        if len(self.name) <= LONGEST_NAME:
            return []
        message = (
            f"'{self.name}' is longer than {LONGEST_NAME} characters, so its triggers' names would be cut."
        )
        return [checks.Error(message, obj=model, id="kits.E101")]

    def _field_errors(
        self, model: type[Model], fields: Iterable[str], condition: Q | None
    ) -> list[checks.CheckMessage]:
        """What Django's own constraints check: the fields are there, and the condition needs no join."""
        references = {(field,) for field in fields}
        if condition:
            references |= set(model._get_expr_references(condition))  # type: ignore[attr-defined]
        return self._check_references(model, references)  # type: ignore[attr-defined]

    def __eq__(self, other: object) -> bool:
        return (
            type(self) is type(other)
            and isinstance(other, DatabaseRule)
            and self.deconstruct() == other.deconstruct()
        )

    def __hash__(self) -> int:
        return hash((type(self), self.name))

    def __repr__(self) -> str:
        _path, _args, kwargs = self.deconstruct()
        return f"<{type(self).__name__}: {', '.join(f'{key}={value!r}' for key, value in kwargs.items())}>"


def on_table(model: type[Model], schema_editor: BaseDatabaseSchemaEditor, sql: str) -> Statement:
    """`sql` as a statement in which every `{table}` follows the model's table through a rename."""
    template = sql.replace("%", "%%").replace("{table}", "%(table)s")
    return Statement(template, table=Table(model._meta.db_table, schema_editor.quote_name))


def column_of(model: type[Model], field_name: str) -> str:
    """The bare column name of a field given by its name or its attname."""
    field: Field[Any, Any] = model._meta.get_field(field_name)  # type: ignore[assignment]
    return str(field.column)


class _EveryTable(dict[str | None, str]):
    """One row's name for whatever table a column says it is of.

    There are no joins in a condition, so there is only one table; but while SQLite remakes it, Django's columns
    may still remember it under its earlier name.
    """

    def get(self, key: str | None, default: Any = None) -> Any:
        return next(iter(self.values()))


def condition_sql(
    model: type[Model], schema_editor: BaseDatabaseSchemaEditor, condition: Q, *, row: str | None
) -> str:
    """`condition` as SQL about the row called `row` (an alias, OLD or NEW; None: bare column names)."""
    if not condition:
        return "(1 = 1)"
    query = Query(model, alias_cols=row is not None)
    where = query.build_where(condition)
    if row is not None:
        where.relabel_aliases(_EveryTable({model._meta.db_table: row}))
    sql, params = where.as_sql(
        query.get_compiler(connection=schema_editor.connection), schema_editor.connection
    )
    quoted: tuple[Any, ...] = tuple(schema_editor.quote_value(value) for value in params)
    return f"({sql % quoted})"
