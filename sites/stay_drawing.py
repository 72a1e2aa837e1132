"""One stay, drawn: how far it was when, which lead sat at which position, and the offsets in force meanwhile."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from kits.models import Offset
from kits.templatetags.kitperch import counted
from sites.days import say_day, start_of_day
from sites.drawn import Drawing, Lane, Mark, Piece
from sites.drawn_lanes import corrected, days_around, offset_marks, span_said, swap_marks
from sites.kit_drawing import back_by, stages_of
from sites.models import Deployment, Placement

WORDS = {"loaded": "on the truck", "installed": "in the house", "removed": "out"}


def draw_stay(
    stay: Deployment, placements: Sequence[Placement], *, unit: str, zone: ZoneInfo, now: datetime
) -> tuple[Drawing, str]:
    """The drawing and what it shows in a sentence. Times and days are the site's."""
    due = back_by(stay, zone)
    start = stay.loaded_at or (stay.planned_at if stay.ended_at else stay.holds_from)
    last = stay.ended_at or max(due, now if stay.loaded_at else due)
    first, end = days_around(start, last, zone)
    drawing = Drawing(first=first, end=end, zone=zone, now=now)
    drawing.add(Lane(name="Stage", pieces=stage_pieces(stay, zone, now)))
    drawing.add(agreed_lane(stay, zone, start))
    offsets = list(Offset.objects.filter(sensor__in={row.sensor_id for row in placements}))
    for lane in position_lanes(stay, placements, offsets, unit, zone):
        drawing.add(lane)
    swaps = sum(1 for lane in drawing.lanes for dot in lane.dots if dot.kind == "swap")
    says = (
        f"From {say_day(drawing.first)} to {say_day(drawing.last)}: the stages of the stay, the days agreed, and "
        f"{counted(len({row.position_id for row in placements}), 'position,positions')} with the lead that sat there, "
        f"{counted(swaps, 'change,changes')} among them. The list below says the same."
    )
    return drawing, says


def stage_pieces(stay: Deployment, zone: ZoneInfo, now: datetime) -> list[Piece]:
    """The stages as bars with their words; a stay that never left the shelf is a promise."""
    if stay.loaded_at is None:
        until = stay.ended_at or back_by(stay, zone)
        start = stay.planned_at if stay.ended_at else stay.holds_from
        word = "called off" if stay.ended_at else "promised"
        return [
            Piece(
                kind="promised",
                start=start,
                until=until,
                label=word,
                says=span_said(word, start, until, zone),
            )
        ]
    return [
        Piece(
            kind=piece.kind,
            start=piece.start,
            until=piece.until,
            label=WORDS.get(piece.kind, piece.kind),
            says=piece.says,
        )
        for piece in stages_of(stay, zone, now)
    ]


def agreed_lane(stay: Deployment, zone: ZoneInfo, start: datetime) -> Lane:
    """The two days with two owners: in the house until one, back in shop by the other. Days later agreed are marks."""
    out = start_of_day(stay.take_out_by, zone)
    pieces = [
        Piece(
            kind="agreed",
            start=start,
            until=out,
            label=f"take out by {say_day(stay.take_out_by, stay.take_out_by)}",
            short="take out by",
            says=f"take out by {say_day(stay.take_out_by)}",
        ),
        Piece(
            kind="promised",
            start=out,
            until=back_by(stay, zone),
            label=f"back in shop by {say_day(stay.back_in_shop_by, stay.back_in_shop_by)}",
            short="back",
            says=f"back in shop by {say_day(stay.back_in_shop_by)}",
        ),
    ]
    marks = [
        Mark(
            kind="agreed",
            at=start_of_day(row.agreed_on, zone),
            says=f"{row.agreed_by} agreed on {say_day(row.agreed_on)} to {say_day(row.take_out_by)}",
        )
        for row in stay.extensions.all()
    ]
    return Lane(
        name="Agreed",
        pieces=[piece for piece in pieces if piece.until and piece.until > piece.start],
        marks=marks,
    )


def position_lanes(
    stay: Deployment, placements: Sequence[Placement], offsets: Sequence[Offset], unit: str, zone: ZoneInfo
) -> list[Lane]:
    """A lane a position: which lead sat there from when until when, cut where an offset came in force."""
    lanes = []
    ordered = sorted({row.position for row in placements}, key=lambda one: (not one.built_in, one.pk))
    for position in ordered:
        pieces: list[Piece] = []
        rows = [row for row in placements if row.position_id == position.pk]
        marks: list[Mark] = swap_marks([(row.placed_from, row.sensor) for row in rows], zone)
        for row in rows:
            until = row.placed_until or stay.removed_at or stay.ended_at
            pieces += corrected(row.sensor, row.placed_from, until, offsets, unit, zone)
            marks += offset_marks(row.sensor, row.placed_from, until, offsets, unit, zone)
        lanes.append(Lane(name=position.name, code=position.code, pieces=pieces, marks=marks))
    return lanes
