"""A file of readings, to be played as if a kit sent them now: SenML, or CSV with time, rom, celsius (pure, no Django)."""

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation

from kits.rom import BadRom, read_rom
from kits.senml import COLDEST, DECIMALS_KEPT, HOTTEST, BadPack, Temperature, instant, read_pack, temperatures

MOST_READINGS = 20_000
LONGEST = timedelta(minutes=50)  # readings are kept for an hour
COLUMNS = ("time", "rom", "celsius")


def read_file(content: bytes, *, now: datetime) -> list[Temperature]:
    """The readings of a file in the order of time, at the times that stand in it."""
    try:
        text = content.decode("utf-8-sig").strip()
    except UnicodeDecodeError as bad:
        raise BadPack("This file is no text. Choose a CSV file, or a SenML file in JSON.") from bad
    if not text:
        raise BadPack("The file is empty.")
    found = temperatures(read_pack(text, now=now)) if text[0] in "[{" else read_csv(text)
    if len(found) > MOST_READINGS:
        raise BadPack(f"The file has {len(found)} readings; up to {MOST_READINGS} can be played.")
    return sorted(found, key=lambda one: one.read_at)


def read_csv(text: str) -> list[Temperature]:
    """Rows under the headings time, rom, celsius, in any order. Time is in seconds, or as 2026-03-15T14:05:00Z."""
    first = text.splitlines()[0]
    delimiter = max((";", "\t", ","), key=first.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    headings = [cell.strip().casefold() for cell in next(rows)]
    missing = [name for name in COLUMNS if name not in headings]
    if missing:
        raise BadPack(f"The first line names the columns: time, rom, celsius. Missing: {', '.join(missing)}.")
    places = [headings.index(name) for name in COLUMNS]
    found = []
    try:
        for number, row in enumerate(rows, start=2):
            if any(cell.strip() for cell in row):
                found.append(read_row(number, row, places))
    except csv.Error as bad:
        raise BadPack("The file cannot be read as CSV. Save it from the spreadsheet anew.") from bad
    if not found:
        raise BadPack("There is no reading below the headings.")
    return found


def read_row(number: int, row: Sequence[str], places: Sequence[int]) -> Temperature:
    if len(row) <= max(places):
        raise BadPack(f"Line {number}: a column is missing.")
    time, rom, celsius = (row[place].strip() for place in places)
    try:
        value = Decimal(celsius.replace(",", "."))
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or not COLDEST <= value <= HOTTEST:
        raise BadPack(f"Line {number}: {celsius[:20]!r} is no temperature in °C.")
    try:
        return Temperature(read_rom(rom), value.quantize(DECIMALS_KEPT), read_time(time))
    except BadRom as bad:
        raise BadPack(f"Line {number}: {bad}") from bad
    except (ValueError, ArithmeticError) as bad:
        raise BadPack(
            f"Line {number}: {time[:40]!r} is no time. Write seconds, or 2026-03-15T14:05:00Z."
        ) from bad


def read_time(text: str) -> datetime:
    """Seconds from any beginning, or a date and time; without a zone it counts as UTC, since only differences matter."""
    try:
        seconds = Decimal(text)
    except InvalidOperation:
        told = datetime.fromisoformat(text)
        return told if told.tzinfo else told.replace(tzinfo=UTC)
    if not 0 <= seconds < 10**11:
        raise ValueError("no time")
    return instant(seconds)


def played_from(readings: Sequence[Temperature], start: datetime) -> list[Temperature]:
    """The same readings, the first of them at `start`."""
    first, last = readings[0].read_at, readings[-1].read_at
    if last - first > LONGEST:
        minutes = LONGEST.seconds // 60
        raise BadPack(f"The file runs over more than {minutes} minutes. Cut out the part with the test.")
    return [replace(one, read_at=start + (one.read_at - first)) for one in readings]
