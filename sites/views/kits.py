"""Kits: the list, new ones, and the page of one."""

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions import kits as actions
from kits.actions.acting import Done
from kits.actions.records import change_record
from kits.codes import fold_code
from kits.forms.fields import near_kits, why_no_kit
from kits.lists import PageByKey, show_list
from kits.models import Condition, Custody, Event, Kit, Place, PowerInput
from kits.templatetags.kitperch import when
from kits.units import temperature_text
from kits.ways import sent, way
from kits.web import BENCH, EVERYBODY, for_roles, take_step, user_of
from kits.words import tone_of_place
from sites.as_of import KitThen, kit_as_of
from sites.days import day_of
from sites.forms.kits import AsOfForm, KitForm, NewKitForm, PartsForm
from sites.free import shop_zone
from sites.kit_drawing import draw_kit
from sites.kit_list import KitFilter, listed_kits, read_page
from sites.kit_story import events_of, moves, next_step, sensors_now, take_to_undo, trust_in, who_held
from sites.models import Stage
from sites.tables_kits import KitTable

EVENTS_AT_FIRST = 30
SAID_ON_THE_LIST = (
    (Place.SHELF, "on the shelf"),
    (Place.SITE, "at a site"),
    (Place.TRUCK, "on a truck"),
    (Place.BENCH, "on the bench"),
    (Place.MISSING, "missing"),
)


def kit_by_code(code: str) -> Kit:
    """The kit of a step's address; else that page is not there."""
    return get_object_or_404(Kit, code=fold_code(code))


@for_roles(*EVERYBODY)
@require_GET
def kits(request: HttpRequest) -> HttpResponse:
    """Every kit: where it is, for what, and when it comes home."""
    filters = KitFilter(request.GET, queryset=listed_kits())
    table = KitTable(PageByKey(filters.qs, read_page), today=timezone.localdate())
    table.teach_url = reverse("kit_new")
    open_rows = Custody.objects.filter(held_until=None).order_by()
    counts = dict(open_rows.values_list("place").annotate(number=Count("pk")))
    context = {
        "filters": filters,
        "count": sum(number for place, number in counts.items() if place != Place.RETIRED),
        "said": ", ".join(
            f"{counts[place]} {words}" for place, words in SAID_ON_THE_LIST if counts.get(place)
        ),
    }
    return show_list(request, table, "sites/kit_list.html", context, file="kits")


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_new(request: HttpRequest) -> HttpResponse:
    """Build one kit or a batch; each gets its code."""
    form = NewKitForm(sent(request), unit=request.shop.temperature_unit)  # type: ignore[attr-defined]

    def then(done: Done) -> str:
        built = done.rows(Kit)
        return built[0].get_absolute_url() if len(built) == 1 else reverse("kits_built", args=[done.event_id])

    return take_step(
        request,
        form,
        lambda act: actions.add_kits(
            act, fields=form.facts(), count=form.cleaned_data["count"], parts=form.given_parts()
        ),
        template="sites/kit_form.html",
        context={"kit": None},
        then=then,
    )


@for_roles(*EVERYBODY)
@require_GET
def kits_built(request: HttpRequest, event: int) -> HttpResponse:
    """The kits of one batch with their codes, and the way to their labels."""
    built = get_object_or_404(Event.objects.select_related("did_by"), pk=event, what="kit built")
    ids = built.abouts.filter(kind="kit").values("subject_id")
    made = Kit.objects.filter(pk__in=ids).with_custody().order_by("pk")
    return render(request, "sites/kits_built.html", {"event": built, "kits": made})


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_change(request: HttpRequest, code: str) -> HttpResponse:
    """Change the facts of a kit."""
    kit = kit_by_code(code)
    unit = request.shop.temperature_unit  # type: ignore[attr-defined]
    form = KitForm(sent(request), instance=kit_by_code(code), unit=unit)
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=kit, changes=form.facts()),
        template="sites/kit_form.html",
        context={"kit": kit},
        then=lambda done: kit.get_absolute_url(),
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_parts(request: HttpRequest, code: str) -> HttpResponse:
    """Change the parts list of a kit."""
    kit = kit_by_code(code)
    form = PartsForm(sent(request), kit=kit)
    return take_step(
        request,
        form,
        lambda act: actions.change_parts(act, kit=kit, parts=form.given_parts()),
        template="sites/kit_parts.html",
        context={"kit": kit},
        then=lambda done: f"{kit.get_absolute_url()}#parts",
    )


@for_roles(*EVERYBODY)
@require_GET
def kit(request: HttpRequest, code: str) -> HttpResponse:
    """Where is it, what does it carry, can I trust it, what has it been through?"""
    folded = fold_code(code)
    one = Kit.objects.select_related("condition_by").with_custody().filter(code=folded).first()
    if one is None:
        return unknown_kit(request, code)
    if code != one.code:
        query = request.GET.urlencode()
        return redirect(one.get_absolute_url() + (f"?{query}" if query else ""))
    now, zone = timezone.now(), shop_zone()
    stays = list(one.deployments.with_places().order_by("-planned_at", "-pk"))
    stay = next((row for row in stays if row.loaded_at and not row.ended_at), None)
    plans = sorted((row for row in stays if row.stage == Stage.PLANNED), key=lambda row: row.holds_from)
    sensors = sensors_now(one, stay, now)
    parts = list(one.parts.all())
    whole = request.GET.get("history") == "all"
    custodies = list(one.custodies.select_related("technician").order_by("held_from", "pk"))
    step = next_step(
        one,
        stay=stay,
        plan=plans[0] if plans else None,
        sensors=sensors,
        user=request.user,  # type: ignore[arg-type]
        today=day_of(now, zone),
    )
    drawn = draw_kit(
        one,
        custodies=custodies,
        stays=stays,
        unit=request.shop.temperature_unit,  # type: ignore[attr-defined]
        zone=zone,
        now=now,
        asked=request.GET.get("span", ""),
    )
    as_of_form = AsOfForm(request.GET if "at" in request.GET else None)
    context = {
        "kit": one,
        "custody": one.custody,
        "stay": stay,
        "plans": plans,
        "moves": [move for move in moves(one, stay, request.user) if move.url != step.url],  # type: ignore[arg-type]
        "may_check": user_of(request).role in BENCH and one.custody.place in {Place.BENCH, Place.SHELF},
        "stay_count": len(stays),
        "past": [row for row in stays if row.ended_at],
        "sensors": sensors,
        "free_terminals": one.sensor_limit - len(sensors),
        "nameless": sum(not row.sensor.tag for row in sensors),
        "trust": trust_in(sensors),
        "next": step,
        "follow_ups": one.follow_ups.filter(done_at=None).select_related("opened_by"),
        "parts": parts,
        "build_cost_cents": sum(part.cost_cents for part in parts),
        "facts": power_facts(one, request.shop.temperature_unit),  # type: ignore[attr-defined]
        "events": events_of(one, None if whole else EVENTS_AT_FIRST + 1),
        "at_first": None if whole else EVENTS_AT_FIRST,
        "at_first_slice": f":{EVENTS_AT_FIRST}",
        "tone": tone_of_place(one.custody.place, needs_work=one.condition == Condition.NEEDS_WORK),
        "since": f"since {when(one.custody.held_from)}",
        "call_url": way("call", stay.call.number) if stay else "",
        "held": who_held(custodies, stays),
        "drawn": drawn,
        "undo": take_to_undo(one) if request.user.is_office else None,  # type: ignore[union-attr]
        "today": day_of(now, zone),
        "as_of_form": as_of_form,
        "then": looked_back(one, as_of_form),
    }
    return render(request, "sites/kit_page.html", context)


def looked_back(kit: Kit, form: AsOfForm) -> KitThen | None:
    """The kit at the instant asked for, if one was asked for that makes sense."""
    return kit_as_of(kit.code, form.cleaned_data["at"]) if form.is_bound and form.is_valid() else None


def power_facts(kit: Kit, unit: str) -> list[tuple[str, str]]:
    """What the kit needs and stands, line by line."""
    rated = kit.rated_to_celsius
    aux = kit.aux_contact_rating or "rating not recorded"
    return [
        ("Controller", kit.controller),
        ("Firmware", kit.firmware),
        ("Power input", PowerInput(kit.power_input).label),
        ("Takes", power_words(kit)),
        ("Adapter", kit.get_adapter_isolated_display()),
        ("Battery inside", "Yes" if kit.has_battery else "No"),
        ("Box rated to", "" if rated is None else temperature_text(rated, "C" if unit == "C" else "F", 0)),
        ("Auxiliary contact", f"Fitted, {aux}" if kit.has_aux_contact else "Not fitted"),
    ]


def power_words(kit: Kit) -> str:
    """The power draw as it is read: "2.5 W, 6 VA"."""
    draws = ((kit.power_draw_watt, "W"), (kit.power_draw_volt_ampere, "VA"))
    return ", ".join(f"{value.normalize():f} {unit}" for value, unit in draws if value is not None)


def unknown_kit(request: HttpRequest, typed: str) -> HttpResponse:
    """No such kit: why not, and the kits whose codes are near."""
    near = Kit.objects.filter(pk__in=[kit.pk for kit in near_kits(typed)]).with_custody()
    context = {"typed": typed[:40], "why": why_no_kit(typed), "near": near}
    return render(request, "sites/kit_unknown.html", context, status=404)
