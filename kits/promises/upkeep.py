"""Keeping the constraints of our own kinds in force: what the database must hold, told and mended."""

from collections.abc import Iterable

from django.apps import apps as installed_apps
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model

from .rule import DatabaseRule


def missing_rules(connection: BaseDatabaseWrapper, models: Iterable[type[Model]] | None = None) -> list[str]:
    """Names of the constraints of our own kinds that are absent, switched off or (SQLite) out of date."""
    found = _in_catalogue(connection)
    return [
        rule.name
        for model in (installed_apps.get_models() if models is None else models)
        for rule in _rules(model)
        if not rule.is_in_force(model, connection, found)
    ]


def renew_rules(connection: BaseDatabaseWrapper, models: Iterable[type[Model]]) -> None:
    """Make SQLite's triggers anew where they are absent or no longer what the models say.

    A nullable column is added to a table without a remake: a trigger that lists the columns must hear of it. On
    PostgreSQL nothing gets out of date by itself, and what is absent there a person must look at.
    """
    if connection.vendor != "sqlite":
        return
    found = _in_catalogue(connection)
    tables = set(connection.introspection.table_names())
    for model in models:
        for rule in _rules(model):
            if model._meta.db_table in tables and not rule.is_in_force(model, connection, found):
                rule.renew(model, connection)


def _rules(model: type[Model]) -> list[DatabaseRule]:
    if not model._meta.managed or model._meta.proxy:
        return []
    return [rule for rule in model._meta.constraints if isinstance(rule, DatabaseRule)]


def _in_catalogue(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """Triggers in force (on SQLite with their text) and, on PostgreSQL, exclusion constraints, by name."""
    queries = {
        "sqlite": "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": (
            "SELECT t.tgname, '' FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE c.relnamespace = current_schema()::regnamespace AND t.tgenabled = 'O' "
            "UNION ALL SELECT conname, '' FROM pg_constraint "
            "WHERE connamespace = current_schema()::regnamespace AND contype = 'x' AND convalidated"
        ),
    }
    with connection.cursor() as cursor:
        cursor.execute(queries[connection.vendor])
        return dict(cursor.fetchall())
