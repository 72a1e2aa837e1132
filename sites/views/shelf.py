"""Counting the shelf, and the shop's own positions."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions import kits as actions
from kits.actions.acting import Act, Done
from kits.actions.records import add_record
from kits.models import Kit, Place, ShelfCount, User
from kits.ways import sent, way
from kits.web import EVERYBODY, OFFICE, for_roles, take_step
from sites.forms.kits import PositionForm, ShelfCountForm
from sites.kit_list import listed_kits, stay_out
from sites.models import Position, Stage

COUNTS_SHOWN = 12


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def shelf_count(request: HttpRequest) -> HttpResponse:
    """What is on the shelf? Scan, type or tick; the answer is what the books say otherwise."""
    on_shelf = list(Kit.objects.filter(custodies__place=Place.SHELF, custodies__held_until=None))
    form = ShelfCountForm(sent(request), on_shelf=on_shelf)
    return take_step(
        request,
        form,
        lambda act: actions.count_shelf(act, seen=form.cleaned_data["seen"]),
        template="sites/shelf_count.html",
        context={
            "on_shelf": on_shelf,
            "counts": ShelfCount.objects.select_related("counted_by")[:COUNTS_SHOWN],
        },
        then=lambda done: reverse("shelf_count_result", args=[done.row(ShelfCount).pk]),
    )


@for_roles(*EVERYBODY)
@require_GET
def shelf_count_result(request: HttpRequest, pk: int) -> HttpResponse:
    """What one count found: should be here and is not; is here and should not be. With the way to put each right."""
    count = get_object_or_404(ShelfCount.objects.select_related("counted_by"), pk=pk)
    found = {kit.code: kit for kit in listed_kits().filter(code__in=[*count.wanting, *count.unexpected])}
    wanting = [wanting_line(found[code]) for code in count.wanting if code in found]
    is_manager = isinstance(request.user, User) and request.user.is_manager
    unexpected = [unexpected_line(found[code], is_manager) for code in count.unexpected if code in found]
    context = {
        "count": count,
        "wanting": wanting,
        "unexpected": unexpected,
        "open": sum(1 for line in [*wanting, *unexpected] if not line["is_settled"]),
    }
    return render(request, "sites/shelf_count_result.html", context)


def wanting_line(kit: Kit) -> dict[str, object]:
    """A kit that should have been on the shelf: settled once the books have it elsewhere."""
    ways = [
        ("It is missing", way("kit_missing", kit.code)),
        ("It is on a truck", way("kit_truck", kit.code)),
        ("It is on the bench", way("kit_bench", kit.code)),
    ]
    return {"kit": kit, "is_settled": kit.custody.place != Place.SHELF, "ways": ways}


def unexpected_line(kit: Kit, is_manager: bool) -> dict[str, object]:
    """A kit on the shelf that the books have elsewhere: settled once the books have it in the shop."""
    place, stay = kit.custody.place, stay_out(kit)
    if place == Place.MISSING:
        ways = [("Found again", way("kit_found", kit.code))]
    elif place == Place.RETIRED:
        ways = [("Bring it back", way("kit_bring_back", kit.code))] if is_manager else []
    elif stay is not None and stay.stage == Stage.REMOVED:
        ways = [("Count it in", way("hand_back", kit.code))]
    elif stay is not None and stay.stage == Stage.INSTALLED:
        ways = [("Say how it came here", way("settle", kit.code))]
    else:
        ways = [("Put it on the shelf", way("kit_shelf", kit.code))]
    return {"kit": kit, "stay": stay, "is_settled": place == Place.SHELF, "ways": ways}


@for_roles(*OFFICE)
@require_http_methods(["GET", "POST"])
def positions(request: HttpRequest) -> HttpResponse:
    """The places a sensor measures: five built in, the others the shop's own. A manager adds them."""
    if request.method == "POST" and not request.user.is_manager:  # type: ignore[union-attr]
        raise PermissionDenied
    form = PositionForm(sent(request))

    def do(act: Act) -> Done:
        return add_record(act, row=Position(), fields=form.given())

    return take_step(
        request,
        form,
        do,
        template="sites/positions.html",
        context={"positions": Position.objects.all()},
        then=lambda done: reverse("positions"),
    )
