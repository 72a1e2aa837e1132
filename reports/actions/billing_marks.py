"""What is marked about a stay because it changes what is charged: days without readings, waived days, cut leads, access."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from kits.actions.acting import Act, Done, action, hold, record
from kits.promises import Refused
from reports.actions.billing import check_manager
from reports.billing_books import day_in
from reports.models import AccessOffer, Cause, CutLeads, DayMark, MarkKind, NoAccess, SentBy
from sites.days import day_of, say_day
from sites.models import Deployment

OFFERS_NEEDED = 2


def check_day_of_stay(act: Act, stay: Deployment, day: date) -> None:
    """The day must lie in the stay, and not be still to come."""
    zone = stay.unit.site.zone
    if stay.installed_at is None or day < day_in(stay.installed_at, zone):
        raise Refused({"day": [f"The kit was not in the house yet on {day:%d %b %Y}."]})
    end = stay.removed_at or stay.ended_at
    if end is not None and day > day_in(end, zone):
        raise Refused({"day": [f"The kit was out of the house before {day:%d %b %Y}."]})
    if day > day_in(act.recorded_at, zone):
        raise Refused({"day": [f"{day:%d %b %Y} is still to come."]})


def add_mark(
    act: Act,
    stay: Deployment,
    day: date,
    kind: str,
    *,
    why: str,
    cause: str = "",
    hours: Decimal | None = None,
) -> DayMark:
    """One more mark of a day; the last one holds."""
    check_day_of_stay(act, stay, day)
    if not why.strip():
        raise Refused({"why": ["Say why the day is marked."]})
    if kind == MarkKind.NO_READINGS:
        if hours is None or not 0 <= hours <= 24:
            raise Refused({"hours": ["Give the hours of readings, 0 to 24."]})
        if cause not in Cause.values:
            raise Refused({"cause": ["Choose why readings are missing."]})
    return DayMark.objects.create(
        deployment=stay,
        day=day,
        kind=kind,
        cause=cause if kind == MarkKind.NO_READINGS else "",
        hours=hours if kind == MarkKind.NO_READINGS else None,
        why=why.strip()[:200],
        marked_at=act.recorded_at,
        marked_by=act.typed_by,
    )


@action
def mark_days(
    act: Act,
    *,
    stay: Deployment,
    days: Iterable[date],
    kind: str,
    why: str,
    cause: str = "",
    hours: Decimal | None = None,
) -> Done:
    """Days of a stay are marked: readings are missing and why, or waived (a manager), or they count after all."""
    if not act.typed_by.is_office:
        raise Refused("Days are marked by the office.", code="office_only")
    if kind == MarkKind.WAIVED:
        check_manager(act)
    stay = hold(stay, based_on=act.based_on, act=act)
    marked = sorted(set(days))
    if not marked:
        raise Refused({"days": ["Give the days."]})
    for day in marked:
        add_mark(act, stay, day, kind, why=why, cause=cause, hours=hours)
    words = {
        MarkKind.NO_READINGS: f"marked as lacking readings ({Cause(cause).label.lower()})" if cause else "",
        MarkKind.WAIVED: "waived",
        MarkKind.COUNTS: "marked as counting after all",
    }[MarkKind(kind)]
    count = say_day(marked[0]) if len(marked) == 1 else f"{len(marked)} days from {say_day(marked[0])}"
    details = {"days": marked, "hours": hours, "cause": cause}
    return record(act, "days marked", f"{count} of {stay} {words}", about=[stay], details=details)


@action
def note_cut_leads(act: Act, *, stay: Deployment, leads: int, why: str, seen_on: date | None = None) -> Done:
    """Leads of the kit came back cut by somebody who is not ours; the last number holds."""
    stay = hold(stay, based_on=act.based_on, act=act)
    zone = stay.unit.site.zone
    seen_on = seen_on or day_of(act.happened_at, zone)
    if not why.strip():
        raise Refused({"why": ["Say who cut them or how it was seen."]})
    if not 0 <= leads <= 5:
        raise Refused({"leads": ["A kit has at most five leads."]})
    if seen_on > day_in(act.recorded_at, zone):
        raise Refused({"seen_on": ["That day is still to come."]})
    CutLeads.objects.create(
        deployment=stay,
        leads=leads,
        seen_on=seen_on,
        why=why.strip()[:200],
        recorded_at=act.recorded_at,
        recorded_by=act.typed_by,
    )
    count = "1 lead" if leads == 1 else f"{leads} leads"
    return record(act, "cut leads", f"{count} of {stay} cut", about=[stay])


@action
def offer_access(act: Act, *, stay: Deployment, offered_on: date, for_day: date, how: str) -> Done:
    """The shop offered in writing to come and take the kit out on a day."""
    if not act.typed_by.is_office:
        raise Refused("Offers are written by the office.", code="office_only")
    stay = hold(stay, based_on=act.based_on, act=act)
    if how not in SentBy.values:
        raise Refused({"how": ["Choose how it was offered in writing."]})
    if offered_on > day_of(act.recorded_at, stay.unit.site.zone):
        raise Refused({"offered_on": ["That day is still to come."]})
    if for_day < offered_on:
        raise Refused({"for_day": ["The day that was offered comes after the offer."]})
    AccessOffer.objects.create(
        deployment=stay,
        offered_on=offered_on,
        for_day=for_day,
        how=how,
        recorded_at=act.recorded_at,
        recorded_by=act.typed_by,
    )
    return record(act, "access offered", f"Access to {stay} offered for {say_day(for_day)}", about=[stay])


@action
def charge_no_access(act: Act, *, stay: Deployment, why: str) -> Done:
    """A manager says yes to charging that nobody let us in; two written offers of different days must stand before."""
    check_manager(act)
    stay = hold(stay, based_on=act.based_on, act=act)
    if not why.strip():
        raise Refused({"why": ["Say why the charge is right."]})
    offers = list(stay.access_offers.order_by("offered_on"))
    if len(offers) < OFFERS_NEEDED:
        raise Refused(
            f"Two written offers of access come before this charge; {len(offers)} is written down.",
            code="offers",
        )
    today = day_of(act.happened_at, stay.unit.site.zone)
    if offers[1].for_day > today:
        raise Refused(
            f"The second offer was for {say_day(offers[1].for_day, today)}. Wait for that day.", code="offers"
        )
    NoAccess.objects.create(
        deployment=stay,
        first_offer=offers[0],
        second_offer=offers[1],
        charged_on=today,
        why=why.strip()[:200],
        approved_by=act.typed_by,
    )
    return record(act, "no access charged", f"No access charged for {stay}", about=[stay], why=why)
