"""A patch of ground for trying rules on: models that live only in a test, built and changed by real migration operations.

One row of a `Ground` test is one table the database really has, so raw SQL can attack it.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, models, transaction
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState

APP = "scratch"
START = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)


def hour(number: float) -> datetime:
    """The instant `number` hours into the test's little world."""
    return START + timedelta(hours=number)


def day(number: int) -> date:
    return START.date() + timedelta(days=number)


def instant_text(number: float) -> str:
    """An instant as a raw statement writes it on either database."""
    text = hour(number).strftime("%Y-%m-%d %H:%M:%S")
    return f"'{text}'" if connection.vendor == "sqlite" else f"'{text}+00'"


@pytest.fixture
def transactional_db(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """In place of pytest-django's: tables can be made and commits are real, but nothing is flushed afterwards.

    A ground takes its own tables away, so emptying every real table after each test would be time lost.
    """
    with django_db_blocker.unblock():
        yield


class Ground:
    """The state of the scratch app; `apply` takes one migration operation further, as `migrate` would."""

    def __init__(self) -> None:
        self.state = ProjectState()

    def apply(self, operation: Operation) -> None:
        after = self.state.clone()
        operation.state_forwards(APP, after)
        with connection.schema_editor() as editor:
            operation.database_forwards(APP, editor, self.state, after)
        self.state = after

    def model(self, name: str) -> type[models.Model]:
        return self.state.apps.get_model(APP, name)

    def clear(self) -> None:
        with connection.schema_editor() as editor:
            for model in self.state.apps.get_models():
                editor.delete_model(model)


@contextmanager
def ground(*operations: Operation) -> Iterator[Ground]:
    """A fresh ground with these operations applied; its tables are gone afterwards."""
    patch = Ground()
    try:
        for operation in operations:
            patch.apply(operation)
        yield patch
    finally:
        patch.clear()


def run(sql: str, *parameters: Any) -> None:
    """One raw statement, round Django's models."""
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters or None)


def refused_by(work: Callable[[], Any]) -> str:
    """The name of the rule that refused `work`; "" when it went through. Keeps what went through."""
    try:
        with transaction.atomic():
            work()
    except IntegrityError as error:
        cause = error.__cause__
        if diagnosis := getattr(cause, "diag", None):
            return diagnosis.constraint_name or "?"
        return str(error).removeprefix("kept:")
    return ""


def trigger_names() -> set[str]:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        return {name for (name,) in cursor.fetchall()}
