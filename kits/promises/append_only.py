"""Rows that can be neither changed nor removed."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.core import checks
from django.core.exceptions import ValidationError
from django.db import DEFAULT_DB_ALIAS
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.ddl_references import Statement
from django.db.models import Model, Q

from .rule import DatabaseRule, column_of, condition_sql, on_table
from .sentences import sentence_for


class AppendOnly(DatabaseRule):
    """Rows meeting `when` (None: every row) stay as they are; only the fields in `may_change` are free.

    The stored row decides, not the new one: a row may be changed into one that meets `when` (closing it), and never
    back. UPDATE, DELETE, TRUNCATE and INSERT OR REPLACE are refused. On SQLite the last needs
    `PRAGMA recursive_triggers = ON` to see a collision on a column other than the primary key.

    With `may_change`, SQLite's trigger lists the other columns: one that is added is kept from the end of `migrate` on,
    and before one is removed the rule must be taken off (RemoveConstraint, RemoveField, AddConstraint).

    It binds ordinary statements. Whoever may alter the schema can get round it, so something must also recount.
    """

    def __init__(
        self,
        *,
        name: str,
        when: Q | None = None,
        may_change: Iterable[str] = (),
        violation_error_code: str | None = None,
        violation_error_message: str | None = None,
    ) -> None:
        self.when, self.may_change = when, tuple(may_change)
        super().__init__(
            name=name,
            violation_error_code=violation_error_code,
            violation_error_message=violation_error_message,
        )

    def deconstruct(self) -> tuple[str, Sequence[Any], dict[str, Any]]:
        path, args, kwargs = super().deconstruct()
        if self.when is not None:
            kwargs["when"] = self.when
        if self.may_change:
            kwargs["may_change"] = self.may_change
        return path, args, kwargs

    def frozen_columns(self, model: type[Model]) -> list[str]:
        """The columns of a kept row that must stay as they are."""
        free = {column_of(model, field) for field in self.may_change}
        return [str(field.column) for field in model._meta.local_concrete_fields if field.column not in free]

    def trigger_names(self, vendor: str) -> list[str]:
        endings = ("update", "delete", "insert") if vendor == "sqlite" else ("row", "table")
        return [f"{self.name}_{ending}" for ending in endings]

    # SQLite

    def sqlite_statements(
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> list[Statement]:
        quote = schema_editor.quote_name
        primary_key = quote(str(model._meta.pk.column))
        is_kept = condition_sql(model, schema_editor, self.when or Q(), row="OLD")
        changed = "(1 = 1)"
        if self.may_change:
            frozen = [quote(column) for column in self.frozen_columns(model)]
            changed = f"({' OR '.join(f'NEW.{column} IS NOT OLD.{column}' for column in frozen)})"
        # INSERT OR REPLACE and ON CONFLICT name a row that is there already.
        forged = (
            f"EXISTS (SELECT 1 FROM {{table}} AS kept WHERE kept.{primary_key} = NEW.{primary_key} "
            f"AND {condition_sql(model, schema_editor, self.when or Q(), row='kept')})"
        )
        rules = (("UPDATE", f"{is_kept} AND {changed}"), ("DELETE", is_kept), ("INSERT", forged))
        return [
            on_table(
                model,
                schema_editor,
                f"CREATE TRIGGER {quote(trigger)} BEFORE {verb} ON {{table}} WHEN {refused} "
                f"BEGIN SELECT RAISE(ABORT, 'kept:{self.name}'); END",
            )
            for trigger, (verb, refused) in zip(self.trigger_names("sqlite"), rules, strict=True)
        ]

    # PostgreSQL

    def postgresql_statements(
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> list[Statement]:
        """A function and two triggers.

        The condition stands in the function's text, not in the trigger's WHEN: dropping a column used in a WHEN
        drops the trigger without a word, while the function then fails and refuses.
        """
        quote = schema_editor.quote_name
        row_trigger, table_trigger = (quote(name) for name in self.trigger_names("postgresql"))
        function = quote(self.name)
        is_kept = condition_sql(model, schema_editor, self.when or Q(), row="old")
        allowed = "FALSE"
        if self.may_change:  # compared as whole rows, so that a column added later is frozen too
            free = ", ".join(schema_editor.quote_value(column_of(model, field)) for field in self.may_change)
            allowed = (
                f"TG_OP = 'UPDATE' AND (to_jsonb(NEW) - ARRAY[{free}]) = (to_jsonb(OLD) - ARRAY[{free}])"
            )
        body = (
            f"BEGIN "
            f"IF TG_OP <> 'TRUNCATE' THEN "
            f"IF ({is_kept}) IS NOT TRUE OR ({allowed}) THEN "
            f"IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW; "
            f"END IF; END IF; "
            f"RAISE EXCEPTION USING ERRCODE = 'check_violation', MESSAGE = 'kept:{self.name}', "
            f"CONSTRAINT = '{self.name}', TABLE = TG_TABLE_NAME; "
            f"END"
        )
        statements = (
            f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $kept$ {body} $kept$",
            f"CREATE TRIGGER {row_trigger} BEFORE UPDATE OR DELETE ON {{table}} "
            f"FOR EACH ROW EXECUTE FUNCTION {function}()",
            f"CREATE TRIGGER {table_trigger} BEFORE TRUNCATE ON {{table}} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {function}()",
        )
        return [on_table(model, schema_editor, sql) for sql in statements]

    def postgresql_clause(self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor) -> None:
        schema_editor.deferred_sql.extend(self.postgresql_statements(model, schema_editor))

    def create_sql(  # type: ignore[override]
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> Statement | None:
        statements = self.postgresql_statements(model, schema_editor)
        names = {f"part_{number}": statement for number, statement in enumerate(statements)}
        return Statement("; ".join(f"%({name})s" for name in names), **names)

    def remove_sql(  # type: ignore[override]
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> Statement:
        quote = schema_editor.quote_name
        drops = [f"DROP TRIGGER {quote(name)} ON {{table}}" for name in self.trigger_names("postgresql")]
        drops.append(f"DROP FUNCTION {quote(self.name)}()")
        return on_table(model, schema_editor, "; ".join(drops))

    # Forms and full_clean()

    def validate(
        self,
        model: type[Model],
        instance: Model,
        exclude: Iterable[str] | None = None,
        using: str = DEFAULT_DB_ALIAS,
    ) -> None:
        if instance._state.adding:
            return
        kept = model._base_manager.using(using).filter(self.when or Q(), pk=instance.pk).first()
        if kept is None:
            return
        free = {model._meta.get_field(field) for field in self.may_change}
        frozen = [field for field in model._meta.local_concrete_fields if field not in free]
        if not self.may_change or any(
            field.value_from_object(kept) != field.value_from_object(instance) for field in frozen
        ):
            raise ValidationError(sentence_for(self.name), code=self.name)

    # System checks

    def _check(self, model: type[Model], connection: BaseDatabaseWrapper) -> list[checks.CheckMessage]:
        messages = super()._check(model, connection)
        messages.extend(self._field_errors(model, self.may_change, self.when))
        primary_key = model._meta.pk
        if {"pk", primary_key.name, primary_key.attname} & set(self.may_change):
            text = f"AppendOnly {self.name!r}: the primary key may not change."
            messages.append(checks.Error(text, obj=model, id="kits.E104"))
        return messages
