"""Office: what the office does about a stay without touching the kit."""

from collections.abc import Callable
from datetime import UTC
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from kits.actions.acting import Act, Done
from kits.ways import sent
from kits.web import MANAGER, OFFICE, StepForm, for_roles, take_step
from sites.actions import corrections, custody, planning
from sites.actions.corrections import TIMES
from sites.day_lines import stay_url
from sites.days import day_of
from sites.forms.calls import CorrectTimeForm, CustomerAskedForm, ExtendForm, WhyForm
from sites.models import Deployment, Stage


def after_step(done: Done) -> str:
    """Where to go after a step about a stay: its page."""
    return stay_url(done.row(Deployment))


def get_stay(pk: int) -> Deployment:
    return get_object_or_404(Deployment.objects.with_places(), pk=pk)


def stay_step(
    request: HttpRequest,
    stay: Deployment,
    form: StepForm,
    do: Callable[[Act], Done],
    template: str,
    *,
    then: Callable[[Done], str] = after_step,
    **context: Any,
) -> HttpResponse:
    """One step about a stay. The caller has made the site's zone the active one."""
    common = {"stay": stay, "site": stay.unit.site, "back_url": stay_url(stay)}
    return take_step(request, form, do, template=template, context={**common, **context}, then=then)


@for_roles(*OFFICE)
def extend(request: HttpRequest, pk: int) -> HttpResponse:
    """The customer agreed to a later end."""
    stay = get_stay(pk)
    with timezone.override(stay.unit.site.zone):
        initial = {
            "agreed_on": day_of(timezone.now(), stay.unit.site.zone),
            "take_out_by": stay.take_out_by,
            "back_in_shop_by": stay.back_in_shop_by,
        }
        form = ExtendForm(sent(request), subject=stay, initial=initial)
        return stay_step(
            request,
            stay,
            form,
            lambda act: planning.extend(act, stay=stay, **form.given()),
            "sites/extend.html",
            extensions=stay.extensions.all(),
        )


@for_roles(*OFFICE)
def call_off(request: HttpRequest, pk: int) -> HttpResponse:
    """The stay will not happen; `?then=assign` goes on to choosing another kit."""
    stay = get_stay(pk)

    def then(done: Done) -> str:
        if request.GET.get("then") == "assign":
            return reverse("assign", args=[stay.call.number])
        return after_step(done)

    with timezone.override(stay.unit.site.zone):
        form = WhyForm(sent(request), subject=stay)
        return stay_step(
            request,
            stay,
            form,
            lambda act: planning.call_off(act, stay=stay, why=form.cleaned_data["why"]),
            "sites/call_off.html",
            then=then,
        )


@for_roles(*MANAGER)
def not_recovered(request: HttpRequest, pk: int) -> HttpResponse:
    """A kit that did not come home is given up."""
    stay = get_stay(pk)
    with timezone.override(stay.unit.site.zone):
        form = WhyForm(sent(request), subject=stay)
        form.fields["why"].label = "What was tried to get it back"
        return stay_step(
            request,
            stay,
            form,
            lambda act: custody.not_recovered(act, stay=stay, why=form.cleaned_data["why"]),
            "sites/not_recovered.html",
        )


@for_roles(*OFFICE)
def customer_asked(request: HttpRequest, pk: int) -> HttpResponse:
    """The customer asked for the kit to be taken out."""
    stay = get_stay(pk)
    zone = stay.unit.site.zone
    with timezone.override(zone):
        initial = {"asked_on": stay.customer_asked_on or day_of(timezone.now(), zone)}
        form = CustomerAskedForm(sent(request), subject=stay, initial=initial)
        return stay_step(
            request,
            stay,
            form,
            lambda act: planning.note_customer_asked(act, stay=stay, asked_on=form.cleaned_data["asked_on"]),
            "sites/customer_asked.html",
        )


@for_roles(*MANAGER)
def correct_time(request: HttpRequest, pk: int) -> HttpResponse:
    """A recorded time was wrong; old and new stay visible."""
    stay = get_stay(pk)
    with timezone.override(stay.unit.site.zone):
        recorded = [(stage, getattr(stay, name)) for stage, name in TIMES.items() if getattr(stay, name)]
        choices = [(stage.value, stage.label) for stage, _ in recorded]
        form = CorrectTimeForm(
            sent(request), subject=stay, recorded=choices, initial={"stage": request.GET.get("stage")}
        )

        def do(act: Act) -> Done:
            given = form.given()
            stage = Stage(given["stage"])
            return corrections.correct_time(
                act, stay=stay, stage=stage, to=given["to"].astimezone(UTC), why=given["why"]
            )

        return stay_step(request, stay, form, do, "sites/correct_time.html", recorded=recorded)
