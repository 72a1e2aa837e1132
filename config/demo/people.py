"""The invented shop of the demo: its people, its kits, its customers and their houses. Nobody here exists."""

from dataclasses import dataclass

SHOP = {
    "name": "Larkspur Hollow Heating & Air",
    "address": "418 Tannery Row\nLarkspur Hollow, NJ 07999",
    "phone": "+1 201 555 0142",
    "email": "office@larkspurhollow.example.com",
    "licence_number": "HVACR-0000142 (invented)",
    "time_zone": "America/New_York",
    "temperature_unit": "F",
    "label_host": "127.0.0.1:8000",
}

MORE_TECHNICIANS = (("ana", "Ana Teixeira"), ("tom", "Tom Brannigan"))


@dataclass(frozen=True, kw_only=True)
class KitPlan:
    """A kit of the demo: its name, how many sensors it carries, the length of its leads, what is unusual about it.

    It was checked last so many days ago, after its last stay that is long over.
    """

    name: str
    sensors: int = 5
    lead_length_m: str = "3.0"
    has_aux_contact: bool = False
    adapter_isolated: str = "yes"
    checked_days_ago: int = 72


KITS = (
    KitPlan(name="Wren"),
    KitPlan(name="Finch", lead_length_m="5.0"),
    KitPlan(name="Robin", has_aux_contact=True),
    KitPlan(name="Heron", lead_length_m="6.0"),
    KitPlan(name="Kestrel", sensors=4),
    KitPlan(name="Plover", sensors=4, adapter_isolated="unknown"),
    KitPlan(name="Swift"),
    KitPlan(name="Martin", adapter_isolated="no"),
    KitPlan(name="Dunlin", sensors=4, checked_days_ago=200),
    KitPlan(name="Linnet", sensors=4, checked_days_ago=177),
)

PARTS = (
    {"name": "Controller board", "quantity": 1, "unit_cost_cents": 1_150},
    {"name": "24 V AC adapter", "quantity": 1, "unit_cost_cents": 1_490, "returns": True},
    {"name": "Box with magnets", "quantity": 1, "unit_cost_cents": 1_260},
    {"name": "Sensor on lead", "quantity": 5, "unit_cost_cents": 390},
    {"name": "Pipe strap", "quantity": 4, "unit_cost_cents": 85, "returns": True},
    {"name": "Port plug, spare", "quantity": 4, "unit_cost_cents": 12},
)

TAPES = (("1", "red"), ("2", "blue"), ("3", "yellow"), ("4", "green"), ("5", "white"))


@dataclass(frozen=True, kw_only=True)
class House:
    """A site with the people who have a part there and its units (name, kind, location, float switch, VA)."""

    street: str
    city: str
    postal_code: str
    lives: str
    pays: str = ""
    phone: str = ""
    access: str = ""
    units: tuple[tuple[str, str, str, str, int | None], ...] = (
        ("Main system", "air_handler", "Attic", "breaks_r", 40),
    )
    at: tuple[str, str] | None = None


HOUSES = (
    House(
        street="12 Quarry Lane",
        city="Larkspur Hollow",
        postal_code="07999",
        lives="Dana & Priya Whitcombe",
        phone="+1 201 555 0101",
        access="Side gate, blue door. Dog is friendly.",
        units=(
            ("Upstairs system", "heat_pump", "Attic over the garage", "breaks_r", 40),
            ("Downstairs system", "air_handler", "Hall closet", "breaks_y", 40),
        ),
        at=("40.90110", "-74.20150"),
    ),
    House(
        street="77 Old Mill Road",
        city="Larkspur Hollow",
        postal_code="07999",
        lives="Marcus Adeyemi",
        phone="+1 201 555 0102",
        access="Attic hatch in the bedroom closet; bring the short ladder.",
        at=("40.91020", "-74.18870"),
    ),
    House(
        street="5 Sycamore Court",
        city="Fennimore",
        postal_code="07998",
        lives="José Núñez-Wołkowski",
        phone="+1 201 555 0103",
        units=(("Furnace", "furnace", "Basement", "none", 40),),
        at=("40.88240", "-74.22310"),
    ),
    House(
        street="230 Harbor Street, Apt 3B",
        city="Fennimore",
        postal_code="07998",
        lives="Thu Đặng",
        pays="Brightwater Rentals",
        phone="+1 201 555 0104",
        access="Key with the property manager, call a day ahead.",
    ),
    House(
        street="230 Harbor Street, Apt 5A",
        city="Fennimore",
        postal_code="07998",
        lives="Colin Farrow",
        pays="Brightwater Rentals",
        phone="+1 201 555 0105",
    ),
    House(
        street="9 Elm Terrace",
        city="Larkspur Hollow",
        postal_code="07999",
        lives="Eleanor Vance-Okonkwo",
        phone="+1 201 555 0106",
        units=(("Heat pump", "heat_pump", "Crawl space", "unknown", None),),
        at=("40.89570", "-74.21140"),
    ),
    House(
        street="1410 Ridge Parkway",
        city="Stonebridge",
        postal_code="07997",
        lives="Rosalind & Peter Achterberg",
        phone="+1 201 555 0107",
        units=(
            ("North wing", "air_handler", "Attic", "breaks_r", 75),
            ("South wing", "air_handler", "Attic", "breaks_r", 75),
        ),
    ),
    House(
        street="33 Ferry Landing",
        city="Stonebridge",
        postal_code="07997",
        lives="Gus Lindholm",
        phone="+1 201 555 0108",
        access="Gate code is on the call, not here.",
    ),
    House(
        street="608 Chestnut Avenue",
        city="Fennimore",
        postal_code="07998",
        lives="Imani Brooks",
        phone="+1 201 555 0109",
        units=(("Packaged unit", "packaged", "Roof, ladder at the back", "none", 40),),
    ),
    House(
        street="2 Lantern Close",
        city="Larkspur Hollow",
        postal_code="07999",
        lives="Bea Montague",
        phone="+1 201 555 0110",
    ),
    House(
        street="81 Orchard Hill",
        city="Stonebridge",
        postal_code="07997",
        lives="Samir & Lena Haddad",
        phone="+1 201 555 0111",
        units=(("Upstairs system", "heat_pump", "Attic", "breaks_y", 40),),
    ),
    House(
        street="17 Weaver Street",
        city="Fennimore",
        postal_code="07998",
        lives="Otis Grantham",
        phone="+1 201 555 0112",
    ),
)

COMPLAINTS = (
    "Upstairs never gets below 78 on hot afternoons.",
    "It short cycles at night, then the house is cold in the morning.",
    "The screen goes blank once or twice a week and comes back by itself.",
    "The new system was put in last week; we want to see that it holds.",
    "Blows cool air for an hour most evenings.",
    "Bills went up by a third since spring.",
)
SEEN = (
    (
        "The system ran as it should on all but two days.",
        "On those two days power was lost for three hours.",
        "",
    ),
    (
        "The air leaving the system was 19 degrees cooler than the air going in.",
        "That is what we expect.",
        "",
    ),
    ("It started eleven times an hour on mild nights.", "", "A longer minimum run time at the thermostat."),
)
