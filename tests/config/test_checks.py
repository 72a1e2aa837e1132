"""The app reads its database settings back and will not serve without its guards."""

import pytest
from django.core.checks import run_checks
from django.core.exceptions import ImproperlyConfigured
from django.db import connection

from config import checks
from kits.promises import guards


def drop_one_guard_trigger() -> str:
    """Take off one trigger behind Django's back; gives the name of the guard it belonged to."""
    guard = guards.registered()[0]
    name, table = next(iter(guard.triggers(connection.vendor).items()))
    where = f' ON "{table}"' if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f'DROP TRIGGER "{name}"{where}')
    return guard.name


@pytest.mark.django_db
def test_the_database_of_this_run_has_every_setting_and_guard():
    assert [fault for fault in run_checks(databases=["default"]) if fault.id and "kitperch" in fault.id] == []


@pytest.mark.parametrize(
    ("sql", "named"),
    [
        ("PRAGMA recursive_triggers = OFF", "recursive_triggers is 0, not 1"),
        ("PRAGMA busy_timeout = 5000", "busy_timeout is 5000, not 20000"),
        ("PRAGMA synchronous = NORMAL", "synchronous is 1, not 2"),
        ("PRAGMA foreign_keys = OFF", "foreign_keys is 0, not 1"),
    ],
)
@pytest.mark.django_db(transaction=True)
def test_a_weakened_sqlite_setting_is_named(sql, named):
    if connection.vendor != "sqlite":
        pytest.skip("SQLite's own settings")
    try:
        with connection.cursor() as cursor:
            cursor.execute(sql)
        assert [named in str(fault) for fault in checks.setting_faults(connection)] == [True]
    finally:
        connection.close()  # the next one is set up anew


@pytest.mark.django_db(transaction=True)
def test_switched_off_triggers_are_named_on_postgresql():
    if connection.vendor != "postgresql":
        pytest.skip("PostgreSQL's own setting")
    try:
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = replica")
        assert ["skips triggers" in str(fault) for fault in checks.setting_faults(connection)] == [True]
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_nothing_is_served_while_a_guard_is_missing_and_migrate_brings_it_back():
    name = drop_one_guard_trigger()
    with pytest.raises(ImproperlyConfigured, match=f"lost its guard {name}"):
        checks.refuse_to_serve_unsafely()
    guards.make_guards(connection)  # what `migrate` does at its end
    checks.refuse_to_serve_unsafely()


@pytest.mark.django_db
def test_a_missing_guard_is_only_a_warning_to_commands_so_that_migrate_can_mend_it():
    drop_one_guard_trigger()
    found = [fault for fault in run_checks(databases=["default"]) if fault.id == "kitperch.E003"]
    assert found and not any(fault.is_serious() for fault in found)


@pytest.mark.django_db(transaction=True)
def test_nothing_is_served_on_a_database_that_waits_for_migrations(monkeypatch):
    monkeypatch.setattr(checks, "waiting_migrations", lambda connection: ["kits.0002_later"])
    with pytest.raises(ImproperlyConfigured, match=r"kits\.0002_later"):
        checks.refuse_to_serve_unsafely()
