"""Bills: what is not billed yet, what was billed, what is still to be paid, and the lines for the bookkeeper."""

from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.lists import file_of, show_list
from kits.web import MANAGER, OFFICE, for_roles, user_of
from reports.billing_audit import audit
from reports.billing_drawing import undrawn_count
from reports.billing_due import aged_list, by_age
from reports.billing_lines_out import LINE_COLUMNS, PAYMENT_COLUMNS, lines_out, payments_out
from reports.billing_list import IN_QUESTION, STATES, UNFINISHED, listed_bills
from reports.billing_looks import given_away
from reports.billing_unbilled import unbilled
from reports.billing_words import sums_of
from reports.forms_billing import BillFilter, SpanForm, month_of
from reports.models import Bill
from reports.tables_billing import BillTable
from sites.days import day_of
from sites.free import shop_zone

GIVEN_DAYS = 366


def today() -> date:
    return day_of(timezone.now(), shop_zone())


def filtered(rows: "QuerySet[Any]", wanted: BillFilter) -> "QuerySet[Any]":
    """The bills that the filter asks for."""
    asked = wanted.cleaned_data if wanted.is_valid() else {}
    for word in asked.get("q", "").split():
        rows = rows.filter(Q(number__icontains=word) | Q(payer_name__icontains=word))
    if asked.get("month"):
        rows = rows.filter(month=month_of(asked["month"]))
    state = asked.get("state")
    if state == "unfinished":
        rows = rows.filter(state__in=UNFINISHED)
    elif state:
        rows = rows.filter(state=STATES.index(state))
    return rows


@for_roles(*OFFICE)
@require_safe
def bills(request: HttpRequest) -> HttpResponse:
    """What is not billed yet, what was billed, and what is still to be paid?"""
    months = Bill.objects.order_by("-month").values_list("month", flat=True).distinct()
    wanted = BillFilter(request.GET, months=list(months))
    table = BillTable(filtered(listed_bills(), wanted), today=today())
    looks_further = bool(
        set(request.GET) - {"page"}
    )  # the whole is only computed when the page is opened plainly
    ages = [] if looks_further else list(by_age(aged_list(today())).items())
    context = {
        "filter": wanted,
        "count": Bill.objects.filter(issued_at__isnull=False).count(),
        "ages": ages,
        "unpaid": sums_of(pair for _age, of_age in ages for pair in of_age.items()),
        "undrawn": undrawn_count(),
        "work": unbilled(timezone.now()) if user_of(request).is_manager and not looks_further else None,
        "looks_further": looks_further,
    }
    return show_list(request, table, "reports/bills.html", context, file="bills")


@for_roles(*OFFICE)
@require_safe
def bills_unpaid(request: HttpRequest) -> HttpResponse:
    """Who owes what, since when? A line in question is not chased."""
    dues = aged_list(today())
    ages = [
        (age, of_age, [due for due in dues if due.age == age])
        for age, of_age in reversed(by_age(dues).items())
    ]
    context = {
        "ages": ages,
        "unpaid": sums_of((due.bill.currency, due.chased_cents) for due in dues),
        "late": sums_of((due.bill.currency, due.chased_cents) for due in dues if due.late_days),
        "in_question": listed_bills().filter(state=IN_QUESTION).order_by("due_on"),
    }
    return render(request, "reports/bills_unpaid.html", context)


@for_roles(*MANAGER)
@require_safe
def bills_unbilled(request: HttpRequest) -> HttpResponse:
    """What would be billed if the month ended today, and to whom?"""
    return render(request, "reports/bills_unbilled.html", {"work": unbilled(timezone.now())})


@for_roles(*MANAGER)
@require_safe
def bills_given(request: HttpRequest) -> HttpResponse:
    """How much monitoring was given away?"""
    until = today()
    given = given_away(until - timedelta(days=GIVEN_DAYS), until)
    people = Counter(mark.marked_by.name for mark in given.waived)
    context = {"given": given, "people": people.most_common(), "since": until - timedelta(days=GIVEN_DAYS)}
    return render(request, "reports/bills_given.html", context)


@for_roles(*MANAGER)
@require_safe
def bills_check(request: HttpRequest) -> HttpResponse:
    """Do the papers add up? Everything is computed again from the stays."""
    told = audit()
    context = {
        "told": told,
        "rows": [
            (currency, told.recomputed[currency], told.billed[currency])
            for currency in sorted({*told.recomputed, *told.billed})
        ],
    }
    return render(request, "reports/bills_check.html", context)


OUT: dict[str, tuple[Any, Callable[..., Any]]] = {
    "bill-lines": (LINE_COLUMNS, lines_out),
    "payments": (PAYMENT_COLUMNS, payments_out),
}


@for_roles(*OFFICE)
@require_safe
def bills_out(request: HttpRequest) -> HttpResponse:
    """Lines and payments of a span of days as files for whoever keeps the books."""
    form = SpanForm(request.GET)
    asked = form.cleaned_data if form.is_valid() else {}
    file, _, kind = request.GET.get("file", "").partition(".")
    if file in OUT and kind in {"csv", "xlsx"} and not form.errors:
        columns, rows = OUT[file]
        last = asked.get("last")
        return file_of(columns, rows(asked.get("first"), last and last + timedelta(days=1)), kind, file)
    context = {"form": form, "columns": [column.heading for column in LINE_COLUMNS]}
    return render(request, "reports/bills_out.html", context, status=422 if form.errors else 200)
