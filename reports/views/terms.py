"""Terms of an agreement and the shop's price list: what holds from when, new ones, and what a stay would cost by them."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from kits.ways import sent
from kits.web import MANAGER, OFFICE, for_roles, take_step
from reports.actions.billing_terms import agree_terms
from reports.billing.example import PRESETS, example_lines
from reports.billing.lines import Line
from reports.billing.tax import tax_of_lines
from reports.billing_books import plain_terms
from reports.forms_terms import EXAMPLE, TermsForm
from reports.terms_told import dated
from sites.days import day_of
from sites.free import shop_zone
from sites.models import Agreement, Terms


@dataclass(frozen=True)
class Example:
    """What the example stay costs by the terms typed, or why that is not known."""

    lines: list[Line]
    currency: str = ""
    tax_cents: int = 0
    missing: tuple[str, ...] = ()

    @property
    def net_cents(self) -> int:
        return sum(line.amount_cents for line in self.lines)

    @property
    def total_cents(self) -> int:
        return self.net_cents + self.tax_cents


def example_of(form: TermsForm) -> Example:
    """The example of what stands in the form: sent or, before that, filled in."""
    asked = form
    if not form.is_bound:
        data = {
            name: form[name].field.prepare_value(form[name].initial)
            for name in form.fields
            if form[name].initial not in (None, False)
        }
        asked = TermsForm(data, agreement=form.agreement, today=form.today)
    if not asked.is_valid():
        wrong = [
            f"{asked.fields[name].label}: {error}" if name in asked.fields else str(error)
            for name, errors in asked.errors.items()
            if name not in ("from_day", "name")
            for error in errors
        ]
        if wrong:
            return Example([], missing=tuple(wrong))
    told = asked.cleaned_data
    begins, ends = (told.get(name) for name in EXAMPLE[:2])
    if not begins or not ends:
        return Example([], missing=("Give the days on which the example kit goes in and comes out.",))
    row = Terms(agreement=form.agreement, from_day=begins, **asked.terms())
    plain = plain_terms(row)
    wrong_terms = plain.wrong()
    if wrong_terms:
        return Example([], missing=tuple(wrong_terms.values()))
    lines = example_lines(
        plain,
        installed_on=begins,
        days=(ends - begins).days,
        priority=told.get("example_priority") or False,
        used=told.get("example_used") or 0,
    )
    return Example(lines, plain.currency, sum(tax_of_lines(lines)))


def terms_page(request: HttpRequest, agreement: Agreement | None, back: str) -> HttpResponse:
    """New terms from a day on. "Work out the example" computes it and keeps nothing."""
    today = day_of(timezone.now(), shop_zone())
    before = Terms.objects.filter(agreement=agreement).order_by("from_day").last()
    preset = request.GET.get("preset", "")
    form = TermsForm(sent(request), agreement=agreement, today=today, before=before, preset=preset)
    context = {
        "agreement": agreement,
        "before": before,
        "presets": [one for one in PRESETS if agreement or "included_days" not in one.fields],
        "preset": preset,
        "back": back,
        "example": example_of(form),
    }
    if request.method == "POST" and "look" in request.POST:
        part = request.headers.get("X-Part") == "example"
        return render(
            request,
            "reports/_terms_example.html" if part else "reports/terms_form.html",
            {**context, "form": form},
        )
    return take_step(
        request,
        form,
        lambda act: agree_terms(
            act, agreement=agreement, from_day=form.cleaned_data["from_day"], fields=form.terms()
        ),
        template="reports/terms_form.html",
        context=context,
        then=lambda done: back,
    )


@for_roles(*MANAGER)
@require_http_methods(["GET", "HEAD", "POST"])
def terms_new(request: HttpRequest, pk: int) -> HttpResponse:
    """New terms of an agreement."""
    agreement = get_object_or_404(Agreement.objects.select_related("customer"), pk=pk)
    return terms_page(request, agreement, agreement.get_absolute_url())


@for_roles(*MANAGER)
@require_http_methods(["GET", "HEAD", "POST"])
def price_list_new(request: HttpRequest) -> HttpResponse:
    """New prices of the shop."""
    return terms_page(request, None, reverse("price_list"))


@for_roles(*OFFICE)
@require_safe
def price_list(request: HttpRequest) -> HttpResponse:
    """What does a stay cost that no agreement covers?"""
    context: dict[str, Any] = dated(None, day_of(timezone.now(), shop_zone()))
    return render(request, "reports/price_list.html", context)
