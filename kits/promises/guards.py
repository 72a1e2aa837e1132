"""Rules across tables, kept by triggers that name more than one table.

A trigger that names another table makes SQLite's remake of that table die, and no single model owns it. So guards are
not part of any migration: they are one list, filled by the apps when they load, taken off before every `migrate` and
made again after it. Each trigger (and on PostgreSQL each function) carries its text with it, so that a guard that is
missing, switched off or out of date is found when the app starts.
"""

import hashlib
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.apps import AppConfig
from django.apps import apps as installed_apps
from django.apps.registry import Apps
from django.db import IntegrityError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.signals import post_migrate, pre_migrate

from .upkeep import missing_rules, renew_rules

PREFIX = "guard_"  # of the name of every guard's triggers and functions, and of nothing else

_TRIGGER = re.compile(
    r'CREATE\s+(?:CONSTRAINT\s+)?TRIGGER\s+"?(\w+)"?.*?\sON\s+"?(\w+)"?', re.IGNORECASE | re.DOTALL
)


@dataclass(frozen=True)
class Guard:
    """One rule across tables: the statements that make it on each database.

    Triggers and functions are named `guard_` + `name` + an ending; a refusal raises `kept:NAME` on SQLite and gives
    NAME as the constraint on PostgreSQL, so `sentences.say(NAME, ...)` words it.
    """

    name: str
    sqlite: list[str] = field(default_factory=list)
    postgresql: list[str] = field(default_factory=list)
    broken_rows: str = (
        ""  # a SELECT, the same on both, of rows that break the rule: triggers ask only of new ones
    )

    def statements(self, vendor: str) -> list[str]:
        return self.sqlite if vendor == "sqlite" else self.postgresql

    def triggers(self, vendor: str) -> dict[str, str]:
        """Trigger name -> the table it sits on."""
        found = (_TRIGGER.match(statement.strip()) for statement in self.statements(vendor))
        return {match[1]: match[2] for match in found if match}

    def mark(self) -> str:
        """Changes whenever a statement does; kept as a comment on PostgreSQL's triggers."""
        return hashlib.sha256("\n".join(self.postgresql).encode()).hexdigest()[:16]


_guards: dict[str, Guard] = {}


def register(guard: Guard) -> Guard:
    """Add a guard to the list. Called by the app that owns the rule, when it loads."""
    for vendor in ("sqlite", "postgresql"):
        names = guard.triggers(vendor)
        if not names or not all(name.startswith(f"{PREFIX}{guard.name}") for name in names):
            raise ValueError(f"Guard {guard.name!r}: each {vendor} trigger is called {PREFIX}{guard.name}_…")
    if _guards.setdefault(guard.name, guard) != guard:
        raise ValueError(f"There is already another guard called {guard.name!r}.")
    return guard


def registered() -> list[Guard]:
    return list(_guards.values())


def connect() -> None:
    """Guards come off before `migrate`; after it rules and guards are as written. Called once, from ready()."""
    pre_migrate.connect(_before_migrate, dispatch_uid="kits.promises.before")
    post_migrate.connect(_after_migrate, dispatch_uid="kits.promises.after")


def _before_migrate(using: str, **kwargs: Any) -> None:
    drop_guards(connections[using])


def _after_migrate(using: str, app_config: AppConfig, apps: Apps = installed_apps, **kwargs: Any) -> None:
    """`apps` holds the models as the migrations left them, which need not be the newest."""
    connection = connections[using]
    models = [model for model in apps.get_models() if model._meta.app_label == app_config.label]
    renew_rules(connection, models)
    make_guards(connection)


def missing_promises(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of the rules and guards this database does not keep as they are written. The app must not serve then."""
    return [*missing_rules(connection), *missing_guards(connection)]


def drop_guards(connection: BaseDatabaseWrapper) -> None:
    """Take off every trigger and function that is a guard's, also of guards no longer on the list."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        quote = connection.ops.quote_name
        for name, (table, _mark) in _made(connection).items():
            on_table = "" if connection.vendor == "sqlite" else f" ON {quote(table)}"
            cursor.execute(f"DROP TRIGGER {quote(name)}{on_table}")
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT proname FROM pg_proc WHERE pronamespace = current_schema()::regnamespace "
                "AND starts_with(proname, %s)",
                [PREFIX],
            )
            for (function,) in cursor.fetchall():
                cursor.execute(f"DROP FUNCTION {quote(function)}()")


def make_guards(connection: BaseDatabaseWrapper) -> None:
    """Make every guard that is missing and whose tables exist already.

    Raises IntegrityError when rows break one already: what came in while a guard was off must be mended first.
    """
    vendor, missing = connection.vendor, set(missing_guards(connection))
    if not missing:
        return
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        made = _made(connection)
        quote = connection.ops.quote_name
        for guard in registered():
            if guard.name not in missing or not tables.issuperset(guard.triggers(vendor).values()):
                continue
            if guard.broken_rows:
                cursor.execute(f"{guard.broken_rows} LIMIT 1")
                if cursor.fetchone():
                    raise IntegrityError(
                        f"kept:{guard.name} - rows break this guard already; mend them first"
                    )
            for name in guard.triggers(vendor).keys() & made.keys():
                on_table = "" if vendor == "sqlite" else f" ON {quote(made[name][0])}"
                cursor.execute(f"DROP TRIGGER {quote(name)}{on_table}")
            for statement in guard.statements(vendor):
                cursor.execute(statement)
            if vendor == "postgresql":
                for name, table in guard.triggers(vendor).items():
                    cursor.execute(f"COMMENT ON TRIGGER {quote(name)} ON {quote(table)} IS '{guard.mark()}'")


def missing_guards(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of the guards that are not wholly in force as written here: absent, switched off or out of date."""
    made = _made(connection)
    vendor = connection.vendor
    missing = []
    for guard in registered():
        if vendor == "sqlite":
            texts = {_TRIGGER.match(text.strip())[1]: text.strip() for text in guard.sqlite}  # type: ignore[index]
            in_force = all(made.get(name, ("", ""))[1] == text for name, text in texts.items())
        else:
            in_force = all(
                made.get(name) == (table, guard.mark()) for name, table in guard.triggers(vendor).items()
            )
        if not in_force:
            missing.append(guard.name)
    return missing


@contextmanager
def without_guards(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """For work on the schema outside `migrate`: guards off, the work, guards on again (also after a failure)."""
    drop_guards(connection)
    try:
        yield
    finally:
        make_guards(connection)


def _made(connection: BaseDatabaseWrapper) -> dict[str, tuple[str, str]]:
    """The guards' triggers in the database: name -> (table, text on SQLite or mark on PostgreSQL)."""
    if connection.vendor == "sqlite":
        query = (
            "SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s ESCAPE '!'"
        )
        parameters = [PREFIX.replace("_", "!_") + "%"]
    else:
        # 'O': fires in ordinary sessions; a trigger switched off ('D') counts as not there, but can be dropped.
        query = (
            "SELECT t.tgname, c.relname, CASE WHEN t.tgenabled = 'O' THEN obj_description(t.oid, 'pg_trigger') END "
            "FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE c.relnamespace = current_schema()::regnamespace AND starts_with(t.tgname, %s)"
        )
        parameters = [PREFIX]
    with connection.cursor() as cursor:
        cursor.execute(query, parameters)
        return {name: (table, text or "") for name, table, text in cursor.fetchall()}
