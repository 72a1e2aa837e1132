"""Every promise of the books, attacked by raw SQL that goes round Django, on the real tables of the database in use.

Each attack has a twin that differs in one thing and is allowed, and each is seen to get through once its rule is taken
off: so none of these tests passes by accident. The whole list runs again after forced remakes of every table.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.db.migrations.loader import MigrationLoader

from kits import codes
from kits.models import (
    Custody,
    Event,
    EventAbout,
    KeptAt,
    Kit,
    Offset,
    Place,
    Sensor,
    ShelfCount,
    SparePlace,
    Wiring,
)
from kits.promises import guards, missing_promises, refusal_for, without_guards
from kits.promises.rule import DatabaseRule
from sites.models import Deployment, Placement, Position
from tests import make
from tests.kits.scratch import hour, instant_text, run

Row = models.Model
World = SimpleNamespace
Sql = Callable[[World], str]

ON_SQLITE = connection.vendor == "sqlite"


# What the shop holds when the attacks begin. Hours count from a morning in March.


def build() -> World:
    """Kit `a` is out on `stay` with sensors 1 and 2 and promised again in `plan`; kit `b` lies on the shelf with sensor 3
    and is promised in `plan_b`; sensor 4 is a spare. `old` is an earlier stay of kit `a`."""
    world = SimpleNamespace(who=make.user(), call=make.call())
    world.positions = {row.code: row.pk for row in Position.objects.all()}
    world.a, world.b = (new_kit() for _ in range(2))
    world.s1, world.s2, world.s3, world.s4 = (
        Sensor.objects.create(rom=make.rom(), tag=str(n)) for n in range(1, 5)
    )

    def wire(sensor: Sensor, kit: Kit, terminal: int, until: float | None = None) -> Wiring:
        ends = None if until is None else hour(until)
        return Wiring.objects.create(
            sensor=sensor, kit=kit, terminal=terminal, wired_from=hour(1), wired_until=ends
        )

    world.w1, world.w2 = wire(world.s1, world.a, 1), wire(world.s2, world.a, 2, until=20)
    world.w3 = wire(world.s3, world.b, 1)
    world.spare = SparePlace.objects.create(sensor=world.s4, place=KeptAt.SHELF, kept_from=hour(1))

    def hold(kit: Kit, place: Place, since: float, until: float | None) -> Custody:
        ends = None if until is None else hour(until)
        return Custody.objects.create(kit=kit, place=place, held_from=hour(since), held_until=ends)

    world.shelved, world.on_site = hold(world.a, Place.SHELF, 1, 10), hold(world.a, Place.SITE, 10, None)
    world.shelved_b = hold(world.b, Place.SHELF, 1, None)

    def stay(kit: Kit, holds_from: float, holds_until: float, **times: float) -> Deployment:
        return Deployment.objects.create(
            kit=kit,
            unit=world.call.unit,
            call=world.call,
            holds_from=hour(holds_from),
            holds_until=hour(holds_until),
            take_out_by=hour(holds_until).date(),
            back_in_shop_by=hour(holds_until).date(),
            **{f"{name}_at": hour(number) for name, number in times.items()},
        )

    world.old = stay(world.a, 0, 3, planned=0, loaded=1, installed=1, removed=2, handed_back=3, ended=3)
    world.stay = stay(world.a, 3, 30, planned=2, loaded=4, installed=5)
    world.plan, world.plan_b = stay(world.a, 40, 50, planned=2), stay(world.b, 40, 50, planned=2)

    def place(sensor: Sensor, position: str, since: float, until: float | None) -> Placement:
        return Placement.objects.create(
            deployment=world.stay,
            sensor=sensor,
            position_id=world.positions[position],
            placed_from=hour(since),
            placed_until=None if until is None else hour(until),
        )

    world.p1, world.p2 = place(world.s1, "SA", 5, None), place(world.s2, "RA", 5, 10)
    world.offset = Offset.objects.create(
        sensor=world.s1,
        in_force_from=hour(1),
        offset_kelvin="0.125",
        recorded_at=hour(1),
        recorded_by=world.who,
    )
    world.count = ShelfCount.objects.create(counted_at=hour(1), counted_by=world.who)
    world.event = Event.objects.first()  # the builders work by real actions, which leave events
    world.about = EventAbout.objects.first()
    assert world.event and world.about
    return world


def new_kit() -> Kit:
    return Kit.objects.create(code=codes.draw_code(), name="Attacked", built_on=hour(0).date())


# How raw SQL is written here


def copy_of(row: Row, **changes: object) -> str:
    """INSERT of a row like `row` but for these columns (SQL expressions; numbers as they are)."""
    quote, meta = connection.ops.quote_name, row._meta
    columns = [field.column for field in meta.local_concrete_fields if not field.primary_key]
    assert set(changes) <= set(columns), changes
    values = ", ".join(str(changes.get(column, quote(column))) for column in columns)
    listed = ", ".join(quote(column) for column in columns)
    return f"INSERT INTO {meta.db_table} ({listed}) SELECT {values} FROM {meta.db_table} WHERE id = {row.pk}"


def change(row: Row, **changes: object) -> str:
    assert set(changes) <= {field.column for field in row._meta.local_concrete_fields}, changes
    told = ", ".join(f"{connection.ops.quote_name(column)} = {value}" for column, value in changes.items())
    return f"UPDATE {row._meta.db_table} SET {told} WHERE id = {row.pk}"


def remove(row: Row) -> str:
    return f"DELETE FROM {row._meta.db_table} WHERE id = {row.pk}"


def replacement_of(row: Row, **changes: object) -> str:
    """SQLite only: INSERT OR REPLACE under the same id."""
    sql = copy_of(row, **changes).replace("INSERT INTO", "INSERT OR REPLACE INTO")
    return sql.replace(" (", " (id, ", 1).replace("SELECT ", f"SELECT {row.pk}, ", 1)


def at(number: float) -> str:
    return instant_text(number)


def text(value: str) -> str:
    return f"'{value}'"


def wrong_last(value: str, alphabet: str) -> str:
    """The same text with another last character, so that its check no longer fits."""
    return value[:-1] + next(character for character in alphabet if character != value[-1])


@dataclass(frozen=True)
class Attack:
    """`refused` breaks the promise and must be refused by `rule`; `allowed` is its twin that breaks nothing.

    `also`: rules that stand beside it, may speak first and refuse the attack when `rule` is gone.
    """

    promise: int
    name: str
    rule: str
    refused: Sql
    allowed: Sql
    also: tuple[str, ...] = ()
    only_on: str = ""

    def is_refused(self, world: World) -> bool:
        got = refused_by(self.refused(world))
        return got == self.rule or got in self.also

    def is_let_through_by_others(self, world: World) -> bool:
        got = refused_by(self.refused(world))
        return got == "" or got.startswith(self.also or ("no other rule",))


NULL = "NULL"
WIRED = "placed_sensor_is_in_the_kit"

ATTACKS = [
    # 1. Two overlapping deployments of one kit, planned ones included
    Attack(
        1,
        "a second stay goes out with a kit that is out",
        "kit_in_one_place",
        lambda w: copy_of(w.stay, loaded_at=at(6), installed_at=NULL, holds_from=at(60), holds_until=at(70)),
        lambda w: copy_of(
            w.stay, loaded_at=at(6), installed_at=NULL, holds_from=at(60), holds_until=at(70), kit_id=w.b.pk
        ),
    ),
    Attack(
        1,
        "an earlier stay is stretched into the present one",
        "kit_in_one_place",
        lambda w: change(w.old, handed_back_at=at(4.5), ended_at=at(4.5)),
        lambda w: change(w.old, handed_back_at=at(4), ended_at=at(4)),
    ),
    Attack(
        1,
        "a stay is loaded before the kit came back",
        "kit_in_one_place",
        lambda w: change(w.stay, loaded_at=at(2.5)),
        lambda w: change(w.stay, loaded_at=at(3)),
    ),
    Attack(
        1,
        "a plan is loaded while the kit is out",
        "kit_in_one_place",
        lambda w: change(w.plan, loaded_at=at(41)),
        lambda w: change(w.plan_b, loaded_at=at(41)),
    ),
    Attack(
        1,
        "a kit is promised twice",
        "kit_promised_once",
        lambda w: copy_of(w.plan, holds_from=at(45), holds_until=at(55)),
        lambda w: copy_of(w.plan, holds_from=at(50), holds_until=at(55)),
    ),
    Attack(
        1,
        "a plan is pulled forward into the running stay's days",
        "kit_promised_once",
        lambda w: change(w.plan, holds_from=at(29)),
        lambda w: change(w.plan, holds_from=at(30)),
    ),
    Attack(
        1,
        "a stay is extended into the next plan",
        "kit_promised_once",
        lambda w: change(w.stay, holds_until=at(41)),
        lambda w: change(w.stay, holds_until=at(40)),
    ),
    Attack(
        1,
        "a plan is given a kit that is promised",
        "kit_promised_once",
        lambda w: change(w.plan_b, kit_id=w.a.pk),
        lambda w: change(w.plan_b, kit_id=w.a.pk, holds_from=at(31), holds_until=at(39)),
    ),
    # 2. A sensor in two kits, two sensors on a terminal, a kit in two custodies
    Attack(
        2,
        "a sensor is wired into two kits",
        "sensor_in_one_kit",
        lambda w: copy_of(w.w1, kit_id=w.b.pk, terminal=4, wired_from=at(6)),
        lambda w: copy_of(w.w2, kit_id=w.b.pk, terminal=4, wired_from=at(20), wired_until=NULL),
    ),
    Attack(
        2,
        "a sensor that was taken out is still in",
        "sensor_in_one_kit",
        lambda w: copy_of(w.w2, kit_id=w.b.pk, terminal=4, wired_from=at(19), wired_until=NULL),
        lambda w: copy_of(w.w2, kit_id=w.b.pk, terminal=4, wired_from=at(21), wired_until=NULL),
    ),
    Attack(
        2,
        "two sensors are on one terminal",
        "one_sensor_a_terminal",
        lambda w: copy_of(w.w2, wired_from=at(20), wired_until=NULL, terminal=1),
        lambda w: copy_of(w.w2, wired_from=at(20), wired_until=NULL, terminal=2),
    ),
    Attack(
        2,
        "a sensor is moved onto a taken terminal",
        "one_sensor_a_terminal",
        lambda w: change(w.w2, terminal=1),
        lambda w: change(w.w2, terminal=3),
    ),
    Attack(
        2,
        "a sixth terminal",
        "terminal_one_to_five",
        lambda w: change(w.w2, terminal=6),
        lambda w: change(w.w2, terminal=5),
    ),
    Attack(
        2,
        "a terminal before the first",
        "terminal_one_to_five",
        lambda w: change(w.w3, terminal=0),
        lambda w: change(w.w3, terminal=2),
        also=("kits_wiring_terminal_check",),
    ),
    Attack(
        2,
        "a sensor is in a kit and in a drawer",
        "sensor_wired_or_spare",
        lambda w: copy_of(w.spare, sensor_id=w.s1.pk, kept_from=at(6)),
        lambda w: copy_of(w.spare, sensor_id=w.s2.pk, kept_from=at(20)),
    ),
    Attack(
        2,
        "a spare is wired in and stays in its drawer",
        "sensor_wired_or_spare",
        lambda w: copy_of(w.w3, sensor_id=w.s4.pk, terminal=4),
        lambda w: copy_of(w.w3, sensor_id=w.s4.pk, terminal=4, wired_from=at(0), wired_until=at(1)),
    ),
    Attack(
        2,
        "a spare is in two drawers",
        "spare_in_one_place",
        lambda w: copy_of(w.spare, place=text("bench"), kept_from=at(6)),
        lambda w: copy_of(w.spare, place=text("bench"), kept_from=at(0), kept_until=at(1)),
    ),
    Attack(
        2,
        "a kit is in two custodies",
        "kit_in_one_custody",
        lambda w: copy_of(w.on_site, place=text("bench"), held_from=at(12), held_until=at(13)),
        lambda w: copy_of(w.on_site, place=text("bench"), held_from=at(0), held_until=at(1)),
    ),
    Attack(
        2,
        "a kit never left where it was",
        "kit_in_one_custody",
        lambda w: change(w.shelved, held_until=at(11)),
        lambda w: change(w.shelved, held_until=at(9)),
    ),
    Attack(
        2,
        "a custody is given to a kit that is held elsewhere",
        "kit_in_one_custody",
        lambda w: change(w.shelved, kit_id=w.b.pk),
        lambda w: change(w.shelved, kit_id=w.b.pk, held_from=at(0), held_until=at(1)),
    ),
    # 3. Positions and placements
    Attack(
        3,
        "two sensors sit at one position",
        "one_sensor_a_position",
        lambda w: copy_of(w.p2, position_id=w.positions["SA"], placed_from=at(12), placed_until=at(13)),
        lambda w: copy_of(w.p2, position_id=w.positions["LL"], placed_from=at(12), placed_until=at(13)),
    ),
    Attack(
        3,
        "one sensor sits at two positions",
        "one_position_a_sensor",
        lambda w: copy_of(w.p1, position_id=w.positions["LL"], placed_from=at(6)),
        lambda w: copy_of(w.p2, position_id=w.positions["LL"], placed_from=at(10), placed_until=at(11)),
    ),
    Attack(
        3,
        "a placement is moved back over another",
        "one_sensor_a_position",
        lambda w: change(w.p2, position_id=w.positions["SA"]),
        lambda w: change(w.p2, position_id=w.positions["OA"]),
    ),
    Attack(
        3,
        "a sensor of another kit is placed",
        WIRED,
        lambda w: copy_of(w.p2, sensor_id=w.s3.pk, position_id=w.positions["LL"]),
        lambda w: copy_of(w.p2, position_id=w.positions["LL"], placed_from=at(11), placed_until=at(12)),
    ),
    Attack(
        3,
        "a spare is placed",
        WIRED,
        lambda w: change(w.p2, sensor_id=w.s4.pk),
        lambda w: change(w.p2, sensor_id=w.s2.pk),
    ),
    Attack(
        3,
        "a sensor measures on after it was taken out",
        WIRED,
        lambda w: change(w.p2, placed_until=NULL),
        lambda w: change(w.p2, placed_until=at(20)),
    ),
    Attack(
        3,
        "a sensor measured before it was wired in",
        WIRED,
        lambda w: change(w.p1, placed_from=at(0.5)),
        lambda w: change(w.p1, placed_from=at(1)),
    ),
    Attack(
        3,
        "a sensor is taken out from under its placement",
        WIRED,
        lambda w: change(w.w1, wired_until=at(6)),
        lambda w: change(w.w2, wired_until=at(10)),
    ),
    Attack(
        3,
        "the wiring of a placed sensor is wiped",
        WIRED,
        lambda w: remove(w.w1),
        lambda w: remove(w.w3),
    ),
    Attack(
        3,
        "a placed sensor is said to be in another kit",
        WIRED,
        lambda w: change(w.w1, kit_id=w.b.pk, terminal=4),
        lambda w: change(w.w3, kit_id=w.a.pk, terminal=4),
    ),
    Attack(
        3,
        "a stay with placements is given another kit",
        WIRED,
        lambda w: change(w.stay, kit_id=w.b.pk),
        lambda w: change(w.plan, kit_id=w.b.pk, holds_from=at(30), holds_until=at(31)),
    ),
    Attack(
        3,
        "a placement is moved to the stay of another kit",
        WIRED,
        lambda w: change(w.p2, deployment_id=w.plan_b.pk),
        lambda w: change(w.p2, deployment_id=w.plan.pk),
    ),
    Attack(
        3,
        "a stay with placements is replaced by one of another kit",
        WIRED,
        lambda w: replacement_of(w.stay, kit_id=w.b.pk),
        lambda w: replacement_of(w.plan, kit_id=w.b.pk, holds_from=at(30), holds_until=at(31)),
        only_on="sqlite",
    ),
    # 4. Stage times out of order, or without the one before
    Attack(
        4,
        "loaded before planned",
        "loaded_after_planned",
        lambda w: change(w.plan_b, loaded_at=at(1.9)),
        lambda w: change(w.plan_b, loaded_at=at(2)),
    ),
    Attack(
        4,
        "installed before loaded",
        "installed_after_loaded",
        lambda w: change(w.stay, installed_at=at(3.9)),
        lambda w: change(w.stay, installed_at=at(4)),
    ),
    Attack(
        4,
        "installed without being loaded",
        "installed_after_loaded",
        lambda w: change(w.plan_b, installed_at=at(41)),
        lambda w: change(w.plan_b, loaded_at=at(41), installed_at=at(41)),
    ),
    Attack(
        4,
        "the loading of an installed kit is wiped",
        "installed_after_loaded",
        lambda w: change(w.stay, loaded_at=NULL),
        lambda w: change(w.stay, loaded_at=at(4.5)),
    ),
    Attack(
        4,
        "removed before installed",
        "removed_after_installed",
        lambda w: change(w.stay, removed_at=at(4.9)),
        lambda w: change(w.stay, removed_at=at(5)),
    ),
    Attack(
        4,
        "removed without being installed",
        "removed_after_installed",
        lambda w: change(w.plan_b, loaded_at=at(41), removed_at=at(42)),
        lambda w: change(w.plan_b, loaded_at=at(41), installed_at=at(41), removed_at=at(42)),
    ),
    Attack(
        4,
        "handed back before removed",
        "handed_back_after_removed",
        lambda w: change(w.old, handed_back_at=at(1.9), ended_at=at(1.9)),
        lambda w: change(w.old, handed_back_at=at(2), ended_at=at(2)),
        also=("ended_after_removed",),
    ),
    Attack(
        4,
        "handed back without being removed",
        "handed_back_after_removed",
        lambda w: change(w.stay, handed_back_at=at(9), ended_at=at(9)),
        lambda w: change(w.stay, removed_at=at(9), handed_back_at=at(9), ended_at=at(9)),
    ),
    Attack(
        4,
        "called off from the house",
        "called_off_before_installed",
        lambda w: change(w.stay, called_off_at=at(9), ended_at=at(9)),
        lambda w: change(w.plan, called_off_at=at(9), ended_at=at(9)),
    ),
    Attack(
        4,
        "not recovered though it never went out",
        "not_recovered_after_loaded",
        lambda w: change(w.plan_b, not_recovered_at=at(45), ended_at=at(45), ended_why=text("Gone.")),
        lambda w: change(w.stay, not_recovered_at=at(45), ended_at=at(45), ended_why=text("Gone.")),
    ),
    Attack(
        4,
        "ended without a way to end",
        "ended_in_one_way",
        lambda w: change(w.stay, ended_at=at(9)),
        lambda w: change(w.stay, ended_at=at(9), not_recovered_at=at(9), ended_why=text("Gone.")),
    ),
    Attack(
        4,
        "ended in two ways",
        "ended_in_one_way",
        lambda w: change(w.old, not_recovered_at=at(3), ended_why=text("Gone.")),
        lambda w: change(w.old, ended_why=text("Back.")),
    ),
    Attack(
        4,
        "handed back and still running",
        "ended_in_one_way",
        lambda w: change(w.stay, removed_at=at(9), handed_back_at=at(9)),
        lambda w: change(w.stay, removed_at=at(9), handed_back_at=at(9), ended_at=at(9)),
    ),
    # 5. Two offsets of one sensor from the same instant
    Attack(
        5,
        "a second offset from the same instant",
        "one_offset_an_instant",
        lambda w: copy_of(w.offset, offset_kelvin="0.5"),
        lambda w: copy_of(w.offset, offset_kelvin="0.5", in_force_from=at(2)),
    ),
    Attack(
        5,
        "an offset is changed after the fact",
        "offset_never_changes",
        lambda w: change(w.offset, offset_kelvin="0.5"),
        lambda w: copy_of(w.offset, sensor_id=w.s2.pk),
    ),
    # 6. Events
    Attack(
        6,
        "an event is reworded",
        "event_never_changes",
        lambda w: change(w.event, summary=text("Forged.")),
        lambda w: copy_of(w.event, summary=text("Another."), request_id=text("7" * 32)),
    ),
    Attack(
        6,
        "an event is redated",
        "event_never_changes",
        lambda w: change(w.event, happened_at=at(0)),
        lambda w: copy_of(w.event, happened_at=at(0), request_id=text("7" * 32)),
    ),
    Attack(
        6,
        "an event's subject is exchanged",
        "event_about_never_changes",
        lambda w: change(w.about, subject_id=987),
        lambda w: copy_of(w.about, subject_id=987),
    ),
    Attack(
        6,
        "an event's subject is removed",
        "event_about_never_changes",
        lambda w: remove(w.about),
        lambda w: remove(w.spare),
    ),
    Attack(
        6,
        "a shelf count is removed",
        "shelf_count_never_changes",
        lambda w: remove(w.count),
        lambda w: copy_of(w.count),
    ),
    Attack(
        6,
        "an event is removed",
        "event_never_changes",
        lambda w: remove(w.event),
        lambda w: remove(w.plan),
        also=("foreign_key", "kits_eventabout_event_id"),
    ),
    Attack(
        6,
        "an event is replaced under its own number",
        "event_never_changes",
        lambda w: replacement_of(w.event, summary=text("Forged.")),
        lambda w: replacement_of(w.spare, why=text("Allowed.")),
        only_on="sqlite",
    ),
    Attack(
        6,
        "an event is replaced by one with the same request",
        "event_never_changes",
        lambda w: copy_of(w.event, summary=text("Forged.")).replace("INSERT", "INSERT OR REPLACE", 1),
        lambda w: copy_of(w.event, request_id=text("7" * 32)).replace("INSERT", "INSERT OR REPLACE", 1),
        also=("foreign_key",),
        only_on="sqlite",
    ),
    Attack(
        6,
        "all events are emptied out",
        "event_about_never_changes",
        lambda w: "TRUNCATE kits_eventabout",
        lambda w: "TRUNCATE kits_followup",
        only_on="postgresql",
    ),
    Attack(
        6,
        "all events are emptied out with what hangs on them",
        "event_never_changes",
        lambda w: "TRUNCATE kits_event CASCADE",
        lambda w: "TRUNCATE kits_part CASCADE",
        also=("event_about_never_changes",),
        only_on="postgresql",
    ),
    # 8. Kit codes and ROM IDs
    Attack(
        8,
        "a kit code whose check character does not fit",
        "kit_code_valid",
        lambda w: change(w.a, code=text(wrong_last(w.a.code, codes.ALPHABET))),
        lambda w: change(w.a, code=text(codes.draw_code())),
    ),
    Attack(
        8,
        "two neighbours of a kit code are exchanged",
        "kit_code_valid",
        lambda w: change(w.a, code=text("32" + fitting("23")[2:])),
        lambda w: change(w.a, code=text(fitting("23"))),
    ),
    Attack(
        8,
        "a kit code in small letters",
        "kit_code_valid",
        lambda w: copy_of(w.a, code=text(fitting("AB").lower())),
        lambda w: copy_of(w.a, code=text(fitting("AB"))),
    ),
    Attack(
        8,
        "a second kit with the same code",
        "kits_kit.code",
        lambda w: copy_of(w.a),
        lambda w: copy_of(w.a, code=text(codes.draw_code())),
    ),
    Attack(
        8,
        "a ROM ID whose CRC does not fit",
        "sensor_rom_valid",
        lambda w: change(w.s1, rom=text(wrong_last(w.s1.rom, "0123456789ABCDEF"))),
        lambda w: change(w.s1, rom=text(make.rom())),
    ),
    Attack(
        8,
        "a ROM ID of all zeros, whose CRC fits",
        "sensor_rom_valid",
        lambda w: copy_of(w.s1, rom=text("0" * 16)),
        lambda w: copy_of(w.s1, rom=text(make.rom())),
    ),
    Attack(
        8,
        "a second sensor with the same ROM ID",
        "kits_sensor.rom",
        lambda w: copy_of(w.s1),
        lambda w: copy_of(w.s1, rom=text(make.rom())),
    ),
]
ATTACKS = [attack for attack in ATTACKS if attack.only_on in ("", connection.vendor)]


def fitting(start: str) -> str:
    """A valid code that begins so."""
    for first in codes.ALPHABET:
        for second in codes.ALPHABET:
            payload = (start + first + second + "Z")[: codes.PAYLOAD_LENGTH]
            if (check := codes.check_character(payload)) in codes.ALPHABET:
                return payload + check
    raise AssertionError("there is none")


def refused_by(sql: str) -> str:
    """The rule that refuses this statement, "" when it goes through; nothing of it stays either way."""
    try:
        with transaction.atomic():
            run(sql)
            transaction.set_rollback(True)
    except IntegrityError as error:
        refusal = refusal_for(error)
        assert refusal is not None, error
        return str(refusal.code)
    return ""


def each_attack(*, what: Callable[[Attack], bool] = lambda attack: True) -> Any:
    chosen = [attack for attack in ATTACKS if what(attack)]
    return pytest.mark.parametrize(
        "attack", [pytest.param(attack, id=f"{attack.promise}: {attack.name}") for attack in chosen]
    )


@pytest.fixture
def world(db: None) -> World:
    built = build()
    if not ON_SQLITE:
        run("SET CONSTRAINTS ALL IMMEDIATE")  # PostgreSQL alters and empties no table that has rows waiting
    return built


def test_all_promises_of_the_kit_book_are_attacked() -> None:
    assert {attack.promise for attack in ATTACKS} == {1, 2, 3, 4, 5, 6, 8}


def test_every_rule_of_our_own_kinds_is_attacked() -> None:
    """The parties' rules have their own tests; every other no-overlap, append-only and guard stands in the list."""
    rules = {
        rule.name
        for model in apps.get_models()
        for rule in model._meta.constraints
        if isinstance(rule, DatabaseRule) and model.__name__ != "Party" and model._meta.app_label != "reports"
    }
    assert rules | {guard.name for guard in guards.registered()} <= {attack.rule for attack in ATTACKS}


@each_attack()
def test_an_attack_is_refused_and_its_twin_is_allowed(world: World, attack: Attack) -> None:
    assert attack.is_refused(world)
    assert refused_by(attack.allowed(world)) == ""


# Without its rule every attack gets through


@contextmanager
def without(rule: str) -> Iterator[None]:
    """`rule` is off meanwhile, everything is as it was afterwards."""
    try:
        with transaction.atomic():
            take_off(rule)
            yield
            transaction.set_rollback(True)
    finally:
        if ON_SQLITE:
            run("PRAGMA ignore_check_constraints = OFF")


def take_off(rule: str) -> None:
    quote = connection.ops.quote_name
    guard = next((guard for guard in guards.registered() if guard.name == rule), None)
    if guard is not None:
        for name, table in guard.triggers(connection.vendor).items():
            run(f"DROP TRIGGER {quote(name)}" + ("" if ON_SQLITE else f" ON {quote(table)}"))
        return
    model, constraint = next(
        (model, found)
        for model in apps.get_models()
        for found in model._meta.constraints
        if found.name == rule
    )
    if not ON_SQLITE:
        for statement in str(constraint.remove_sql(model, connection.schema_editor())).split("; "):
            run(statement)
    elif isinstance(constraint, DatabaseRule):
        for name in constraint.trigger_names("sqlite"):
            run(f"DROP TRIGGER {quote(name)}")
    else:
        run("PRAGMA ignore_check_constraints = ON")


def can_be_taken_off(attack: Attack) -> bool:
    """Not UNIQUE of a single field, nor any UNIQUE on SQLite: their index cannot be dropped there."""
    return "." not in attack.rule and not (ON_SQLITE and attack.rule == "one_offset_an_instant")


@each_attack(what=can_be_taken_off)
def test_without_its_rule_the_attack_gets_through(world: World, attack: Attack) -> None:
    with without(attack.rule):
        assert attack.is_let_through_by_others(world)
    assert attack.is_refused(world)  # the rule is back


# After forced remakes of every table


def change_and_change_back(model: type[models.Model]) -> None:
    """What later migrations may do to a table, ending where it began."""
    extra = models.IntegerField(default=3)
    extra.set_attributes_from_name("extra_for_a_while")
    extra.model = model
    nullable = models.CharField(max_length=9, null=True)
    nullable.set_attributes_from_name("more_for_a_while")
    nullable.model = model
    for field in (extra, nullable):
        with connection.schema_editor() as editor:
            editor.add_field(model, field)
        with connection.schema_editor() as editor:
            editor.remove_field(model, field)

    plain = [
        field for field in model._meta.local_concrete_fields if not (field.primary_key or field.is_relation)
    ]
    old = plain[0]
    new = old.clone()
    new.null = True
    new.set_attributes_from_name(old.name)
    new.model = model
    for before, after in ((old, new), (new, old)):
        with connection.schema_editor() as editor:
            editor.alter_field(model, before, after, strict=False)

    for rule in model._meta.constraints:
        with connection.schema_editor() as editor:
            editor.remove_constraint(model, rule)
            editor.add_constraint(model, rule)


@pytest.mark.django_db(transaction=True)
def test_after_forced_remakes_of_every_table_every_attack_is_still_refused() -> None:
    world = build()
    state = MigrationLoader(connection).project_state()  # the models as a migration sees them
    ours = [model for model in state.apps.get_models() if model._meta.app_label in ("kits", "sites")]
    assert len(ours) > 20
    with without_guards(connection):
        for model in ours:
            change_and_change_back(model)
    assert missing_promises(connection) == []
    fallen = [
        f"{attack.promise}: {attack.name}"
        for attack in ATTACKS
        if not attack.is_refused(world) or refused_by(attack.allowed(world)) != ""
    ]
    assert fallen == []
