"""From a database's refusal to a sentence people can act on."""

import random
import re
import time
from collections.abc import Callable
from functools import wraps
from typing import Any, NamedTuple, ParamSpec, TypeVar

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db import DEFAULT_DB_ALIAS, IntegrityError, OperationalError, connections, transaction
from django.db.models import BaseConstraint, Field, Model, UniqueConstraint

P = ParamSpec("P")
T = TypeVar("T")

DEADLOCK = "40P01"  # PostgreSQL's name for "two transactions waited for each other, this one was ended"

# Sentence by the name of a constraint or guard, or by "table.column" for a field that is unique by itself.
SENTENCES: dict[str, str] = {}


class Refused(ValidationError):
    """A rule said no. The message says what is wrong and how to mend it; `code` names the rule."""


def say(name: str, sentence: str) -> None:
    """What people read when the rule called `name` refuses. Called by the app that owns the rule, at start-up."""
    if SENTENCES.setdefault(name, sentence) != sentence:
        raise ValueError(f"{name!r} already has another sentence: {SENTENCES[name]!r}")


def sentence_for(name: str) -> str:
    """The sentence of the rule called `name`, or one that at least gives the name."""
    return SENTENCES.get(name, f"The books do not allow this ({name.replace('_', ' ')}). Nothing was saved.")


def refusal_for(error: IntegrityError) -> Refused | None:
    """The refusal behind an IntegrityError; None when it names no rule we can tell."""
    broken = _broken_rule(error)
    if broken is None:
        return None
    if broken.kind == "unique":
        return _taken(broken)
    if broken.kind == "not null":
        field = _field(broken.table, broken.columns[0])
        label = _label(field) if field else broken.columns[0]
        return Refused(f"“{label[:1].upper()}{label[1:]}” is empty and must not be.", code=broken.name)
    if broken.kind == "foreign key" and broken.name not in SENTENCES:
        sentence = (
            "Something this record points to is not there, or something else still points to this record."
        )
        return Refused(sentence, code=broken.name or "foreign_key")
    return Refused(sentence_for(broken.name), code=broken.name)


def worded(error: ValidationError) -> Refused:
    """The same refusal with our sentence wherever Django only says that a constraint of some name is violated.

    Check constraints found broken by full_clean() read so; their sentences are not part of them, or each rewording
    would be a migration.
    """
    if hasattr(error, "error_dict"):
        return Refused({field: [_worded(one) for one in found] for field, found in error.error_dict.items()})
    return Refused([_worded(one) for one in error.error_list])


def kept(work: Callable[[], T], *, using: str = DEFAULT_DB_ALIAS) -> T:
    """Run `work` in one transaction and return what it returns; a broken rule comes out as Refused.

    A ValidationError of Django's own comes out as Refused too, in our words.

    `work` is a callable and not a block because it may run again: when PostgreSQL ends the transaction to break a
    deadlock, it is tried once more from the start, and once again after a moment: the other may still be in the middle
    when we come back. Inside an outer transaction only the outermost may retry.
    """
    outermost = not connections[using].in_atomic_block
    for pause_s in (0.0, random.uniform(0.02, 0.1)):  # noqa: S311 -- a pause, unlike for two who met
        try:
            return _in_transaction(work, using)
        except OperationalError as error:
            if not outermost or _sqlstate(error) != DEADLOCK:
                raise
        time.sleep(pause_s)
    return _in_transaction(work, using)


def one_transaction(action: Callable[P, T]) -> Callable[P, T]:
    """Decorator for actions: each call is one `kept` transaction on the default database."""

    @wraps(action)
    def run(*args: P.args, **kwargs: P.kwargs) -> T:
        return kept(lambda: action(*args, **kwargs))

    return run


def _in_transaction(work: Callable[[], T], using: str) -> T:
    try:
        with transaction.atomic(using=using):
            return work()
    except IntegrityError as error:
        refusal = refusal_for(error)
        if refusal is None:
            raise
        raise refusal from error
    except ValidationError as error:
        if isinstance(error, Refused):
            raise
        raise worded(error) from error


def _worded(error: ValidationError) -> ValidationError:
    plain = re.escape(str(BaseConstraint.default_violation_error_message))
    violated = re.fullmatch(plain.replace(re.escape("%(name)s"), r"(\w+)"), error.messages[0])
    if violated is None or violated[1] not in SENTENCES:
        return error
    return ValidationError(SENTENCES[violated[1]], code=violated[1])


# Reading the error


class _Broken(NamedTuple):
    """Which rule an error is about: `name` where the database gave one, table and columns where it gave those."""

    kind: str  # "unique", "not null", "foreign key" or "rule"
    name: str = ""
    table: str = ""
    columns: tuple[str, ...] = ()


_POSTGRESQL_KINDS = {"23505": "unique", "23502": "not null", "23503": "foreign key"}


def _sqlstate(error: Exception) -> str:
    return getattr(error.__cause__, "sqlstate", None) or ""


def _broken_rule(error: IntegrityError) -> _Broken | None:
    if diagnosis := getattr(error.__cause__, "diag", None):
        return _read_postgresql(_sqlstate(error), diagnosis)
    return _read_sqlite(str(error))


def _read_postgresql(sqlstate: str, diagnosis: Any) -> _Broken | None:
    kind, table = _POSTGRESQL_KINDS.get(sqlstate, "rule"), diagnosis.table_name or ""
    if kind == "not null":
        return _Broken(kind, f"{table}.{diagnosis.column_name}", table, (diagnosis.column_name,))
    if not diagnosis.constraint_name:
        return None
    key = re.match(r"\w+ \((.*?)\)=", diagnosis.message_detail or "")
    columns = tuple(name.strip().strip('"') for name in key[1].split(",")) if key else ()
    return _Broken(kind, diagnosis.constraint_name, table, columns)


def _read_sqlite(message: str) -> _Broken | None:
    if found := re.search(r"kept:(\w+)", message):
        return _Broken("rule", found[1])
    if found := re.search(r"CHECK constraint failed: (\w+)", message):
        return _Broken("rule", found[1])
    if found := re.search(r"UNIQUE constraint failed: index '(\w+)'", message):
        return _Broken("unique", found[1])
    if found := re.search(r"(UNIQUE|NOT NULL) constraint failed: (.+)", message):
        pairs = [pair.strip().rpartition(".") for pair in found[2].split(",")]
        table, columns = pairs[0][0], tuple(column for _table, _dot, column in pairs)
        kind = found[1].lower()
        return _Broken(kind, f"{table}.{columns[0]}" if kind == "not null" else "", table, columns)
    if "FOREIGN KEY constraint failed" in message:
        return _Broken("foreign key")
    return None


# UNIQUE: SQLite gives the columns only, PostgreSQL an index's name, which for a field is made up by Django


def _taken(broken: _Broken) -> Refused:
    name = broken.name if broken.name in SENTENCES else _unique_name(broken) or broken.name
    if name in SENTENCES:
        return Refused(SENTENCES[name], code=name)
    model = _model(broken.table)
    if model is None or not broken.columns:
        return Refused(sentence_for(name), code=name)
    fields = [_field(broken.table, column) for column in broken.columns]
    labels = " and ".join(
        _label(field) if field else column for field, column in zip(fields, broken.columns, strict=True)
    )
    return Refused(f"There is already a {model._meta.verbose_name} with this {labels}.", code=name)


def _unique_name(broken: _Broken) -> str:
    """The UniqueConstraint over just these columns, or "table.column" for a field that is unique by itself."""
    model = _model(broken.table)
    names = [
        rule.name
        for rule in (model._meta.constraints if model else ())
        if isinstance(rule, UniqueConstraint)
        and {_column(model, field) for field in rule.fields} == set(broken.columns)
    ]
    with_sentence = [name for name in names if name in SENTENCES]
    own = ".".join((broken.table, *broken.columns)) if len(broken.columns) == 1 else ""
    return next(iter([*with_sentence, *names, own]), "")


def _model(table: str) -> type[Model] | None:
    return next((model for model in apps.get_models() if model._meta.db_table == table), None)


def _field(table: str, column: str) -> "Field[Any, Any] | None":
    model = _model(table)
    fields = model._meta.local_concrete_fields if model else ()
    return next((field for field in fields if field.column == column), None)


def _column(model: type[Model] | None, field_name: str) -> str:
    try:
        return str(model._meta.get_field(field_name).column) if model else ""  # type: ignore[union-attr]
    except FieldDoesNotExist:
        return ""


def _label(field: "Field[Any, Any]") -> str:
    return str(field.verbose_name)
