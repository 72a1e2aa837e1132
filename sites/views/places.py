"""Office: sites, who is who there, a house that changed hands, and the units there."""

from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.actions.acting import Act, Done
from kits.actions.records import add_record, change_record
from kits.lists import PageByKey, show_list
from kits.ways import sent
from kits.web import OFFICE, for_roles, take_step
from sites.actions.newcomers import with_newcomer
from sites.actions.places import add_party, add_site, end_party, house_sold
from sites.counting import count_of
from sites.days import day_of
from sites.finding import matching
from sites.forms.places import (
    EndPartyForm,
    FindForm,
    HouseSoldForm,
    NewSiteForm,
    PartyForm,
    SiteForm,
    UnitForm,
    WhoMixin,
    offered_zones,
)
from sites.free import shop_zone
from sites.models import Deployment, Party, PartyRole, Site, Unit
from sites.parties import parties_by_customer, parts_by_customer
from sites.story import events_about
from sites.tables_places import SiteTable
from sites.work import calls_with_state


def with_who(act: Act, form: WhoMixin, then) -> Done:  # type: ignore[no-untyped-def]
    """Do `then` with the customer chosen in the form, or with the one typed into it."""
    new = form.newcomer()
    if new is None:
        return then(form.cleaned_data["customer"])
    return with_newcomer(act, then, name=new.name, phone=new.phone, email=new.email)


@for_roles(*OFFICE)
@require_safe
def sites(request: HttpRequest) -> HttpResponse:
    """Where do we work, for whom, and which kits are there now?"""
    find = FindForm(request.GET)
    today = day_of(timezone.now(), shop_zone())
    here_now = Deployment.objects.in_place().select_related("kit")
    units_here = Unit.objects.prefetch_related(Prefetch("deployments", here_now, to_attr="stays_here"))
    # Counted row by row, so that only the sites of the page shown are counted.
    stays = Deployment.objects.filter(unit__site=OuterRef("pk"), installed_at__isnull=False)
    every_site = Site.objects.annotate(
        unit_count=count_of(Unit.objects.filter(site=OuterRef("pk")), "site"),
        stay_count=count_of(stays, "unit__site"),
    ).prefetch_related(
        Prefetch("parties", Party.objects.on(today).select_related("customer"), to_attr="current_parties"),
        Prefetch("units", units_here),
    )
    rows = matching(every_site, find.cleaned_data["q"]) if find.is_valid() else every_site
    pages = PageByKey(rows, lambda keys: every_site.filter(pk__in=keys))
    context = {"find": find, "count": Site.objects.count(), "kits_out": Deployment.objects.in_place().count()}
    return show_list(request, SiteTable(pages), "sites/sites.html", context, file="sites")


@for_roles(*OFFICE)
def site_new(request: HttpRequest) -> HttpResponse:
    """A new site, with the customer and his parts there."""
    form = NewSiteForm(sent(request), initial={"customer": request.GET.get("customer")})

    def do(act: Act) -> Done:
        parts = tuple(PartyRole(part) for part in form.cleaned_data["parts"])
        return with_who(
            act, form, lambda who: add_site(act, fields=form.site_fields(), customer=who, parts=parts)
        )

    def then(done: Done) -> str:
        made = done.row(Site)
        return (
            f"{reverse('unit_new', args=[made.pk])}?then=call"
            if for_a_call(request)
            else made.get_absolute_url()
        )

    context = {"zones": offered_zones(), "for_a_call": for_a_call(request)}
    return take_step(
        request,
        form,
        do,
        template="sites/site_form.html",
        context=context,
        then=then,
        say=lambda done: f"{done.row(Site)} added",
    )


def for_a_call(request: HttpRequest) -> bool:
    """Whether somebody came here while booking a call, and goes back there afterwards."""
    return request.GET.get("then") == "call"


@for_roles(*OFFICE)
def site_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a site's address, contact or notes."""
    here = get_object_or_404(Site, pk=pk)
    form = SiteForm(sent(request), instance=Site.objects.get(pk=pk))
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=here, changes=form.site_fields()),
        template="sites/site_form.html",
        context={"site": here, "zones": offered_zones()},
        then=lambda done: here.get_absolute_url(),
    )


@for_roles(*OFFICE)
@require_safe
def site(request: HttpRequest, pk: int) -> HttpResponse:
    """What has been watched here, by what, with what result? Who is who, and how does one get in?"""
    here = get_object_or_404(Site, pk=pk)
    today = day_of(timezone.now(), here.zone)
    parties = list(here.parties.select_related("customer"))
    now_there = [
        party for party in parties if party.since <= today and not (party.until and party.until <= today)
    ]
    stays = list(
        Deployment.objects.filter(unit__site=here)
        .with_places()
        .select_related("hand_back", "removal")
        .prefetch_related("placements__position")
    )
    calls = calls_with_state().filter(unit__site=here).order_by("-window_from")
    with timezone.override(here.zone):
        return render(
            request,
            "sites/site.html",
            {
                "site": here,
                "by_customer": parties_by_customer(now_there),
                "before": [party for party in parties if party not in now_there],
                "units": here.units.all(),
                "stays": [stay for stay in stays if stay.installed_at],
                "coming": [stay for stay in stays if not stay.installed_at and not stay.ended_at],
                "kits_here": [
                    stay for stay in stays if stay.installed_at and not stay.removed_at and not stay.ended_at
                ],
                "calls": calls[:50],
                "agreements": here.agreements.select_related("customer"),
                "events": events_about([here], at_most=20),
                "today": today,
            },
        )


@for_roles(*OFFICE)
def party_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Somebody lives there, owns, pays or may say yes, from a day on."""
    here = get_object_or_404(Site, pk=pk)
    form = PartyForm(sent(request), initial={"since": day_of(timezone.now(), here.zone)})

    def do(act: Act) -> Done:
        part, since = PartyRole(form.cleaned_data["part"]), form.cleaned_data["since"]
        return with_who(
            act, form, lambda who: add_party(act, site=here, customer=who, part=part, since=since)
        )

    return take_step(
        request,
        form,
        do,
        template="sites/party_form.html",
        context={"site": here},
        then=lambda done: here.get_absolute_url(),
    )


@for_roles(*OFFICE)
def party_end(request: HttpRequest, pk: int) -> HttpResponse:
    """A part at a site ends."""
    party = get_object_or_404(Party.objects.select_related("site", "customer"), pk=pk)
    today = day_of(timezone.now(), party.site.zone)
    form = EndPartyForm(sent(request), party=party, initial={"until": today})
    return take_step(
        request,
        form,
        lambda act: end_party(act, party=party, until=form.cleaned_data["until"]),
        template="sites/party_end.html",
        context={"party": party, "site": party.site},
        then=lambda done: party.site.get_absolute_url(),
    )


@for_roles(*OFFICE)
def sold(request: HttpRequest, pk: int) -> HttpResponse:
    """The house changed hands: every part ends, the new owner's begin, our kits must come home."""
    here = get_object_or_404(Site, pk=pk)
    today = day_of(timezone.now(), here.zone)
    form = HouseSoldForm(sent(request), subject=here, latest=today, initial={"on": today})

    def do(act: Act) -> Done:
        on = form.cleaned_data["on"]
        return with_who(act, form, lambda who: house_sold(act, site=here, on=on, new_owner=who))

    context = {
        "site": here,
        "people": parts_by_customer(list(here.parties.on(today).select_related("customer"))),
        "kits_here": Deployment.objects.in_place().filter(unit__site=here).with_places(),
    }
    return take_step(
        request,
        form,
        do,
        template="sites/house_sold.html",
        context=context,
        then=lambda done: here.get_absolute_url(),
    )


@for_roles(*OFFICE)
def unit_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Another unit at a site."""
    here = get_object_or_404(Site, pk=pk)
    form = UnitForm(sent(request), instance=Unit(site=here))

    def then(done: Done) -> str:
        made = done.row(Unit)
        return f"{reverse('call_new')}?unit={made.pk}" if for_a_call(request) else made.get_absolute_url()

    return take_step(
        request,
        form,
        lambda act: add_record(act, row=Unit(site=here), fields=form.given()),
        template="sites/unit_form.html",
        context={"site": here, "for_a_call": for_a_call(request)},
        then=then,
    )


@for_roles(*OFFICE)
def unit_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is written about a unit."""
    machine = get_object_or_404(Unit.objects.select_related("site"), pk=pk)
    form = UnitForm(sent(request), instance=Unit.objects.select_related("site").get(pk=pk))
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=machine, changes=form.given()),
        template="sites/unit_form.html",
        context={"site": machine.site, "unit": machine},
        then=lambda done: machine.get_absolute_url(),
    )


@for_roles(*OFFICE)
@require_safe
def unit(request: HttpRequest, pk: int) -> HttpResponse:
    """What is this machine, and what was watched at it?"""
    machine = get_object_or_404(Unit.objects.select_related("site"), pk=pk)
    stays = machine.deployments.with_places().select_related("hand_back", "removal")
    stays = stays.prefetch_related("placements__position")
    zone: ZoneInfo = machine.site.zone
    with timezone.override(zone):
        return render(
            request,
            "sites/unit.html",
            {
                "unit": machine,
                "site": machine.site,
                "stays": [stay for stay in stays if stay.installed_at],
                "coming": [stay for stay in stays if not stay.installed_at and not stay.ended_at],
                "calls": calls_with_state().filter(unit=machine).order_by("-window_from"),
                "events": events_about([machine], at_most=20),
            },
        )
