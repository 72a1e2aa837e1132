"""A year in the life of the demo shop, told through the same actions that people use. Dated back from `now`."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import count
from random import Random
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from config.demo.bench import Bench
from config.demo.logins import LOGINS
from config.demo.people import (
    COMPLAINTS,
    HOUSES,
    KITS,
    MORE_TECHNICIANS,
    PARTS,
    SEEN,
    SHOP,
    TAPES,
    House,
    KitPlan,
)
from kits.actions import kits as kit_actions
from kits.actions import sensors as sensor_actions
from kits.actions.acting import Act
from kits.actions.records import add_record
from kits.codes import draw_code
from kits.models import KeptAt, Kit, LabelStock, Role, Sensor, Shop, User
from kits.rom import crc8
from reports.models import LabelPrinter
from sites.actions import custody, findings, places, planning, stays
from sites.models import (
    Agreement,
    Customer,
    Deployment,
    FloatSwitch,
    HandBackPlace,
    PartyRole,
    Position,
    Reason,
    ServiceCall,
    Site,
    TapPlace,
    Unit,
    UnitKind,
)

POSITIONS = ("SA", "RA", "LL", "VL", "OA")
DAYS_OF_HISTORY = 360
DEMO_SEED = 20260314


class Story:
    """Tells the demo: holds the people, the kits and the units, and the one source of chance."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        self.chance = Random(DEMO_SEED)
        self.zone = ZoneInfo(SHOP["time_zone"])
        self.requests = count(1)
        self.people: dict[str, User] = {}
        self.kits: dict[str, Kit] = {}
        self.units: list[Unit] = []
        self.calls = 0
        self.bench = Bench(self)

    # -- Telling ---------------------------------------------------------------------------------

    def day(self, days_ago: float) -> date:
        """A day of the shop's calendar, so many before today; negative for days to come."""
        return (self.now.astimezone(self.zone) - timedelta(days=days_ago)).date()

    def at(self, days_ago: float, hour: int = 9, minute: int = 0) -> datetime:
        """An instant on the shop's clock, so many days before now; never after now."""
        day = self.day(days_ago)
        then = datetime(day.year, day.month, day.day, hour, minute, tzinfo=self.zone)
        return min(then, self.now - timedelta(minutes=5))

    def act(self, who: str, happened_at: datetime, *, typed_at: datetime | None = None, **more: Any) -> Act:
        user = self.people[who]
        return Act.by(
            user,
            happened_at=happened_at,
            recorded_at=max(typed_at or happened_at, happened_at),
            request_id=UUID(int=next(self.requests), version=4),
            **more,
        )

    def kit(self, name: str) -> Kit:
        return Kit.objects.get(code=self.kits[name].code)

    # -- Opening the shop ------------------------------------------------------------------------

    def open_shop(self) -> None:
        Shop.objects.update_or_create(pk=1, defaults=SHOP)
        for login in LOGINS:
            self.add_person(login.username, login.name, Role(login.role), login.password)
        for username, name in MORE_TECHNICIANS:
            self.add_person(username, name, Role.TECHNICIAN, LOGINS[1].password)

    def add_person(self, username: str, name: str, role: Role, password: str) -> None:
        phone = f"+1 201 555 {150 + len(self.people):04}"
        person = User(username=username, name=name, role=role, phone=phone, email=f"{username}@example.com")
        person.set_password(password)
        person.save()
        self.people[username] = person

    def build_kits(self) -> None:
        self.bench.open()
        for number, plan in enumerate(KITS):
            self.build_kit(plan, self.at(DAYS_OF_HISTORY + 20 - number))
        spares = []
        for number in range(3):
            spares.append(
                self.add_sensor(
                    self.act("office", self.at(120)), tag=f"S{number + 1}", lead="3.0", spare=number
                )
            )
        self.bench.check(self.at(118), spares)
        self.set_up_printers()

    def set_up_printers(self) -> None:
        """The office printer feeds a little low; the bench has a printer of tape."""
        for name, stock, dpi, nudge_down_mm in (
            ("Office printer", LabelStock.LETTER_30, 600, "-0.8"),
            ("Bench tape", LabelStock.TAPE_24, 180, "0.0"),
        ):
            fields = {"name": name, "stock": stock, "dpi": dpi, "shift_y_mm": Decimal(nudge_down_mm)}
            add_record(self.act("office", self.at(100)), row=LabelPrinter(), fields=fields)

    def build_kit(self, plan: KitPlan, built_at: datetime) -> None:
        fields = {
            "name": plan.name,
            "built_on": built_at.date(),
            "controller": "Wi-Fi board, rev C",
            "firmware": "1.4.2",
            "power_draw_watt": Decimal("2.0"),
            "power_draw_volt_ampere": Decimal("5.0"),
            "has_aux_contact": plan.has_aux_contact,
            "aux_contact_rating": "24 V AC, 1 A" if plan.has_aux_contact else "",
            "rated_to_celsius": Decimal("60"),
            "adapter_isolated": plan.adapter_isolated,
            "replacement_value_cents": 18_500,
        }
        act = self.act("manager", built_at)
        done = kit_actions.add_kits(act, fields=fields, parts=PARTS, codes=[draw_code(self.chance)])
        self.kits[plan.name] = done.row(Kit)
        sensors = []
        for tag, colour in TAPES[: plan.sensors]:
            sensor = self.add_sensor(
                self.act("manager", built_at), tag=tag, colour=colour, lead=plan.lead_length_m, kit=plan.name
            )
            self.bench.bare[sensor.pk] = -self.chance.randint(-45, 40) / 100
            sensors.append(sensor)
        self.bench.check(built_at + timedelta(hours=1), sensors)
        custody.put_on_shelf(self.act("manager", built_at + timedelta(hours=3)), kit=self.kit(plan.name))

    def add_sensor(
        self, act: Act, *, tag: str, lead: str, colour: str = "", kit: str = "", spare: int = 0
    ) -> Sensor:
        body = bytes([0x28]) + self.chance.randbytes(6)
        fields = {
            "tag": tag,
            "tag_colour": colour,
            "lead_length_m": Decimal(lead),
            "housing": "steel tip, 6 x 50 mm",
            "bought_on": act.happened_at.date(),
        }
        places_of_spares = (KeptAt.SHELF, KeptAt.TRUCK, KeptAt.SHELF)
        place = places_of_spares[spare]
        done = sensor_actions.add_sensor(
            act,
            rom=(body + bytes([crc8(body)])).hex(),
            fields=fields,
            kit=self.kit(kit) if kit else None,
            place=place,
            technician=self.people["technician"] if place == KeptAt.TRUCK and not kit else None,
        )
        return done.row(Sensor)

    def open_houses(self) -> None:
        firms: dict[str, Customer] = {}
        for house in HOUSES:
            self.open_house(house, firms)
        covered = list(Site.objects.filter(street__startswith="230 Harbor"))
        for customer, sites, terms in (
            (
                firms["Brightwater Rentals"],
                covered,
                "14 days of monitoring a year are included, then 6.50 a day.",
            ),
            (
                Customer.objects.get(name__startswith="Dana"),
                list(Site.objects.filter(street="12 Quarry Lane")),
                "Watch after the new system: 30 days included in its price.",
            ),
        ):
            fields = {"customer": customer, "sites": sites, "since": self.at(300).date(), "terms": terms}
            add_record(self.act("manager", self.at(300)), row=Agreement(), fields=fields)

    def open_house(self, house: House, firms: dict[str, Customer]) -> None:
        act = self.act("office", self.at(DAYS_OF_HISTORY))
        person = add_record(act, row=Customer(), fields={"name": house.lives, "phone": house.phone}).row(
            Customer
        )
        fields: dict[str, Any] = {
            "street": house.street,
            "city": house.city,
            "region": "NJ",
            "postal_code": house.postal_code,
            "time_zone": SHOP["time_zone"],
            "access_notes": house.access,
            "contact_name": house.lives,
            "contact_phone": house.phone,
        }
        if house.at:
            fields |= {"latitude": Decimal(house.at[0]), "longitude": Decimal(house.at[1])}
        parts: tuple[PartyRole, ...] = (PartyRole.LIVES_THERE, PartyRole.MAY_SAY_YES)
        if not house.pays:
            parts = (*parts, PartyRole.OWNS, PartyRole.PAYS)
        act = self.act("office", self.at(DAYS_OF_HISTORY))
        site = places.add_site(act, fields=fields, customer=person, parts=parts).row(Site)
        if house.pays:
            if house.pays not in firms:
                act = self.act("office", self.at(DAYS_OF_HISTORY))
                given = {
                    "name": house.pays,
                    "phone": "+1 201 555 0160",
                    "email": "desk@brightwater.example.com",
                }
                firms[house.pays] = add_record(act, row=Customer(), fields=given).row(Customer)
            for part in (PartyRole.OWNS, PartyRole.PAYS):
                act = self.act("office", self.at(DAYS_OF_HISTORY))
                since = self.at(DAYS_OF_HISTORY).date()
                places.add_party(act, site=site, customer=firms[house.pays], part=part, since=since)
        for name, kind, location, float_switch, volt_ampere in house.units:
            fields = {
                "site": site,
                "name": name,
                "kind": UnitKind(kind),
                "make": self.chance.choice(("Northfield", "Calder", "Tamarack")),
                "model": f"{self.chance.choice('KLMRT')}{self.chance.randint(24, 60)}-{self.chance.randint(100, 999)}",
                "serial": f"{self.chance.randint(10**7, 10**8)}",
                "refrigerant": "" if kind == "furnace" else self.chance.choice(("R-410A", "R-454B")),
                "capacity_tons": Decimal(self.chance.choice(("2.0", "2.5", "3.0", "4.0"))),
                "location": location,
                "float_switch": float_switch,
                "transformer_volt_ampere": volt_ampere,
            }
            act = self.act("office", self.at(DAYS_OF_HISTORY))
            self.units.append(add_record(act, row=Unit(), fields=fields).row(Unit))

    # -- Steps of a stay -------------------------------------------------------------------------

    def book(
        self, days_ago: float, unit: int, who: str, *, wanted: int = 4, window_days: int = 2, **more: Any
    ) -> ServiceCall:
        """A call booked three days before its window, which begins `days_ago` days before now."""
        start = self.day(days_ago)
        self.calls += 1
        reasons = (
            Reason.INTERMITTENT,
            Reason.NEW_INSTALL,
            Reason.INTERMITTENT,
            Reason.AGREEMENT,
            Reason.OTHER,
        )
        fields = {
            "unit": self.units[unit % len(self.units)],
            "reason": reasons[self.calls % len(reasons)],
            "told_us": COMPLAINTS[self.calls % len(COMPLAINTS)],
            "window_from": start,
            "window_until": start + timedelta(days=window_days),
            "technician": self.people[who],
            "wanted_positions": list(Position.objects.filter(code__in=POSITIONS[:wanted])),
            **more,
        }
        booked_at = self.at(max(days_ago + 3, 1), 14, 10)
        return planning.book_call(self.act("office", booked_at), fields=fields).row(ServiceCall)

    def plan(self, kit: str, call: ServiceCall, days_ago: float, length: int) -> Deployment:
        act = self.act("office", self.at(max(days_ago + 2, 0.5), 15, 20))
        out = call.window_from + timedelta(days=length)
        done = planning.plan(
            act, call=call, kit=self.kit(kit), take_out_by=out, back_in_shop_by=out + timedelta(days=2)
        )
        return done.row(Deployment)

    def load(self, stay: Deployment, days_ago: float, hour: int = 7) -> None:
        technician = stay.technician or self.people["technician"]
        act = self.act(technician.username, self.at(days_ago, hour, 25))
        stays.load(act, kit=Kit.objects.get(pk=stay.kit_id), call=stay.call, technician=technician)

    def install(self, stay: Deployment, days_ago: float, hour: int = 10, **facts: Any) -> None:
        technician = stay.technician or self.people["technician"]
        kit = Kit.objects.get(pk=stay.kit_id)
        wired = [
            row.sensor
            for row in kit.wirings.filter(wired_until=None).select_related("sensor").order_by("terminal")
        ]
        fields = {
            "hookup_terminals": self.chance.choice(
                ("R and C at the air handler board", "R and C at the thermostat base")
            ),
            "tap_place": self.chance.choice(("upstream", "downstream", "upstream")),
            "volts_dead": Decimal("0.0"),
            "volts_after": Decimal(self.chance.randint(252, 276)) / 10,
            "ports_drilled": 2,
            "wifi": self.chance.choice(("guest", "none", "home")),
            "consent_by": str(stay.unit.site.contact_name)[:120],
            "consent_part": "owner",
            "reference_thermometer": "Shop reference 2",
            "box_place": stay.unit.location,
            **facts,
        }
        if stay.unit.float_switch == FloatSwitch.NONE:
            fields["tap_place"] = TapPlace.NO_SWITCH
        stays.install(
            self.act(technician.username, self.at(days_ago, hour, 40)),
            kit=kit,
            placements=dict(zip(POSITIONS, wired, strict=False)),
            take_out_by=stay.take_out_by,
            back_in_shop_by=stay.back_in_shop_by,
            facts=fields,
            readings=self.readings(Decimal("13.4"), Decimal("23.9")),
        )

    def readings(self, supply: Decimal, return_air: Decimal) -> list[stays.Reading]:
        found = []
        for position, reference in (("SA", supply), ("RA", return_air)):
            raw = round(float(reference) * 16 + self.chance.randint(-5, 5)) / 16
            found.append(
                stays.Reading(
                    position=position,
                    raw_celsius=Decimal(str(round(raw, 2))),
                    reference_celsius=reference + Decimal(self.chance.randint(-1, 1)) / 10,
                )
            )
        return found

    def remove(self, stay: Deployment, days_ago: float, hour: int = 14, **pull: Any) -> None:
        technician = stay.technician or self.people["technician"]
        done = {"pulled_by": str(technician), "ports_closed": 2, "wire_restored": True, "system_ran": True}
        stays.remove(
            self.act(technician.username, self.at(days_ago, hour, 15)),
            kit=Kit.objects.get(pk=stay.kit_id),
            carrier=technician,
            pull=stays.Pull(**{**done, **pull}),
            readings=self.readings(Decimal("14.1"), Decimal("24.6")),
        )

    def hand_back(self, stay: Deployment, days_ago: float, hour: int = 16, **changes: Any) -> None:
        kit = Kit.objects.get(pk=stay.kit_id)
        wired = frozenset(row.sensor for row in kit.wirings.filter(wired_until=None).select_related("sensor"))
        values: dict[str, Any] = {"sensors": wired, "account_wiped": True, "wifi_wiped": True, **changes}
        done = self.act("office", self.at(days_ago, hour, 30))
        stays.hand_back(done, kit=kit, count=stays.Count(where=HandBackPlace.SHOP, **values))

    def whole_stay(
        self, kit: str, unit: int, who: str, began: float, length: int, **removal: Any
    ) -> Deployment:
        """A stay that began `began` days ago, lasted `length` days and is long over."""
        call = self.book(began, unit, who)
        stay = self.plan(kit, call, began, length)
        self.load(stay, began)
        self.install(stay, began)
        self.remove(stay, began - length, **removal)
        self.hand_back(stay, began - length, 17)
        saw = SEEN[self.calls % len(SEEN)]
        told = "\n".join(sentence for sentence in saw[:2] if sentence)
        act = self.act("office", self.at(began - length - 1, 11))
        findings.write_findings(act, stay=stay, saw=told, suggest=saw[2])
        planning.close_call(self.act("office", self.at(began - length - 1, 12)), call=call, why="Report sent")
        return stay
