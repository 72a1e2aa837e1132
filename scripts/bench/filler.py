"""A large shop made fast: kits with years of stays, written past the models and their triggers, then held against both.

    DATABASE_URL or KITPERCH_DATABASE names an empty, migrated database:
    python -m scripts.bench.filler --kits 10000 --stays 50

Every kit has the same number of ended stays in a row, and then one running stay or none. Stays of many kits are written
turn by turn, as a shop would have written them, so that the rows of one kit do not lie side by side.
Left out: receipts, photos, and events other than those of the running stays.
"""

import argparse
import sqlite3
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any

STAY_DAYS, TURN_DAYS = 14, 28  # a kit is out for two weeks, then waits as long on the shelf
SENSORS_A_KIT = 4
TECHNICIANS = 40
ZONE = "America/New_York"
BATCH = 20_000

# What a kit does now, by its number modulo ten. The day it is due falls on a day about today.
NOW = ("installed",) * 4 + ("loaded",) + ("removed",) + ("planned",) + ("shelf",) * 3

FIRST = [
    "Ada",
    "Ben",
    "Cora",
    "Dan",
    "Eve",
    "Finn",
    "Gus",
    "Hana",
    "Ivo",
    "Jo",
    "Kim",
    "Lea",
    "Max",
    "Nia",
    "Olu",
    "Pia",
    "Raj",
    "Sam",
    "Tess",
    "Uma",
    "Vic",
    "Wen",
    "Yara",
    "Zed",
]
LAST = [
    "Alder",
    "Birch",
    "Cedar",
    "Dogwood",
    "Elder",
    "Fir",
    "Gum",
    "Hazel",
    "Ivy",
    "Juniper",
    "Kapok",
    "Larch",
    "Maple",
    "Nutmeg",
    "Oak",
    "Pine",
    "Rowan",
    "Spruce",
]
STREETS = [
    "Juniper",
    "Quarry",
    "Mill",
    "Orchard",
    "Ridge",
    "Willow",
    "Harbor",
    "Prairie",
    "Canyon",
    "Lantern",
    "Meadow",
    "Foundry",
]
CITIES = ["Faketown", "Samplebury", "Mock", "Hill", "Testford", "Nowhere", "Springs", "Placeholder"]


@dataclass(frozen=True)
class Size:
    """How much of everything."""

    kits: int
    stays: int  # ended ones a kit

    @property
    def sites(self) -> int:
        return max(self.kits * 6 // 10, 3)


def fill(size: Size, *, now: datetime, seed: int = 7) -> int:
    """Fill the empty database with a shop of this size. Returns the number of stays; raises when any rule is broken."""
    from django.db import connection

    with triggers_lifted(connection), connection.cursor() as cursor:
        writer = Writer(cursor, connection.vendor)
        shop_and_people(writer, now)
        places(writer, size, Random(seed))
        kits(writer, size, now, Random(seed + 1))
        stays = stays_and_calls(writer, size, now, Random(seed + 2))
        what_follows_from_stays(writer)
        keep_counting(writer)
        cursor.execute("ANALYZE")
    check(connection)
    return stays


# -- Writing -------------------------------------------------------------------------------------


@contextmanager
def triggers_lifted(connection: Any) -> Iterator[None]:
    """Rules kept by triggers, exclusions and indexes rest meanwhile, and are made again as the models have them."""
    from django.apps import apps

    from kits.promises import NoOverlap
    from kits.promises.guards import drop_guards

    drop_guards(connection)
    if connection.vendor == "postgresql":
        rules = [
            (model, rule)
            for model in apps.get_models()
            for rule in model._meta.constraints
            if isinstance(rule, NoOverlap)
        ]
        with connection.schema_editor() as editor:
            for model, rule in rules:
                editor.remove_constraint(model, rule)
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = replica")
        yield
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = origin")
            cursor.execute("SET maintenance_work_mem = '256MB'")
        with connection.schema_editor() as editor:  # adding an exclusion asks every row
            for model, rule in rules:
                editor.add_constraint(model, rule)
        return

    from django.db import transaction

    with connection.cursor() as cursor:
        for pragma in (
            "foreign_keys = OFF",
            "synchronous = OFF",
            "cache_size = -200000",
            "temp_store = MEMORY",
        ):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.execute(
            "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL AND (type = 'trigger' OR type = 'index' "
            "AND sql NOT LIKE 'CREATE UNIQUE%')"
        )
        kept = cursor.fetchall()
        with transaction.atomic():
            for kind, name, _ in kept:
                cursor.execute(f'DROP {kind} "{name}"')
            yield
            for _, _, sql in kept:
                cursor.execute(sql)
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA synchronous = FULL")


class Writer:
    """Rows into tables, by executemany on SQLite and COPY on PostgreSQL."""

    def __init__(self, cursor: Any, vendor: str) -> None:
        self.cursor, self.vendor = cursor, vendor

    def rows(self, table: str, columns: str, rows: Iterable[Sequence[Any]]) -> None:
        """Write `rows` of `columns` (comma-separated)."""
        names = [name.strip() for name in columns.split(",")]
        quoted = ", ".join(f'"{name}"' for name in names)
        raw = self.cursor.cursor  # below Django's wrapper, which would look at every row again
        if self.vendor == "postgresql":
            with raw.copy(f"COPY {table} ({quoted}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            return
        marks = ", ".join("?" for _ in names)
        # The plain DB-API cursor: Django's own turns %s into ? once a call.
        sqlite3.Cursor.executemany(
            raw, f"INSERT INTO {table} ({quoted}) VALUES ({marks})", (tuple(map(plain, row)) for row in rows)
        )

    def sql(self, statement: str) -> None:
        self.cursor.execute(statement)


def plain(value: Any) -> Any:
    """A value as Django writes it on SQLite."""
    if isinstance(value, datetime):
        return value.isoformat(" ")[:19]  # no microseconds are ever written here
    return value.isoformat() if isinstance(value, date) else value


def keep_counting(writer: Writer) -> None:
    """PostgreSQL's sequences go on where the given ids end."""
    if writer.vendor != "postgresql":
        return
    from django.apps import apps
    from django.core.management.color import no_style
    from django.db import connection

    for statement in connection.ops.sequence_reset_sql(no_style(), list(apps.get_models())):
        writer.sql(statement)


# -- The shop ------------------------------------------------------------------------------------


def shop_and_people(writer: Writer, now: datetime) -> None:
    from kits.models import Shop, User

    Shop.objects.create(pk=1, name="Largeville Heating and Air", phone="+1 201 555 0100", time_zone=ZONE)
    people = [(1, "Office Alder", "office"), (2, "Manager Birch", "manager")]
    people += [
        (number, f"{FIRST[number % len(FIRST)]} {LAST[number % len(LAST)]} {number}", "technician")
        for number in range(3, 3 + TECHNICIANS)
    ]
    User.objects.bulk_create(
        User(pk=number, username=f"person{number}", name=name, role=role, password="!", date_joined=now)
        for number, name, role in people
    )


def technician_of(number: int) -> int:
    return 3 + number % TECHNICIANS


def places(writer: Writer, size: Size, random: Random) -> None:
    """Customers, a site for each, one unit a site (two at every third), who lives there."""
    from kits.models.base import fold

    numbers = range(1, size.sites + 1)
    names = {n: f"{random.choice(FIRST)} {random.choice(LAST)} {n}" for n in numbers}
    writer.rows(
        "sites_customer",
        "id, version, folded, name, phone, email, notes",
        (
            (
                n,
                0,
                fold(f"{names[n]} +1 201 555 01{n % 100:02d}"),
                names[n],
                f"+1 201 555 01{n % 100:02d}",
                "",
                "",
            )
            for n in numbers
        ),
    )
    streets = {n: (f"{n} {random.choice(STREETS)} Lane", random.choice(CITIES)) for n in numbers}
    writer.rows(
        "sites_site",
        "id, version, folded, street, city, region, postal_code, time_zone, access_notes, contact_name, contact_phone",
        (
            (
                n,
                0,
                fold(f"{street} {city}"),
                street,
                city,
                "NY",
                "",
                ZONE,
                "Key under no mat: ring first.",
                "",
                "",
            )
            for n, (street, city) in streets.items()
        ),
    )
    writer.rows(
        "sites_party",
        "id, site_id, customer_id, part, since",
        ((n, n, n, "lives_there", date(2015, 1, 1)) for n in numbers),
    )
    units = [(n, n, "upstairs system") for n in numbers]
    units += [(size.sites + i, n, "downstairs system") for i, n in enumerate(numbers[::3], start=1)]
    writer.rows(
        "sites_unit",
        "id, version, folded, site_id, name, kind, make, model, serial, refrigerant, location, float_switch, notes",
        (
            (n, 0, fold(name), site, name, "air_handler", "", "", "", "", "attic", "breaks_r", "")
            for n, site, name in units
        ),
    )


def built_at(size: Size, now: datetime) -> datetime:
    """When the kits were built: before the first of their stays."""
    day = now.replace(hour=12, minute=0, second=0, microsecond=0)
    return day - timedelta(days=TURN_DAYS * (size.stays + 3))


def kits(writer: Writer, size: Size, now: datetime, random: Random) -> None:
    """Kits with four wired sensors each, every one with its offset."""
    from kits.codes import draw_code
    from kits.models.base import fold
    from kits.rom import crc8

    codes: dict[str, None] = {}
    while len(codes) < size.kits:
        codes[draw_code(random)] = None
    built = built_at(size, now)
    writer.rows(
        "kits_kit",
        "id, version, folded, code, name, built_on, controller, firmware, power_input, power_draw_watt, "
        "power_draw_volt_ampere, sensor_limit, has_aux_contact, aux_contact_rating, rated_to_celsius, "
        "adapter_isolated, has_battery, replacement_value_cents, condition, condition_why, notes",
        (
            (
                *(
                    n,
                    0,
                    fold(f"{code} Kit {n} Wi-Fi board"),
                    code,
                    f"Kit {n}",
                    built.date(),
                    "Wi-Fi board",
                    "1.4",
                ),
                *("24vac", "2.5", "6", 5, False, "", "60", "yes", False, 18_500),
                *(("needs_work", "display broken") if n % 200 == 199 else ("in_service", "")),
                "",
            )
            for n, code in enumerate(codes, start=1)
        ),
    )

    def rom(number: int) -> str:
        body = bytes([0x28]) + number.to_bytes(6, "little")
        return (body + bytes([crc8(body)])).hex().upper()

    sensors = range(1, size.kits * SENSORS_A_KIT + 1)
    terminal = {n: (n - 1) % SENSORS_A_KIT + 1 for n in sensors}
    kit = {n: (n - 1) // SENSORS_A_KIT + 1 for n in sensors}
    roms = {n: rom(n * 7919) for n in sensors}
    writer.rows(
        "kits_sensor",
        "id, version, folded, rom, tag, tag_colour, lead_length_m, housing, notes",
        (
            (
                *(n, 0, fold(f"{roms[n]} {terminal[n]}"), roms[n], str(terminal[n])),
                *(("red", "blue", "green", "")[n % 4], "6.00", "", ""),
            )
            for n in sensors
        ),
    )
    writer.rows(
        "kits_wiring",
        "id, sensor_id, kit_id, terminal, wired_from",
        ((n, n, kit[n], terminal[n], built) for n in sensors),
    )
    writer.rows(
        "kits_offset",
        "id, sensor_id, in_force_from, offset_kelvin, uncertainty_kelvin, slope_kelvin_per_kelvin, points, good_until, "
        "source, how, recorded_at, recorded_by_id",
        (
            (
                *(n, n, built, f"{random.uniform(-0.5, 0.5):.3f}", "0.100", "0", "[]"),
                # One sensor in forty is due; the others are good for some months.
                now.date() + timedelta(days=-3 if n % 40 == 0 else 30 + n % 150),
                *("by_hand", "ice bath", built, 2),
            )
            for n in sensors
        ),
    )


# -- Stays ---------------------------------------------------------------------------------------

STAY_COLUMNS = (
    "id, version, kit_id, unit_id, call_id, technician_id, holds_from, holds_until, take_out_by, back_in_shop_by, "
    "planned_at, loaded_at, installed_at, removed_at, removed_at_is_known, handed_back_at, ended_at, ended_why, "
    "let_go, saw, suggest"
)
CALL_COLUMNS = (
    "id, version, folded, number, unit_id, reason, told_us, window_from, window_until, technician_id, lead_length_m, "
    "notes, closed_on, closed_why, needs_kit_why, priority"
)


def stays_and_calls(writer: Writer, size: Size, now: datetime, random: Random) -> int:
    """Ended stays turn by turn, then the running ones; each with its call. Returns how many stays."""
    units = size.sites + len(range(1, size.sites + 1)[::3])
    calls: list[tuple[Any, ...]] = []
    stays: list[tuple[Any, ...]] = []
    number = 0

    def flush() -> None:
        writer.rows("sites_servicecall", CALL_COLUMNS, calls)
        writer.rows("sites_deployment", STAY_COLUMNS, stays)
        calls.clear()
        stays.clear()

    for turn in range(size.stays + 1):
        for kit in range(1, size.kits + 1):
            begins = built_at(size, now) + timedelta(days=TURN_DAYS * (turn + 1) + kit % 9, hours=kit % 7)
            state = "ended" if turn < size.stays else NOW[kit % len(NOW)]
            if state == "shelf":
                continue
            number += 1
            if state != "ended":  # two of three are due within the coming days, the third is late
                begins = now.replace(hour=13, minute=0, second=0, microsecond=0) - timedelta(
                    days=2 + kit % 17
                )
                if state == "planned":
                    begins = begins + timedelta(days=2 + kit % 17 + 1 + kit % 5)
            unit = random.randrange(units) + 1
            calls.append(call_row(number, unit, begins, closed=state == "ended"))
            stays.append(stay_row(number, kit, unit, begins, state, now))
        if len(calls) >= BATCH or turn == size.stays:
            flush()
    return number


def call_row(number: int, unit: int, begins: datetime, *, closed: bool) -> tuple[Any, ...]:
    told = "It blows cold in the evening."
    first = begins.date()
    return (
        *(
            number,
            0,
            f"{number} {told.lower()}",
            number,
            unit,
            "intermittent",
            told,
            first,
            first + timedelta(days=2),
        ),
        *(technician_of(number), None, ""),
        *((first + timedelta(days=STAY_DAYS), "watched", "") if closed else (None, "", "")),
        False,
    )


def stay_row(
    number: int, kit: int, unit: int, begins: datetime, state: str, now: datetime
) -> tuple[Any, ...]:
    """A stay that began at 1 pm or so of its first day and lasts a fortnight."""
    midnight = begins.replace(hour=5, minute=0)  # that day's beginning in New York, an hour less in summer
    take_out, back = begins.date() + timedelta(days=STAY_DAYS), begins.date() + timedelta(days=STAY_DAYS + 2)
    loaded = None if state == "planned" else begins
    installed = None if state in {"planned", "loaded"} else begins + timedelta(hours=2)
    removed = ended = None
    if state == "ended":
        removed, ended = (
            begins + timedelta(days=STAY_DAYS, hours=1),
            begins + timedelta(days=STAY_DAYS, hours=5),
        )
    if state == "removed":
        removed = min(begins + timedelta(days=STAY_DAYS), now.replace(microsecond=0) - timedelta(hours=5))
    return (
        *(number, 0, kit, unit, number, technician_of(number)),
        *(midnight, midnight + timedelta(days=STAY_DAYS + 2), take_out, back),
        *(
            min(begins - timedelta(days=3), now.replace(microsecond=0)),
            loaded,
            installed,
            removed,
            True,
            ended,
            ended,
        ),
        *("", False, "", ""),
    )


def what_follows_from_stays(writer: Writer) -> None:
    """Placements, visits and whereabouts, told from the stays by the database itself."""
    writer.sql(
        "INSERT INTO sites_placement (deployment_id, sensor_id, position_id, placed_from, placed_until) "
        "SELECT s.id, w.sensor_id, p.id, s.installed_at, s.removed_at FROM sites_deployment s "
        "JOIN kits_wiring w ON w.kit_id = s.kit_id JOIN sites_position p ON p.id = w.terminal "
        "WHERE s.installed_at IS NOT NULL ORDER BY s.id, w.terminal"
    )
    writer.sql(
        "INSERT INTO sites_servicecall_wanted_positions (servicecall_id, position_id) "
        "SELECT s.call_id, p.id FROM sites_deployment s JOIN sites_position p ON p.id <= 4 ORDER BY s.id"
    )
    writer.sql(
        "INSERT INTO sites_installation (deployment_id, hookup_terminals, tap_place, volts_dead, volts_after, "
        "ports_drilled, wifi, consent_by, consent_part, aux_switches, aux_when, aux_agreed_by, "
        "reference_thermometer, box_place, notes) "
        "SELECT id, 'R and C at the air handler', 'upstream', 0, 26.5, 2, 'none', 'the owner', 'owns', '', '', '', "
        "'bench probe', 'attic', '' FROM sites_deployment WHERE installed_at IS NOT NULL ORDER BY id"
    )
    writer.sql(
        "INSERT INTO sites_removal (deployment_id, pulled_by, ports_closed, wire_restored, system_ran, notes) "
        "SELECT id, 'the technician', 2, TRUE, TRUE, '' FROM sites_deployment WHERE removed_at IS NOT NULL ORDER BY id"
    )
    writer.sql(
        'INSERT INTO sites_handback (deployment_id, "where", sensors_expected, sensors_counted, missing, '
        "account_wiped, wifi_wiped, condition_note, received_by) "
        "SELECT id, 'shop', 4, 4, '[]', TRUE, TRUE, '', 'the office' FROM sites_deployment "
        "WHERE handed_back_at IS NOT NULL ORDER BY id"
    )
    whereabouts(writer)
    writer.sql(
        "INSERT INTO kits_followup (kit_id, what, opened_at, opened_by_id, outcome) "
        "SELECT kit_id, 'Two holes still to be plugged.', MAX(ended_at), 1, '' FROM sites_deployment "
        "WHERE ended_at IS NOT NULL AND kit_id % 100 = 1 GROUP BY kit_id"
    )


def whereabouts(writer: Writer) -> None:
    """Custody, one row for each span: shelf until loaded, truck, site, truck, shelf again."""
    into = "INSERT INTO kits_custody (kit_id, place, technician_id, held_from, held_until) "
    stays = "FROM sites_deployment WHERE loaded_at IS NOT NULL"
    first = f"SELECT kit_id, MIN(loaded_at) AS loaded_at {stays} GROUP BY kit_id"
    writer.sql(
        f"{into} SELECT w.kit_id, 'shelf', NULL, MIN(w.wired_from), MIN(s.loaded_at) FROM kits_wiring w "
        f"LEFT JOIN ({first}) s ON s.kit_id = w.kit_id GROUP BY w.kit_id"
    )
    for place, who, start, until in (
        ("truck", "technician_id", "loaded_at", "installed_at"),
        ("site", "NULL", "installed_at", "removed_at"),
        ("truck", "technician_id", "removed_at", "ended_at"),
    ):
        writer.sql(
            f"{into} SELECT kit_id, '{place}', {who}, {start}, {until} {stays} AND {start} IS NOT NULL ORDER BY id"
        )
    writer.sql(
        f"{into} SELECT kit_id, 'shelf', NULL, ended_at, next FROM (SELECT id, kit_id, ended_at, "
        f"LEAD(loaded_at) OVER (PARTITION BY kit_id ORDER BY loaded_at) AS next {stays}) AS s "
        "WHERE ended_at IS NOT NULL ORDER BY id"
    )


# -- Whether all is as it must be ----------------------------------------------------------------


def check(connection: Any) -> None:
    """Guards are made again (which asks every row), then rules, references and what must be true of a shop."""
    from django.core.exceptions import ValidationError
    from django.db.models import Count, Q

    from kits.models import Custody, Kit
    from kits.promises.guards import make_guards, missing_promises

    make_guards(connection)
    wrong = [f"not in force: {name}" for name in missing_promises(connection)]
    if connection.vendor == "sqlite":  # on PostgreSQL adding the constraints asked every row
        wrong += [f"rows overlap: {name}" for name in overlapping()]
        connection.check_constraints()
    open_rows = (
        Custody.objects.filter(held_until=None).values("kit").annotate(rows=Count("pk")).filter(rows=1)
    )
    if open_rows.count() != Kit.objects.count():
        wrong.append("not every kit is in one place")
    for kit in Kit.objects.filter(Q(pk__lte=3))[:3]:
        try:
            kit.full_clean()
        except ValidationError as refusal:
            wrong.append(f"{kit}: {refusal}")
    if wrong:
        raise SystemExit("The filled shop breaks its own rules: " + "; ".join(wrong))


def overlapping() -> list[str]:
    """Names of the rules that some rows break: in a sorted list it is enough to look at each row and the one before."""
    from django.apps import apps
    from django.db.models import F, Q, Window
    from django.db.models.functions import Lag

    from kits.promises import NoOverlap

    broken = []
    for model in apps.get_models():
        for rule in model._meta.constraints:
            if not isinstance(rule, NoOverlap):
                continue
            holds = Q((f"{rule.until}__isnull", True)) | Q((f"{rule.until}__gt", F(rule.start)))
            alike, order = [F(name) for name in rule.same], [F(rule.start), F("pk")]
            rows = model._default_manager.filter(rule.counts() & holds).annotate(
                before=Window(Lag("pk"), partition_by=alike, order_by=order),
                until_before=Window(Lag(rule.until), partition_by=alike, order_by=order),
            )
            open_or_later = Q(until_before=None) | Q(until_before__gt=F(rule.start))
            if rows.filter(open_or_later, before__isnull=False).exists():
                broken.append(rule.name)
    return broken


def main() -> None:
    import os

    import django

    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--kits", type=int, default=10_000)
    parser.add_argument("--stays", type=int, default=51, help="ended stays a kit")
    given = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    began = time.perf_counter()
    stays = fill(Size(given.kits, given.stays), now=datetime.now(UTC))
    sys.stdout.write(f"{given.kits} kits, {stays} stays in {time.perf_counter() - began:.1f} s\n")


if __name__ == "__main__":
    main()
