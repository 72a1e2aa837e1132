"""A page that is a list: sorted, paged, and given out as CSV or XLSX."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django_tables2.config import RequestConfig
from django_tables2.data import TableQuerysetData

from kits.exporting import CSV_TYPE, XLSX_TYPE, Cell, FileColumn, csv_bytes, xlsx_bytes

ROWS_A_PAGE = 50


class PageByKey(TableQuerysetData):
    """Rows of which a page is read in two steps: which ones, then all about those, so that nothing is joined for the rest."""

    def __init__(self, rows: QuerySet[Any], read: Callable[[list[int]], Iterable[Any]]) -> None:
        super().__init__(rows)
        self.read = read

    def __getitem__(self, key: Any) -> Any:
        if not isinstance(key, slice):
            return super().__getitem__(key)
        wanted = list(self.data.values_list("pk", flat=True)[key])
        found = {row.pk: row for row in self.read(wanted)}
        return [found[pk] for pk in wanted if pk in found]


def show_list(
    request: HttpRequest, table: tables.Table, template: str, context: Mapping[str, Any], *, file: str
) -> HttpResponse:
    """The page with its table, or, asked with `?_export=csv` or `xlsx`, all of its rows as a file.

    The file has the `file_columns` of the table class, which is more than is shown: all that an import takes back.
    """
    RequestConfig(request, paginate={"per_page": ROWS_A_PAGE}).configure(table)
    kind = request.GET.get("_export", "")
    if kind in getattr(table, "exports", ()):
        return as_file(table, kind, file)
    return render(request, template, {**context, "table": table})


def as_file(table: tables.Table, kind: str, name: str) -> HttpResponse:
    """Every row of the table, filtered and sorted as shown."""
    columns: Sequence[FileColumn] = getattr(table, "file_columns", ())
    if columns:
        return file_of(columns, table.data, kind, name)
    headings, *rows = table.as_values()
    return file_answer([str(heading) for heading in headings], rows, kind, name)


def file_of(columns: Sequence[FileColumn], records: Iterable[Any], kind: str, name: str) -> HttpResponse:
    """The records as a file of these columns; times in the zone that is active."""
    rows = ([in_zone(column.value(record)) for column in columns] for record in records)
    return file_answer([column.heading for column in columns], rows, kind, name)


def in_zone(cell: Cell) -> Cell:
    if isinstance(cell, datetime) and timezone.is_aware(cell):
        return timezone.localtime(cell)
    return cell


def file_answer(
    headings: Sequence[str], rows: Iterable[Sequence[Cell]], kind: str, name: str
) -> HttpResponse:
    """The answer that a browser saves as a file."""
    if kind == "xlsx":
        answer = HttpResponse(xlsx_bytes(name, headings, rows), content_type=XLSX_TYPE)
    else:
        answer = HttpResponse(csv_bytes(headings, rows), content_type=CSV_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer
