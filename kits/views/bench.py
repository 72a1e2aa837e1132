"""The bench: what lies on it, what must be mended, what is still to be done, which sensors are due for a check."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions import kits as actions
from kits.actions.acting import Act, Done
from kits.bench_due import bench_lines, to_check
from kits.bench_lists import listed_checks
from kits.forms.bench import ConditionForm, FollowUpDoneForm
from kits.listing import GONE, listed_sensors
from kits.models import Condition, Custody, FollowUp, Kit, Place
from kits.ways import sent, way_back
from kits.web import BENCH, EVERYBODY, for_roles, take_step, user_of


@for_roles(*EVERYBODY)
@require_GET
def bench(request: HttpRequest) -> HttpResponse:
    """What the bench has to do now."""
    now, today = timezone.now(), timezone.localdate()
    on_bench = bench_lines(now, today)
    due = to_check(now, today)
    elsewhere = (
        Kit.objects.filter(condition=Condition.NEEDS_WORK)
        .exclude(
            custodies__in=Custody.objects.filter(held_until=None, place__in=[Place.BENCH, Place.RETIRED])
        )
        .with_custody()
        .select_related("condition_by")
    )
    follow_ups = FollowUp.objects.filter(done_at=None).select_related("kit", "opened_by")
    context = {
        "on_bench": on_bench,
        "elsewhere": elsewhere,
        "follow_ups": sorted(follow_ups, key=lambda one: (one.due_on or date.max, one.opened_at)),
        "today": today,
        "due": due,
        "due_count": sum(len(one.sensors) for one in due if one.word != "due soon"),
        "open_checks": listed_checks().filter(closed_at=None, dropped_at=None),
        "may_check": user_of(request).role in BENCH,
        "spares": list(listed_sensors(now).filter(wired_terminal=None).exclude(kept_place__in=GONE)),
        "needing_work": sum(line.kit.condition == Condition.NEEDS_WORK for line in on_bench),
    }
    return render(request, "kits/bench.html", context)


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
