"""The guided steps of a technician: each one page and one POST of a flat payload, told later by the office if need be."""

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any
from uuid import uuid5

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kits.actions.acting import Act, Done
from kits.actions.sensors import add_sensor
from kits.models import Event, KeptAt, Kit, Sensor, User
from kits.promises import Refused
from kits.templatetags.kitperch import when
from kits.web import EVERYBODY, for_roles, payload_of, take_step
from sites import cautions
from sites.actions import custody, placements, stays
from sites.actions.common import out_stay, stay_at_stage
from sites.forms import at_the_unit, coming_home, steps
from sites.forms.leads import LeadBook, ReadingFields
from sites.models import Deployment, Installation, Stage
from sites.next_step import next_plan
from sites.power_budget import Budget, Load, current_ampere, ohm_per_1000_ft, wire_drop_volt
from sites.trucks import leads_kept_on
from sites.views.face import kit_by_code, wrong_code, zone_of

LEAST_VOLT = 22
HOT_WIRE_CELSIUS = 60
SHOWN_RUN_FT = 50

Step = Callable[[HttpRequest, Kit, QueryDict | None], HttpResponse]


def kit_step(view: Step) -> Callable[..., HttpResponse]:
    """A step on the kit whose code stands in the address: found, read in its site's zone; a wrong code is explained."""

    @require_http_methods(["GET", "HEAD", "POST"])
    @for_roles(*EVERYBODY)
    @wraps(view)
    def on_kit(request: HttpRequest, code: str) -> HttpResponse:
        kit = kit_by_code(code)
        if kit is None:
            return wrong_code(request, code)
        try:
            data = payload_of(request) if request.method == "POST" else None
        except ValidationError as bad:
            answer = {"ok": False, "code": "not_understood", "sentence": bad.messages[0], "errors": {}}
            return JsonResponse(answer, status=422)
        with timezone.override(zone_of(kit, timezone.get_current_timezone())):
            return view(request, kit, data)

    return on_kit


def finish(
    request: HttpRequest, kit: Kit, form: Any, do: Callable[[Act], Done], template: str, **context: Any
) -> HttpResponse:
    """Show or take the step; then back to the kit, with whatever is still to be done or odd about what was typed."""

    def then(done: Done) -> str:
        for remark in remarks(form, done):
            messages.warning(request, remark)
        return reverse("face", args=[kit.code])

    whole = {
        "kit": kit,
        "stay": out_stay(kit),
        "clock": timezone.get_current_timezone_name(),
        "in_the_way": "",
        "form": form,
        **context,
    }
    return take_step(request, form, do, template=template, context=whole, then=then)


def remarks(form: Any, done: Done) -> list[str]:
    """What a person should know after a step that was taken all the same."""
    found = Event.objects.get(pk=done.event_id).details.get("still_to_do", [])
    found = [f"Still to do: {what}." for what in found]
    if done.again or not form.is_bound or not form.is_valid():
        return found
    if isinstance(form, ReadingFields):
        found += form.doubts()
    if isinstance(form, at_the_unit.InstallStep) and (empty := wanted_and_empty(form.kit)):
        found.append(
            f"The call wants {', '.join(empty)} too, and no lead sits there. Move a sensor, or tell the office."
        )
    volts = form.cleaned_data.get("volts_after")
    if volts is not None and volts < LEAST_VOLT:
        found.append(
            f"{volts} V with the kit running is under {LEAST_VOLT} V: take it off this transformer again."
        )
    if (others := form.cleaned_data.get("other_loads")) is not None:
        stay = form.kit.deployments.order_by("-pk").filter(installed_at__isnull=False).first()
        budget = budget_of(form.kit, stay, others=float(others)) if stay else None
        if budget and budget.verdict != "fine":
            found.append(budget.sentence)
    return found


def blocked(request: HttpRequest, kit: Kit, *stages: Stage) -> str:
    """Why the step cannot be taken as the books stand, told before anything is typed; "" when it can."""
    if request.method == "POST":
        return ""
    try:
        stay_at_stage(kit, *stages)
    except Refused as refusal:
        return done_already(kit, *stages) or refusal.messages[0]
    return ""


def done_already(kit: Kit, *stages: Stage) -> str:
    """Sent before and the answer got lost, or written down by somebody else: what and when; "" when it was not so."""
    stay = out_stay(kit)
    if stages == (Stage.LOADED,) and stay and stay.installed_at:
        return f"{kit} was put in {when(stay.installed_at)}; that is written down. Nothing is left to send."
    if stages == (Stage.INSTALLED,) and stay and stay.removed_at:
        return f"{kit} was taken out {when(stay.removed_at)}; that is written down. Nothing is left to send."
    return ""


def user_of(request: HttpRequest) -> User:
    assert isinstance(request.user, User)  # noqa: S101 - for_roles let nobody else in
    return request.user


def wanted_and_empty(kit: Kit) -> list[str]:
    """Codes of the positions the call wants and no sensor of the stay sits at."""
    stay = out_stay(kit)
    if stay is None:
        return []
    taken = stay.placements.filter(placed_until=None).values("position")
    return [position.code for position in stay.call.wanted_positions.exclude(pk__in=taken)]


# -- From hand to hand ---------------------------------------------------------------------------


@kit_step
def take(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    form = steps.TakeStep(data, kit=kit, user=user_of(request))

    def do(act: Act) -> Done:
        return custody.take_onto_truck(act, kit=kit, technician=form.truck())

    return finish(request, kit, form, do, "sites/step_take.html", plan=next_plan(kit))


@kit_step
def shelve(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    form = steps.KitStep(data, kit=kit, user=user_of(request))
    words = {
        "heading": "Put it on the shelf",
        "button": "It is on the shelf",
        "lead": "In the shop, where the next one looks for it.",
    }
    return finish(
        request, kit, form, lambda act: custody.put_on_shelf(act, kit=kit), "sites/step_plain.html", **words
    )


@kit_step
def found(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    form = steps.KitStep(data, kit=kit, user=user_of(request))
    words = {
        "heading": "Found again",
        "button": "I hold it: found again",
        "lead": "It goes to the bench, to be counted and looked at before it goes out.",
    }
    return finish(
        request, kit, form, lambda act: custody.found_again(act, kit=kit), "sites/step_plain.html", **words
    )


@kit_step
def load(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    user = user_of(request)
    initial: dict[str, Any] = {}
    plan = next_plan(kit)
    number = request.GET.get("call") or (plan.call.number if plan and mine(plan, user) else None)
    if number:
        initial["call"] = number
    form = steps.LoadStep(data, kit=kit, user=user, initial=initial)
    chosen = form.calls.filter(number=int(number)).first() if number and str(number).isdigit() else None
    if chosen and not user.is_technician:
        form.initial["technician"] = (plan and plan.technician_id) or chosen.technician_id
    if form.planned is None:
        shop = request.shop  # type: ignore[attr-defined]
        form.initial.update(steps.usual_dates(chosen, shop.usual_stay_days, shop.turnaround_days))

    def do(act: Act) -> Done:
        cleaned = form.cleaned_data
        return stays.load(
            act,
            kit=kit,
            call=cleaned["call"],
            technician=form.truck(),
            take_out_by=cleaned["take_out_by"],
            back_in_shop_by=cleaned["back_in_shop_by"],
        )

    context = {
        "plan": plan,
        "book": LeadBook(kit),
        "parts": kit.parts.filter(returns=True),
        "left_to_do": kit.follow_ups.filter(done_at=None),
    }
    return finish(request, kit, form, do, "sites/step_load.html", cautions=cautions.ON_THE_TRUCK, **context)


def mine(plan: Deployment, user: User) -> bool:
    return user.is_office or user in {plan.technician, plan.call.technician}


# -- At the unit ---------------------------------------------------------------------------------


@kit_step
def install(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    stay = out_stay(kit) or next_plan(kit)
    unit = request.shop.temperature_unit  # type: ignore[attr-defined]
    initial: dict[str, Any] = {}
    if stay:
        initial = {"take_out_by": stay.take_out_by, "back_in_shop_by": stay.back_in_shop_by}
        if stay.loaded_at is None:
            initial["call"] = stay.call.number
    form = at_the_unit.InstallStep(
        data, kit=kit, user=user_of(request), book=LeadBook(kit), unit=unit, initial=initial
    )

    def do(act: Act) -> Done:
        cleaned = form.cleaned_data
        return stays.install(
            act,
            kit=kit,
            placements=form.placements,
            take_out_by=cleaned["take_out_by"],
            back_in_shop_by=cleaned["back_in_shop_by"],
            facts=form.facts(),
            readings=form.readings(),
            call=cleaned["call"],
        )

    ready = stay is not None and (stay.loaded_at is None or stay.stage == Stage.LOADED)
    return finish(
        request,
        kit,
        form,
        do,
        "sites/step_install.html",
        in_the_way="" if ready else blocked(request, kit, Stage.LOADED),
        planned=stay,
        unwritten=stay is not None and stay.loaded_at is None,
        left_to_do=kit.follow_ups.filter(done_at=None),
        box=cautions.about_the_box(
            rated_to_celsius=kit.rated_to_celsius,
            adapter_isolated=kit.adapter_isolated if form.hangs_on_24_volt else "yes",
            has_battery=kit.has_battery,
            unit=unit,
        ),
        heat=cautions.in_the_heat(unit),
        at_the_unit=cautions.at_the_unit(stay.unit.location if stay else ""),
        at_the_door=cautions.AT_THE_DOOR,
        to_say=cautions.AT_THE_DOOR_SAY,
        before_a_panel=cautions.BEFORE_A_PANEL,
        panels_on=cautions.PANELS_ON_FIRST,
        budget=budget_of(kit, stay) if stay else None,
        drop=wire_drop(kit),
        last_time=last_time(stay) if stay else None,
        wanted=list(stay.call.wanted_positions.all()) if stay else [],
    )


def budget_of(kit: Kit, stay: Deployment, *, others: float | None = None) -> Budget | None:
    """The 24 V budget as far as nameplates are known: transformer and kit; None when either is not."""
    transformer, draw = stay.unit.transformer_volt_ampere, kit.power_draw_volt_ampere
    if not transformer or draw is None:
        return None
    loads = (Load(name="all else", volt_ampere=others),) if others is not None else ()
    return Budget(transformer_volt_ampere=float(transformer), kit_volt_ampere=float(draw), loads=loads)


def wire_drop(kit: Kit) -> dict[str, float] | None:
    """What a run of the usual 18 AWG loses at this kit's draw, in an attic's warmth."""
    if kit.power_draw_volt_ampere is None:
        return None
    ampere = current_ampere(float(kit.power_draw_volt_ampere))
    lost = wire_drop_volt(SHOWN_RUN_FT, ampere, ohm_per_1000_ft(18, HOT_WIRE_CELSIUS))
    return {"run_ft": SHOWN_RUN_FT, "volt": lost, "ampere": ampere}


def last_time(stay: Deployment) -> Installation | None:
    """How the last kit hung at this unit."""
    rows = Installation.objects.filter(deployment__unit=stay.unit).exclude(deployment=stay)
    return rows.order_by("-deployment__installed_at").first()


@kit_step
def remove(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    stay = out_stay(kit)
    unit = request.shop.temperature_unit  # type: ignore[attr-defined]
    form = coming_home.RemoveStep(
        data, kit=kit, user=user_of(request), stay=stay, book=LeadBook(kit, stay), unit=unit
    )

    def do(act: Act) -> Done:
        return stays.remove(
            act, kit=kit, carrier=form.cleaned_data["carrier"], pull=form.pull(), readings=form.readings()
        )

    return finish(
        request,
        kit,
        form,
        do,
        "sites/step_remove.html",
        in_the_way=blocked(request, kit, Stage.INSTALLED),
        cautions=(cautions.in_the_heat(unit), *cautions.BEFORE_IT_COMES_OUT),
        at_the_unit=cautions.at_the_unit(stay.unit.location if stay else ""),
        installation=getattr(stay, "installation", None),
        went_in=went_in(getattr(stay, "installation", None)),
    )


def went_in(installation: Installation | None) -> list[tuple[str, object]]:
    """What the one who takes it out has to undo."""
    if installation is None:
        return []
    return [
        ("Where the box hangs", installation.box_place),
        ("Hook-up", installation.hookup_terminals),
        ("Ports drilled", installation.ports_drilled),
        ("Wi-Fi", installation.get_wifi_display()),
        *([("Auxiliary contact", installation.aux_switches)] if installation.aux_switches else []),
    ]


@kit_step
def move_sensor(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    form = at_the_unit.MoveStep(data, kit=kit, user=user_of(request), book=LeadBook(kit, out_stay(kit)))

    def do(act: Act) -> Done:
        cleaned = form.cleaned_data
        return placements.move_sensor(
            act, kit=kit, sensor=cleaned["sensor"], position=form.place(), exchange=cleaned["exchange"]
        )

    way = blocked(request, kit, Stage.INSTALLED)
    return finish(
        request, kit, form, do, "sites/step_move.html", in_the_way=way, cautions=cautions.WITH_A_LEAD_IN_HAND
    )


@kit_step
def swap_lead(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    user = user_of(request)
    spares = spares_at_hand(kit, user)
    form = at_the_unit.SwapStep(data, kit=kit, user=user, book=LeadBook(kit, out_stay(kit)), spares=spares)

    def do(act: Act) -> Done:
        # A lead the shop does not have yet is added in the same breath: both happen or neither.
        with transaction.atomic():
            new = form.spare or add_new(act, form.unknown_rom, form.cleaned_data["new_tag"])
            return placements.swap_lead(
                act,
                kit=kit,
                old=form.cleaned_data["old"],
                new=new,
                why=form.cleaned_data["why"],
                cut_by=form.cleaned_data["cut_by"],
                old_goes_to=KeptAt(form.cleaned_data["old_goes_to"] or KeptAt.TRUCK),
            )

    return finish(
        request, kit, form, do, "sites/step_swap.html", spares=spares, cautions=cautions.WITH_A_LEAD_IN_HAND
    )


def add_new(act: Act, rom: str, tag: str) -> Sensor:
    """Add the sensor that a swap brings in; the id of its own request follows from that of the swap."""
    adding = replace(act, request_id=uuid5(act.request_id, rom), based_on=None)
    keeper = act.did_by or act.typed_by
    done = add_sensor(adding, rom=rom, fields={"tag": tag}, place=KeptAt.TRUCK, technician=keeper)
    sensor: Sensor = done.row(Sensor)
    return sensor


def spares_at_hand(kit: Kit, user: User) -> list[Sensor]:
    """Spare leads on the truck of whoever stands there, without those that a swap took out of a kit."""
    trucks = {user.pk, kit.custody.technician_id} - {None}
    return [row.sensor for row in leads_kept_on(trucks).filter(taken_out=False)]


# -- Home again ----------------------------------------------------------------------------------


@kit_step
def hand_back(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    form = coming_home.HandBackStep(data, kit=kit, user=user_of(request), book=LeadBook(kit, out_stay(kit)))

    def do(act: Act) -> Done:
        return stays.hand_back(act, kit=kit, count=form.count())

    way = blocked(request, kit, Stage.REMOVED)
    return finish(request, kit, form, do, "sites/step_hand_back.html", in_the_way=way)


@kit_step
def settle(request: HttpRequest, kit: Kit, data: QueryDict | None) -> HttpResponse:
    stay = out_stay(kit)
    form = coming_home.SettleStep(data, kit=kit, user=user_of(request), book=LeadBook(kit, stay))

    def do(act: Act) -> Done:
        cleaned = form.cleaned_data
        return stays.settle(
            act,
            kit=kit,
            pull=form.pull(unknown="not known"),
            count=form.count(),
            pulled_at=cleaned["pulled_at"],
            customer_asked_on=cleaned["customer_asked_on"],
        )

    way = blocked(request, kit, Stage.INSTALLED, Stage.REMOVED)
    installation = getattr(stay, "installation", None)
    return finish(request, kit, form, do, "sites/step_settle.html", in_the_way=way, installation=installation)
