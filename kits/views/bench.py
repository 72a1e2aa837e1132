"""The bench: what lies on it, what must be mended, what is still to be done, which sensors nobody compared."""

from datetime import date
from typing import Any, NamedTuple

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions import kits as actions
from kits.actions.acting import Act, Done
from kits.forms.bench import ConditionForm, FollowUpDoneForm
from kits.listing import GONE, listed_sensors
from kits.models import Condition, Custody, FollowUp, Kit, Offset, Place, Wiring
from kits.ways import sent, way_back
from kits.web import EVERYBODY, for_roles, take_step
from kits.words import Tone


@for_roles(*EVERYBODY)
@require_GET
def bench(request: HttpRequest) -> HttpResponse:
    """What the bench has to do now."""
    now, today = timezone.now(), timezone.localdate()
    on_bench = [bench_line(kit) for kit in kits_on_bench()]
    elsewhere = (
        Kit.objects.filter(condition=Condition.NEEDS_WORK)
        .exclude(
            custodies__in=Custody.objects.filter(held_until=None, place__in=[Place.BENCH, Place.RETIRED])
        )
        .with_custody()
        .select_related("condition_by")
    )
    follow_ups = FollowUp.objects.filter(done_at=None).select_related("kit", "opened_by")
    sensors = list(listed_sensors(now).exclude(kept_place__in=GONE))
    context = {
        "on_bench": on_bench,
        "elsewhere": elsewhere,
        "follow_ups": sorted(follow_ups, key=lambda one: (one.due_on or date.max, one.opened_at)),
        "today": today,
        "uncompared": [one for one in sensors if one.offset_now is None],
        "spares": [one for one in sensors if not one.open_wirings],
        "needing_work": sum(line.kit.condition == Condition.NEEDS_WORK for line in on_bench),
    }
    return render(request, "kits/bench.html", context)


def kits_on_bench() -> QuerySet[Any]:
    """Kits on the bench, with how many sensors each has and how many of these were never compared."""
    open_wiring = Wiring.objects.filter(wired_until=None)
    compared = Exists(Offset.objects.filter(sensor=OuterRef("sensor")))
    without = open_wiring.filter(~compared)
    return (
        Kit.objects.filter(custodies__in=Custody.objects.filter(held_until=None, place=Place.BENCH))
        .with_custody()
        .annotate(
            sensor_count=Count("wirings", filter=Q(wirings__wired_until=None), distinct=True),
            uncompared_count=Count("wirings", filter=Q(wirings__in=without), distinct=True),
            left_count=Count("follow_ups", filter=Q(follow_ups__done_at=None), distinct=True),
        )
        .select_related("condition_by")
        .prefetch_related(
            Prefetch(
                "wirings",
                queryset=without.select_related("sensor").order_by("terminal"),
                to_attr="uncompared_wirings",
            )
        )
    )


class BenchLine(NamedTuple):
    """What the bench does next with a kit, in words, with the page where it is done ("" when nothing is left)."""

    kit: Kit
    sentence: str
    tone: Tone = "plain"
    label: str = ""
    url: str = ""


def bench_line(kit: Any) -> BenchLine:
    """The line of a kit of `kits_on_bench`."""
    if kit.condition == Condition.NEEDS_WORK:
        mended = reverse("kit_condition", args=[kit.code])
        return BenchLine(kit, f"Needs work: {kit.condition_why}", "attention", "It is mended", mended)
    if not kit.sensor_count:
        wire_in = reverse("kit_wire_in", args=[kit.code])
        return BenchLine(kit, "Carries no sensor yet.", label="Wire sensors in", url=wire_in)
    if kit.uncompared_count:
        first = kit.uncompared_wirings[0].sensor
        sentence = f"{kit.uncompared_count} of {kit.sensor_count} sensors without an offset."
        compare = reverse("sensor_offset", args=[first.rom])
        return BenchLine(kit, sentence, "attention", f"Compare sensor {first}", compare)
    if kit.left_count:
        return BenchLine(kit, f"Not ready: {kit.left_count} still to do about it.", "attention")
    return BenchLine(kit, "Ready: every sensor has an offset.", "good")


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_condition(request: HttpRequest, code: str) -> HttpResponse:
    """Say that a kit needs work and why, or that it is in service again."""
    kit = get_object_or_404(Kit, code=code.upper())
    other = Condition.IN_SERVICE if kit.condition == Condition.NEEDS_WORK else Condition.NEEDS_WORK
    form = ConditionForm(sent(request), subject=kit, initial={"condition": other, "why": kit.condition_why})

    def do(act: Act) -> Done:
        given = form.given()
        return actions.set_condition(act, kit=kit, condition=Condition(given["condition"]), why=given["why"])

    return take_step(
        request,
        form,
        do,
        template="kits/kit_condition.html",
        context={"kit": kit, "back": way_back(request)},
        then=lambda done: way_back(request) or kit.get_absolute_url(),
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def follow_up_done(request: HttpRequest, pk: int) -> HttpResponse:
    """Say how something that was still to be done about a kit ended."""
    follow_up = get_object_or_404(FollowUp.objects.select_related("kit", "opened_by", "done_by"), pk=pk)
    form = FollowUpDoneForm(sent(request))

    def do(act: Act) -> Done:
        return actions.finish_follow_up(act, follow_up=follow_up, outcome=form.given()["outcome"])

    return take_step(
        request,
        form,
        do,
        template="kits/follow_up_done.html",
        context={"follow_up": follow_up, "kit": follow_up.kit, "back": way_back(request)},
        then=lambda done: way_back(request) or follow_up.kit.get_absolute_url(),
    )
