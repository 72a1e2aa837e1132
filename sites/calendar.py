"""What a person has to do on which days, as entries of a calendar; and the secret that opens it. Reads only."""

import hashlib
import secrets
from collections.abc import Iterator
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Model, OuterRef, Q, QuerySet, Subquery
from django.urls import reverse

from kits.actions.acting import kind_of
from kits.models import Custody, Event, EventAbout, Place, Shop, User
from kits.templatetags.kitperch import spaced_code
from sites.addresses import absolute
from sites.days import start_of_day
from sites.icalendar_feed import Entry, feed, uid_of
from sites.models import CalendarAddress, Deployment, ServiceCall, Site, Unit
from sites.work import calls_needing_kit

TOKEN_BYTES = 32
# Books in which nothing ever happened have no entries to name.
NO_BOOKS = UUID(int=0)


# -- The secret ----------------------------------------------------------------------------------


def new_token() -> str:
    """256 random bits, as they stand in an address."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def token_sha256(token: str) -> str:
    """What is kept of a token. Drawn at random and long, it needs no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def owner_of(token: str) -> User | None:
    """Whose calendar `token` opens now; nobody's when it was revoked or its owner may not sign in any more."""
    live = CalendarAddress.objects.filter(
        token_sha256=token_sha256(token), revoked_at=None, user__is_active=True
    )
    found = live.select_related("user").first()
    return found.user if found else None


# -- What stands in the calendar -----------------------------------------------------------------


def calendar_of(user: User) -> bytes:
    """The person's calendar: technicians have their own work in it, the office has everybody's."""
    shop = Shop.current()
    name = f"{shop.name}: kits" if user.is_office else f"{shop.name}: {user.name}"
    return feed(entries_of(user, shop), name=name)


def entries_of(user: User, shop: Shop) -> list[Entry]:
    """What is still to be done, in a number of queries that does not grow with it."""
    first = Event.objects.order_by("pk").values_list("request_id", flat=True).first()
    write = Writer(user, shop, first or NO_BOOKS)
    return [
        *(entry for stay in stays_of(user) for entry in write.stay(stay)),
        *(write.call_without_kit(call) for call in calls_of(user)),
    ]


def last_change(model: type[Model], key: str) -> Subquery:
    """When an event last told of the row of `model` that `key` points to."""
    about = EventAbout.objects.filter(kind=kind_of(model), subject_id=OuterRef(key))
    return Subquery(about.order_by("-event_id").values("event__recorded_at")[:1])


def stays_of(user: User) -> QuerySet[Deployment]:
    """Running stays: everybody's, or those a technician is named for or has the kit of on the truck."""
    stays = (
        Deployment.objects.running()
        .with_places()
        .annotate(
            stay_changed=last_change(Deployment, "pk"),
            call_changed=last_change(ServiceCall, "call_id"),
            site_changed=last_change(Site, "unit__site_id"),
        )
        .order_by("pk")
    )
    if user.is_office:
        return stays
    aboard = Custody.objects.filter(held_until=None, place=Place.TRUCK, technician=user)
    named = Q(technician=user) | Q(technician=None, call__technician=user)
    return stays.filter(named | Q(kit__in=aboard.values("kit"), loaded_at__isnull=False))


def calls_of(user: User) -> QuerySet[ServiceCall]:
    """Calls that wait for a kit."""
    calls = (
        calls_needing_kit()
        .select_related("unit__site", "technician")
        .annotate(
            call_changed=last_change(ServiceCall, "pk"), site_changed=last_change(Site, "unit__site_id")
        )
        .order_by("pk")
    )
    return calls if user.is_office else calls.filter(technician=user)


class Writer:
    """Writes entries for one reader. None carries a customer's name or number: calendars are copied to other machines."""

    def __init__(self, reader: User, shop: Shop, books: UUID) -> None:
        self.reader, self.shop, self.books = reader, shop, books

    def stay(self, stay: Deployment) -> Iterator[Entry]:
        """The days on which a kit goes in, comes out and must be back, as far as they are still to come."""
        site, kit, call = stay.unit.site, stay.kit, stay.call
        who = stay.technician or call.technician
        common = {
            "details": self.details(f"{kit.name}, {spaced_code(kit.code)}", call, stay.unit, who),
            "url": absolute(stay.get_absolute_url(), self.shop),
            "changed_at": latest(stay, stay.planned_at),
            "revision": stay.version + call.version,
        }
        if not stay.installed_at:
            yield self.entry(
                f"stay {stay.pk} in",
                title=f"Put in: {kit.name}, {site}",
                first_day=call.window_from,
                last_day=call.window_until,
                **at_house(site),
                **common,
            )
        if not stay.removed_at:
            yield self.entry(
                f"stay {stay.pk} out",
                title=f"Take out by: {kit.name}, {site}",
                first_day=stay.take_out_by,
                last_day=stay.take_out_by,
                **at_house(site),
                **common,
            )
        yield self.entry(
            f"stay {stay.pk} back",
            title=f"Back in shop by: {kit.name}",
            first_day=stay.back_in_shop_by,
            last_day=stay.back_in_shop_by,
            **common,
        )

    def call_without_kit(self, call: ServiceCall) -> Entry:
        # A technician may not open the call's page.
        page = call.get_absolute_url() if self.reader.is_office else reverse("truck")
        return self.entry(
            f"call {call.pk}",
            title=f"Needs a kit: {call.unit.site}",
            first_day=call.window_from,
            last_day=call.window_until,
            details=self.details(
                call.needs_kit_why or "No kit was chosen yet", call, call.unit, call.technician
            ),
            url=absolute(page, self.shop),
            changed_at=latest(call, start_of_day(call.window_from, ZoneInfo(self.shop.time_zone))),
            revision=call.version,
            **at_house(call.unit.site),
        )

    def entry(self, thing: str, **fields: object) -> Entry:
        return Entry(uid=uid_of(self.books, thing), **fields)  # type: ignore[arg-type]

    def details(self, first: str, call: ServiceCall, unit: Unit, who: User | None) -> str:
        """The lines below the title: what, for which call and unit, and for the office whose work it is."""
        lines = [first, f"Call {call.number}, {unit.describe()}"]
        if self.reader.is_office:
            lines.append(f"Technician: {who.name if who else 'not named yet'}")
        return "\n".join(lines)


def at_house(site: Site) -> dict[str, object]:
    """Where the entry takes place."""
    known = site.latitude is not None and site.longitude is not None
    return {
        "place": ", ".join(line for line in site.address_lines() if line),
        "coordinates": (site.latitude, site.longitude) if known else None,
    }


def latest(row: Model, otherwise: datetime) -> datetime:
    """When an event last told of anything an entry is made of."""
    told = [row.__dict__.get(name) for name in ("stay_changed", "call_changed", "site_changed")]
    return max((moment for moment in told if moment), default=otherwise)
