"""Whole cents, and the one place where fractions of a cent are rounded."""

import re
from decimal import ROUND_HALF_UP, Decimal

Cents = int | Decimal  # whole cents, or cents with all their decimals while a line is not yet finished

AMOUNT = re.compile(r"[+-]?(\d{1,9}(?:,\d{3})*|\d*)(?:\.(\d*))?")


class BadAmount(ValueError):
    """What was typed is no price; the message says why."""


def half_up(cents: Cents) -> int:
    """To the whole cent: the half goes away from zero, as tax laws write it.

    >>> half_up(Decimal("212.5")), half_up(Decimal("-212.5")), half_up(Decimal("212.4999"))
    (213, -213, 212)
    """
    if isinstance(cents, int):
        return cents
    return int(cents.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def money_text(cents: Cents) -> str:
    """As it stands on a line; decimals of a cent show only where a unit price has some.

    >>> money_text(650), money_text(-5), money_text(Decimal("753.25"))
    ('6.50', '-0.05', '7.5325')
    """
    if isinstance(cents, Decimal):
        value = cents / 100
        if value != value.quantize(Decimal("0.01")):
            return f"{value.normalize():f}"
        cents = half_up(cents)
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def cents_of(text: str) -> int:
    """Whole cents of a price as typed; refused when negative, finer than a cent, or no number.

    >>> cents_of("6.50"), cents_of("1,250"), cents_of(" 7.5 ")
    (650, 125000, 750)
    """
    told = text.strip().lstrip("$€£").strip()
    match = AMOUNT.fullmatch(told)
    if match is None or not (match[1] or match[2]):
        raise BadAmount(f"“{text.strip()}” is no price. Write it like 6.50.")
    decimals = match[2] or ""
    if told.startswith("-"):
        raise BadAmount("A price is not negative. What the shop gives back is a credit note.")
    if len(decimals) > 2:
        raise BadAmount(f"“{text.strip()}” has more than two decimals. A price is whole cents, like 6.50.")
    return int((match[1] or "0").replace(",", "")) * 100 + int(decimals.ljust(2, "0") or 0)
