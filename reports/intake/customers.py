"""Rows of customers, and finding the customer a row of another kind names."""

import re
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from kits.actions.many import Many, add_one, change_one
from kits.models.base import fold
from reports.importing.fields import CUSTOMERS
from reports.intake.rows import Outcome, Planner, RowPlan, changes, held, refuse, told
from sites.models import Customer


def digits_of(phone: str) -> str:
    """The digits that tell two phone numbers apart, without a country's own prefix."""
    return re.sub(r"\D", "", re.split(r"\b(?:x|ext)", phone, flags=re.IGNORECASE)[0])[-10:]


BEHIND_A_COMMA = frozenset(
    ("jr", "sr", "ii", "iii", "iv", "inc", "llc", "ltd", "co", "corp", "lp", "llp", "md", "esq")
)


def name_key(name: str) -> str:
    """By which names are compared: "Diaz, Carla" is Carla Diaz, "Fox Heating, LLC" stays.

    >>> name_key("Díaz, Carla"), name_key("Fox Heating, LLC")
    ('carla diaz', 'fox heating, llc')
    """
    last, comma, first = fold(name).partition(",")
    first = first.strip()
    if not comma or not first or "," in first or first.replace(".", "") in BEHIND_A_COMMA:
        return fold(name)
    return f"{first} {last.strip()}"


@dataclass(eq=False)
class Known:
    """A customer of the books, or one that a row of this file brings."""

    name: str
    phone: str = ""
    email: str = ""
    row: Customer | None = None
    notes: str = ""

    def saved(self, many: Many) -> Customer:
        """The customer's row, added now if it is not there yet."""
        if self.row is None:
            fields = {"name": self.name, "phone": self.phone, "email": self.email, "notes": self.notes}
            self.row = add_one(many, Customer(), fields)
        return self.row


class Several(Exception):
    """More than one customer is called so."""


class CustomerBook:
    """Every customer by name, with those the file brings."""

    def __init__(self) -> None:
        self.by_name: dict[str, list[Known]] = defaultdict(list)
        for customer in Customer.objects.all():
            self.add(Known(customer.name, customer.phone, customer.email, customer))

    def add(self, known: Known) -> Known:
        self.by_name[name_key(known.name)].append(known)
        return known

    def names(self) -> list[str]:
        return [known.name for same_name in self.by_name.values() for known in same_name[:1]]

    def find(self, name: str, phone: str = "", email: str = "") -> Known | None:
        """The customer of that name, told from namesakes by phone or e-mail; None when nobody fits."""
        alike = self.by_name.get(name_key(name), [])
        if not alike:
            return None
        wanted = digits_of(phone)
        by_phone = [known for known in alike if wanted and digits_of(known.phone) == wanted]
        by_email = [known for known in alike if email and known.email.casefold() == email.casefold()]
        for found in (by_phone, by_email):
            if len(found) == 1:
                return found[0]
            if found:
                raise Several
        # Nobody has this phone or e-mail: the one about whom it is not yet known.
        if wanted or email:
            alike = [
                known
                for known in alike
                if not (wanted and known.phone) and not (email and known.email and not wanted)
            ]
        if len(alike) > 1:
            raise Several
        return alike[0] if alike else None


class CustomerPlanner(Planner):
    kind = CUSTOMERS

    def __init__(self) -> None:
        super().__init__()
        self.book = CustomerBook()

    def plan(self, line: int, values: dict[str, Any]) -> RowPlan:
        first, last = values.pop("first_name", ""), values.pop("last_name", "")
        name = values.get("name") or " ".join(part for part in (first, last) if part)
        if not name:
            raise refuse("Name", "Empty. Each customer needs a name.")
        values["name"] = name
        try:
            known = self.book.find(name, values.get("phone", ""), values.get("email", ""))
        except Several:
            raise refuse(
                "Name", f"More than one customer is called {name}. Give the phone or e-mail too."
            ) from None
        if known is not None and (again := self.once(id(known), line, values, name)):
            return again
        if known is None:
            self.checked(Customer(), values)
            has_namesake = bool(self.book.by_name.get(name_key(name)))
            known = self.book.add(Known(name, values.get("phone", ""), values.get("email", "")))
            known.notes = values.get("notes", "")
            self.once(id(known), line, values, name)
            newcomer = known
            details = held(Customer, values, self.label, but=("name",))
            if has_namesake:
                details.append("Somebody else has this name, with another phone or e-mail.")
            return RowPlan(line, Outcome.NEW, name, details, job=newcomer.saved)
        customer = known.row
        assert customer is not None  # noqa: S101 - one that this file brings was seen by once()
        changed = changes(customer, values)
        if not changed:
            return RowPlan(line, Outcome.SAME, name)
        details = told(customer, changed, self.label)
        self.checked(Customer(), changed)
        return RowPlan(
            line,
            Outcome.CHANGED,
            name,
            details,
            job=lambda many: change_one(many, customer, changed),
        )
