"""Shops to look at: one with nothing in it, one with one of each thing, one with many, one with the longest believable words.

For a database of their own (scripts/pictures.py --state many); nothing here is undone.
"""

from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

from django.conf import settings
from django.utils import timezone

from kits.models import Kit, Role, Sensor, User
from sites.actions import custody
from sites.models import Agreement, Party, Position, Stage
from tests import make, pages

MANY = 64
PEOPLE = {
    Role.MANAGER: ("manager", "Ruth Adler"),
    Role.OFFICE: ("office", "Maya Lindqvist"),
    Role.TECHNICIAN: ("technician", "Ben Okafor"),
}
LONG_PEOPLE = {
    Role.MANAGER: "Alexandrina Featherstonehaugh-Montgomery",
    Role.OFFICE: "Maria-Guadalupe Villanueva de la Fuente",
    Role.TECHNICIAN: "Bartholomew Oluwaseun Okonkwo-Abernathy",
}
LONG_CUSTOMER = "The Greater Saint Bartholomew Homeowners Association, Inc. 4"
LONG_STREET = (
    "12408 North Martin Luther King Junior Memorial Boulevard, Building 14, Rooftop Mechanical Penthouse East"
)
LONG_NOTES = (
    "Gate code changes on the first of every month: ask the property manager, who answers between eight and ten. "
    "The hatch is in the hallway closet behind the water heater, screwed down; bring the long ladder. Two dogs, "
    "friendly but loud. Park in the visitors' row only, or they tow. Baby sleeps from one to three, so no drilling."
)


def people(names: dict[Role, str] | None = None) -> dict[Role, User]:
    """The three who sign in, under the names of the demo's logins."""
    found = {}
    for role, (username, name) in PEOPLE.items():
        person = make.user(role, name=(names or {}).get(role, name))
        person.username = username
        person.save()
        found[role] = person
    return found


def with_few_people(crew: dict[Role, User]) -> None:
    """Builders make a fresh person for every act; a shop to look at has the three it has."""
    for role in Role:
        setattr(make, role.value, partial(given, crew[role]))


def given(person: User, **_: Any) -> User:
    return person


def empty() -> None:
    """The first minute: somebody may sign in, and nothing else is there."""
    make.shop(name="Wren & Son Heating")
    people()


def one() -> None:
    """A few of everything, as most tests of pages have it."""
    make.shop(name="Wren & Son Heating")
    with_few_people(people())
    pages.fill()


def many() -> None:
    """More than fits a screen or a page of a table, everywhere; one kit with a long life."""
    one()
    now = timezone.now()
    boss = User.objects.get(username="manager")
    for number in range(MANY):
        unit = make.unit(
            site=make.site(street=f"{100 + number} Larkspur Lane"), name=f"Air handler {number + 1}"
        )
        customer = make.customer(f"Customer {number + 1:03d}", phone=f"+1 201 555 01{number:02d}")
        Party.objects.create(site=unit.site, customer=customer, part="lives_there", since="2020-01-01")
        agreement = Agreement.objects.create(
            customer=customer, since="2020-01-01", terms="30 days are included."
        )
        agreement.sites.add(unit.site)
        kit = make.kit(sensors=2, name=f"Kit {number + 1:03d}")
        call = make.call(unit=unit, days_ahead=-(number % 9))
        stages = (Stage.PLANNED, Stage.LOADED, Stage.INSTALLED, Stage.REMOVED)
        make.stay(stages[number % 4], kit=kit, call=call, began=now - timedelta(days=number % 20, hours=8))
        make.call(unit=unit, days_ahead=number % 30 + 20)
        make.sensor(tag=f"spare {number + 1}")
        kit.follow_ups.create(what=f"Close port {number + 1}", opened_at=now, opened_by=boss)
        if number % 8 == 0:
            make.user(name=f"Technician {number:02d}")
            Position.objects.create(code=f"P{number:02d}", name=f"Place {number}")
    long_life(boss)


def long_life(boss: User) -> None:
    """One kit went out and came home forty-five times in two years: some three hundred events."""
    began = timezone.now() - timedelta(days=760)
    old = make.kit(sensors=4, at=began - timedelta(days=2), name="Old faithful")
    for number in range(45):
        stay = make.stay(
            Stage.HANDED_BACK,
            kit=Kit.objects.get(pk=old.pk),
            call=make.call(days_ahead=16 * number - 760),
            began=began + timedelta(days=16 * number),
        )
        custody.put_on_shelf(make.act(boss, at=stay.handed_back_at), kit=Kit.objects.get(pk=old.pk))


def long() -> None:
    """A few of everything with the longest words that somebody may really type."""
    make.shop(
        name="Featherstonehaugh, Villanueva & Okonkwo Heating and Cooling Company", phone="+1 201 555 0100"
    )
    with_few_people(people(LONG_PEOPLE))
    for name, fields in LONG_FIELDS.items():
        setattr(make, name, partial(lengthened, getattr(make, name), fields))
    pages.fill()


def lengthened(build: Callable[..., Any], fields: dict[str, Any], *args: Any, **given_fields: Any) -> Any:
    """A builder that says everything at length, whatever its caller says."""
    return build(*args, **{**given_fields, **fields})


LONG_FIELDS: dict[str, dict[str, Any]] = {
    "kit": {
        "name": "Rooftop and attic long-lead kit with spare clamps, no. 12",
        "controller": "Metal box with a cable gland on each side and a fused 24 V input",
        "notes": LONG_NOTES,
    },
    "sensor": {"tag": "supply, long, taped", "tag_colour": "yellow", "housing": "Stainless, 6 mm by 50 mm"},
    "customer": {
        "name": LONG_CUSTOMER,
        "phone": "+1 201 555 0199",
        "email": "bartholomew.featherstonehaugh-montgomery@property-management.example.com",
        "notes": LONG_NOTES,
    },
    "site": {
        "street": LONG_STREET,
        "city": "Rancho Santa Margarita del Norte",
        "region": "California",
        "postal_code": "92688-1234",
        "access_notes": LONG_NOTES,
    },
    "unit": {
        "name": "North-east rooftop packaged unit over ballroom and kitchen",
        "location": "Rooftop, behind the east parapet, reached by the ladder in stairwell B",
        "notes": LONG_NOTES,
    },
    "call": {"told_us": LONG_NOTES, "notes": LONG_NOTES},
}
STATES: dict[str, Callable[[], None]] = {"empty": empty, "one": one, "many": many, "long": long}


def fill(state: str) -> None:
    """Fill the database of this process; passwords need not be safe in it."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    STATES[state]()


def things() -> dict[str, tuple[object, ...]]:
    """What the pages of this shop are about; in an empty one, only the pages that are about nothing in particular."""
    if not Sensor.objects.exists():
        return {"": (), "person": (User.objects.get(username="technician").pk,)}
    return pages.things()
