"""Office: which kit for this call, and why that one and not the others?"""

from datetime import date, timedelta
from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from kits.models import Shop
from kits.ways import sent
from kits.web import OFFICE, for_roles, take_step
from sites.actions.planning import plan
from sites.days import day_of
from sites.forms.calls import PlanForm, StayDatesForm
from sites.free import Candidate, shop_zone
from sites.models import ServiceCall
from sites.narrowing import choice
from sites.views.stays import after_step


def usual_dates(call: ServiceCall, today: date) -> dict[str, date]:
    """A usual stay from the first day of the window on, today where that is past, and the way home after it."""
    shop = Shop.current()
    take_out_by = max(call.window_from, today) + timedelta(days=shop.usual_stay_days)
    return {"take_out_by": take_out_by, "back_in_shop_by": take_out_by + timedelta(days=shop.turnaround_days)}


@for_roles(*OFFICE)
def assign(request: HttpRequest, number: int) -> HttpResponse:
    """First the two days, then the kits that are free until then, ranked, and what speaks against the others."""
    rows = ServiceCall.objects.select_related("unit__site", "technician").prefetch_related("wanted_positions")
    call = get_object_or_404(rows, number=number)
    now = timezone.now()
    today = day_of(now, shop_zone())
    posted = sent(request)
    given = request.GET if posted is None else posted
    dates = StayDatesForm(
        given if "take_out_by" in given or "back_in_shop_by" in given else None,
        start=call.window_from,
        today=today,
        initial=usual_dates(call, today),
    )
    chosen = dates.initial if not dates.is_bound else dates.cleaned_data if dates.is_valid() else None
    form = PlanForm(posted)
    found = choice(call, **chosen, now=now) if chosen else None
    running = call.deployments.running().select_related("kit").first()
    context = {
        "call": call,
        "site": call.unit.site,
        "dates": dates,
        "chosen": chosen,
        "running": running,
        "found": found,
        "free": [with_request_id(row) for row in found.free] if found else [],
        "kept": [with_request_id(row) for row in found.kept] if found else [],
    }
    return take_step(
        request,
        form,
        lambda act: plan(act, call=call, **form.given()),
        template="sites/assign.html",
        context=context,
        then=lambda done: after_step(done),
    )


def with_request_id(candidate: Candidate) -> dict[str, object]:
    """A candidate with the request id of its own button."""
    return {"candidate": candidate, "kit": candidate.kit, "request_id": uuid4()}
