"""Plain records for billing, short to write."""

from datetime import date
from decimal import Decimal
from typing import Any

from reports.billing.money import cents_of
from reports.billing.stays import Cover, Payer, Stay
from reports.billing.terms import Contract, Terms

PAYER = 7
LONG_AGO = date(2020, 1, 1)


def day(text: str) -> date:
    return date.fromisoformat(text)


def cents(text: str) -> int:
    """Cents of "49.00" or "-49.00", by a way of its own."""
    return int(Decimal(text).scaleb(2))


def contract(terms: Terms | None = None, *, start: date = LONG_AGO, key: int = 1, **fields: Any) -> Contract:
    """An agreement under one set of terms; prices may be given as text under their names without "_cents"."""
    return Contract(key=key, start=start, history=((start, terms or make_terms(**fields)),))


def make_terms(**fields: Any) -> Terms:
    told = {}
    for name, value in fields.items():
        priced = isinstance(value, str) and f"{name}_cents" in Terms.__dataclass_fields__
        told[f"{name}_cents" if priced else name] = cents_of(value) if priced else value
    return Terms(**told)


def stay(under: Contract, installed: str | date, removed: str | date | None = None, **fields: Any) -> Stay:
    """A stay under one agreement, paid by one payer."""
    as_day = lambda value: day(value) if isinstance(value, str) else value  # noqa: E731
    given = {
        name: as_day(value) if name.endswith("_on") or name == "agreed_end" else value
        for name, value in fields.items()
    }
    defaults: dict[str, Any] = {
        "key": 1,
        "covers": (Cover(date.min, None, under),),
        "payers": (Payer(date.min, None, PAYER),),
    }
    return Stay(**{**defaults, "installed_on": as_day(installed), "removed_on": as_day(removed), **given})
