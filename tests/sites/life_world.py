"""The shop whose kits live through random lives: built once, its rows known by their ids."""

from copy import deepcopy
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from kits.actions import sensors as sensor_actions
from kits.models import Kit, Sensor, User
from sites.actions import planning, stays
from sites.models import Customer, Deployment, ServiceCall
from tests import make
from tests.sites.life_oracle import KitBook, Oracle

# A Monday shortly before the clocks change in New York (8 March 2026), so that some lives cross that night.
START = datetime(2026, 3, 2, 14, tzinfo=UTC)
FIRST_DAYS = (0, 0, 1, 3, 6, 10, 15, 25)  # of the calls, counted from the start
WANTED = ("SA", "RA")


@dataclass(frozen=True)
class World:
    """People, calls, kits and spares, and what an oracle knows of them at the start."""

    technicians: list[User]
    office: User
    manager: User
    buyer: Customer
    calls: list[int]
    kits: list[int]
    sensors: list[int]
    oracle: Oracle
    codes: dict[int, str]  # of the kits

    def fresh_oracle(self) -> Oracle:
        return deepcopy(self.oracle)


def build(kits: int = 3, leads: int = 3, spares: int = 3, *, busy: bool = False) -> World:
    """A shop on an ordinary morning; a busy one has kits out already, with plans for when they come home."""
    built = START - timedelta(days=30)
    make.shop(check_interval_months=60)  # no life is longer; what is due in one was swapped in
    made = [make.kit(sensors=leads, at=built, checked=False) for _ in range(kits)]
    extra = [make.sensor(at=built) for _ in range(spares)]
    days: dict[int, date] = {}
    for ahead in FIRST_DAYS:
        day = START.date() + timedelta(days=ahead)
        call = make.call(wanted=WANTED, window_from=day, window_until=day + timedelta(days=2))
        days[call.pk] = day
    technicians = [make.technician(), make.technician()]
    oracle = Oracle(
        kits={kit.pk: KitBook(wired=terminals(kit)) for kit in made},
        spares={sensor.pk: ("bench", None) for sensor in extra},
        call_days=days,
    )
    world = World(
        technicians=technicians,
        office=make.office(),
        manager=make.manager(),
        buyer=make.customer(),
        calls=list(days),
        kits=[kit.pk for kit in made],
        sensors=[*(sensor for kit in made for sensor in terminals(kit).values()), *(row.pk for row in extra)],
        oracle=oracle,
        codes={kit.pk: kit.code for kit in made},
    )
    for number, pk in enumerate(world.sensors):
        give_first_offset(world, pk, 100 + 10 * number)
    if busy:
        send_out(world)
    return world


def give_first_offset(world: World, pk: int, millikelvin: int) -> None:
    """Every sensor begins with an offset of its own, so that a borrowed one would be seen."""
    instant = START - timedelta(days=20)
    value = Decimal(millikelvin) / 1000
    done = make.act(world.office, at=instant)
    sensor_actions.give_offset(done, sensor=sensor(pk), offset_kelvin=value, in_force_from=instant)
    world.oracle.offsets[pk] = {instant: millikelvin}


def send_out(world: World) -> None:
    """The first kit is in a house and soon due, the second on a truck, the third promised; two have a next plan."""
    oracle, (first, second, third, *_) = world.oracle, world.kits
    days = [START.date() + timedelta(days=ahead) for ahead in range(12)]
    tech, hours = world.technicians[0], [START - timedelta(hours=ago) for ago in (6, 5, 4, 3, 2)]
    plans = ((first, 0, 2, 3), (second, 1, 1, 2), (third, 2, 5, 7), (first, 3, 7, 8), (second, 4, 8, 9))
    for pk, number, take_out, back in plans:
        dates = {"take_out_by": days[take_out], "back_in_shop_by": days[back]}
        row = call(world.calls[number])
        done = planning.plan(make.act(world.office, at=hours[0]), call=row, kit=kit(pk), **dates)
        oracle.planned(done.row(Deployment).pk, pk, row.pk, *dates.values())
    for pk, number in ((first, 0), (second, 1)):
        row = call(world.calls[number])
        done = stays.load(make.act(tech, at=hours[1]), kit=kit(pk), call=row, technician=tech)
        oracle.loaded(done.row(Deployment).pk, pk, row.pk, tech.pk, None, hours[1])
        oracle.kits[pk].instants.append(hours[1])
    out, leads = oracle.out(first), list(oracle.kits[first].wired.values())
    assert out is not None
    key, stay = out
    stays.install(
        make.act(tech, at=hours[2]),
        kit=kit(first),
        placements={code: sensor(pk) for code, pk in zip(make.POSITIONS, leads, strict=False)},
        take_out_by=stay.take_out_by,
        back_in_shop_by=stay.back_day,
        facts={"hookup_terminals": "R and C", "tap_place": "upstream", "ports_drilled": 2},
    )
    sits = dict(zip(leads, make.POSITIONS, strict=False))
    oracle.installed(key, first, sits, (stay.take_out_by, stay.back_day), hours[2])
    oracle.kits[first].instants.append(hours[2])


def terminals(kit: Kit) -> dict[int, int]:
    return dict(kit.wirings.filter(wired_until=None).values_list("terminal", "sensor"))


def kit(pk: int) -> Kit:
    return Kit.objects.get(pk=pk)


def sensor(pk: int) -> Sensor:
    return Sensor.objects.get(pk=pk)


def call(pk: int) -> ServiceCall:
    return ServiceCall.objects.get(pk=pk)
