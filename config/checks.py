"""Start-up checks: the database must be set as the promises need it, and must hold every guard.

`manage.py check --database default` tells; config/wsgi.py refuses to serve. Settings are read back from the connection:
an option in the wrong place is silently no option at all.
"""

import sqlite3
from collections.abc import Iterable
from typing import Any

from django.core import checks
from django.core.exceptions import ImproperlyConfigured
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor

from config.settings import wal_is_safe

BUSY_TIMEOUT_MS = 20_000


def register_all() -> None:
    """Hang the checks into Django. Called once, when the shell is ready."""
    checks.register(check_settings, checks.Tags.database)
    checks.register(check_guards, checks.Tags.database)


def check_settings(databases: Iterable[str] | None = None, **kwargs: Any) -> list[checks.CheckMessage]:
    """What each connection is really set to."""
    return [fault for alias in databases or () for fault in setting_faults(connections[alias])]


def check_guards(databases: Iterable[str] | None = None, **kwargs: Any) -> list[checks.CheckMessage]:
    """A warning here, since `manage.py migrate` runs the checks too and is what brings a guard back."""
    return [
        checks.Warning(fault.msg, hint=fault.hint, id=fault.id)
        for alias in databases or ()
        for fault in guard_faults(connections[alias])
    ]


def setting_faults(connection: BaseDatabaseWrapper) -> list[checks.CheckMessage]:
    """Settings of this connection under which a promise could be broken or a saved answer lost."""
    if connection.vendor == "postgresql":
        role = asked(connection, "SHOW session_replication_role")
        if role == "origin":
            return []
        return [
            checks.Error(
                f"PostgreSQL skips triggers: session_replication_role is {role}.", id="kitperch.E002"
            )
        ]

    right: dict[str, object] = {
        "journal_mode": "wal" if wal_is_safe(sqlite3.sqlite_version_info) else "delete",
        "synchronous": 2,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": BUSY_TIMEOUT_MS,
    }
    faults: list[checks.CheckMessage] = []
    for name, expected in right.items():
        found = asked(connection, f"PRAGMA {name}")
        if found != expected:
            faults.append(
                checks.Error(
                    f"SQLite's {name} is {found}, not {expected}.",
                    hint="It is set in OPTIONS in config/settings.py; another program may have the file open.",
                    id="kitperch.E001",
                )
            )
    return faults


def guard_faults(connection: BaseDatabaseWrapper) -> list[checks.CheckMessage]:
    """Rules and guards (constraints and triggers of our own kinds) which the database ought to hold and does not."""
    if waiting_migrations(connection):
        return []  # they are made at the end of `migrate`
    from kits.promises.guards import missing_promises

    return [
        checks.Error(
            f"The database lost its guard {name}.", hint="Run: manage.py migrate", id="kitperch.E003"
        )
        for name in missing_promises(connection)
    ]


def waiting_migrations(connection: BaseDatabaseWrapper) -> list[str]:
    """Migrations that this code brings and the database has not seen."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{migration.app_label}.{migration.name}" for migration, _ in plan]


def asked(connection: BaseDatabaseWrapper, sql: str) -> object:
    """The one value that a settings query gives."""
    with connection.cursor() as cursor:
        cursor.execute(sql)
        row = cursor.fetchone()
    return row[0] if row else None


def refuse_to_serve_unsafely() -> None:
    """Stop here rather than take a shop's data into a database that would not keep it right."""
    connection = connections["default"]
    try:
        if waiting := waiting_migrations(connection):
            raise ImproperlyConfigured(f"The database waits for {', '.join(waiting)}. Run: manage.py migrate")
        faults = setting_faults(connection) + guard_faults(connection)
    finally:
        connection.close()  # a server may fork after this
    if faults:
        raise ImproperlyConfigured("Not safe to serve:\n" + "\n".join(str(fault) for fault in faults))
