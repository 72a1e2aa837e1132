"""Agreements: the office reads them, the manager writes them."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.actions.records import add_record, change_record
from kits.lists import show_list
from kits.ways import sent
from kits.web import MANAGER, OFFICE, for_roles, take_step
from sites.days import day_of
from sites.finding import matching
from sites.forms.places import AgreementForm, FindForm
from sites.free import shop_zone
from sites.models import Agreement
from sites.story import events_about
from sites.tables_places import AgreementTable
from sites.work import calls_with_state


def state_of(agreement: Agreement, today: date) -> tuple[str, str]:
    """Where an agreement stands today: a word and its tone."""
    if agreement.since > today:
        return "not begun yet", "plain"
    if agreement.until and agreement.until <= today:
        return "ended", "plain"
    return "in force", "good"


@for_roles(*OFFICE)
@require_safe
def agreements(request: HttpRequest) -> HttpResponse:
    """What was promised, to whom, for which sites?"""
    find = FindForm(request.GET)
    today = day_of(timezone.now(), shop_zone())
    rows = Agreement.objects.select_related("customer").prefetch_related("sites")
    if find.is_valid():
        rows = matching(rows, find.cleaned_data["q"], "customer", "sites")
    found = list(rows)
    for row in found:
        row.state = state_of(row, today)  # type: ignore[attr-defined]
    context = {"find": find, "in_force": sum(row.state[0] == "in force" for row in found)}  # type: ignore[attr-defined]
    return show_list(request, AgreementTable(found), "sites/agreements.html", context, file="agreements")


@for_roles(*OFFICE)
@require_safe
def agreement(request: HttpRequest, pk: int) -> HttpResponse:
    """What exactly was agreed here?"""
    paper = get_object_or_404(Agreement.objects.select_related("customer"), pk=pk)
    word, tone = state_of(paper, day_of(timezone.now(), shop_zone()))
    context = {
        "agreement": paper,
        "word": word,
        "tone": tone,
        "covered": paper.sites.all(),
        "calls": calls_with_state().filter(agreement=paper),
        "events": events_about([paper], at_most=20),
    }
    return render(request, "sites/agreement.html", context)


@for_roles(*MANAGER)
def agreement_new(request: HttpRequest) -> HttpResponse:
    """A new agreement."""
    form = AgreementForm(sent(request), initial={"customer": request.GET.get("customer")})
    return take_step(
        request,
        form,
        lambda act: add_record(act, row=Agreement(), fields=form.given()),
        template="sites/agreement_form.html",
        context={},
        then=lambda done: done.row(Agreement).get_absolute_url(),
    )


@for_roles(*MANAGER)
def agreement_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an agreement."""
    paper = get_object_or_404(Agreement.objects.select_related("customer"), pk=pk)
    form = AgreementForm(sent(request), instance=Agreement.objects.get(pk=pk))
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=paper, changes=form.given()),
        template="sites/agreement_form.html",
        context={"agreement": paper},
        then=lambda done: paper.get_absolute_url(),
    )
