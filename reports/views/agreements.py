"""Agreements as the office reads them: what was agreed, the included days used and left, and what was billed."""

from datetime import date, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe
from django_tables2 import Column

from kits.lists import show_list
from kits.web import OFFICE, for_roles
from reports.billing.allowance import YearUse
from reports.billing_list import state_tone, state_word, with_state
from reports.billing_looks import years_used
from reports.models import Bill
from reports.terms_told import dated
from sites.days import day_of
from sites.finding import matching
from sites.forms.places import FindForm
from sites.free import shop_zone
from sites.models import Agreement, Deployment, Terms
from sites.story import events_about
from sites.tables_places import AgreementTable
from sites.views.agreements import state_of
from sites.work import calls_with_state

ENDS_SOON_DAYS = 60
SHOWN = 12


class UsedTable(AgreementTable):
    """Expects `year`, the present contract year's use of included days or None, on each row."""

    used = Column(empty_values=(), orderable=False, verbose_name="Days used")
    left = Column(empty_values=(), orderable=False, verbose_name="Days left")

    class Meta(AgreementTable.Meta):
        sequence = ("customer", "state", "used", "left", "until", "covers", "...")

    def render_used(self, record: Any) -> SafeString | str:
        year: YearUse | None = record.year
        return f"{year.used} of {year.included + year.carried}" if year else "none included"

    def render_left(self, record: Any) -> SafeString | str:
        year: YearUse | None = record.year
        if year is None:
            return ""
        if year.left:
            return str(year.left)
        return format_html('<span class="word word-attention">{}</span>', "all used")


def ends_soon(agreement: Agreement, today: date) -> bool:
    return agreement.until is not None and today < agreement.until <= today + timedelta(days=ENDS_SOON_DAYS)


def years_where_included(rows: list[Agreement], today: date) -> dict[int, list[YearUse]]:
    """The contract years of those agreements whose terms include days."""
    keys = set(
        Terms.objects.filter(agreement__in=rows, included_days__gt=0).values_list("agreement", flat=True)
    )
    chosen = [row for row in rows if row.pk in keys]
    return years_used(chosen, today) if chosen else {}


@for_roles(*OFFICE)
@require_safe
def agreements(request: HttpRequest) -> HttpResponse:
    """What was promised, to whom, for which sites, and how much of it is used?"""
    find = FindForm(request.GET)
    today = day_of(timezone.now(), shop_zone())
    ending = request.GET.get("ending") == "60"
    rows = Agreement.objects.select_related("customer").prefetch_related("sites")
    if find.is_valid():
        rows = matching(rows, find.cleaned_data["q"], "customer", "sites")
    everything = list(rows)
    soon = [row for row in everything if ends_soon(row, today)]
    found: list[Any] = list(soon if ending else everything)
    years = years_where_included(found, today)
    for row in found:
        row.state = state_of(row, today)
        row.year = years[row.pk][-1] if row.pk in years else None
    context = {
        "find": find,
        "ending": ending,
        "soon": len(soon),
        "in_force": sum(state_of(row, today)[0] == "in force" for row in everything),
    }
    return show_list(request, UsedTable(found), "reports/agreements.html", context, file="agreements")


@for_roles(*OFFICE)
@require_safe
def agreement(request: HttpRequest, pk: int) -> HttpResponse:
    """What exactly was agreed here, and how much of it is used?"""
    paper = get_object_or_404(Agreement.objects.select_related("customer"), pk=pk)
    today = day_of(timezone.now(), shop_zone())
    word, tone = state_of(paper, today)
    terms = dated(paper, today)
    years = years_where_included([paper], today).get(paper.pk, [])
    stays = Deployment.objects.filter(call__agreement=paper) | Deployment.objects.filter(
        call__agreement=None, unit__site__agreements=paper
    )
    stays = stays.filter(installed_at__isnull=False).select_related("kit", "unit__site").distinct()
    bills = (
        Bill.objects.filter(lines__agreement=paper, issued_at__isnull=False)
        .select_related("payer")
        .distinct()
    )
    found = list(with_state(bills).order_by("-year", "-serial")[:SHOWN])
    context = {
        "agreement": paper,
        "word": word,
        "tone": tone,
        "ends_soon": ends_soon(paper, today),
        "covered": paper.sites.all(),
        "calls": calls_with_state().filter(agreement=paper),
        "events": events_about([paper], at_most=20),
        "year": picture(years[-1], today) if years else None,
        "years": years[:-1][::-1],
        "stays": stays.order_by("-installed_at")[:SHOWN],
        "bills": [(bill, state_word(bill), state_tone(bill)) for bill in found],
        **terms,
    }
    return render(request, "reports/agreement.html", context)


def picture(year: YearUse, today: date) -> dict[str, Any]:
    """The included days of a contract year as a row of squares, used ones first; long ones as a share."""
    whole = year.included + year.carried
    days = (year.until - year.start).days
    return {
        "year": year,
        "whole": whole,
        "used": min(year.used, whole),
        "over": (min(max(today, year.start), year.until) - year.start).days,
        "days": days,
        "days_left": (year.until - today).days,
    }
