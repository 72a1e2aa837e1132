"""Every table of the shop as a file, whole: which tables there are, their columns and their rows."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Prefetch, Q
from django.utils import timezone

from kits.bench_lists import listed_checks, listed_references, stood
from kits.exporting import FileColumn
from kits.file_columns import EVENT_COLUMNS, SENSOR_COLUMNS
from kits.file_columns_bench import CHECK_COLUMNS, REFERENCE_COLUMNS
from kits.file_history import (
    FOLLOW_UP_COLUMNS,
    OFFSET_COLUMNS,
    PART_COLUMNS,
    PERSON_COLUMNS,
    SPARE_COLUMNS,
    WHEREABOUTS_COLUMNS,
    WIRING_COLUMNS,
)
from kits.listing import listed_sensors
from kits.models import Custody, Event, FollowUp, Offset, Part, SparePlace, User, Wiring
from reports.billing_lines_out import LINE_COLUMNS, PAYMENT_COLUMNS, lines_out, payments_out
from reports.billing_list import listed_bills
from reports.tables_billing import BILL_COLUMNS
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
from sites.file_history import PARTY_COLUMNS, PLACEMENT_COLUMNS, POSITION_COLUMNS
from sites.free import shop_zone
from sites.kit_list import listed_kits
from sites.models import Agreement, Customer, Deployment, Party, Placement, Position, Site, Unit
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
    for_managers: bool = False

    def is_for(self, user: User) -> bool:
        """Whoever may see the page of this table may take it along."""
        return not self.for_managers or user.is_manager


def today() -> date:
    return day_of(timezone.now(), shop_zone())


def customers() -> Iterable[Customer]:
    now_there = Party.objects.on(today()).select_related("site").order_by("site__street", "part")
    return Customer.objects.prefetch_related(Prefetch("parties", now_there, to_attr="current_parties"))


def sites() -> Iterable[Site]:
    now_there = Party.objects.on(today()).select_related("customer")
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
    for row in Agreement.objects.select_related("customer").prefetch_related("sites"):
        row.state = state_of(row, today())  # type: ignore[attr-defined]
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
    Table("bills", "Bills", "with what is paid, given back and open", BILL_COLUMNS, listed_bills),
    Table(
        "bill-lines",
        "Lines of bills and credit notes",
        "with days, price, tax and reason; what is given back stands below zero",
        LINE_COLUMNS,
        lines_out,
    ),
    Table(
        "payments", "Payments", "what came for which bill, and what went back", PAYMENT_COLUMNS, payments_out
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
    Table(
        "who-is-who",
        "Who is who",
        "who lived at, owned, paid for each site, from when to when",
        PARTY_COLUMNS,
        lambda: Party.objects.select_related("site", "customer").order_by(
            "site__street", "site", "since", "pk"
        ),
    ),
    Table(
        "placements",
        "What sat where",
        "each sensor of each stay with its position",
        PLACEMENT_COLUMNS,
        lambda: Placement.objects.select_related(
            "sensor", "position", "deployment__kit", "deployment__call", "deployment__unit__site"
        ).order_by("placed_from", "pk"),
    ),
    Table(
        "whereabouts",
        "Whereabouts",
        "who held each kit, from when to when",
        WHEREABOUTS_COLUMNS,
        lambda: Custody.objects.select_related("kit", "technician").order_by("kit__code", "held_from", "pk"),
    ),
    Table(
        "wirings",
        "Sensors in kits",
        "which terminal of which kit, from when to when",
        WIRING_COLUMNS,
        lambda: Wiring.objects.select_related("sensor", "kit").order_by("sensor__rom", "wired_from", "pk"),
    ),
    Table(
        "spares",
        "Spare sensors",
        "where each was kept, from when to when",
        SPARE_COLUMNS,
        lambda: SparePlace.objects.select_related("sensor", "technician").order_by(
            "sensor__rom", "kept_from", "pk"
        ),
    ),
    Table(
        "offsets",
        "Offsets",
        "every offset of every sensor, and how it was found",
        OFFSET_COLUMNS,
        lambda: Offset.objects.select_related("sensor", "recorded_by").order_by(
            "sensor__rom", "in_force_from"
        ),
    ),
    Table(
        "references",
        "References",
        "thermometers that sensors are compared with",
        REFERENCE_COLUMNS,
        lambda: stood(listed_references(today()), today()),
    ),
    Table("checks", "Checks", "every sitting in which sensors were compared", CHECK_COLUMNS, listed_checks),
    Table(
        "parts",
        "Parts of kits",
        "what each is made of, with its cost",
        PART_COLUMNS,
        lambda: Part.objects.select_related("kit").order_by("kit__code", "pk"),
    ),
    Table(
        "still-to-do",
        "Still to do",
        "about kits, open and done",
        FOLLOW_UP_COLUMNS,
        lambda: FollowUp.objects.select_related("kit", "opened_by", "done_by").order_by("opened_at", "pk"),
    ),
    Table("positions", "Positions", "built in and the shop's own", POSITION_COLUMNS, Position.objects.all),
    Table(
        "people",
        "People",
        "of the shop, with their roles",
        PERSON_COLUMNS,
        lambda: User.objects.order_by("name", "pk"),
        for_managers=True,
    ),
    Table("events", "Events", "everything that was done, by whom and when", EVENT_COLUMNS, events),
)
TABLES = {table.key: table for table in ALL}
