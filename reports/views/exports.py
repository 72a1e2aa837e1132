"""The books going out: every table as a file."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from kits.lists import file_of
from kits.web import OFFICE, for_roles, user_of
from reports.books_out import ALL, TABLES


@for_roles(*OFFICE)
@require_safe
def exports(request: HttpRequest) -> HttpResponse:
    """Which tables can be taken along, and what is in each?"""
    return render(
        request,
        "reports/exports.html",
        {"tables": [table for table in ALL if table.is_for(user_of(request))]},
    )


@for_roles(*OFFICE)
@require_safe
def export_table(request: HttpRequest, table: str, file_kind: str) -> HttpResponse:
    """One whole table as CSV or XLSX, times in the shop's zone."""
    found = TABLES.get(table)
    if found is None or file_kind not in {"csv", "xlsx"}:
        raise Http404(f"There is no table {table} as {file_kind}.")
    if not found.is_for(user_of(request)):
        raise PermissionDenied
    return file_of(found.columns, found.rows(), file_kind, table)
