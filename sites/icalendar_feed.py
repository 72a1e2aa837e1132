"""Plain entries -> an iCalendar object, RFC 5545 with two properties of RFC 7986 (pure).

Every entry lasts whole days. Such days belong to no time zone, so no change of clocks can move one.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from uuid import UUID, uuid5

LONGEST_LINE_OCTETS = 75
CONTENT_TYPE = "text/calendar; charset=utf-8"
PRODUCT = "-//Kitperch//Kits and their days//EN"
# An object without any component is not valid (RFC 5545, 3.6), so an empty calendar tells what UTC is.
NOTHING_BUT_UTC = (
    "BEGIN:VTIMEZONE",
    "TZID:Etc/UTC",
    "BEGIN:STANDARD",
    "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0000",
    "END:STANDARD",
    "END:VTIMEZONE",
)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """Something to be done on whole days, from `first_day` to `last_day`, both included.

    `uid` names the entry for good; `revision` grows whenever it changes, `changed_at` says when that last was.
    """

    uid: UUID
    first_day: date
    last_day: date
    title: str
    changed_at: datetime
    revision: int = 0
    place: str = ""
    details: str = ""
    url: str = ""
    coordinates: tuple[Decimal, Decimal] | None = None


def uid_of(books: UUID, thing: str) -> UUID:
    """The same name for the same thing in the same books, another one in any others.

    >>> books = UUID("8d1f5ad0-0b51-4c4f-9d6c-5a0b1c1f3c11")
    >>> uid_of(books, "stay 7 out") == uid_of(books, "stay 7 out") != uid_of(books, "stay 8 out")
    True
    """
    return uuid5(books, thing)


def feed(entries: Iterable[Entry], *, name: str, refresh_hours: int = 1) -> bytes:
    """The calendar of `entries`, called `name`, worth asking for again after `refresh_hours`. It has no METHOD."""
    body = [line for entry in entries for line in event(entry)] or NOTHING_BUT_UTC
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODUCT}",
        f"NAME:{text(name)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:PT{refresh_hours}H",
        *body,
        "END:VCALENDAR",
    ]
    return b"".join(folded(line) for line in lines)


def event(entry: Entry) -> Iterator[str]:
    """The lines of one entry. DTEND is the day after its last; without METHOD, DTSTAMP is when it last changed."""
    if entry.last_day < entry.first_day:
        raise ValueError(f"{entry.title!r} ends before it begins.")
    changed = instant(entry.changed_at)
    yield from ("BEGIN:VEVENT", f"UID:{entry.uid}", f"DTSTAMP:{changed}", f"LAST-MODIFIED:{changed}")
    yield f"SEQUENCE:{entry.revision}"
    yield f"DTSTART;VALUE=DATE:{entry.first_day:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{entry.last_day + timedelta(days=1):%Y%m%d}"
    yield f"SUMMARY:{text(entry.title)}"
    for property_name, value in (("LOCATION", entry.place), ("DESCRIPTION", entry.details)):
        if value:
            yield f"{property_name}:{text(value)}"
    if entry.coordinates:
        yield "GEO:{};{}".format(*entry.coordinates)
    if entry.url:
        yield f"URL:{printable(entry.url)}"
    yield "TRANSP:TRANSPARENT"  # a day on which a kit is due does not make a person busy
    yield "END:VEVENT"


def instant(moment: datetime) -> str:
    """An instant in UTC.

    >>> instant(datetime(2026, 3, 9, 3, 30, tzinfo=UTC))
    '20260309T033000Z'
    """
    return f"{moment.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def text(value: str) -> str:
    r"""A value of type TEXT (RFC 5545, 3.3.11): backslash, semicolon, comma and line breaks escaped, the colon not.

    >>> print(text("Attic; key: box 4, left\nC:\\N"))
    Attic\; key: box 4\, left\nC:\\N
    """
    lines = value.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for special in ("\\", ";", ","):
        lines = [line.replace(special, f"\\{special}") for line in lines]
    return r"\n".join(printable(line) for line in lines)


def printable(value: str) -> str:
    """`value` without the control characters that a line must not hold (RFC 5545, 3.1: all but the tab)."""
    return "".join(character for character in value if character == "\t" or not is_control(character))


def is_control(character: str) -> bool:
    return ord(character) < 0x20 or ord(character) == 0x7F


def folded(line: str) -> bytes:
    """The line in UTF-8, broken so that none is longer than 75 octets, never within a character; it ends in CRLF."""
    pieces, piece = [], b""
    for character in line:
        encoded = character.encode()
        if len(piece) + len(encoded) > LONGEST_LINE_OCTETS:
            pieces.append(piece)
            piece = b" "  # the blank that marks a line as going on counts as well
        piece += encoded
    return b"".join(part + b"\r\n" for part in (*pieces, piece))
