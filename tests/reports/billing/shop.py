"""A shop with stays to bill, built straight into the tables: what billing reads, without the steps that lead there."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from typing import Any
from zoneinfo import ZoneInfo

from kits import codes
from kits.actions.acting import Act
from kits.models import Kit, User
from reports.actions.billing import close_month
from reports.actions.billing_terms import agree_terms
from reports.billing.terms import Taxed
from reports.models import Bill, CreditNote
from sites.models import Agreement, Customer, Deployment, Party, PartyRole, Reason, ServiceCall, Site, Terms
from tests import make

numbers = count(900_000)
SINCE = date(2026, 1, 1)
TAXES = {
    f"{kind}_tax_{part}": value for kind in Taxed for part, value in (("code", "S1"), ("rate", "0.0725"))
}


def day(text: str | date) -> date:
    return date.fromisoformat(text) if isinstance(text, str) else text


def morning(text: str | date) -> datetime:
    """Nine o'clock UTC: four or five in the shop, on that very day."""
    return datetime.combine(day(text), time(9), UTC)


def act(who: User, at: str | date = "2026-12-01", **more: Any) -> Act:
    return make.act(who, at=morning(at), **more)


def house(payer: Customer | None = None, *, zone: str = "America/New_York", since: date = SINCE) -> Site:
    """A site with one unit; `payer` pays there."""
    site = make.site(time_zone=zone)
    make.unit(site=site)
    if payer is not None:
        Party.objects.create(site=site, customer=payer, part=PartyRole.PAYS, since=since)
    return site


def price_list(who: User, from_day: date = SINCE, **fields: Any) -> Terms:
    return agree_terms(act(who), agreement=None, from_day=from_day, fields=fields).row(Terms)


def agreement(who: User, customer: Customer, *sites: Site, since: date = SINCE, **fields: Any) -> Agreement:
    """An agreement that covers the sites, with terms from its first day on."""
    made = Agreement.objects.create(customer=customer, since=since, terms="As agreed.")
    made.sites.set(sites)
    if fields:
        agree_terms(act(who), agreement=made, from_day=since, fields=fields)
    return made


def stay(
    site: Site,
    installed: str | date,
    removed: str | date | None = None,
    *,
    take_out_by: date = date(2027, 6, 1),
    under: Agreement | None = None,
    priority: bool = False,
    hour: int = 12,
    **facts: Any,
) -> Deployment:
    """A stay with these days of the site's calendar, at noon of the site unless told."""

    def at(text: str | date) -> datetime:
        return datetime.combine(day(text), time(hour), ZoneInfo(site.time_zone)).astimezone(UTC)

    unit = site.units.get()
    call = ServiceCall.objects.create(
        number=next(numbers),
        unit=unit,
        reason=Reason.OTHER,
        window_from=day(installed),
        window_until=day(installed),
        agreement=under,
        priority=priority,
    )
    kit = Kit.objects.create(
        code=codes.draw_code(), name="Billed", built_on=date(2025, 1, 1), replacement_value_cents=38_500
    )
    gone = at(removed) if removed else None
    return Deployment.objects.create(
        kit=kit,
        unit=unit,
        call=call,
        holds_from=at(installed),
        holds_until=at(installed) + timedelta(days=900),
        take_out_by=take_out_by,
        back_in_shop_by=take_out_by,
        planned_at=at(installed),
        loaded_at=at(installed),
        installed_at=at(installed),
        removed_at=gone,
        handed_back_at=gone,
        ended_at=gone,
        **facts,
    )


def removed_on(which: Deployment, text: str) -> None:
    """The recorded removal is another one now."""
    at = datetime.combine(day(text), time(12), which.unit.site.zone).astimezone(UTC)
    Deployment.objects.filter(pk=which.pk).update(removed_at=at, handed_back_at=at, ended_at=at)


def close(who: User, month: str, *, on: str = "2026-12-01", **more: Any) -> list[Bill]:
    """Close a month ("2026-06")."""
    return close_month(act(who, on), month=day(f"{month}-01"), **more).rows(Bill)


def net_cents() -> int:
    """All bills less all credit notes, tax and all."""
    return sum(bill.total_cents for bill in Bill.objects.all()) - sum(
        note.total_cents for note in CreditNote.objects.all()
    )
