"""References: what sensors are compared with, and the certificates that make a thermometer one."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from kits import units
from kits.actions.acting import Act, Done
from kits.actions.records import add_record, change_record
from kits.actions.thermometers import add_certificate
from kits.bench_lists import ReferenceFilter, listed_checks, listed_references, standing_of, stood
from kits.curve import Curve, Point, drawn
from kits.forms.thermometers import CertificateForm, ReferenceForm
from kits.lists import show_list
from kits.models import Certificate, Event, ReferenceThermometer
from kits.models.thermometers import ReferenceKind
from kits.tables_bench import ReferenceTable
from kits.units import difference_text, temperature_text
from kits.ways import sent, way_back
from kits.web import BENCH, EVERYBODY, for_roles, take_step, user_of


def unit_of(request: HttpRequest) -> units.Unit:
    """The unit the shop reads."""
    return "C" if request.shop.temperature_unit == "C" else "F"  # type: ignore[attr-defined]


@for_roles(*EVERYBODY)
@require_GET
def reference_list(request: HttpRequest) -> HttpResponse:
    """What sensors can be compared with, and whether it may still be used."""
    today = timezone.localdate()
    filters = ReferenceFilter(request.GET, queryset=listed_references(today))
    table = ReferenceTable(stood(filters.qs, today), unit=unit_of(request))
    if user_of(request).role in BENCH:
        table.teach_url = reverse("reference_new")
    everything = stood(listed_references(today).filter(out_of_use_since=None), today)
    context = {
        "filters": filters,
        "usable": sum(row.standing.usable for row in everything),
        "late": [row for row in everything if not row.standing.usable],
        "soon": [row for row in everything if row.standing.tone == "attention"],
        "count": len(everything),
        "may_work": user_of(request).role in BENCH,
    }
    return show_list(request, table, "kits/references.html", context, file="references")


@for_roles(*EVERYBODY)
@require_GET
def reference(request: HttpRequest, pk: int) -> HttpResponse:
    """One reference: may it be used, what do its certificates say, what was checked with it."""
    today = timezone.localdate()
    one = get_object_or_404(listed_references(today), pk=pk)
    certificates = list(one.certificates.select_related("recorded_by").order_by("-issued_on", "-pk"))
    unit = unit_of(request)
    for certificate in certificates:
        certificate.lines = [
            (temperature_text(at, unit), difference_text(add, unit, 2)) for at, add in certificate.corrections
        ]
    current = next((row for row in certificates if row.issued_on <= today), None)
    events = (
        Event.objects.filter(abouts__kind="referencethermometer", abouts__subject_id=one.pk)
        .select_related("did_by", "typed_by")
        .order_by("-happened_at", "-pk")
    )
    context = {
        "reference": one,
        "standing": standing_of(one, today),
        "certificates": certificates,
        "current": current,
        "curve": correction_curve(current, unit) if current else None,
        "checks": listed_checks().filter(reference=one)[:10],
        "events": events,
        "is_thermometer": one.kind == ReferenceKind.THERMOMETER,
        "may_work": user_of(request).role in BENCH,
    }
    return render(request, "kits/reference.html", context)


def correction_curve(certificate: Certificate, unit: units.Unit) -> Curve | None:
    """The corrections of a certificate over temperature, straight between, each with the certificate's U."""
    give_or_take = float(certificate.expanded_uncertainty_kelvin)
    points = [
        Point(
            x=at,
            y=add,
            give_or_take=give_or_take,
            says=f"{temperature_text(at, unit)}: {difference_text(add, unit, 2)} added",
        )
        for at, add in certificate.corrections
    ]
    return drawn(
        points,
        level_text=lambda kelvin: difference_text(kelvin, unit, 2),
        foot_text=lambda celsius: temperature_text(celsius, unit, 0),
        shown_for_one=1.8 if unit == "F" else 1.0,
    )


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def reference_new(request: HttpRequest) -> HttpResponse:
    """Add a reference: a thermometer, crushed ice or boiling water."""
    initial = {"kind": request.GET.get("kind", ReferenceKind.THERMOMETER)}
    form = ReferenceForm(sent(request), unit=unit_of(request), initial=initial)

    def do(act: Act) -> Done:
        return add_record(act, row=ReferenceThermometer(), fields=form.record_fields())

    def then(done: Done) -> str:
        added: ReferenceThermometer = done.row(ReferenceThermometer)
        if added.kind == ReferenceKind.THERMOMETER:
            return reverse("certificate_new", args=[added.pk])
        return way_back(request) or added.get_absolute_url()

    return take_step(
        request, form, do, template="kits/reference_form.html", context={"reference": None}, then=then
    )


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def reference_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is known about a reference, or take it out of use."""
    one = get_object_or_404(ReferenceThermometer, pk=pk)
    form = ReferenceForm(
        sent(request), unit=unit_of(request), instance=get_object_or_404(ReferenceThermometer, pk=pk)
    )
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=one, changes=form.record_fields()),
        template="kits/reference_form.html",
        context={"reference": one},
        then=lambda done: one.get_absolute_url(),
    )


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def certificate_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Type in a certificate as it is printed."""
    one = get_object_or_404(ReferenceThermometer, pk=pk)
    form = CertificateForm(sent(request), subject=one, unit=unit_of(request))

    def do(act: Act) -> Done:
        return add_certificate(act, thermometer=one, fields=form.record_fields())

    context: dict[str, Any] = {"reference": one, "not_first": one.certificates.exists()}
    return take_step(
        request,
        form,
        do,
        template="kits/certificate_form.html",
        context=context,
        then=lambda done: one.get_absolute_url(),
    )
