"""What every test may ask for: a person of each role, a signed-in client of each, and a database that keeps its promises.

The database is an SQLite file unless DATABASE_URL names a PostgreSQL server. A file, not memory: parallel threads sharing
one memory database meet "table is locked", which no shop ever does.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
from django.conf import settings
from django.db import connections, transaction
from django.test import Client, SimpleTestCase, TransactionTestCase
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings

if TYPE_CHECKING:
    from kits.models import User

hypothesis_settings.register_profile(
    "kitperch", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
# CI draws the same examples every time, so that a red run is about the change; soak runs look further.
hypothesis_settings.register_profile(
    "ci", hypothesis_settings.get_profile("kitperch"), derandomize=True, database=None
)
hypothesis_settings.load_profile("ci" if os.environ.get("CI") == "true" else "kitperch")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only", action="store_true", help="only tests that touch the database (the PostgreSQL run)"
    )


def pytest_configure(config: pytest.Config) -> None:
    # These cost seconds over a whole run and prove nothing here: a slow hash, and collected static files
    # (config/test_serving.py serves those).
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.MIDDLEWARE = [name for name in settings.MIDDLEWARE if "whitenoise" not in name]
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }


def touches_database(item: pytest.Item) -> bool:
    """Whether a test asks for the database, by marker, fixture or Django's own test case."""
    if item.get_closest_marker("django_db") or {"db", "transactional_db"} & set(
        getattr(item, "fixturenames", ())
    ):
        return True
    test_case = getattr(item, "cls", None)
    return test_case is not None and issubclass(test_case, SimpleTestCase)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--database-only"):
        return
    left_out = [item for item in items if not touches_database(item)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if touches_database(item)]


# -- The database --------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    tmp_path_factory: pytest.TempPathFactory, django_db_modify_db_settings_parallel_suffix: None
) -> None:
    """A database file (or, on PostgreSQL, a name) of this process alone: several runs may share one checkout."""
    database = settings.DATABASES["default"]
    database.setdefault("TEST", {})
    if database["ENGINE"].endswith("sqlite3"):
        database["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "kitperch.sqlite3")


@contextmanager
def triggers_lifted(alias: str) -> Iterator[None]:
    """Rows that the database keeps for good can be wiped meanwhile. Only for emptying the tables between tests."""
    connection = connections[alias]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = replica")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("SET session_replication_role = origin")
        return

    with connection.cursor() as cursor, transaction.atomic(using=alias):
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        kept = cursor.fetchall()
        for name, _ in kept:
            cursor.execute(f'DROP TRIGGER "{name}"')
    try:
        yield
    finally:
        with connection.cursor() as cursor, transaction.atomic(using=alias):
            # Flushing sends post_migrate, whose receivers make some of them anew.
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            made_anew = {name for (name,) in cursor.fetchall()}
            for name, sql in kept:
                if name not in made_anew:
                    cursor.execute(sql)


django_flush = TransactionTestCase._fixture_teardown


def flush_with_triggers_lifted(test_case: TransactionTestCase) -> None:
    """Django's flush, which also sends post_migrate: built-in rows such as the positions are there again after it."""
    if not any(alias == "default" for alias in test_case._databases_names(include_mirrors=False)):
        return django_flush(test_case)
    with triggers_lifted("default"):
        return django_flush(test_case)


TransactionTestCase._fixture_teardown = flush_with_triggers_lifted  # type: ignore[method-assign]


# -- People --------------------------------------------------------------------------------------


@pytest.fixture
def office(db: None) -> "User":
    from tests import make

    return make.user(role="office")


@pytest.fixture
def technician(db: None) -> "User":
    from tests import make

    return make.user(role="technician")


@pytest.fixture
def manager(db: None) -> "User":
    from tests import make

    return make.user(role="manager")


def signed_in(user: "User") -> Client:
    """A client that comes back to the shop with a valid session."""
    client = Client()
    client.force_login(user, backend="config.sessions.People")
    return client


@pytest.fixture
def office_client(office: "User") -> Client:
    return signed_in(office)


@pytest.fixture
def technician_client(technician: "User") -> Client:
    return signed_in(technician)


@pytest.fixture
def manager_client(manager: "User") -> Client:
    return signed_in(manager)
