"""Rows alike in some fields never share an instant."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.core import checks
from django.core.exceptions import FieldError, ValidationError
from django.db import DEFAULT_DB_ALIAS
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.ddl_references import Statement
from django.db.models import (
    AutoField,
    CharField,
    DateField,
    DateTimeField,
    F,
    Field,
    ForeignKey,
    IntegerField,
    Model,
    Q,
    QuerySet,
)

from .rule import DatabaseRule, column_of, condition_sql, on_table
from .sentences import sentence_for
from .spans import DATES, INSTANTS, RANGE_TYPE, holds_something, is_odd_on_sqlite, meets

INTEGER_KEY, TEXT_KEY = "integer", "text"
LONGEST_TEXT_KEY = 200  # characters; a gist entry must fit a page of PostgreSQL

# PostgreSQL's exclusion needs an "overlaps" operator for every key. Whole numbers have int8range; text gets a range
# type of its own, ordered byte by byte, so that two keys meet exactly when they are the same text (no extension).
TEXT_RANGE = "kept_text_range"
MAKE_TEXT_RANGE = (
    f"DO $$ BEGIN IF to_regtype('{TEXT_RANGE}') IS NULL THEN "
    f'CREATE TYPE {TEXT_RANGE} AS RANGE (subtype = text, collation = "C"); END IF; END $$'
)


class NoOverlap(DatabaseRule):
    """Rows alike in every field of `same` never share an instant (or day) of [start, until).

    Only rows meeting `condition` count. A row with an empty key or an empty start holds nothing; one without
    `until` holds for ever; one whose `until` is not after its `start` holds nothing (refuse it with a check
    constraint if it makes no sense).

    The refusal's sentence comes from the model's `overlap_sentence(instance, constraint_name, other)` where it has
    one (a static or class method), else from `sentences.say(constraint_name, ...)`.
    """

    def __init__(
        self,
        *,
        name: str,
        same: Iterable[str],
        start: str,
        until: str,
        condition: Q = Q(),  # noqa: B008 - never changed
        violation_error_code: str | None = None,
        violation_error_message: str | None = None,
    ) -> None:
        self.same, self.start, self.until, self.condition = tuple(same), start, until, condition
        if not self.same or isinstance(same, str):
            raise ValueError(f"NoOverlap {name!r} needs a tuple of field names in `same`.")
        super().__init__(
            name=name,
            violation_error_code=violation_error_code,
            violation_error_message=violation_error_message,
        )

    def deconstruct(self) -> tuple[str, Sequence[Any], dict[str, Any]]:
        path, args, kwargs = super().deconstruct()
        kwargs |= {"same": self.same, "start": self.start, "until": self.until}
        if self.condition:
            kwargs["condition"] = self.condition
        return path, args, kwargs

    # What the fields are

    def kind(self, model: type[Model]) -> str:
        """INSTANTS or DATES, by the class of the start field."""
        return INSTANTS if isinstance(model._meta.get_field(self.start), DateTimeField) else DATES

    def counts(self) -> Q:
        """Which rows the rule is about. Empty keys are left out: on PostgreSQL their range would meet every other."""
        filled = Q(*((f"{field}__isnull", False) for field in (*self.same, self.start)))
        return filled & self.condition if self.condition else filled

    # PostgreSQL: an exclusion constraint

    def postgresql_clause(self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor) -> Statement:
        quote = schema_editor.quote_name
        start, until = quote(column_of(model, self.start)), quote(column_of(model, self.until))
        elements = [f"{RANGE_TYPE[self.kind(model)]}({start}, {until}) WITH &&"]
        for field_name in reversed(self.same):
            column = quote(column_of(model, field_name))
            if key_kind(model, field_name) == TEXT_KEY:
                schema_editor.execute(MAKE_TEXT_RANGE, None)
                elements.insert(0, f"{TEXT_RANGE}({column}::text, {column}::text, '[]') WITH &&")
            else:
                elements.insert(0, f"int8range({column}::bigint, {column}::bigint, '[]') WITH &&")
        where = condition_sql(model, schema_editor, self.counts(), row=None)
        # holds_something() also keeps a span written backwards away from tstzrange(), which would fail on it.
        return on_table(
            model,
            schema_editor,
            f"CONSTRAINT {quote(self.name)} EXCLUDE USING gist ({', '.join(elements)}) "
            f"WHERE ({holds_something(start, until)} AND {where})",
        )

    def create_sql(  # type: ignore[override]
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> Statement | None:
        clause = self.postgresql_clause(model, schema_editor)
        return on_table(model, schema_editor, f"ALTER TABLE {{table}} ADD {clause}")

    def remove_sql(  # type: ignore[override]
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> Statement:
        name = schema_editor.quote_name(self.name)
        return on_table(model, schema_editor, f"ALTER TABLE {{table}} DROP CONSTRAINT {name}")

    # SQLite: triggers

    def sqlite_statements(
        self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor
    ) -> list[Statement]:
        """Two triggers, and a touch of every row that breaks the rule already, so that the trigger speaks at once.

        AFTER, so that the rule is asked of the row as it was stored, with defaults and conversions applied.
        """
        quote = schema_editor.quote_name
        primary_key, start = quote(str(model._meta.pk.column)), quote(column_of(model, self.start))
        odd_new, clash = self._odd_row(model, schema_editor, "NEW"), self._clash(model, schema_editor)
        refuse = f"SELECT RAISE(ABORT, 'kept:{self.name}')"
        triggers = [
            f"CREATE TRIGGER {quote(trigger)} AFTER {verb} ON {{table}} BEGIN "
            f"{refuse} WHERE {odd_new}; "
            f"{refuse} {clash} AND mine.{primary_key} = NEW.{primary_key}; END"
            for trigger, verb in zip(self.trigger_names("sqlite"), ("INSERT", "UPDATE"), strict=True)
        ]
        touch = (
            f"UPDATE {{table}} SET {start} = {start} WHERE {self._odd_row(model, schema_editor, '{table}')} "
            f"OR {primary_key} IN (SELECT mine.{primary_key} {clash})"
        )
        return [on_table(model, schema_editor, sql) for sql in (*triggers, touch)]

    def trigger_names(self, vendor: str) -> list[str]:
        return [f"{self.name}_insert", f"{self.name}_update"] if vendor == "sqlite" else []

    def _clash(self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor) -> str:
        """FROM and WHERE of the pairs (mine, other) that break the rule."""

        def column(row: str, field_name: str) -> str:
            return f"{row}.{schema_editor.quote_name(column_of(model, field_name))}"

        mine = column("mine", self.start), column("mine", self.until)
        other = column("other", self.start), column("other", self.until)
        primary_key = schema_editor.quote_name(str(model._meta.pk.column))
        conditions = [
            f"mine.{primary_key} <> other.{primary_key}",
            *(f"{column('mine', field)} = {column('other', field)}" for field in self.same),
            holds_something(*mine),
            holds_something(*other),
            meets(*mine, *other),
            condition_sql(model, schema_editor, self.counts(), row="mine"),
            condition_sql(model, schema_editor, self.counts(), row="other"),
        ]
        return f"FROM {{table}} AS mine, {{table}} AS other WHERE {' AND '.join(conditions)}"

    def _odd_row(self, model: type[Model], schema_editor: BaseDatabaseSchemaEditor, row: str) -> str:
        """True when a time or key of `row` is stored as something its comparisons were not made for."""
        quote, kind = schema_editor.quote_name, self.kind(model)
        odd = [
            is_odd_on_sqlite(f"{row}.{quote(column_of(model, f))}", kind) for f in (self.start, self.until)
        ]
        for field_name in self.same:
            stored = f"typeof({row}.{quote(column_of(model, field_name))})"
            odd.append(f"{stored} NOT IN ('null', '{key_kind(model, field_name)}')")
        return f"({' OR '.join(odd)})"

    # Forms and full_clean()

    def validate(
        self,
        model: type[Model],
        instance: Model,
        exclude: Iterable[str] | None = None,
        using: str = DEFAULT_DB_ALIAS,
    ) -> None:
        excluded = set(exclude or ())
        if excluded & {*self.same, self.start, self.until}:
            return
        start, until = getattr(instance, self.start), getattr(instance, self.until)
        keys = {field: getattr(instance, _attname(model, field)) for field in self.same}
        if start is None or (until is not None and until <= start) or None in keys.values():
            return
        if self.condition and not self._condition_holds(model, instance, excluded, using):
            return
        others = self._rows_meeting(model, start, until, using).filter(
            *((_attname(model, field), value) for field, value in keys.items())
        )
        if other := others.exclude(pk=instance.pk).order_by(self.start).first():
            raise ValidationError(self._sentence(model, instance, other), code=self.name)

    def _condition_holds(self, model: type[Model], instance: Model, excluded: set[str], using: str) -> bool:
        values = instance._get_field_expression_map(meta=model._meta, exclude=excluded)  # type: ignore[attr-defined]
        try:
            return self.condition.check(values, using=using)
        except FieldError:  # it asks about a field the form leaves out: the database will judge
            return False

    def _rows_meeting(self, model: type[Model], start: Any, until: Any, using: str) -> QuerySet[Model]:
        end, begin = self.until, self.start
        rows = model._default_manager.using(using).filter(self.counts())
        rows = rows.filter(
            Q((f"{end}__isnull", True)) | Q((f"{end}__gt", start)) & Q((f"{end}__gt", F(begin)))
        )
        return rows.filter((f"{begin}__lt", until)) if until is not None else rows

    def _sentence(self, model: type[Model], instance: Model, other: Model) -> str:
        if worded := getattr(model, "overlap_sentence", None):
            return str(worded(instance, self.name, other))
        return sentence_for(self.name)

    # System checks

    def _check(self, model: type[Model], connection: BaseDatabaseWrapper) -> list[checks.CheckMessage]:
        messages = super()._check(model, connection)
        if errors := self._field_errors(model, (*self.same, self.start, self.until), self.condition):
            return [*messages, *errors]
        kinds = [type(model._meta.get_field(field)) for field in (self.start, self.until)]
        if len({issubclass(kind, DateTimeField) for kind in kinds}) > 1 or not all(
            issubclass(kind, DateField) for kind in kinds
        ):
            text = f"NoOverlap {self.name!r}: start and until must both be date-time or both be date fields."
            messages.append(checks.Error(text, obj=model, id="kits.E102"))
        for field_name in self.same:
            try:
                key_kind(model, field_name)
            except TypeError as refusal:
                messages.append(checks.Error(str(refusal), obj=model, id="kits.E103"))
        return messages


def key_kind(model: type[Model], field_name: str) -> str:
    """INTEGER_KEY or TEXT_KEY: how PostgreSQL compares the field's column. Raises TypeError for any other column."""
    field: Field[Any, Any] = model._meta.get_field(field_name)  # type: ignore[assignment]
    while isinstance(field, ForeignKey):
        field = field.target_field
    if isinstance(field, IntegerField | AutoField):
        return INTEGER_KEY
    if isinstance(field, CharField) and field.max_length and field.max_length <= LONGEST_TEXT_KEY:
        return TEXT_KEY
    raise TypeError(
        f"NoOverlap cannot compare {model._meta.label}.{field_name}: keys are whole numbers, foreign keys "
        f"to them, or texts of at most {LONGEST_TEXT_KEY} characters."
    )


def _attname(model: type[Model], field_name: str) -> str:
    field: Field[Any, Any] = model._meta.get_field(field_name)  # type: ignore[assignment]
    return field.attname
