"""Many rows of one table at once: a close writes hundreds of thousands, for which whole model objects cost too much.

The database's rules hold as ever; only defaults and checks of models are left out, so every column has to be given that may not be empty.
"""

import gc
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from itertools import islice
from typing import Any

from django.db import connection
from django.db.models import DateField, DecimalField, Field, JSONField, Model

MOST_VALUES = 9_000  # of one statement, below every limit of both databases


def adapter_of(field: "Field[Any, Any]") -> Callable[[Any], Any] | None:
    """How a value of the column is handed to the database; None: as it is. The same few days and rates come again and
    again, so what they become is remembered."""
    if isinstance(field, DecimalField):
        return lru_cache(4_096)(lambda value: field.get_db_prep_save(value, connection))
    if isinstance(field, DateField):
        return lru_cache(4_096)(connection.ops.adapt_datefield_value)
    if isinstance(field, JSONField):
        return lambda value: "[]" if value == [] else json.dumps(value)
    return None


@contextmanager
def many_records() -> Iterator[None]:
    """While hundreds of thousands of records are made and all are kept: Python does not look through them again and again
    for circles that could be dropped. There are none, and the looking grows faster than the records do."""
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def insert_rows(model: type[Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Insert rows with values for the fields `names`, in that order; foreign keys as ids. Returns how many they were."""
    quote = connection.ops.quote_name
    fields: list[Field[Any, Any]] = [model._meta.get_field(name) for name in names]  # type: ignore[misc]
    adapted = [(place, adapter) for place, field in enumerate(fields) if (adapter := adapter_of(field))]
    columns = ", ".join(quote(str(field.column)) for field in fields)
    one = f"({', '.join(['%s'] * len(fields))})"
    begin = f"INSERT INTO {quote(model._meta.db_table)} ({columns}) VALUES "  # noqa: S608 - names of our own tables
    size = MOST_VALUES // len(fields)

    def as_stored(row: Sequence[Any]) -> Sequence[Any]:
        given = list(row)
        for place, adapter in adapted:
            given[place] = adapter(given[place])
        return given

    count = 0
    waiting = map(as_stored, rows)
    with connection.cursor() as cursor:
        while chunk := list(islice(waiting, size)):
            values = [value for row in chunk for value in row]
            cursor.execute(begin + ", ".join([one] * len(chunk)), values)
            count += len(chunk)
    return count
