"""A page that is a list: sorted, paged, and given out as CSV."""

import csv
from collections.abc import Mapping
from typing import Any

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_tables2.config import RequestConfig

ROWS_A_PAGE = 50
# A cell that begins with one of these is run as a formula by spreadsheets.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def show_list(
    request: HttpRequest, table: tables.Table, template: str, context: Mapping[str, Any], *, file: str
) -> HttpResponse:
    """The page with its table, or, asked with `?_export=csv`, all of its rows as a file."""
    RequestConfig(request, paginate={"per_page": ROWS_A_PAGE}).configure(table)
    if request.GET.get("_export") == "csv":
        return as_csv(table, file)
    return render(request, template, {**context, "table": table})


def as_csv(table: tables.Table, file: str) -> HttpResponse:
    """Every row of the table in UTF-8 with a byte order mark, which spreadsheets need to read it as such."""
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{file}.csv"'
    writer = csv.writer(answer)
    for row in table.as_values():
        writer.writerow([harmless(cell) for cell in row])
    return answer


def harmless(cell: object) -> str:
    """The cell as text that no spreadsheet takes for a formula; a phone number keeps its plus."""
    text = "" if cell is None else str(cell)
    if text.startswith(FORMULA_STARTS) and not text.lstrip("+-").replace(" ", "").replace(".", "").isdigit():
        return f"'{text}"
    return text
