"""Rows of sites, with who is who there, and rows of units."""

import re
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone

from kits.actions.many import Many, add_one, change_one
from kits.models.base import fold
from reports.importing.cells import bare
from reports.importing.fields import SITES, UNITS
from reports.intake.customers import CustomerBook, Known, Several, digits_of
from reports.intake.rows import Outcome, Planner, RowPlan, changes, held, refuse, told
from sites.actions.arrivals import party_arrives, site_arrives
from sites.days import day_of
from sites.free import shop_zone
from sites.models import Customer, Party, PartyRole, Site, Unit

ABOUT_CUSTOMERS = ("customer", "customer_phone", "customer_email", "parts", "who")
USUAL_PARTS = (PartyRole.LIVES_THERE, PartyRole.PAYS)
PART_WORDS = {
    PartyRole.LIVES_THERE: "lives there, lives, tenant, resident, occupant, occupier, renter",
    PartyRole.OWNS: "owns, owner, landlord, property owner",
    PartyRole.PAYS: "pays, payer, bill to, billing, billed, pays the bill",
    PartyRole.MAY_SAY_YES: "may say yes, decides, property manager, manager, authorised, authorized",
}
WORD_OF_PART = {bare(word): (part,) for part, said in PART_WORDS.items() for word in said.split(", ")} | {
    bare("homeowner"): (PartyRole.LIVES_THERE, PartyRole.OWNS, PartyRole.PAYS),
    bare("owner occupier"): (PartyRole.LIVES_THERE, PartyRole.OWNS, PartyRole.PAYS),
}


def parts_of(text: str) -> tuple[PartyRole, ...] | None:
    """The parts that words name: "lives there, pays"; None when a word names none."""
    found: list[PartyRole] = []
    for word in re.split(r"[,;/&+]|\band\b", text):
        if bare(word):
            if bare(word) not in WORD_OF_PART:
                return None
            found += WORD_OF_PART[bare(word)]
    return tuple(dict.fromkeys(found))


def people_of(text: str) -> list[tuple[str, str, tuple[PartyRole, ...]]] | None:
    """Name, phone and parts of each in "Ana Diaz (+1 201 555 0100): lives there, pays; Bob Lee: owns"; None if unclear."""
    people = []
    gathered = ""
    for piece in text.split(";"):
        gathered = f"{gathered};{piece}" if gathered else piece
        who, colon, said = gathered.rpartition(":")
        parts = parts_of(said) if colon else None
        if parts:
            named = re.fullmatch(r"(.*?)\s*(?:\(([^()]*\d[^()]*)\))?", who.strip(), re.DOTALL)
            name, phone = (named[1], named[2] or "") if named else (who.strip(), "")
            if len(digits_of(phone)) < 5:
                name, phone = who.strip(), ""
            people.append((name, phone, parts))
            gathered = ""
    return None if gathered.strip() else people


# The United States postal codes that begin with 0, which a spreadsheet drops when it takes them for numbers.
BEGIN_WITH_ZERO = frozenset(["CT", "MA", "ME", "NH", "NJ", "PR", "RI", "VI", "VT"])
LOST_ZERO = re.compile(r"\d{3,4}(-\d{4})?")


def whole_code(postal_code: str, region: str) -> str:
    """The postal code with the zeros back that a spreadsheet lost.

    >>> whole_code("7001", "NJ"), whole_code("7001", "Tasmania"), whole_code("18015", "PA")
    ('07001', '7001', '18015')
    """
    if region.strip().upper() in BEGIN_WITH_ZERO and LOST_ZERO.fullmatch(postal_code):
        digits, dash, rest = postal_code.partition("-")
        return digits.zfill(5) + dash + rest
    return postal_code


def code_key(postal_code: str) -> str:
    """By which postal codes are compared: zeros in front may have been lost."""
    return bare(postal_code).lstrip("0")


@dataclass(eq=False)
class Place:
    """A site of the books, or one that a row of this file brings."""

    street: str
    city: str
    postal_code: str
    row: Site | None = None
    held: dict[Known, set[PartyRole]] = field(default_factory=dict)


class SiteBook:
    """Every site by street."""

    def __init__(self, customers: CustomerBook | None = None, today: date | None = None) -> None:
        self.by_street: dict[str, list[Place]] = defaultdict(list)
        rows = Site.objects.all()
        known: dict[int, Known] = {}
        if customers is not None and today is not None:
            now_there = Prefetch("parties", Party.objects.on(today), to_attr="current_parties")
            rows = rows.prefetch_related(now_there)
            for alike in customers.by_name.values():
                known |= {one.row.pk: one for one in alike if one.row}
        for site in rows:
            place = self.add(Place(site.street, site.city, site.postal_code, site))
            for party in getattr(site, "current_parties", ()):
                if party.customer_id in known:
                    place.held.setdefault(known[party.customer_id], set()).add(PartyRole(party.part))

    def add(self, place: Place) -> Place:
        self.by_street[fold(place.street)].append(place)
        return place

    def streets(self) -> list[str]:
        return [place.street for alike in self.by_street.values() for place in alike[:1]]

    def find(self, street: str, city: str = "", postal_code: str = "") -> Place | None:
        """The site at that address, told from others in the same street by postal code, else by city."""
        alike = self.by_street.get(fold(street), [])
        if postal_code:
            exact = [place for place in alike if code_key(place.postal_code) == code_key(postal_code)]
            if exact:
                return one_of(exact, city)
            alike = [place for place in alike if not place.postal_code]
        if city:
            alike = [place for place in alike if fold(place.city) == fold(city)]
        if not alike and not postal_code and not city and "," in street:
            head, _, tail = street.rpartition(",")
            return self.find(head.strip(), tail.strip())
        return one_of(alike, city)


def one_of(alike: list[Place], city: str) -> Place | None:
    if len(alike) > 1 and city:
        alike = [place for place in alike if fold(place.city) == fold(city)] or alike
    if len(alike) > 1:
        raise Several
    return alike[0] if alike else None


class SitePlanner(Planner):
    kind = SITES

    def __init__(self) -> None:
        super().__init__()
        self.zone = shop_zone()
        self.today = day_of(timezone.now(), self.zone)
        self.customers = CustomerBook()
        self.book = SiteBook(self.customers, self.today)

    def plan(self, line: int, values: dict[str, Any]) -> RowPlan:
        facts = {name: value for name, value in values.items() if name not in ABOUT_CUSTOMERS}
        if second := facts.pop("street_2", ""):
            facts["street"] = f"{facts.get('street', '')}, {second}".strip(", ")
        if not facts.get("street"):
            raise refuse("Street", "Empty. Each site needs a street.")
        if ("latitude" in facts) != ("longitude" in facts):
            raise refuse("Latitude", "Give both latitude and longitude, or neither.")
        for name, most in (("latitude", 90), ("longitude", 180)):
            if abs(facts.get(name, 0)) > most:
                raise refuse(self.label(name), f"{facts[name]} is not on earth: from -{most} to {most}.")
        if "postal_code" in facts:
            facts["postal_code"] = whole_code(facts["postal_code"], facts.get("region", ""))
        what = ", ".join(facts[name] for name in ("street", "city") if facts.get(name))
        try:
            place = self.book.find(facts["street"], facts.get("city", ""), facts.get("postal_code", ""))
        except Several:
            raise refuse(
                "Street", f"More than one site is at {facts['street']}. Give the postal code too."
            ) from None
        repeated = place is not None and id(place) in self.seen
        if repeated:
            # A second row about a site may bring a second customer, but nothing else that is new.
            self.once(id(place), line, facts, what)
        people = self.people(values)
        if place is None:
            return self.new(line, what, facts, people)
        return self.known(line, what, place, facts, people, repeated)

    def new(
        self, line: int, what: str, facts: dict[str, Any], people: list[tuple[Known, tuple[PartyRole, ...]]]
    ) -> RowPlan:
        if not facts.get("city"):
            raise refuse("City", "Empty. A new site needs a city.")
        seen = dict(facts)
        facts = {"time_zone": str(self.zone), **facts}
        self.checked(Site(), facts)
        place = self.book.add(Place(facts["street"], facts["city"], facts.get("postal_code", "")))
        self.once(id(place), line, seen, what)
        wanted = [(who, parts or USUAL_PARTS) for who, parts in people]
        for who, parts in wanted:
            place.held.setdefault(who, set()).update(parts)

        def do(many: Many) -> None:
            place.row = site_arrives(many, fields=facts)
            add_parties(many, place, wanted, self.today)

        return RowPlan(
            line,
            Outcome.NEW,
            what,
            [*held(Site, facts, self.label, but=("street", "city")), *in_words(wanted)],
            job=do,
        )

    def known(
        self,
        line: int,
        what: str,
        place: Place,
        facts: dict[str, Any],
        people: list[tuple[Known, tuple[PartyRole, ...]]],
        repeated: bool,
    ) -> RowPlan:
        site = place.row
        changed: dict[str, Any] = {}
        details: list[str] = []
        if site is not None and not repeated:
            self.once(id(place), line, facts, what)
            # The street led here whatever its case and accents; the books' writing of it stays.
            changed = changes(site, {name: value for name, value in facts.items() if name != "street"})
            details = told(site, changed, self.label)
            self.checked(Site(), changed)
        wanted = []
        for who, parts in people:
            held = place.held.setdefault(who, set())
            fresh = tuple(part for part in (parts or (() if held else USUAL_PARTS)) if part not in held)
            held.update(fresh)
            if fresh:
                wanted.append((who, fresh))
        if not changed and not wanted:
            return RowPlan(line, Outcome.SAME, what)

        def do(many: Many) -> None:
            if changed and site is not None:
                change_one(many, site, changed)
            add_parties(many, place, wanted, self.today)

        return RowPlan(line, Outcome.CHANGED, what, [*details, *in_words(wanted)], job=do)

    def people(self, values: dict[str, Any]) -> list[tuple[Known, tuple[PartyRole, ...]]]:
        """The customers a row names, each with the parts it gives them (none given: the usual ones)."""
        found: list[tuple[Known, tuple[PartyRole, ...]]] = []
        if text := values.get("who"):
            people = people_of(text)
            if people is None:
                raise refuse("Who is who there", "Write it like: Ana Diaz: lives there, pays; Bob Lee: owns.")
            found += [(self.customer(name, phone, ""), parts) for name, phone, parts in people]
        if name := values.get("customer"):
            parts = parts_of(values.get("parts", ""))
            if parts is None:
                allowed = ", ".join(part.label for part in PartyRole)
                raise refuse(self.label("parts"), f"“{values['parts']}” is no part we know. Use: {allowed}.")
            phone, email = values.get("customer_phone", ""), values.get("customer_email", "")
            found.append((self.customer(name, phone, email), parts))
        return found

    def customer(self, name: str, phone: str, email: str) -> Known:
        try:
            known = self.customers.find(name, phone, email)
        except Several:
            raise refuse(
                "Customer", f"More than one customer is called {name}. Give the customer's phone too."
            ) from None
        if known is not None:
            return known
        if not phone and not email:
            near = self.near(name, self.customers.names())
            raise refuse(
                "Customer",
                f"There is no customer {name}.{near} Bring the customers in first, or give a phone or e-mail here "
                "so that the customer is written down with the site.",
            )
        self.checked(Customer(), {"name": name, "phone": phone, "email": email})
        return self.customers.add(Known(name, phone, email))


def in_words(wanted: list[tuple[Known, tuple[PartyRole, ...]]]) -> list[str]:
    return [
        f"{who.name}{'' if who.row else ' (new)'}: {', '.join(part.label for part in parts)}"
        for who, parts in wanted
    ]


def add_parties(
    many: Many, place: Place, wanted: list[tuple[Known, tuple[PartyRole, ...]]], today: date
) -> None:
    site = place.row
    if site is None:
        raise LookupError("The site of these parts was not made.")
    for who, parts in wanted:
        for part in parts:
            party_arrives(many, site=site, customer=who.saved(many), part=part, since=today)


class UnitPlanner(Planner):
    kind = UNITS

    def __init__(self) -> None:
        super().__init__()
        self.book = SiteBook()
        self.units = {(unit.site_id, fold(unit.name)): unit for unit in Unit.objects.select_related("site")}

    def plan(self, line: int, values: dict[str, Any]) -> RowPlan:
        site = self.site(values)
        facts = {
            name: value for name, value in values.items() if name not in ("street", "city", "postal_code")
        }
        if not facts.get("name"):
            raise refuse("Name of the unit", "Empty. Each unit needs a name: what the people there call it.")
        what = f"{facts['name']}, {site}"
        key = (site.pk, fold(facts["name"]))
        if again := self.once(key, line, facts, what):
            return again
        unit = self.units.get(key)
        if unit is None:
            if not facts.get("kind"):
                raise refuse(
                    "Kind",
                    "Empty. A new unit needs its kind: air handler, furnace, heat pump or packaged unit.",
                )
            self.checked(Unit(), facts)
            return RowPlan(
                line,
                Outcome.NEW,
                what,
                held(Unit, facts, self.label, but=("name",)),
                job=lambda many: add_one(many, Unit(site=site), facts),
            )
        changed = changes(unit, {name: value for name, value in facts.items() if name != "name"})
        if not changed:
            return RowPlan(line, Outcome.SAME, what)
        details = told(unit, changed, self.label)
        self.checked(Unit(), changed)
        return RowPlan(
            line,
            Outcome.CHANGED,
            what,
            details,
            job=lambda many: change_one(many, unit, changed),
        )

    def site(self, values: dict[str, Any]) -> Site:
        street, city, postal_code = (values.get(name, "") for name in ("street", "city", "postal_code"))
        if not street:
            raise refuse("Site: street", "Empty. Each unit names the street of its site.")
        try:
            place = self.book.find(street, city, postal_code)
        except Several:
            raise refuse(
                "Site: street", f"More than one site is at {street}. Give the postal code too."
            ) from None
        if place is None or place.row is None:
            near = self.near(street, self.book.streets())
            address = ", ".join(part for part in (street, city, postal_code) if part)
            raise refuse(
                "Site: street",
                f"There is no site at {address}.{near} Bring the sites in first, or correct the address.",
            )
        return place.row
