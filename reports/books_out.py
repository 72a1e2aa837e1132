"""Every table of the shop as a file, whole: which tables there are, their columns and their rows."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Prefetch, Q
from django.utils import timezone

from kits.exporting import FileColumn
from kits.file_columns import EVENT_COLUMNS, SENSOR_COLUMNS
from kits.listing import listed_sensors
from kits.models import Event
from sites.days import day_of
from sites.file_columns import (
    AGREEMENT_COLUMNS,
    CALL_COLUMNS,
    CUSTOMER_COLUMNS,
    KIT_COLUMNS,
    SITE_COLUMNS,
    STAY_COLUMNS,
    UNIT_COLUMNS,
)
from sites.free import shop_zone
from sites.kit_list import listed_kits
from sites.models import Agreement, Customer, Deployment, Party, Site, Unit
from sites.views.agreements import state_of
from sites.work import calls_with_state


@dataclass(frozen=True)
class Table:
    """One table that goes out: what it is called, its columns, where its rows come from."""

    key: str
    label: str
    about: str
    columns: Sequence[FileColumn]
    rows: Callable[[], Iterable[Any]]
    comes_back: bool = False


def customers() -> Iterable[Customer]:
    today = day_of(timezone.now(), shop_zone())
    now_there = Party.objects.on(today).select_related("site").order_by("site__street", "part")
    return Customer.objects.prefetch_related(Prefetch("parties", now_there, to_attr="current_parties"))


def sites() -> Iterable[Site]:
    today = day_of(timezone.now(), shop_zone())
    now_there = Party.objects.on(today).select_related("customer")
    here_now = Deployment.objects.in_place().select_related("kit")
    units_here = Unit.objects.prefetch_related(Prefetch("deployments", here_now, to_attr="stays_here"))
    was_installed = Q(units__deployments__installed_at__isnull=False)
    return Site.objects.annotate(
        unit_count=Count("units", distinct=True),
        stay_count=Count("units__deployments", filter=was_installed, distinct=True),
    ).prefetch_related(
        Prefetch("parties", now_there, to_attr="current_parties"), Prefetch("units", units_here)
    )


def agreements() -> Iterable[Agreement]:
    today = day_of(timezone.now(), shop_zone())
    for row in Agreement.objects.select_related("customer").prefetch_related("sites"):
        row.state = state_of(row, today)  # type: ignore[attr-defined]
        yield row


def units() -> Iterable[Unit]:
    return Unit.objects.select_related("site").order_by("site__street", "name", "pk")


def events() -> Iterable[Event]:
    return Event.objects.select_related("did_by", "typed_by").order_by("recorded_at", "pk")


ALL = (
    Table("customers", "Customers", "with phone, e-mail and notes", CUSTOMER_COLUMNS, customers, True),
    Table("sites", "Sites", "with who is who there", SITE_COLUMNS, sites, True),
    Table("units", "Units", "with the site each stands at", UNIT_COLUMNS, units, True),
    Table(
        "kits", "Kits", "with what they are made of, and where each is now", KIT_COLUMNS, listed_kits, True
    ),
    Table(
        "sensors",
        "Sensors",
        "with the kit and terminal of each, and the offset in force",
        SENSOR_COLUMNS,
        lambda: listed_sensors(timezone.now()),
        True,
    ),
    Table("calls", "Calls", "open and closed", CALL_COLUMNS, calls_with_state),
    Table("agreements", "Agreements", "with what was agreed", AGREEMENT_COLUMNS, agreements),
    Table(
        "stays",
        "Stays",
        "every stay of every kit, with its times",
        STAY_COLUMNS,
        lambda: Deployment.objects.with_places(),
    ),
    Table("events", "Events", "everything that was done, by whom and when", EVENT_COLUMNS, events),
)
TABLES = {table.key: table for table in ALL}
