"""What is marked about a stay because it changes what is charged: one page for each step."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kits.actions.acting import Act, Done
from kits.ways import sent
from kits.web import MANAGER, OFFICE, StepForm, for_roles, take_step, user_of
from reports.actions.billing_marks import charge_no_access, mark_days, note_cut_leads, offer_access
from reports.forms_marks import CutLeadsForm, DaysForm, NoAccessForm, OfferForm
from reports.views.papers import stay_with_all
from sites.days import day_of
from sites.models import Deployment

A_STEP = require_http_methods(["GET", "HEAD", "POST"])


def mark_step(
    request: HttpRequest,
    stay: Deployment,
    form: StepForm,
    do: Callable[[Act], Done],
    *,
    title: str,
    lead: str,
    button: str,
) -> HttpResponse:
    context = {
        "stay": stay,
        "title": title,
        "lead": lead,
        "button": button,
        "offers": stay.access_offers.all() if title.startswith("Nobody") else [],
    }
    return take_step(
        request,
        form,
        do,
        template="reports/stay_mark.html",
        context=context,
        then=lambda done: stay.get_absolute_url(),
    )


@for_roles(*OFFICE)
@A_STEP
def mark_days_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Days of the stay are marked."""
    stay = stay_with_all(pk)
    form = DaysForm(sent(request), subject=stay, user=user_of(request))

    def do(act: Act) -> Done:
        told = form.cleaned_data
        return mark_days(
            act,
            stay=stay,
            days=form.days(),
            kind=told["kind"],
            why=told["why"],
            cause=told["cause"],
            hours=told["hours"],
        )

    return mark_step(
        request,
        stay,
        form,
        do,
        title="Mark days of this stay",
        lead="A day with too few readings is not charged when the kit or the shop was the cause. The last mark of a day holds.",
        button="Mark the days",
    )


@for_roles(*OFFICE)
@A_STEP
def cut_leads_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Leads came back cut."""
    stay = stay_with_all(pk)
    today = day_of(timezone.now(), stay.unit.site.zone)
    form = CutLeadsForm(sent(request), subject=stay, initial={"seen_on": today})
    return mark_step(
        request,
        stay,
        form,
        lambda act: note_cut_leads(act, stay=stay, **form.given()),
        title="Leads were cut",
        lead="Charged where the terms have a price for a cut lead. Write 0 if it was a mistake; the last number holds.",
        button="Write it down",
    )


@for_roles(*OFFICE)
@A_STEP
def offer_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The shop offered in writing to come."""
    stay = stay_with_all(pk)
    today = day_of(timezone.now(), stay.unit.site.zone)
    form = OfferForm(sent(request), subject=stay, initial={"offered_on": today})
    return mark_step(
        request,
        stay,
        form,
        lambda act: offer_access(act, stay=stay, **form.given()),
        title="Offered in writing to take the kit out",
        lead="Two such offers, on different days, come before a charge for no access.",
        button="Write the offer down",
    )


@for_roles(*MANAGER)
@A_STEP
def no_access_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The manager charges that nobody let us in."""
    stay = stay_with_all(pk)
    form = NoAccessForm(sent(request), subject=stay)
    return mark_step(
        request,
        stay,
        form,
        lambda act: charge_no_access(act, stay=stay, why=form.cleaned_data["why"]),
        title="Nobody let us in: charge it",
        lead="Charged once a stay, by the price in its terms, after two written offers of access.",
        button="Charge it",
    )
