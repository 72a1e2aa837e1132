"""Beginning a check: how, beside what, of which sensors, at which temperatures."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kits.actions import checks as actions
from kits.actions.acting import Act, Done
from kits.bench_lists import listed_references, stood
from kits.explained_checks import methods_told
from kits.forms.checks import BeginCheckForm
from kits.models import CalibrationCheck, Custody, KeptAt, Kit, Method, Place, Sensor, SparePlace, Wiring
from kits.models.thermometers import ReferenceKind
from kits.views.references import unit_of
from kits.ways import sent
from kits.web import BENCH, for_roles, take_step, user_of


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def check_new(request: HttpRequest) -> HttpResponse:
    """Begin a check: how, beside what, of which sensors, at which temperatures."""
    today, unit = timezone.localdate(), unit_of(request)
    references = listed_references(today).filter(out_of_use_since=None)
    kits = kits_at_hand(request)
    again = superseded(request)
    form = BeginCheckForm(
        sent(request),
        unit=unit,
        is_manager=user_of(request).is_manager,
        references=references,
        kits=kits,
        sensors=Sensor.objects.all(),
        initial=begun_with(request, references, again),
    )

    def do(act: Act) -> Done:
        return actions.begin_check(act, supersedes=again, **form.what_is_begun())

    def then(done: Done) -> str:
        return reverse("check_point", args=[done.row(CalibrationCheck).pk, 1])

    context = {
        "kits": kits,
        "spares": spares_at_hand(request),
        "chosen": {str(one) for one in form["sensors"].value() or []},
        "chosen_kits": set(form["kits"].value() or []),
        "references": stood(references, today),
        "methods": methods_told(unit),
        "again": again,
        "ice_url": reverse("reference_new") + "?kind=ice",
        "shop_altitude": request.shop.altitude_m,  # type: ignore[attr-defined]
    }
    return take_step(request, form, do, template="kits/check_new.html", context=context, then=then)


def kits_at_hand(request: HttpRequest) -> list[Kit]:
    """The kits on the bench, and any that were asked for, each with its `carried` wirings."""
    asked = {code.upper() for code in (*request.GET.getlist("kit"), *request.POST.getlist("kits"))}
    on_bench = Custody.objects.filter(held_until=None, place=Place.BENCH).values("kit")
    kits: list[Any] = list(Kit.objects.filter(code__in=asked) | Kit.objects.filter(pk__in=on_bench))
    wirings = (
        Wiring.objects.filter(kit__in=kits, wired_until=None).select_related("sensor").order_by("terminal")
    )
    for kit in kits:
        kit.carried = [wiring for wiring in wirings if wiring.kit_id == kit.pk]
    with_sensors = [kit for kit in kits if kit.carried]
    return sorted(with_sensors, key=lambda kit: (kit.code not in asked, kit.name))


def spares_at_hand(request: HttpRequest) -> list[Sensor]:
    """Loose sensors on bench and shelf, and any that were asked for by their ROM ID."""
    near = SparePlace.objects.filter(kept_until=None, place__in=[KeptAt.BENCH, KeptAt.SHELF]).values("sensor")
    rows = Sensor.objects.filter(pk__in=near) | Sensor.objects.filter(rom__in=request.GET.getlist("sensor"))
    return list(rows.order_by("tag", "rom"))


def superseded(request: HttpRequest) -> CalibrationCheck | None:
    """The check that this one is made in place of, if it was begun from its page."""
    number = request.POST.get("supersedes") or request.GET.get("supersedes") or ""
    return CalibrationCheck.objects.filter(pk=number).first() if number.isdigit() else None


def begun_with(request: HttpRequest, references: Any, again: CalibrationCheck | None) -> dict[str, Any]:
    """What stands in the form at first: what the page was opened for, else what was used last."""
    if again is not None:
        return {
            "method": again.method,
            "reference": again.reference_id,
            "sensors": list(again.sensors.values_list("sensor", flat=True)),
            "shape": again.shape,
            "supersedes": again.pk,
        }
    last = CalibrationCheck.objects.order_by("-begun_at").first()
    asked = request.GET.get("reference", "")
    reference = references.filter(pk=asked).first() if asked.isdigit() else None
    if reference is None and last is not None:
        reference = references.filter(pk=last.reference_id).first()
    if reference is None:
        reference = references.filter(kind=ReferenceKind.ICE).first() or references.first()
    method = Method.ICE if last is None else Method(last.method)
    if reference is not None and reference.kind == ReferenceKind.BOILING:
        method = Method.BOILING
    elif reference is not None and reference.kind == ReferenceKind.ICE:
        method = Method.ICE
    sensors = Sensor.objects.filter(rom__in=request.GET.getlist("sensor")).values_list("pk", flat=True)
    return {
        "method": method,
        "reference": getattr(reference, "pk", None),
        "kits": [code.upper() for code in request.GET.getlist("kit")],
        "sensors": list(sensors),
    }
