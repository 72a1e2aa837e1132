"""SenML packs in JSON (RFC 8428) read, checked and resolved; and the temperatures of 1-wire sensors in them (pure, no Django).

Numbers stay decimal from the first digit on, so that a reading is kept as it was sent and the same pack sent twice gives
the same instants.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from kits.rom import BadRom, is_rom, read_rom

VERSION = 10  # of RFC 8428 itself
RELATIVE_BELOW = 2**28  # section 4.5.3: a smaller time counts from now
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
PREFIX = "urn:dev:ow:"
CELSIUS = "Cel"
COLDEST, HOTTEST = Decimal(-150), Decimal(150)  # what a broken wire reads, -127, is within
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
LATEST = Decimal(253_402_300_799)  # the last second of the year 9999
DECIMALS_KEPT = Decimal("0.0001")

KINDS: dict[str, tuple[type, str]] = {
    **dict.fromkeys(("bt", "bv", "bs", "bver", "v", "s", "t", "ut"), (Decimal, "a number")),
    **dict.fromkeys(("bn", "bu", "n", "u", "vs", "vd"), (str, "a text")),
    "vb": (bool, "true or false"),
}
VALUES = ("v", "vs", "vb", "vd")


class BadPack(ValueError):
    """What was sent is no pack we can take. The message says which record, what is wrong and how to mend it."""


@dataclass(frozen=True, kw_only=True)
class Record:
    """One record resolved (section 4.6): the whole name, an absolute time in Unix seconds, one value or a sum."""

    name: str
    time: Decimal
    unit: str = ""
    value: Decimal | str | bool | None = None
    kind: str = "v"
    sum: Decimal | None = None
    update_time: Decimal | None = None
    version: int = VERSION

    def as_labels(self) -> dict[str, Any]:
        """The record under the labels of the RFC, as resolved records are published."""
        found: dict[str, Any] = {"n": self.name, "u": self.unit, "t": self.time, self.kind: self.value}
        more = {
            "s": self.sum,
            "ut": self.update_time,
            "bver": None if self.version == VERSION else self.version,
        }
        return {label: one for label, one in {**found, **more}.items() if one is not None and one != ""}


@dataclass(frozen=True)
class Temperature:
    """What one sensor read at an instant, uncorrected."""

    rom: str
    celsius: Decimal
    read_at: datetime


def read_pack(text: str | bytes, *, now: datetime) -> list[Record]:
    """The records of a pack, resolved and in the order of time; relative times count from `now`."""
    try:
        pack = json.loads(text, parse_float=Decimal, parse_int=Decimal, parse_constant=_no_number)
    except (ValueError, RecursionError, ArithmeticError) as bad:
        raise BadPack("This is no JSON. Send an array of records, as RFC 8428 has them.") from bad
    if not isinstance(pack, list) or not all(isinstance(one, dict) for one in pack):
        raise BadPack("A pack is an array of records: [{...}, {...}].")
    if not pack:
        raise BadPack("The pack is empty.")
    resolve = _Resolve(Decimal(str((now - EPOCH).total_seconds())))
    records = [resolve.record(number, one) for number, one in enumerate(pack, start=1)]
    return sorted(records, key=lambda record: record.time)


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is no number in JSON")


class _Resolve:
    """What base fields hold from one record to the next."""

    def __init__(self, now: Decimal) -> None:
        self.now = now
        self.base: dict[str, Any] = {}

    def record(self, number: int, fields: Mapping[str, Any]) -> Record:
        try:
            return self.resolved(fields)
        except BadPack as bad:
            raise BadPack(f"Record {number}: {bad}") from None

    def resolved(self, fields: Mapping[str, Any]) -> Record:
        check_fields(fields)
        self.take_base(fields)
        name = self.base.get("bn", "") + fields.get("n", "")
        if not NAME.fullmatch(name):
            raise BadPack(
                f"the name {name[:80]!r} is not allowed. A name begins with a letter or digit and has only these and - : . / _"
            )
        kinds = [label for label in VALUES if label in fields]
        if len(kinds) > 1 or (not kinds and "s" not in fields):
            raise BadPack("there must be one value: exactly one of v, vs, vb, vd.")
        kind = kinds[0] if kinds else "v"
        value = fields.get(kind)
        if kind == "v" and value is not None:
            value = self.base.get("bv", Decimal(0)) + value
        total = fields.get("s")
        if total is not None:
            total = self.base.get("bs", Decimal(0)) + total
        return Record(
            name=name,
            time=self.time(fields),
            unit=fields.get("u", self.base.get("bu", "")),
            value=value,
            kind=kind,
            sum=total,
            update_time=fields.get("ut"),
            version=int(self.base.get("bver", VERSION)),
        )

    def take_base(self, fields: Mapping[str, Any]) -> None:
        """Base fields hold from this record on; there is one version in a pack."""
        version = fields.get("bver", self.base.get("bver", Decimal(VERSION)))
        if version != int(version) or not 1 <= version <= VERSION:
            raise BadPack(f"version {version} of the format is not understood; up to {VERSION} is.")
        if "bver" in self.base and version != self.base["bver"]:
            raise BadPack("there is one version (bver) in a pack.")
        self.base |= {
            label: fields[label] for label in ("bn", "bt", "bu", "bv", "bs", "bver") if label in fields
        }

    def time(self, fields: Mapping[str, Any]) -> Decimal:
        told = self.base.get("bt", Decimal(0)) + fields.get("t", Decimal(0))
        at = self.now + told if told < RELATIVE_BELOW else told
        if not 0 <= at <= LATEST:
            raise BadPack(f"the time {told} is none that can be.")
        return at


def check_fields(fields: Mapping[str, Any]) -> None:
    """Each known label holds what it should; an unknown one is passed over, unless it says that it must be understood."""
    for label, found in fields.items():
        if label not in KINDS:
            if label.endswith("_"):
                raise BadPack(f"the field {label[:40]} must be understood, and is not.")
            continue
        kind, words = KINDS[label]
        if not isinstance(found, kind):
            raise BadPack(f"{label} is {words}.")
        if isinstance(found, Decimal) and found and not -30 < found.adjusted() < 20:
            raise BadPack(f"{label} is larger or smaller than any number of use here.")


def temperatures(records: Iterable[Record]) -> list[Temperature]:
    """The temperatures of 1-wire sensors; whatever else is in the pack is refused by name."""
    return [temperature(record) for record in records]


def temperature(record: Record) -> Temperature:
    """One record as the temperature of a sensor: `urn:dev:ow:` and its ROM ID in the order of the wire, in Cel."""
    rom = rom_of(record.name)
    if record.unit != CELSIUS:
        said = f"in {record.unit[:20]!r}" if record.unit else "without a unit"
        raise BadPack(f"{record.name} is {said}. Send degrees Celsius, unit {CELSIUS!r}.")
    if not isinstance(record.value, Decimal):
        raise BadPack(f"{record.name} has no temperature: send its value as v, a number.")
    if not COLDEST <= record.value <= HOTTEST:
        raise BadPack(f"{record.name} says {record.value:f}; a sensor of this kind says -127 to 128.")
    return Temperature(rom, record.value.quantize(DECIMALS_KEPT), instant(record.time))


def rom_of(name: str) -> str:
    """The ROM ID in a name, or why it is none of a sensor we take."""
    digits = name.removeprefix(PREFIX).upper()
    if not name.startswith(PREFIX) or not digits.isalnum():
        raise BadPack(f"{name[:80]} is no sensor. Its name is {PREFIX} and the sixteen digits of its ROM ID.")
    if is_rom(digits):
        return digits
    try:
        turned = read_rom(digits)
    except BadRom as bad:
        raise BadPack(f"{name[:80]}: {bad}") from bad
    raise BadPack(f"{name[:80]}: write it in the order of the wire, {PREFIX}{turned.lower()}.")


def instant(unix_seconds: Decimal) -> datetime:
    """The instant of a Unix time, to the microsecond and without a detour through floating numbers."""
    whole = int(unix_seconds // 1)
    return EPOCH + timedelta(seconds=whole, microseconds=int((unix_seconds - whole) * 1_000_000))
