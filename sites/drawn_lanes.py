"""What the drawings of a kit's and of a stay's history have in common: days shown, offsets in force, how it is said."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from kits.models import Offset, Sensor
from kits.templatetags.kitperch import difference, when
from sites.days import day_of
from sites.drawn import Mark, Piece, cut_at

LEAST_DAYS = 8


def days_around(start: datetime, until: datetime, zone: ZoneInfo) -> tuple[date, date]:
    """The days from one instant to another with a little air at the end; never fewer than a week."""
    first, last = day_of(start, zone), day_of(until, zone)
    air = timedelta(days=1 + (last - first).days // 40)
    return first, max(last + air, first + timedelta(days=LEAST_DAYS))


def span_said(what: str, start: datetime, until: datetime | None, zone: ZoneInfo) -> str:
    """ "shelf, Tue 14 Apr, 3:20 pm to now"."""
    return f"{what}, {when(start, zone)} to {when(until, zone) if until else 'now'}"


def corrected(
    sensor: Sensor,
    start: datetime,
    until: datetime | None,
    offsets: Iterable[Offset],
    unit: str,
    zone: ZoneInfo,
) -> list[Piece]:
    """A sensor's time at one place, cut where an offset came in force: with the offset, or bare while it had none."""
    mine = sorted((row for row in offsets if row.sensor_id == sensor.pk), key=lambda row: row.in_force_from)
    whole = Piece(kind="", start=start, until=until)
    pieces = []
    for begins, ends in cut_at(whole, [row.in_force_from for row in mine]):
        held = [row for row in mine if row.in_force_from <= begins]
        is_corrected = bool(held) and held[-1].is_one
        said = difference(held[-1].offset_kelvin, unit) if is_corrected else "no offset"
        pieces.append(
            Piece(
                kind="corrected" if is_corrected else "bare",
                start=begins,
                until=ends,
                label=f"{sensor.tag or sensor.tail}: {said}",
                short=said if is_corrected and begins != start else (sensor.tag or sensor.tail),
                says=span_said(f"{sensor}, {said}{' added' if is_corrected else ''}", begins, ends, zone),
            )
        )
    return pieces


def offset_marks(
    sensor: Sensor,
    start: datetime,
    until: datetime | None,
    offsets: Iterable[Offset],
    unit: str,
    zone: ZoneInfo,
) -> list[Mark]:
    """Where a sensor got a new offset while it sat there."""
    return [
        Mark(
            kind="offset",
            at=row.in_force_from,
            says=(
                f"{sensor}: {difference(row.offset_kelvin, unit)} added from {when(row.in_force_from, zone)}, "
                f"{row.get_source_display().lower()}"
                if row.is_one
                else f"{sensor}: no offset any more from {when(row.in_force_from, zone)}, its check was withdrawn"
            ),
        )
        for row in offsets
        if row.sensor_id == sensor.pk
        and start < row.in_force_from
        and (until is None or row.in_force_from < until)
    ]


def swap_marks(starts: Sequence[tuple[datetime, Sensor]], zone: ZoneInfo) -> list[Mark]:
    """Where another lead came in the place of one."""
    ordered = sorted(starts, key=lambda row: row[0])
    return [
        Mark(kind="swap", at=at, says=f"{sensor} in place of {before}, {when(at, zone)}")
        for (_, before), (at, sensor) in pairwise(ordered)
        if before != sensor
    ]
