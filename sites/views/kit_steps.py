"""Kits from hand to hand, begun from the kit's page: each a short form, one POST, one action."""

from collections.abc import Callable
from typing import NamedTuple

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from kits.actions.acting import Act, Done
from kits.models import Event, Kit, Place
from kits.ways import sent, way, way_back
from kits.web import EVERYBODY, MANAGER, OFFICE, StepForm, for_roles, take_step
from kits.words import place_phrase
from sites.actions import custody
from sites.actions.common import out_stay
from sites.forms.kits import BenchForm, TruckForm, WhyForm
from sites.models import Deployment, Stage
from sites.views.kits import kit_by_code


class Obstacle(NamedTuple):
    """Why a step cannot be taken as the books stand, and the page that mends it."""

    sentence: str
    label: str
    url: str


def obstacle(kit: Kit, stay: Deployment | None) -> Obstacle | None:
    """What keeps a kit from simply being put somewhere, if anything does."""
    place = kit.custody.place
    if place == Place.MISSING:
        return Obstacle(
            "The books have it as missing. If you hold it, say so first.",
            "Found again",
            way("kit_found", kit.code),
        )
    if place == Place.RETIRED:
        return Obstacle(
            "It is retired. A manager can bring it back to the bench.",
            "Bring it back",
            way("kit_bring_back", kit.code),
        )
    if stay is not None and stay.stage == Stage.INSTALLED:
        return Obstacle(
            f"The books have it at {stay.unit.site}. If it is here, write down when it was pulled and by whom.",
            "It is here",
            way("settle", kit.code),
        )
    if stay is not None and stay.stage == Stage.REMOVED:
        return Obstacle(
            f"It came out of {stay.unit.site} and was not counted yet.",
            "Hand it back",
            way("hand_back", kit.code) or way("face", kit.code),
        )
    return None


def step(
    request: HttpRequest,
    kit: Kit,
    form: StepForm,
    do: Callable[[Act], Done],
    *,
    heading: str,
    button: str,
    lead: str = "",
    danger: str = "",
    blocked: Obstacle | None = None,
) -> HttpResponse:
    """One short form about a kit; afterwards its page again, or the page the step was begun from."""
    back = way_back(request) or kit.get_absolute_url()
    held = kit.custody
    context: dict[str, object] = {"place": place_phrase(held.place, held.word)}
    context |= {"kit": kit, "heading": heading, "button": button, "lead": lead, "danger": danger}
    return take_step(
        request,
        form,
        do,
        template="sites/kit_step.html",
        context={**context, "blocked": blocked, "back": back},
        then=lambda done: back,
    )


def loses(stay: Deployment | None) -> str:
    """What a move does to the call that the kit is loaded for."""
    if stay is None or stay.stage != Stage.LOADED:
        return ""
    return f"It is loaded for {stay.call}, which then needs another kit."


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_shelf(request: HttpRequest, code: str) -> HttpResponse:
    """The kit is on the shelf."""
    kit = kit_by_code(code)
    stay = out_stay(kit)
    return step(
        request,
        kit,
        StepForm(sent(request), subject=kit),
        lambda act: custody.put_on_shelf(act, kit=kit),
        heading=f"Put {kit.name} on the shelf",
        button="It is on the shelf",
        lead=loses(stay),
        blocked=obstacle(kit, stay),
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_bench(request: HttpRequest, code: str) -> HttpResponse:
    """The kit is on the bench, with or without work to be done."""
    kit = kit_by_code(code)
    stay = out_stay(kit)
    form = BenchForm(sent(request), subject=kit)
    return step(
        request,
        kit,
        form,
        lambda act: custody.send_to_bench(act, kit=kit, **form.given()),
        heading=f"Put {kit.name} on the bench",
        button="It is on the bench",
        lead=loses(stay),
        blocked=obstacle(kit, stay),
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_truck(request: HttpRequest, code: str) -> HttpResponse:
    """Onto a truck: a technician's own, or the one the office names."""
    kit = kit_by_code(code)
    stay = out_stay(kit)
    form = TruckForm(sent(request), subject=kit)
    if not request.user.is_office:  # type: ignore[union-attr]
        form.fields.pop("technician")

    def do(act: Act) -> Done:
        technician = form.given().get("technician")
        return custody.take_onto_truck(act, kit=kit, technician=technician or act.typed_by)

    own = "technician" not in form.fields
    return step(
        request,
        kit,
        form,
        do,
        heading=f"Take {kit.name} onto {'my' if own else 'a'} truck",
        button="Take it",
        lead=loses(stay),
        blocked=obstacle(kit, stay),
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_missing(request: HttpRequest, code: str) -> HttpResponse:
    """Nobody knows where the kit is."""
    kit = kit_by_code(code)
    stay = out_stay(kit)
    form = WhyForm(
        sent(request),
        subject=kit,
        label="Where it was looked for",
        help_text="In a few words. Nothing about customers here.",
    )
    blocked = None
    if stay is not None and stay.stage != Stage.LOADED:
        blocked = Obstacle(
            f"It is out at {stay.unit.site} for {stay.call}. A manager ends that stay as not recovered.",
            "See the stay",
            way("stay", stay.pk),
        )
    return step(
        request,
        kit,
        form,
        lambda act: custody.mark_missing(act, kit=kit, why=form.given()["why"]),
        heading=f"{kit.name} is missing",
        button="Nobody knows where it is",
        lead=loses(stay) or "Calls that it is promised to will need another kit.",
        blocked=blocked,
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_found(request: HttpRequest, code: str) -> HttpResponse:
    """A missing kit turned up."""
    kit = kit_by_code(code)
    return step(
        request,
        kit,
        StepForm(sent(request), subject=kit),
        lambda act: custody.found_again(act, kit=kit),
        heading=f"{kit.name} is found again",
        button="It is on the bench",
        lead="It goes to the bench to be looked over, not straight to the shelf.",
    )


@for_roles(*MANAGER)
@require_http_methods(["GET", "POST"])
def kit_retire(request: HttpRequest, code: str) -> HttpResponse:
    """A manager takes a kit out of use for good."""
    kit = kit_by_code(code)
    form = WhyForm(sent(request), subject=kit)
    return step(
        request,
        kit,
        form,
        lambda act: custody.retire(act, kit=kit, why=form.given()["why"]),
        heading=f"Retire {kit.name}",
        button="Retire it",
        lead="It leaves the lists and is offered for no call. Its history stays.",
        danger=f"Retire {kit}?",
    )


@for_roles(*MANAGER)
@require_http_methods(["GET", "POST"])
def kit_bring_back(request: HttpRequest, code: str) -> HttpResponse:
    """A manager takes a retired kit into use again."""
    kit = kit_by_code(code)
    form = WhyForm(sent(request), subject=kit)
    return step(
        request,
        kit,
        form,
        lambda act: custody.bring_back(act, kit=kit, why=form.given()["why"]),
        heading=f"Bring {kit.name} back into use",
        button="It is on the bench",
        lead="It goes to the bench first.",
    )


@for_roles(*OFFICE)
@require_http_methods(["GET", "POST"])
def undo_take(request: HttpRequest, code: str, event: int) -> HttpResponse:
    """The office sends a kit back to the truck it was taken from."""
    kit = kit_by_code(code)
    taken = get_object_or_404(Event, pk=event, abouts__kind="kit", abouts__subject_id=kit.pk)
    return step(
        request,
        kit,
        StepForm(sent(request), subject=kit),
        lambda act: custody.undo_take(act, event=taken),
        heading=f"Send {kit.name} back to the truck it came from?",
        button="Send it back",
        lead=f"{taken.summary}. The call it was loaded for gets it again, unless that has another kit by now.",
    )
