"""Office: customers and what they are at which sites."""

from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.actions.records import add_record, change_record
from kits.lists import show_list
from kits.ways import sent
from kits.web import OFFICE, for_roles, take_step
from sites.days import day_of
from sites.finding import matching
from sites.forms.places import CustomerForm, FindForm
from sites.free import shop_zone
from sites.models import Customer, Deployment, Party, ServiceCall
from sites.parties import parts_by_site
from sites.story import events_about
from sites.tables_places import CustomerTable
from sites.work import calls_with_state


@for_roles(*OFFICE)
@require_safe
def customers(request: HttpRequest) -> HttpResponse:
    """Whom do we work for, and where are they?"""
    find = FindForm(request.GET)
    today = day_of(timezone.now(), shop_zone())
    now_there = Party.objects.on(today).select_related("site").order_by("site__street", "part")
    rows = Customer.objects.prefetch_related(Prefetch("parties", now_there, to_attr="current_parties"))
    if find.is_valid():
        rows = matching(rows, find.cleaned_data["q"])
    context = {"find": find, "count": Customer.objects.count()}
    return show_list(request, CustomerTable(rows), "sites/customers.html", context, file="customers")


@for_roles(*OFFICE)
def customer_new(request: HttpRequest) -> HttpResponse:
    """A new customer."""
    form = CustomerForm(sent(request))
    return take_step(
        request,
        form,
        lambda act: add_record(act, row=Customer(), fields=form.given()),
        template="sites/customer_form.html",
        context={},
        then=lambda done: done.row(Customer).get_absolute_url(),
    )


@for_roles(*OFFICE)
def customer_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a customer's contact."""
    person = get_object_or_404(Customer, pk=pk)
    # The form writes what was typed into its own copy, also when that is refused.
    form = CustomerForm(sent(request), instance=Customer.objects.get(pk=pk))
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=person, changes=form.given()),
        template="sites/customer_form.html",
        context={"customer": person},
        then=lambda done: person.get_absolute_url(),
    )


@for_roles(*OFFICE)
@require_safe
def customer(request: HttpRequest, pk: int) -> HttpResponse:
    """How do we reach this customer, what are they where, and what was done for them?"""
    person = get_object_or_404(Customer, pk=pk)
    today = day_of(timezone.now(), shop_zone())
    parties = list(person.parties.select_related("site").order_by("-since", "part"))
    now_there = [
        party for party in parties if party.since <= today and not (party.until and party.until <= today)
    ]
    before = [party for party in parties if party not in now_there]
    homes = {party.site_id for party in parties}
    calls = calls_with_state().filter(unit__site__in=homes).order_by("-window_from")
    stays = Deployment.objects.filter(unit__site__in=homes).with_places().order_by("-holds_from")
    context = {
        "customer": person,
        "now_there": parts_by_site(now_there),
        "before": before,
        "calls": during(parties, calls[:200]),
        "stays": stays_during(parties, stays[:200]),
        "agreements": person.agreements.prefetch_related("sites"),
        "events": events_about([person], at_most=20),
    }
    return render(request, "sites/customer.html", context)


def during(parties: list[Party], calls: QuerySet[ServiceCall]) -> list[ServiceCall]:
    """The calls booked for days on which the customer had a part at their site; the house's other years are not theirs."""
    return [
        call
        for call in calls
        if any(
            party.site_id == call.unit.site_id
            and party.since <= call.window_until
            and not (party.until and party.until <= call.window_from)
            for party in parties
        )
    ]


def stays_during(parties: list[Party], stays: QuerySet[Deployment]) -> list[Deployment]:
    """The stays that began while the customer had a part at their site."""
    found = []
    for stay in stays:
        zone = stay.unit.site.zone
        began = day_of(stay.installed_at or stay.holds_from, zone)
        ended = day_of(stay.ended_at, zone) if stay.ended_at else None
        if any(
            party.site_id == stay.unit.site_id
            and not (party.until and party.until <= began)
            and not (ended and ended < party.since)
            for party in parties
        ):
            found.append(stay)
    return found
