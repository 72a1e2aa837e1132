"""Every page of the product in one table: who may look at it, who may send something to it, and what to open it with.

The tests of access, of headers and of pages in the browser all walk this table. A page that is not in it fails
`tests/test_access.py`.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from kits.models import (
    CalibrationCheck,
    Custody,
    Event,
    EventAbout,
    FollowUp,
    Kit,
    Method,
    Place,
    ReferenceThermometer,
    Sensor,
    ShelfCount,
    SparePlace,
    User,
)
from reports.models import Bill, CreditNote, ImportFile, LabelPrinter, LineQuestion
from sites.models import Agreement, Customer, Deployment, Party, ServiceCall, Site, Terms, Unit
from tests import make

EVERYBODY = frozenset({"technician", "office", "manager"})
OFFICE = frozenset({"office", "manager"})
MANAGER = frozenset({"manager"})
BENCH = frozenset({"technician", "manager"})
ANYBODY = EVERYBODY | {"signed out"}
NOBODY: frozenset[str] = frozenset()  # the page knows no such request: 405


@dataclass(frozen=True)
class Page:
    """One page: its URL name, who may get it, who may post to it, and the thing it is about (a key of `things()`)."""

    name: str
    get: frozenset[str]
    post: frozenset[str]
    thing: str = ""

    def path(self, found: dict[str, tuple[object, ...]]) -> str:
        return reverse(self.name, args=found[self.thing])


PAGES = (
    # The door and the shop's own pages.
    Page("sign_in", ANYBODY, ANYBODY),
    Page("sign_out", NOBODY, EVERYBODY),
    Page("first_run", ANYBODY, ANYBODY),
    Page("my_password", EVERYBODY, EVERYBODY),
    Page("my_calendar", EVERYBODY, EVERYBODY),
    Page("calendar_revoke", NOBODY, EVERYBODY),
    Page("calendar_feed", ANYBODY, NOBODY, "calendar"),
    Page("shop", MANAGER, MANAGER),
    Page("shop_logo", EVERYBODY, NOBODY),
    Page("search", EVERYBODY, NOBODY),
    Page("people", MANAGER, NOBODY),
    Page("add_person", MANAGER, MANAGER),
    Page("person", MANAGER, MANAGER, "person"),
    # Sensors and the bench.
    Page("sensors", EVERYBODY, NOBODY),
    Page("sensor_new", EVERYBODY, EVERYBODY),
    Page("sensor", EVERYBODY, NOBODY, "wired sensor"),
    Page("sensor_change", EVERYBODY, EVERYBODY, "wired sensor"),
    Page("sensor_keep", EVERYBODY, EVERYBODY, "spare sensor"),
    Page("sensor_offset", EVERYBODY, EVERYBODY, "wired sensor"),
    Page("sensor_wire_in", EVERYBODY, EVERYBODY, "spare sensor"),
    Page("sensor_wire_out", EVERYBODY, EVERYBODY, "wired sensor"),
    Page("bench", EVERYBODY, NOBODY),
    Page("follow_up_done", EVERYBODY, EVERYBODY, "follow-up"),
    Page("kit_condition", EVERYBODY, EVERYBODY, "kit on the bench"),
    Page("kit_wire_in", EVERYBODY, EVERYBODY, "kit on the bench"),
    # What sensors are compared with, and the checks.
    Page("references", EVERYBODY, NOBODY),
    Page("reference_new", BENCH, BENCH),
    Page("reference", EVERYBODY, NOBODY, "reference"),
    Page("reference_change", BENCH, BENCH, "reference"),
    Page("certificate_new", BENCH, BENCH, "reference"),
    Page("checks", EVERYBODY, NOBODY),
    Page("check_new", BENCH, BENCH),
    Page("check", EVERYBODY, NOBODY, "check closed"),
    Page("check_record", EVERYBODY, NOBODY, "check closed"),
    Page("check_doubts", EVERYBODY, NOBODY, "check closed"),
    Page("check_close", NOBODY, BENCH, "check open"),
    Page("check_shape", NOBODY, BENCH, "check open"),
    Page("check_drop", BENCH, BENCH, "check open"),
    Page("check_withdraw", MANAGER, MANAGER, "check closed"),
    Page("check_point_new", NOBODY, BENCH, "check open"),
    Page("check_point", BENCH, BENCH, "point of a check"),
    Page("check_paste", BENCH, BENCH, "point of a check"),
    Page("check_live", NOBODY, BENCH, "point of a check"),
    Page("sensor_due_now", BENCH, BENCH, "wired sensor"),
    # What a kit sends, and which of its leads is which.
    Page("kit_live", EVERYBODY, NOBODY, "kit with unnamed leads"),
    Page("kit_key_new", NOBODY, BENCH, "kit with unnamed leads"),
    Page("kit_key_revoke", NOBODY, BENCH, "kit with unnamed leads"),
    Page("kit_play", NOBODY, BENCH, "kit with unnamed leads"),
    Page("kit_play_stop", NOBODY, BENCH, "kit with unnamed leads"),
    Page("lead_warm", BENCH, BENCH, "kit with unnamed leads"),
    Page("lead_typed", BENCH, BENCH, "kit with unnamed leads"),
    Page("lead_undo", NOBODY, BENCH, "kit with unnamed leads"),
    Page("lead_plug", BENCH, BENCH, "kit with unnamed leads"),
    # Kits and where they are.
    Page("kits", EVERYBODY, NOBODY),
    Page("kit_new", EVERYBODY, EVERYBODY),
    Page("kits_built", EVERYBODY, NOBODY, "batch"),
    Page("weeks", EVERYBODY, NOBODY),
    Page("shelf_count", EVERYBODY, EVERYBODY),
    Page("shelf_count_result", EVERYBODY, NOBODY, "shelf count"),
    Page("kit", EVERYBODY, NOBODY, "kit installed"),
    Page("kit_change", EVERYBODY, EVERYBODY, "kit on the shelf"),
    Page("kit_parts", EVERYBODY, EVERYBODY, "kit on the shelf"),
    Page("kit_shelf", EVERYBODY, EVERYBODY, "kit on the bench"),
    Page("kit_bench", EVERYBODY, EVERYBODY, "kit on the shelf"),
    Page("kit_truck", EVERYBODY, EVERYBODY, "kit on the shelf"),
    Page("kit_missing", EVERYBODY, EVERYBODY, "kit on the shelf"),
    Page("kit_found", EVERYBODY, EVERYBODY, "kit missing"),
    Page("kit_retire", MANAGER, MANAGER, "kit on the bench"),
    Page("kit_bring_back", MANAGER, MANAGER, "kit retired"),
    Page("undo_take", OFFICE, OFFICE, "take"),
    Page("positions", OFFICE, MANAGER),
    # Places and agreements.
    Page("customers", OFFICE, NOBODY),
    Page("customer_new", OFFICE, OFFICE),
    Page("customer", OFFICE, NOBODY, "customer"),
    Page("customer_edit", OFFICE, OFFICE, "customer"),
    Page("sites", OFFICE, NOBODY),
    Page("site_new", OFFICE, OFFICE),
    Page("site", OFFICE, NOBODY, "site"),
    Page("site_edit", OFFICE, OFFICE, "site"),
    Page("house_sold", OFFICE, OFFICE, "site"),
    Page("party_new", OFFICE, OFFICE, "site"),
    Page("unit_new", OFFICE, OFFICE, "site"),
    Page("party_end", OFFICE, OFFICE, "party"),
    Page("unit", OFFICE, NOBODY, "unit"),
    Page("unit_edit", OFFICE, OFFICE, "unit"),
    Page("agreements", OFFICE, NOBODY),
    Page("agreement_new", MANAGER, MANAGER),
    Page("agreement", OFFICE, NOBODY, "agreement"),
    Page("price_list", OFFICE, NOBODY),
    Page("price_list_new", MANAGER, MANAGER),
    Page("terms_new", MANAGER, MANAGER, "agreement"),
    Page("agreement_edit", MANAGER, MANAGER, "agreement"),
    # Work.
    Page("day_sheet", EVERYBODY, NOBODY),
    Page("calls", OFFICE, NOBODY),
    Page("call_new", OFFICE, OFFICE),
    Page("call", OFFICE, NOBODY, "call open"),
    Page("call_edit", OFFICE, OFFICE, "call open"),
    Page("call_close", OFFICE, OFFICE, "call open"),
    Page("assign", OFFICE, OFFICE, "call open"),
    Page("extend", OFFICE, OFFICE, "stay installed"),
    Page("call_off", OFFICE, OFFICE, "stay planned"),
    Page("not_recovered", MANAGER, MANAGER, "stay installed"),
    Page("correct_time", MANAGER, MANAGER, "stay removed"),
    Page("customer_asked", OFFICE, OFFICE, "stay installed"),
    # In a technician's hand.
    Page("truck", EVERYBODY, NOBODY),
    Page("scan", EVERYBODY, NOBODY),
    Page("face", ANYBODY, NOBODY, "kit installed"),
    Page("take", EVERYBODY, EVERYBODY, "kit on a truck"),
    Page("load", EVERYBODY, EVERYBODY, "kit planned"),
    Page("shelve", EVERYBODY, EVERYBODY, "kit on a truck"),
    Page("found", EVERYBODY, EVERYBODY, "kit missing"),
    Page("install", EVERYBODY, EVERYBODY, "kit loaded"),
    Page("move_sensor", EVERYBODY, EVERYBODY, "kit installed"),
    Page("swap_lead", EVERYBODY, EVERYBODY, "kit installed"),
    Page("remove", EVERYBODY, EVERYBODY, "kit installed"),
    Page("hand_back", EVERYBODY, EVERYBODY, "kit removed"),
    Page("settle", EVERYBODY, EVERYBODY, "kit installed"),
    # Spreadsheets in and out.
    Page("import_start", OFFICE, OFFICE),
    Page("import_file", OFFICE, OFFICE, "spreadsheet"),
    Page("import_columns", NOBODY, OFFICE, "spreadsheet"),
    Page("import_as", NOBODY, OFFICE, "spreadsheet read again"),
    Page("import_refused", OFFICE, NOBODY, "spreadsheet"),
    Page("exports", OFFICE, NOBODY),
    Page("export_table", OFFICE, NOBODY, "table as a file"),
    # Bills.
    Page("bills", OFFICE, NOBODY),
    Page("bills_unpaid", OFFICE, NOBODY),
    Page("bills_unbilled", MANAGER, NOBODY),
    Page("bills_given", MANAGER, NOBODY),
    Page("bills_check", MANAGER, NOBODY),
    Page("bills_out", OFFICE, NOBODY),
    Page("bills_close", MANAGER, MANAGER),
    Page("bills_draw", OFFICE, OFFICE),
    Page("bill", OFFICE, NOBODY, "bill"),
    Page("bill_pdf", OFFICE, NOBODY, "bill"),
    Page("bill_days", OFFICE, NOBODY, "bill"),
    Page("bill_send", OFFICE, OFFICE, "bill"),
    Page("bill_sent", OFFICE, OFFICE, "bill"),
    Page("bill_paid", OFFICE, OFFICE, "bill"),
    Page("bill_credit", MANAGER, MANAGER, "bill"),
    Page("bill_ask", OFFICE, OFFICE, "line of a bill"),
    Page("bill_answer", OFFICE, OFFICE, "question"),
    Page("credit_note", OFFICE, NOBODY, "credit note"),
    Page("credit_note_pdf", OFFICE, NOBODY, "credit note"),
    Page("credit_note_send", OFFICE, OFFICE, "credit note"),
    Page("credit_note_sent", OFFICE, OFFICE, "credit note"),
    # Stays and papers.
    Page("labels", EVERYBODY, NOBODY),
    Page("label_test_sheet", EVERYBODY, NOBODY),
    Page("label_printers", OFFICE, NOBODY),
    Page("label_printer_new", OFFICE, OFFICE),
    Page("label_printer", OFFICE, OFFICE, "label printer"),
    Page("stay", EVERYBODY, NOBODY, "stay handed back"),
    Page("mark_days", OFFICE, OFFICE, "stay handed back"),
    Page("cut_leads", OFFICE, OFFICE, "stay handed back"),
    Page("offer_access", OFFICE, OFFICE, "stay handed back"),
    Page("no_access", MANAGER, MANAGER, "stay handed back"),
    Page("findings", EVERYBODY, EVERYBODY, "stay handed back"),
    Page("shop_copy", EVERYBODY, NOBODY, "stay handed back"),
    Page("quick_card", EVERYBODY, NOBODY),
    Page("customer_copy", EVERYBODY, NOBODY, "stay handed back"),
    Page("leave_behind_card", EVERYBODY, NOBODY, "stay installed"),
    Page("leaving_slip", EVERYBODY, NOBODY, "stay handed back"),
)

# Opened by a kit's key and by nobody's session; tests/kits/test_live_in.py has them.
BY_KEY = frozenset({"live_in"})
# What a technician opens with a thumb: 44 px targets.
FIELD_PAGES = frozenset(
    {
        *("truck", "scan", "face", "take", "load", "shelve", "found"),
        *("install", "move_sensor", "swap_lead", "remove", "hand_back", "settle"),
        *("check_new", "check_point", "lead_warm", "lead_typed", "lead_plug"),
    }
)
PAPERS = frozenset(
    {
        *("label_test_sheet", "quick_card", "check_record", "bill_pdf", "bill_days", "credit_note_pdf"),
        *("shop_copy", "customer_copy", "leave_behind_card", "leaving_slip"),
    }
)
FEEDS = frozenset({"calendar_feed"})
DOWNLOADS = frozenset({"import_refused", "export_table"})
# What opens the calendar that `fill` makes an address for.
CALENDAR_TOKEN = "the_manager_s_calendar_in_the_filled_shop_1"


def url_names() -> list[str]:
    """Every name in the URLconf; a pattern without one is told by its address."""

    def walk(patterns: list[URLPattern | URLResolver]) -> list[str]:
        found = []
        for pattern in patterns:
            if isinstance(pattern, URLResolver):
                found += walk(pattern.url_patterns)
            else:
                found.append(pattern.name or f"unnamed: {pattern.pattern}")
        return found

    return walk(get_resolver().url_patterns)


# -- What pages are about --------------------------------------------------------------------------


def things() -> dict[str, tuple[object, ...]]:
    """For each kind of thing the address parts of one in the database, at the stage its pages are made for."""
    running = Deployment.objects.filter(ended_at=None).select_related("kit").order_by("pk")
    stays = {
        "planned": running.filter(loaded_at=None, kit__custodies__in=open_custodies(Place.SHELF)).first(),
        "loaded": running.filter(loaded_at__isnull=False, installed_at=None).first(),
        "installed": running.filter(installed_at__isnull=False, removed_at=None).first(),
        "removed": running.filter(removed_at__isnull=False).first(),
        "handed back": Deployment.objects.filter(handed_back_at__isnull=False).order_by("pk").last(),
    }
    found: dict[str, tuple[object, ...]] = {"": (), "calendar": (CALENDAR_TOKEN,)}
    for stage, stay in stays.items():
        assert stay, f"nothing is {stage}"
        found[f"stay {stage}"], found[f"kit {stage}"] = (stay.pk,), (stay.kit.code,)
    any_kit = Kit.objects.order_by("pk").first()
    for words, place in (
        ("on the shelf", Place.SHELF),
        ("on the bench", Place.BENCH),
        ("on a truck", Place.TRUCK),
        ("missing", Place.MISSING),
        ("retired", Place.RETIRED),
    ):
        kit = Kit.objects.filter(custodies__in=open_custodies(place)).order_by("pk").first() or any_kit
        found[f"kit {words}"] = (kit.code,)
    spare = SparePlace.objects.filter(kept_until=None).select_related("sensor").first()
    wired = Sensor.objects.filter(wirings__wired_until=None, wirings__isnull=False).order_by("pk").first()
    taken = EventAbout.objects.filter(kind="kit").order_by("-pk").first()
    kit_taken = Kit.objects.get(pk=taken.subject_id)
    found |= {
        "spare sensor": (spare.sensor.rom,),
        "wired sensor": (wired.rom,),
        "take": (kit_taken.code, taken.event_id),
        "batch": (Event.objects.filter(what="kit built").first().pk,),
    }
    nameless = Kit.objects.filter(wirings__wired_until=None, wirings__sensor__tag="").order_by("pk").first()
    found["kit with unnamed leads"] = ((nameless or any_kit).code,)
    found["call open"] = (
        ServiceCall.objects.filter(closed_on=None).exclude(deployments__ended_at=None).first().number,
    )
    found["table as a file"] = ("units", "csv")
    for words, rows in (
        ("spreadsheet", ImportFile.objects.all()),
        ("person", User.objects.filter(role="technician")),
        ("follow-up", FollowUp.objects.filter(done_at=None)),
        ("shelf count", ShelfCount.objects.all()),
        ("customer", Customer.objects.filter(parties__until=None, parties__isnull=False)),
        ("site", Site.objects.filter(parties__until=None, parties__isnull=False)),
        ("party", Party.objects.filter(until=None)),
        ("unit", Unit.objects.filter(deployments__isnull=False)),
        ("agreement", Agreement.objects.all()),
        ("label printer", LabelPrinter.objects.all()),
        ("reference", ReferenceThermometer.objects.filter(certificates__isnull=False)),
        ("check open", CalibrationCheck.objects.filter(closed_at=None, dropped_at=None)),
        ("check closed", CalibrationCheck.objects.filter(closed_at__isnull=False, withdrawal=None)),
    ):
        row = rows.order_by("pk").first()
        if row is not None:
            found[words] = (row.pk,)
    found |= things_of_bills()
    if "spreadsheet" in found:
        found["spreadsheet read again"] = (*found["spreadsheet"], "units")
    if "check open" in found:
        found["point of a check"] = (*found["check open"], 1)
    return found


def things_of_bills() -> dict[str, tuple[object, ...]]:
    """A bill with its first line, a credit note, and a question nobody has answered."""
    bill = Bill.objects.filter(storedpapers__isnull=False).order_by("pk").first()
    note = CreditNote.objects.filter(storedpapers__isnull=False).order_by("pk").first()
    question = LineQuestion.objects.filter(answer=None).select_related("line__bill").order_by("pk").first()
    assert bill and note and question
    return {
        "bill": (bill.number,),
        "line of a bill": (bill.number, 1),
        "credit note": (note.number,),
        "question": (question.line.bill.number, question.pk),
    }


def open_custodies(place: Place):  # type: ignore[no-untyped-def]
    return Custody.objects.filter(Q(held_until=None), place=place)


def fill() -> None:
    """A small shop in which every page has something to show."""
    from sites.actions import custody
    from sites.actions.places import add_party
    from sites.models import PartyRole, Stage

    make.shop()
    boss = make.manager(name="Ruth")
    today = timezone.now().date()
    for stage in (Stage.PLANNED, Stage.LOADED, Stage.INSTALLED, Stage.REMOVED, Stage.HANDED_BACK):
        stay = make.stay(stage, call=make.call(told_us="It ices over at night."))
        who = make.customer(phone="+1 201 555 0199", email="someone@example.com")
        for part in (PartyRole.LIVES_THERE, PartyRole.PAYS):
            add_party(make.act(boss), site=stay.unit.site, customer=who, part=part, since=today)
        Agreement.objects.create(customer=who, since=today, terms="30 days are included.").sites.add(
            stay.unit.site
        )
    make.call(days_ahead=3)
    broken = make.kit()
    custody.send_to_bench(make.act(boss), kit=broken, needs_work=True, why="The adapter hums")
    custody.mark_missing(make.act(boss), kit=make.kit(), why="Looked on both trucks")
    custody.retire(make.act(boss), kit=make.kit(), why="The box is cracked")
    make.sensor()
    FollowUp.objects.create(
        kit=broken,
        what="Close the second port",
        opened_at=timezone.now(),
        opened_by=boss,
    )
    add_what_lacks(boss)
    held = make.kit()
    custody.take_onto_truck(make.act(make.technician()), kit=held, technician=make.technician())


def add_what_lacks(boss: User) -> None:
    """What pages are about and neither a filled shop nor the demo has by itself."""
    from kits.actions.kits import count_shelf
    from reports.actions.imports import keep_file
    from sites.actions.calendar import make_calendar_address
    from sites.calendar import token_sha256

    add_bills(boss)
    beside = make.reference(name="Bench thermometer")
    make.check([make.sensor(), make.sensor()], errors=(0.2, 0.9), by=boss)
    make.check(
        [make.sensor()],
        by=boss,
        reference=beside,
        method=Method.STIRRED,
        aimed_celsius=[5, 25],
        closed=False,
    )
    nameless = make.kit(sensors=0, place=Place.BENCH)
    for _ in range(3):
        make.sensor(kit=nameless, tag="")
    LabelPrinter.objects.get_or_create(name="Bench tape", defaults={"stock": "tape-24", "dpi": 180})
    count_shelf(make.act(boss), seen=Kit.objects.order_by("pk")[:2])
    make_calendar_address(make.act(boss), token_sha256=token_sha256(CALENDAR_TOKEN))
    keep_file(
        make.act(boss),
        kind="customers",
        name="people.csv",
        content=b"Name,Phone\nAna Diaz,201 555 0101\n,\nx,y\n",
    )


def add_bills(boss: User) -> None:
    """Two stays of last month, closed into bills: of one a day was too much, about the other somebody asks."""
    from reports.actions.billing import close_month
    from reports.actions.billing_after import ask_about_line
    from reports.actions.billing_credits import credit_difference
    from reports.actions.billing_terms import agree_terms
    from reports.billing_drawing import draw_some
    from sites.actions.corrections import correct_time
    from sites.models import Stage

    month = (timezone.localdate().replace(day=1) - timedelta(days=1)).replace(day=1)
    if not Terms.objects.filter(agreement=None).exists():
        prices = {"day_cents": "7.00", "monitoring_tax_code": "S1", "monitoring_tax_rate": "0.0725"}
        since = month - timedelta(days=700)
        agree_terms(make.act(boss), agreement=None, from_day=since, fields=prices)
    stays = [stay_of_last_month(name, month + timedelta(days=4)) for name in ("Pat Okafor", "Lee Vance")]
    payers = Customer.objects.filter(parties__site__in=[stay.unit.site for stay in stays])
    close_month(make.act(boss), month=month, payers=list(payers.distinct()))
    one, other = (Bill.objects.get(lines__deployment=stay, lines__kind="monitoring") for stay in stays)
    earlier = stays[0].removed_at - timedelta(days=1)
    why = "Photo of the kit in the van"
    correct_time(make.act(boss), stay=stays[0], stage=Stage.REMOVED, to=earlier, why=why)
    credit_difference(make.act(boss), bill=one, why="It came home a day earlier.")
    line = other.lines.get(kind="monitoring")
    answer_by = timezone.localdate() + timedelta(days=10)
    ask_about_line(make.act(boss), line=line, asked_by="Lee Vance", answer_by=answer_by, day=line.start)
    draw_some(boss, seconds=None)


def stay_of_last_month(payer: str, began: date) -> Deployment:
    """Five days of a stay at a house that `payer` pays for."""
    from sites.actions.planning import close_call
    from sites.models import PartyRole, Stage

    at = datetime.combine(began, time(16), UTC)
    booked = make.call()
    ServiceCall.objects.filter(pk=booked.pk).update(window_from=began, window_until=began)
    booked.refresh_from_db()
    who = make.customer(payer, email="bills@example.com")
    since = began - timedelta(days=200)
    Party.objects.create(site=booked.unit.site, customer=who, part=PartyRole.PAYS, since=since)
    stay = make.stay(Stage.INSTALLED, call=booked, kit=make.kit(at=at - timedelta(days=60)), began=at)
    for number, step in enumerate((Stage.REMOVED, Stage.HANDED_BACK)):
        make.go_on(stay, step, at=at + timedelta(days=5, hours=number))
    close_call(make.act(), call=booked, why="Watched, nothing found")
    return Deployment.objects.get(pk=stay.pk)


@contextmanager
def filled_shop(django_db_blocker: Any) -> Iterator[dict[str, tuple[object, ...]]]:
    """The filled shop for the tests of one module: each begins with it, and what each does to it is undone."""
    with django_db_blocker.unblock(), transaction.atomic():
        try:
            fill()
            yield things()
        finally:
            transaction.set_rollback(True)
