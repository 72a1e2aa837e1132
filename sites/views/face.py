"""What a label opens: the kit in one's hand and the next step; for a stranger, whose it is."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.codes import BadCode, read_code
from kits.forms.fields import near_kits, why_no_kit
from kits.models import Kit, Place, PowerInput, User
from kits.web import EVERYBODY, StepForm, for_roles, wants_json
from sites import cautions
from sites.actions.common import out_stay
from sites.in_hand import kit_in_hand, leads_now, still_to_do
from sites.next_step import NextStep, next_plan, next_step


@require_safe
@login_not_required
def face(request: HttpRequest, code: str) -> HttpResponse:
    """The kit with that code, or for somebody not signed in the finder's page.

    The finder's page never looks the code up: it is the same for every code, so there is nothing to find out by trying.
    """
    if not isinstance(request.user, User):
        return finder(request)
    if request.user.role not in EVERYBODY:
        raise Http404
    found = kit_in_hand(code)
    if found is None:
        return wrong_code(request, code)
    kit, stay = found
    now = timezone.now()
    leads = leads_now(kit, stay, now)
    step = next_step(kit, request.user, stay=stay, now=now, has_leads=bool(leads))
    context: dict[str, Any] = {
        "kit": kit,
        "step": step,
        "leads": leads,
        "follow_ups": still_to_do(kit),
        "hangs": kit.custody.place == Place.SITE,
        "cautions": cautions_for(kit, step, request.shop.temperature_unit),  # type: ignore[attr-defined]
        "site": step.stay.unit.site if step.stay else None,
    }
    if step.main and step.main.posts is not None:
        context["one_tap"] = StepForm(subject=kit)
    return render(request, "sites/face.html", context)


def cautions_for(kit: Kit, step: NextStep, unit: cautions.Unit) -> list[str]:
    """What this box cannot bear, and at a unit what comes before any panel or wire."""
    if step.stay is None or step.stay.loaded_at is None or step.stay.removed_at:
        return []
    box = cautions.about_the_box(
        rated_to_celsius=kit.rated_to_celsius,
        adapter_isolated=kit.adapter_isolated if kit.power_input == PowerInput.AC_24 else "yes",
        has_battery=kit.has_battery,
        unit=unit,
    )
    return [*cautions.WITH_A_LEAD_IN_HAND, *box]


def finder(request: HttpRequest) -> HttpResponse:
    response = render(request, "sites/face_finder.html")
    response["Cache-Control"] = "private, no-store"
    response["X-Robots-Tag"] = "noindex"
    return response


def kit_by_code(code: str) -> Kit | None:
    """The kit that a typed or scanned code names."""
    try:
        return Kit.objects.with_custody().filter(code=read_code(code)).first()
    except BadCode:
        return None


def wrong_code(request: HttpRequest, code: str) -> HttpResponse:
    """No kit has that code: which character cannot be right, and the kits that are near."""
    why = why_no_kit(code)
    if wants_json(request):
        return JsonResponse(
            {"ok": False, "code": "no_such_kit", "sentence": why, "errors": {"__all__": [why]}}, status=404
        )
    context = {"typed": code, "why": why, "near": near_kits(code)}
    return render(request, "sites/scan.html", context, status=404)


@require_safe
@for_roles(*EVERYBODY)
def scan(request: HttpRequest) -> HttpResponse:
    """Type a code, or paste what the camera gave."""
    typed = request.GET.get("code", "").strip()
    if not typed:
        return render(request, "sites/scan.html", {"typed": "", "asked": "code" in request.GET})
    kit = kit_by_code(typed)
    if kit is None:
        return wrong_code(request, typed)
    return redirect("face", kit.code)


def zone_of(kit: Kit, shop_zone: Any) -> Any:
    """Whose clock a step on this kit is read on: the site it is out for or planned for, else the shop's."""
    stay = out_stay(kit) or next_plan(kit)
    return stay.unit.site.zone if stay else shop_zone
