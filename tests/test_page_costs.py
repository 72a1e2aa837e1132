"""What each list page asks of the database: the same at 3 and at 30 rows, and no more than its ceiling."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kits.models import Custody, Kit, Place, User
from sites.models import Agreement, Party, Position, Stage
from tests import make
from tests.conftest import signed_in

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

FEW, MANY = 3, 30
BEGAN = timezone.now() - timedelta(days=3)


def house(number: int):
    """A unit at a site of its own, where a customer lives."""
    unit = make.unit(site=make.site(street=f"{number} Long Lane"))
    customer = make.customer(f"Customer {number}", phone="+1 201 555 0101")
    Party.objects.create(site=unit.site, customer=customer, part="lives_there", since="2020-01-01")
    agreement = Agreement.objects.create(customer=customer, since="2020-01-01", terms="As agreed.")
    agreement.sites.add(unit.site)
    return unit


def grow(technician: User, number: int) -> None:
    """One more of everything a list shows: a kit out at a house, a call, a sensor, something still to do."""
    unit = house(number)
    call = make.call(unit=unit, technician=technician, days_ahead=-2)
    kit = make.kit(sensors=2, name=f"Kit {number:03d}")
    make.stay(Stage.INSTALLED, kit=kit, call=call, began=BEGAN)
    kit.follow_ups.create(what="One hole to plug.", opened_at=BEGAN, opened_by=technician)
    make.sensor(tag=f"spare {number}")
    make.stay(Stage.PLANNED, kit=make.kit(sensors=2, name=f"Promised {number:03d}"), began=BEGAN)
    waiting = make.call(unit=house(1000 + number), technician=technician)
    waiting.wanted_positions.set(Position.objects.all()[:2])
    on_truck = make.kit(sensors=1, name=f"Riding {number:03d}")
    Custody.objects.filter(kit=on_truck, held_until=None).update(place=Place.TRUCK, technician=technician)
    broken = make.kit(sensors=1, name=f"Broken {number:03d}", place=Place.BENCH)
    Kit.objects.filter(pk=broken.pk).update(condition="needs_work", condition_why="display")


def queries(client: Client, address: str) -> int:
    client.get(address)  # what is read once a process is read now
    with CaptureQueriesContext(connection) as seen:
        answer = client.get(address)
    assert answer.status_code == 200, address
    assert len(answer.content) > (100 if "_export" in address else 1000), address
    return len(seen)


# Who opens it, its address, and the most queries it may take.
PAGES: list[tuple[str, Callable[[User], str], int]] = [
    ("office", lambda _: "/", 18),
    ("office", lambda _: "/calls/", 12),
    ("office", lambda _: "/calls/?state=all", 12),
    ("office", lambda _: "/calls/?q=lane", 12),
    ("office", lambda _: "/kits/", 12),
    ("office", lambda _: "/kits/?where=site&sort=-due_back", 12),
    ("office", lambda _: "/kits/?q=kit", 12),
    ("technician", lambda _: "/kits/", 12),
    ("office", lambda _: "/kits/?_export=csv", 12),
    ("office", lambda _: "/calls/?_export=csv&state=all", 12),
    ("office", lambda _: "/kits/weeks/", 12),
    ("office", lambda _: "/kits/shelf-count/", 12),
    ("office", lambda _: "/sites/", 12),
    ("office", lambda _: "/sites/?q=lane", 12),
    ("office", lambda _: "/customers/", 12),
    ("office", lambda _: "/sensors/", 12),
    ("technician", lambda _: "/bench/", 18),
    ("office", lambda _: "/agreements/", 12),
    ("office", lambda _: "/positions/", 12),
    ("office", lambda _: "/search/?q=lane", 20),
    ("office", lambda _: "/truck/", 12),
    ("office", lambda technician: f"/truck/?technician={technician.pk}", 16),
    ("technician", lambda _: "/truck/", 16),
    ("office", lambda _: "/papers/labels/", 12),
    ("manager", lambda _: "/people/", 12),
]


@pytest.fixture
def people(office: User, technician: User, manager: User) -> dict[str, Client]:
    make.shop()
    return {
        "office": signed_in(office),
        "technician": signed_in(technician),
        "manager": signed_in(manager),
    }


def test_a_list_asks_the_same_of_the_database_at_3_and_at_30_rows(
    people: dict[str, Client], technician: User
) -> None:
    def count_all() -> dict[tuple[str, str], int]:
        return {(who, where(technician)): queries(people[who], where(technician)) for who, where, _ in PAGES}

    for number in range(FEW):
        grow(technician, number)
    few = count_all()
    for number in range(FEW, MANY):
        grow(technician, number)
    many = count_all()
    assert {page: (few[page], many[page]) for page in few if few[page] != many[page]} == {}
    ceilings = {(who, where(technician)): most for who, where, most in PAGES}
    assert {page: count for page, count in many.items() if count > ceilings[page]} == {}


@pytest.mark.parametrize(
    ("stage", "most"),
    [
        pytest.param(None, 8, id="on the shelf"),
        pytest.param(Stage.PLANNED, 7, id="planned"),
        pytest.param(Stage.LOADED, 7, id="on a truck"),
        pytest.param(Stage.INSTALLED, 7, id="at a unit"),
        pytest.param(Stage.REMOVED, 7, id="taken out"),
        pytest.param(Stage.HANDED_BACK, 8, id="back in the shop"),
    ],
)
@pytest.mark.parametrize("who", ["technician", "office"])
def test_the_face_of_a_kit_takes_at_most_eight_queries(
    people: dict[str, Client], who: str, stage: Stage | None, most: int
) -> None:
    kit = make.kit()
    if stage:
        make.stay(stage, kit=kit, began=BEGAN)
    assert queries(people[who], f"/k/{kit.code}") <= most


def test_choosing_a_kit_asks_the_same_however_many_kits_there_are(
    people: dict[str, Client], technician: User
) -> None:
    call = make.call()
    counts = []
    for number in (FEW, MANY - FEW):
        for _ in range(number):
            make.kit(sensors=2)
        counts.append(queries(people["office"], f"/calls/{call.number}/assign/"))
    assert counts[0] == counts[1] <= 22
