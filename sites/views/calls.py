"""Office: calls, from booking to closing."""

from django.db.models import Max, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.actions.acting import Done
from kits.actions.records import change_record
from kits.lists import PageByKey, show_list
from kits.ways import sent
from kits.web import OFFICE, for_roles, take_step
from sites.actions.planning import book_call, close_call
from sites.day_lines import contacts_at
from sites.days import day_of
from sites.finding import matching
from sites.forms.calls import CallFilter, CallForm, CloseCallForm
from sites.forms.places import FindForm
from sites.models import ServiceCall, Site, Unit
from sites.story import events_about
from sites.tables_work import CallTable
from sites.work import calls_needing_kit, calls_with_state

SITES_OFFERED = 12
LATEST_CALLS = 200  # among which a busy shop finds the sites to offer


def filtered(rows: QuerySet[ServiceCall], wanted: CallFilter) -> QuerySet[ServiceCall]:
    """The calls that the filter asks for; open ones when it does not say."""
    asked = wanted.cleaned_data if wanted.is_valid() else {}
    match asked.get("state") or "open":
        case "open":
            rows = rows.filter(closed_on=None)
        case "closed":
            rows = rows.filter(closed_on__isnull=False)
        case "needs_kit":
            rows = rows.filter(pk__in=calls_needing_kit().values("pk"))
    if asked.get("technician"):
        rows = rows.filter(technician=asked["technician"])
    if asked.get("reason"):
        rows = rows.filter(reason=asked["reason"])
    if asked.get("window_from"):
        rows = rows.filter(window_until__gte=asked["window_from"])
    if asked.get("window_until"):
        rows = rows.filter(window_from__lte=asked["window_until"])
    return matching(rows, asked.get("q", ""), "unit__site", "unit", "unit__site__parties__customer")


@for_roles(*OFFICE)
@require_safe
def calls(request: HttpRequest) -> HttpResponse:
    """Which calls are booked, and which of them still need a kit?"""
    wanted = CallFilter(request.GET)
    every_call = calls_with_state()
    pages = PageByKey(filtered(every_call, wanted), lambda keys: every_call.filter(pk__in=keys))
    table = CallTable(pages)
    context = {
        "filter": wanted,
        "open": ServiceCall.objects.filter(closed_on=None).count(),
        "without": calls_needing_kit().count(),
    }
    return show_list(request, table, "sites/calls.html", context, file="calls")


@for_roles(*OFFICE)
def call_new(request: HttpRequest) -> HttpResponse:
    """Book a call: first the unit, found or made, then the rest."""
    posted = sent(request)
    asked = (posted.get("unit") if posted else "") or request.GET.get("unit") or ""
    unit = Unit.objects.select_related("site").filter(pk=asked).first() if asked.isdigit() else None
    if unit is None and request.method == "GET":
        return choose_unit(request)
    form = CallForm(posted, unit=unit, initial={"unit": unit})
    return take_step(
        request,
        form,
        lambda act: book_call(act, fields=form.given()),
        template="sites/call_form.html",
        context={"unit": unit, "site": unit.site if unit else None},
        then=lambda done: done.row(ServiceCall).get_absolute_url(),
    )


def choose_unit(request: HttpRequest) -> HttpResponse:
    """For which unit? Sites found by a word, else those with the latest calls."""
    find = FindForm(request.GET)
    words = find.cleaned_data["q"].strip() if find.is_valid() else ""
    rows = Site.objects.prefetch_related("units").annotate(latest=Max("units__calls__number"))
    rows = matching(rows, words, "parties__customer")
    if request.GET.get("site", "").isdigit():
        rows = rows.filter(pk=request.GET["site"])
    elif not words:
        latest = ServiceCall.objects.order_by("-number").values_list("unit__site", flat=True)[:LATEST_CALLS]
        if len(sites := set(latest)) > SITES_OFFERED:  # else the shop is small: look at all of its sites
            rows = rows.filter(pk__in=sites)
    found = list(rows.order_by("-latest", "street")[: SITES_OFFERED + 1])
    context = {
        "find": find,
        "found": found[:SITES_OFFERED],
        "more": len(found) > SITES_OFFERED,
        "looked": bool(words),
    }
    return render(request, "sites/call_unit.html", context)


def get_call(number: int) -> ServiceCall:
    return get_object_or_404(calls_with_state(), number=number)


@for_roles(*OFFICE)
@require_safe
def call(request: HttpRequest, number: int) -> HttpResponse:
    """What is booked here, which kit goes, and where does it stand?"""
    booked = get_call(number)
    site = booked.unit.site
    stays = list(
        booked.deployments.with_places().select_related("hand_back").prefetch_related("placements__position")
    )
    context = {
        "call": booked,
        "site": site,
        "unit": booked.unit,
        "stays": stays,
        "running": next((stay for stay in stays if not stay.ended_at), None),
        "wanted": booked.wanted_positions.all(),
        "contacts": contacts_at(site, day_of(timezone.now(), site.zone)),
        "events": events_about([booked, *stays]),
    }
    return render(request, "sites/call.html", context)


@for_roles(*OFFICE)
def call_edit(request: HttpRequest, number: int) -> HttpResponse:
    """Change what is booked."""
    booked = get_call(number)
    form = CallForm(
        sent(request), instance=ServiceCall.objects.get(pk=booked.pk), unit=booked.unit, subject=booked
    )
    if booked.deployments.exists():
        form.fields.pop("unit")  # what was watched there stays there
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=booked, changes=form.given()),
        template="sites/call_form.html",
        context={"call": booked, "unit": booked.unit, "site": booked.unit.site},
        then=lambda done: booked.get_absolute_url(),
    )


@for_roles(*OFFICE)
def call_close(request: HttpRequest, number: int) -> HttpResponse:
    """The call is done, or will not be done."""
    booked = get_call(number)
    form = CloseCallForm(sent(request), subject=booked)

    def do(act) -> Done:  # type: ignore[no-untyped-def]
        return close_call(act, call=booked, why=form.cleaned_data["why"])

    return take_step(
        request,
        form,
        do,
        template="sites/call_close.html",
        context={"call": booked, "site": booked.unit.site},
        then=lambda done: booked.get_absolute_url(),
    )
