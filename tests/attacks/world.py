"""What the shop holds when the attacks begin, and how an attack is written down and carried out."""

from collections.abc import Callable
from dataclasses import dataclass
from types import SimpleNamespace

from django.db import IntegrityError, connection, models, transaction

from kits import codes
from kits.models import (
    CalibrationCheck,
    Certificate,
    CheckPoint,
    CheckReading,
    CheckResult,
    CheckSensor,
    CheckWithdrawal,
    Custody,
    DueNow,
    Event,
    EventAbout,
    KeptAt,
    Kit,
    Offset,
    Place,
    ReferenceThermometer,
    Sensor,
    ShelfCount,
    SparePlace,
    Wiring,
)
from kits.promises import refusal_for
from sites.models import DaySheetSent, Deployment, Placement, Position
from tests import make
from tests.kits.scratch import hour, instant_text, run

Row = models.Model
World = SimpleNamespace
Sql = Callable[[World], str]

NULL = "NULL"


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
    world.sent = DaySheetSent.objects.create(user=world.who, day=hour(0).date(), sent_at=hour(1))
    build_bench(world)
    world.event = Event.objects.first()  # the builders work by real actions, which leave events
    world.about = EventAbout.objects.first()
    assert world.event and world.about
    return world


def build_bench(world: World) -> None:
    """An open check, a closed one, and one that was withdrawn, each of sensor 1; sensor 4 was dropped."""
    thermometer = ReferenceThermometer.objects.create(name="Reference")
    world.certificate = Certificate.objects.create(
        thermometer=thermometer,
        number="C-1",
        issuer="Test Laboratory",
        issued_on=hour(0).date(),
        due_on=hour(8000).date(),
        expanded_uncertainty_kelvin="0.05",
        recorded_at=hour(1),
        recorded_by=world.who,
    )

    def check(name: str, closed: bool) -> CalibrationCheck:
        made = CalibrationCheck.objects.create(
            method="stirred",
            reference=thermometer,
            certificate=world.certificate,
            begun_at=hour(2),
            begun_by=world.who,
            uniformity_kelvin="0.03",
            stability_kelvin="0.03",
            limit_kelvin="0.5",
            replace_beyond_kelvin="1.1",
            rule="guarded",
        )
        sensor = CheckSensor.objects.create(sitting=made, sensor=world.s1, kit=world.a, terminal=1)
        point = CheckPoint.objects.create(sitting=made, number=1, aimed_celsius=20)
        reading = CheckReading.objects.create(point=point, sensor=world.s1, number=1, celsius=20)
        if closed:
            CalibrationCheck.objects.filter(pk=made.pk).update(closed_at=hour(3), closed_by=world.who)
            made.refresh_from_db()
        vars(world).update(
            {
                f"{name}_check": made,
                f"{name}_sensor": sensor,
                f"{name}_point": point,
                f"{name}_reading": reading,
            }
        )
        return made

    check("open", closed=False)
    check("closed", closed=True)
    world.result = CheckResult.objects.create(
        sitting=world.closed_check,
        sensor=world.s1,
        as_found_error_kelvin="0.1",
        as_left_error_kelvin="0",
        offset_kelvin="-0.1",
        standard_uncertainty_kelvin="0.05",
        shared_uncertainty_kelvin="0.03",
        expanded_uncertainty_kelvin="0.1",
        coverage_factor="2",
        verdict="use_offset",
        conformity="pass",
        conformity_left="pass",
        probability_out=0.01,
        due_on=hour(4000).date(),
    )
    world.withdrawal = CheckWithdrawal.objects.create(
        sitting=check("withdrawn", closed=True), withdrawn_at=hour(4), withdrawn_by=world.who, why="warm bath"
    )
    world.due_now = DueNow.objects.create(sensor=world.s4, since=hour(3), reason="dropped")


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


def fitting(start: str) -> str:
    """A valid code that begins so."""
    for first in codes.ALPHABET:
        for second in codes.ALPHABET:
            payload = (start + first + second + "Z")[: codes.PAYLOAD_LENGTH]
            if (check := codes.check_character(payload)) in codes.ALPHABET:
                return payload + check
    raise AssertionError("there is none")


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
