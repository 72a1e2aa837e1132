"""The history of one kit, drawn: who held it, its stays, and what each terminal carried with which offset."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from kits.models import Custody, Kit, Offset, Place, Wiring
from kits.templatetags.kitperch import counted
from sites.days import day_of, say_day, start_of_day
from sites.drawn import Drawing, Lane, Mark, Piece, joined
from sites.drawn_lanes import corrected, days_around, offset_marks, span_said, swap_marks
from sites.models import Deployment

MOST_TRUCKS = 3
SPANS = {"12weeks": ("Twelve weeks", 84), "year": ("A year", 365), "all": ("All of it", 0)}
PLACES_FIRST = (Place.SHELF, Place.BENCH)
PLACES_LAST = (Place.SITE, Place.MISSING, Place.RETIRED)
NAMES = {Place.SITE: "At a site"}


class SpanChoice(NamedTuple):
    """How far the drawing looks back, and whether it is the one shown."""

    key: str
    label: str
    is_shown: bool


class KitDrawing(NamedTuple):
    drawing: Drawing
    says: str
    choices: list[SpanChoice]


def draw_kit(
    kit: Kit,
    *,
    custodies: Sequence[Custody],
    stays: Sequence[Deployment],
    unit: str,
    zone: ZoneInfo,
    now: datetime,
    asked: str = "",
) -> KitDrawing:
    """The kit's history as far back as asked for; not asked, all of it up to a year."""
    began = min([row.held_from for row in custodies], default=now)
    age_days = (now - began).days
    offered = [key for key, (_, days) in SPANS.items() if days == 0 or days < age_days]
    key = asked if asked in offered else ("year" if "year" in offered else "all")
    days = SPANS[key][1]
    start = max(began, now - timedelta(days=days)) if days else began
    ahead = now + max((now - start) / 3, timedelta(days=7))
    ends = [min(back_by(stay, zone), ahead) for stay in stays if stay.ended_at is None]
    first, end = days_around(start, max([now, *ends]), zone)
    drawing = Drawing(first=first, end=end, zone=zone, now=now)
    for lane in [*custody_lanes(custodies, stays, zone), *stay_lanes(stays, zone, now)]:
        drawing.add(lane)
    wirings = list(kit.wirings.select_related("sensor"))
    offsets = list(Offset.objects.filter(sensor__in={row.sensor_id for row in wirings}))
    for lane in terminal_lanes(wirings, offsets, unit, zone):
        drawing.add(lane)
    drawing.lanes[:] = [lane for lane in drawing.lanes if lane.bars or lane.dots]
    out = sum(1 for stay in stays if stay.loaded_at)
    says = (
        f"From {say_day(drawing.first, day_of(now, zone))} on: who held {kit.name}, "
        f"{counted(out, 'stay,stays')}, and the sensor on each terminal with its offset. The lists below say the same."
    )
    choices = [SpanChoice(one, SPANS[one][0], one == key) for one in offered]
    return KitDrawing(drawing, says, choices if len(choices) > 1 else [])


def back_by(stay: Deployment, zone: ZoneInfo) -> datetime:
    """The end of the day on which the kit is due back in shop."""
    return start_of_day(stay.back_in_shop_by + timedelta(days=1), zone)


def custody_lanes(custodies: Sequence[Custody], stays: Sequence[Deployment], zone: ZoneInfo) -> list[Lane]:
    """A lane for each place the kit has been: shelf, bench, each truck (few) or all trucks (many), site and the rest."""
    street = {stay.installed_at: stay.unit.site.street for stay in stays if stay.installed_at}

    def pieces(wanted: Callable[[Custody], bool], label: Callable[[Custody], str]) -> list[Piece]:
        return joined(
            Piece(
                kind=row.place,
                start=row.held_from,
                until=row.held_until,
                label=label(row),
                says=span_said(label(row) or row.word, row.held_from, row.held_until, zone),
            )
            for row in custodies
            if wanted(row)
        )

    def at(place: Place) -> Lane:
        name = NAMES.get(place, place.label)
        return Lane(
            name=name,
            pieces=pieces(lambda row: row.place == place, lambda row: street.get(row.held_from, "")),
        )

    trucks = dict.fromkeys(str(row.technician) for row in custodies if row.place == Place.TRUCK)
    if len(trucks) > MOST_TRUCKS:
        on_trucks = [
            Lane(
                name="On a truck",
                pieces=pieces(lambda row: row.place == Place.TRUCK, lambda row: str(row.technician)),
            )
        ]
    else:
        on_trucks = [
            Lane(
                name=f"{name}’s truck",
                pieces=pieces(
                    lambda row, name=name: row.place == Place.TRUCK and str(row.technician) == name,  # type: ignore[misc]
                    lambda row: "",
                ),
            )
            for name in trucks
        ]
    lanes = [*map(at, PLACES_FIRST), *on_trucks, *map(at, PLACES_LAST)]
    return [lane for lane in lanes if lane.pieces]


def stay_lanes(stays: Sequence[Deployment], zone: ZoneInfo, now: datetime) -> list[Lane]:
    """One lane of stays that left the shelf, by stage; one of plans, which may run into a stay that is late."""
    went = [piece for stay in stays if stay.loaded_at for piece in stages_of(stay, zone, now)]
    plans = [
        Piece(
            kind="promised",
            start=stay.holds_from,
            until=back_by(stay, zone),
            label=f"call {stay.call.number}",
            short=str(stay.call.number),
            says=span_said(f"promised to {stay.call}", stay.holds_from, back_by(stay, zone), zone),
        )
        for stay in stays
        if stay.loaded_at is None and stay.ended_at is None
    ]
    lanes = [Lane(name="Stays", pieces=went), Lane(name="Promised", pieces=plans)]
    return [lane for lane in lanes if lane.pieces]


def stages_of(stay: Deployment, zone: ZoneInfo, now: datetime) -> list[Piece]:
    """A stay from loading on: on the way, in the house, on the way home; still agreed, or late."""
    times = [
        ("under way", "loaded", stay.loaded_at),
        ("in the house", "installed", stay.installed_at),
        ("out, not yet back", "removed", stay.removed_at),
    ]
    reached = [(words, kind, at) for words, kind, at in times if at]
    due = back_by(stay, zone)
    pieces = []
    for number, (words, kind, start) in enumerate(reached):
        following = reached[number + 1][2] if number + 1 < len(reached) else stay.ended_at
        is_named = kind == "installed" or (kind == "loaded" and not stay.installed_at)
        pieces.append(
            Piece(
                kind=kind,
                start=start,
                until=following,
                label=f"call {stay.call.number}" if is_named else "",
                short=str(stay.call.number) if is_named else "",
                says=span_said(f"{stay.call}, {words}", start, following, zone),
            )
        )
    if stay.ended_at is None:
        if now < due:
            says = span_said(f"{stay.call}, agreed to be away", now, due, zone)
            pieces.append(Piece(kind="agreed", start=now, until=due, says=says))
        else:
            pieces = [cut for piece in pieces for cut in late_from(piece, due, stay, zone)]
    return pieces


def late_from(piece: Piece, due: datetime, stay: Deployment, zone: ZoneInfo) -> list[Piece]:
    """A running piece cut at the instant from which the stay is late."""
    if piece.until is not None or piece.start >= due:
        return [piece]
    kept = Piece(
        kind=piece.kind,
        start=piece.start,
        until=due,
        label=piece.label,
        short=piece.short,
        says=span_said(piece.says.partition(", ")[0], piece.start, due, zone),
    )
    says = span_said(f"{stay.call}, late", due, None, zone)
    return [kept, Piece(kind="late", start=due, until=None, label="late", says=says)]


def terminal_lanes(
    wirings: Sequence[Wiring], offsets: Sequence[Offset], unit: str, zone: ZoneInfo
) -> list[Lane]:
    """A lane a terminal: the sensor it carried, cut where an offset came in force; swaps as marks."""
    lanes = []
    for terminal in sorted({row.terminal for row in wirings}):
        carried = [row for row in wirings if row.terminal == terminal]
        pieces: list[Piece] = []
        marks: list[Mark] = swap_marks([(row.wired_from, row.sensor) for row in carried], zone)
        for row in carried:
            pieces += corrected(row.sensor, row.wired_from, row.wired_until, offsets, unit, zone)
            marks += offset_marks(row.sensor, row.wired_from, row.wired_until, offsets, unit, zone)
        lanes.append(Lane(name=f"Terminal {terminal}", pieces=pieces, marks=marks))
    return lanes
