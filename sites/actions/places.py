"""Customers' parts at sites, and a house that changed hands."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.custody import follow_up
from kits.actions.records import apply
from kits.promises import Refused
from sites.days import day_of, say_day
from sites.models import Customer, Deployment, Party, PartyRole, Site


@action
def add_party(act: Act, *, site: Site, customer: Customer, part: PartyRole, since: date) -> Done:
    """A customer lives at, owns, pays for a site, or may say yes there, from a day on."""
    site = hold(site)
    party = Party(site=site, customer=customer, part=part, since=since)
    party.full_clean()
    party.save()
    return record(
        act, "party added", f"Somebody {party.get_part_display()} at site {site.pk}", about=[site, customer]
    )


@action
def end_party(act: Act, *, party: Party, until: date) -> Done:
    """A customer's part at a site ends on a day (the first day on which it no longer holds)."""
    site = hold(party.site)
    party = Party.objects.get(pk=party.pk)
    if party.until:
        raise Refused(f"That ended on {say_day(party.until)} already.")
    if until < party.since:
        raise Refused({"until": [f"It began on {say_day(party.since)}. Give a later day."]})
    party.until = until
    party.save()
    return record(act, "party ended", f"A part at site {site.pk} ended", about=[site, party.customer])


@action
def add_site(
    act: Act,
    *,
    fields: Mapping[str, Any],
    customer: Customer | None = None,
    parts: tuple[PartyRole, ...] = (),
) -> Done:
    """A new site, with the customer's parts there from today on."""
    site = Site()
    apply(site, fields)
    since = day_of(act.happened_at, site.zone)
    about: list[Site | Customer] = [site]
    if customer is not None:
        for part in parts:
            Party.objects.create(site=site, customer=customer, part=part, since=since)
        about.append(customer)
    return record(act, "site added", f"Site {site.pk} added", about=about)


@action
def house_sold(act: Act, *, site: Site, on: date, new_owner: Customer | None = None) -> Done:
    """The house changed hands on a day: every part held there ends, the new owner's begin, our kits must come home."""
    site = hold(site, based_on=act.based_on, act=act)
    if on > day_of(act.recorded_at, site.zone):
        raise Refused({"on": ["That day is still to come. Write it down once the house has changed hands."]})
    leaving = list(site.parties.on(on).select_related("customer"))
    if new_owner is not None and any(party.customer == new_owner for party in leaving):
        raise Refused(
            {"new_owner": [f"{new_owner} has a part here already. Name the new owner, or leave it open."]}
        )
    site.parties.filter(pk__in=[party.pk for party in leaving]).update(until=on)
    if new_owner is not None:
        for part in (PartyRole.OWNS, PartyRole.LIVES_THERE, PartyRole.PAYS, PartyRole.MAY_SAY_YES):
            party = Party(site=site, customer=new_owner, part=part, since=on)
            party.full_clean()
            party.save()
    # Whoever opened the door before does not any more: nobody is to call them about this house.
    site.contact_name, site.contact_phone = (str(new_owner), new_owner.phone) if new_owner else ("", "")
    site.save()
    here = Deployment.objects.in_place().filter(unit__site=site).order_by("kit")
    kits = [hold(stay.kit) for stay in here.select_related("kit")]
    stays = list(here.filter(kit__in=kits).select_related("kit", "call"))
    for stay in stays:
        follow_up(
            act,
            stay.kit,
            f"House changed hands on {say_day(on)}: ask the new owner for access ({stay.call})",
            due_on=on,
        )
    about = [
        site,
        *{party.customer for party in leaving},
        *(row for stay in stays for row in (stay, stay.kit)),
    ]
    return record(act, "house sold", f"Site {site.pk} changed hands on {say_day(on)}", about=about)
