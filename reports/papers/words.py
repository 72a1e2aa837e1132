"""Dates, spans and lists in the words the papers use."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(on: date | None, *, unknown: str = "no date yet") -> str:
    """ "Tue 14 Apr 2026"."""
    if on is None:
        return unknown
    return f"{_DAYS[on.weekday()]} {on.day} {_MONTHS[on.month - 1]} {on.year}"


def clock(at: datetime) -> str:
    """ "3:20 pm"; noon is 12:00 pm, midnight 12:00 am."""
    return f"{at.hour % 12 or 12}:{at.minute:02d} {'am' if at.hour < 12 else 'pm'}"


def when(at: datetime | None, *, unknown: str = "not yet") -> str:
    """ "Tue 14 Apr 2026, 3:20 pm", on the wall clock the instant carries."""
    return unknown if at is None else f"{day(at.date())}, {clock(at)}"


def span(begin: datetime | None, end: datetime | None) -> str:
    """How long from one instant to another: "14 days 3 hours", "5 hours", "40 minutes"; empty when unknown."""
    if begin is None or end is None or end < begin:
        return ""
    total = end - begin
    if total < timedelta(hours=1):
        return count(total.seconds // 60, "minute")
    hours = round(total.seconds / 3600)
    days = total.days + hours // 24
    parts = [count(days, "day")] if days else []
    if hours % 24:
        parts.append(count(hours % 24, "hour"))
    return " ".join(parts)


def count(number: int, thing: str) -> str:
    """ "1 hole", "2 holes", "no holes"."""
    return f"{number or 'no'} {thing}{'' if number == 1 else 's'}"


def listed(things: Sequence[str], joiner: str = "and") -> str:
    """ "a, b and c"."""
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} {joiner} {things[-1]}"


def sentence(text: str) -> str:
    """The text with a capital at its head and a full stop at its end."""
    text = text.strip()
    if not text:
        return ""
    text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?…" else text + "."


def dialled(phone: str) -> str:
    """A North American number as a `tel:` address (RFC 3966); empty when it is not a whole number to dial."""
    digits = "".join(c for c in phone if c.isdigit())
    if len(digits) == 10:
        return f"tel:+1-{digits[:3]}-{digits[3:6]}-{digits[6:]}"
    if len(digits) == 11 and digits[0] == "1":
        return dialled(digits[1:])
    if phone.strip().startswith("+") and 8 <= len(digits) <= 15:
        return f"tel:+{digits}"
    return ""


_PLAIN_POSITIONS = {
    "SA": "the air blown into the rooms",
    "RA": "the air drawn back from the rooms",
    "LL": "the small refrigerant line",
    "VL": "the large refrigerant line",
    "OA": "the air outdoors",
}


def plain_position(code: str, name: str) -> str:
    """What a position is called to somebody outside the trade; a place of the shop's own keeps its name."""
    return _PLAIN_POSITIONS.get(code, name)
