"""Queries that every page asks are built and compiled once, then only run.

Building a query set and compiling it to SQL takes Django several times as long as the database needs to answer it. The
query set below stays the only description of what is asked; what is kept is the SQL that Django made of it.

    of_code = KeptQuery(lambda: Kit.objects.filter(code=Given("code", CharField())))
    of_code.first(code="7M4Q2P")

Only for queries whose shape never changes: what changes from one run to the next is `Given`, and is never None.
`tests/kits/test_kept_query.py` holds every kept query of the product against what Django answers by itself.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Expression, Field, Model, QuerySet
from django.db.models.query import get_related_populators

Row = TypeVar("Row", bound=Model)
KEPT: "list[KeptQuery[Any]]" = []  # all there are, for the test


class Given(Expression):
    """A place in a kept query that is filled in when it is run: by a value that `output_field` could hold."""

    def __init__(self, name: str, output_field: Field) -> None:
        super().__init__(output_field=output_field)
        self.name = name

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, Any]:
        return "%s", (self,)


@dataclass(frozen=True)
class Compiled:
    """What Django made of a query set for one kind of database."""

    sql: str
    params: list[Any]  # with a Given wherever a value is still to come
    converters: list[tuple[int, list[Callable[..., Any]], Any]]
    model: type[Model]
    fields: list[str]
    begin: int
    end: int
    related: list[Any]
    annotations: list[tuple[str, int]]


class KeptQuery(Generic[Row]):
    """A query set with places for values. It gives the same objects as the query set would."""

    def __init__(self, build: "Callable[[], QuerySet[Row]]") -> None:
        self.build = build
        self.compiled: dict[str, Compiled] = {}
        KEPT.append(self)

    def first(self, **given: Any) -> Row | None:
        """The first object, if any. Have the query set limit itself to one where there may be more."""
        return next(self.rows(**given), None)

    def rows(self, **given: Any) -> Iterator[Row]:
        """The objects, in the query set's order."""
        connection = connections[DEFAULT_DB_ALIAS]
        kept = self.compiled.get(connection.vendor)
        if kept is None:
            kept = self.compiled[connection.vendor] = compiled(self.build(), connection)
        params = [
            part.output_field.get_db_prep_value(given[part.name], connection)
            if isinstance(part, Given)
            else part
            for part in kept.params
        ]
        with connection.cursor() as cursor:
            cursor.execute(kept.sql, params)
            found = cursor.fetchall()
        return (object_of(row, kept, connection) for row in map(list, found))


def compiled(queryset: "QuerySet[Any]", connection: BaseDatabaseWrapper) -> Compiled:
    """The SQL of a query set, and how its rows become objects again."""
    compiler = queryset.query.get_compiler(connection=connection)
    sql, params = compiler.as_sql()
    told = compiler.klass_info
    begin, end = told["select_fields"][0], told["select_fields"][-1] + 1
    converters = compiler.get_converters([column[0] for column in compiler.select[: compiler.col_count]])
    return Compiled(
        sql=sql,
        params=list(params),
        converters=[(place, each, column) for place, (each, column) in converters.items()],
        model=told["model"],
        fields=[column[0].target.attname for column in compiler.select[begin:end]],
        begin=begin,
        end=end,
        related=get_related_populators(told, compiler.select, DEFAULT_DB_ALIAS),  # type: ignore[call-arg]
        annotations=list((compiler.annotation_col_map or {}).items()),
    )


def object_of(row: list[Any], kept: Compiled, connection: BaseDatabaseWrapper) -> Any:
    """One row of the database's answer as an object, with the objects read along with it."""
    for place, each, column in kept.converters:
        value = row[place]
        for convert in each:
            value = convert(value, column, connection)
        row[place] = value
    made = kept.model.from_db(DEFAULT_DB_ALIAS, kept.fields, row[kept.begin : kept.end])
    for one in kept.related:
        one.populate(row, made)
    for name, place in kept.annotations:
        setattr(made, name, row[place])
    return made
