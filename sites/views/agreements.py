"""Agreements are written by the manager; `reports.views.agreements` shows them, with what is billed under them."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from kits.actions.records import add_record, change_record
from kits.ways import sent
from kits.web import MANAGER, for_roles, take_step
from sites.forms.places import AgreementForm
from sites.models import Agreement


def state_of(agreement: Agreement, today: date) -> tuple[str, str]:
    """Where an agreement stands today: a word and its tone."""
    if agreement.since > today:
        return "not begun yet", "plain"
    if agreement.until and agreement.until <= today:
        return "ended", "plain"
    return "in force", "good"


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
