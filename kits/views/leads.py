"""Which lead is which: by warming one lead at a time before live readings, or from values that were written down."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from kits.actions import leads as actions
from kits.actions.acting import Act, Done
from kits.explained_leads import CAUTIONS, COLD_CAUTION, HAND_STEPS
from kits.forms.leads import PressForm, TapeForm, TypedLeadsForm
from kits.models import Kit, Sensor
from kits.promises import Refused
from kits.telling_leads import Hold, Telling
from kits.ways import sent, way
from kits.web import BENCH, for_roles, take_step
from kits.which_lead import Judgement, Kind, judge_typed

PAGE = "kits/lead_warm.html"


def kit_of(code: str) -> Kit:
    return get_object_or_404(Kit, code=code.upper())


def telling_of(request: HttpRequest, kit: Kit, now_s: float | None = None) -> Telling:
    """How far the page is: what was held since when stands in its address, and in the form that is sent from it."""
    now_s = timezone.now().timestamp() if now_s is None else now_s
    told = request.POST if request.method == "POST" else request.GET
    unit = request.shop.temperature_unit  # type: ignore[attr-defined]
    return Telling(kit, Hold.of(told, timezone.now().timestamp()), now_s, unit)


# -- Before live readings ------------------------------------------------------------------------------------------------


@never_cache
@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def lead_warm(request: HttpRequest, code: str) -> HttpResponse:
    """One lead at a time is held; the page says which one it is, and it is named here."""
    kit = kit_of(code)
    if request.method == "POST":
        return named(request, kit)
    now_s = timezone.now().timestamp()
    telling = telling_of(request, kit, now_s)
    if "hold" in request.GET:
        return redirect(f"{request.path}?{urlencode(Hold(now_s, cold=telling.hold.cold).fields())}")
    if "let_go" in request.GET and telling.hold.began_s is not None:
        let_go = Hold(telling.hold.began_s, now_s, telling.hold.cold)
        return redirect(f"{request.path}?{urlencode(let_go.fields())}")
    template = "kits/_warm.html" if "part" in request.GET else PAGE
    return render(request, template, warm_context(telling))


def warm_context(telling: Telling, tape: TapeForm | None = None) -> dict[str, Any]:
    judgement = telling.judgement
    if tape is None and judgement.is_decided:
        tape = TapeForm(taken=telling.taken_tags, by_elimination=judgement.by_elimination)
    here = reverse("lead_warm", args=[telling.kit.code])
    query = urlencode({**telling.hold.fields(), "part": "1"})
    return {
        "kit": telling.kit,
        "telling": telling,
        "judgement": judgement,
        "decided": Sensor.objects.filter(rom=judgement.rom).first() if judgement.rom else None,
        "tape": tape,
        "hold_fields": {**telling.hold.fields(), "at": f"{telling.now_s:.2f}"},
        "poll": f"{here}?{query}",
        "here": here,
        **about_the_kit(telling.kit),
        "cautions": (*CAUTIONS, COLD_CAUTION) if telling.hold.cold else CAUTIONS,
        "steps": HAND_STEPS,
    }


def about_the_kit(kit: Kit) -> dict[str, Any]:
    """The name given last, which can be taken back, and where its flag is printed."""
    last = actions.last_named(kit)
    sensor = (
        Sensor.objects.filter(pk=last.details["sensor"], tag=last.details["tag"]).first() if last else None
    )
    labels = way("labels")
    return {
        "last": last if sensor else None,
        "last_sensor": sensor,
        "flag_url": f"{labels}?sensor={sensor.rom}" if sensor and labels else "",
        "press": PressForm(auto_id=False),
    }


def named(request: HttpRequest, kit: Kit) -> HttpResponse:
    """The lead gets its tape. What was decided is decided once more here, from the readings up to then."""
    told = telling_of(request, kit)
    at_s = Hold.of({"began": request.POST.get("at", "")}, told.now_s).began_s
    telling = Telling(kit, told.hold, told.now_s if at_s is None else at_s, told.unit)
    judgement = telling.judgement
    form = TapeForm(sent(request), taken=telling.taken_tags, by_elimination=judgement.by_elimination)
    do = naming(judgement, form, telling.hold.way)
    return take_step(
        request,
        form,
        do,
        template=PAGE,
        context=warm_context(telling, form)
        if judgement.is_decided
        else {**warm_context(telling), "refused": form},
        then=lambda done: reverse("lead_warm", args=[kit.code]) + ("?with=cold" if telling.hold.cold else ""),
    )


def naming(judgement: Judgement, form: TapeForm, way_told: str) -> Callable[[Act], Done]:
    """What names the lead that a judgement came to, or refuses with what it says instead."""

    def do(act: Act) -> Done:
        sensor = Sensor.objects.filter(rom=judgement.rom or "").first()
        if sensor is None:
            raise Refused(f"Not sure yet. {judgement.sentence} {judgement.what_to_do}")
        how = actions.How(way_told, judgement, confirmed=bool(form.cleaned_data.get("confirmed")))
        colour = form.cleaned_data["tag_colour"]
        return actions.name_lead(act, sensor=sensor, tag=form.tape, tag_colour=colour, how=how)

    return do


@for_roles(*BENCH)
@require_POST
def lead_undo(request: HttpRequest, code: str) -> HttpResponse:
    """The name given last is taken back."""
    kit = kit_of(code)
    last = actions.last_named(kit)
    form = PressForm(sent(request))

    def do(act: Act) -> Done:
        sensor = Sensor.objects.filter(pk=last.details["sensor"]).first() if last else None
        if sensor is None:
            raise Refused(f"No lead of {kit} was named here yet, so there is nothing to take back.")
        return actions.undo_name(act, sensor=sensor)

    telling = telling_of(request, kit)
    return take_step(
        request,
        form,
        do,
        template=PAGE,
        context={**warm_context(telling), "refused": form},
        then=lambda done: reverse("lead_warm", args=[kit.code]),
    )


# -- From values that were written down ----------------------------------------------------------------------------------


@never_cache
@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def lead_typed(request: HttpRequest, code: str) -> HttpResponse:
    """Every lead's value before and after one was held; the page says which one it was. Works without live readings."""
    kit = kit_of(code)
    telling = telling_of(request, kit)
    if request.method == "GET" and len(telling.unnamed) == 1:
        return redirect("lead_warm", kit.code)  # the last one needs no values, only somebody's eyes
    values = TypedLeadsForm(
        request.POST or None, sensors=[row.sensor for row in telling.wirings], unit=telling.unit
    )
    judgement: Judgement | None = None
    status = 200
    if request.method == "POST":
        if values.is_valid():
            judgement = judge_typed(
                values.rows(),
                unnamed=[one.rom for one in telling.unnamed],
                warm_or_cold=values.cleaned_data["with"] or "hand",
                shown=telling.shown,
            )
            status = 422 if judgement.kind is Kind.NO_READINGS else 200
        else:
            status = 422
    context = {
        **about_the_kit(kit),
        "kit": kit,
        "telling": telling,
        "values": values,
        "judgement": judgement,
        "judged": Sensor.objects.filter(rom=judgement.rom).first() if judgement and judgement.rom else None,
        "cautions": CAUTIONS,
    }
    if judgement is None or "name" not in request.POST:
        if judgement and judgement.is_decided:
            context["tape"] = TapeForm(taken=telling.taken_tags, by_elimination=judgement.by_elimination)
        return render(request, "kits/lead_typed.html", context, status=status)
    form = TapeForm(sent(request), taken=telling.taken_tags, by_elimination=judgement.by_elimination)
    return take_step(
        request,
        form,
        naming(judgement, form, "typed"),
        template="kits/lead_typed.html",
        context={**context, "tape": form} if judgement.is_decided else {**context, "refused": form},
        then=lambda done: reverse("lead_typed", args=[kit.code]),
    )
