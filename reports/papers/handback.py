"""The shop's copy of the hand-back report: the whole stay, for whoever asks about it in two years."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer

from reports.papers.blocks import (
    Cell,
    PositionMark,
    SignatureLine,
    SymbolBox,
    Tick,
    beside,
    box,
    facts,
    listing,
)
from reports.papers.cautions import crew_cautions
from reports.papers.fonts import SANS
from reports.papers.left import statements
from reports.papers.page import CONTENT, Sheet, flow_pdf
from reports.papers.records import CheckRow, CountRow, MappingRow, ReadingRow, Signature, StayPaper, Unit
from reports.papers.type import attention, bullet, late, marked, quiet, safe, say, strong, type_scale
from reports.papers.units import difference, half_width, temperature
from reports.papers.words import clock, day, listed, sentence, span, when

T = type_scale()


def shop_copy_pdf(paper: StayPaper) -> bytes:
    """The shop's copy: who, where and when, the mapping with its offsets, readings, counts, checklist, cautions, signatures."""
    sheet = Sheet(
        shop=paper.shop,
        title=f"Hand-back report, stay {paper.stay_number}",
        subject=f"Kit {paper.kit_code} at {paper.customer_name}",
        kit_code=paper.kit_code,
        kit_name=paper.kit_name,
        stage=paper.stage,
        running=f"stay {paper.stay_number}, {paper.customer_name}",
        copy="Shop's copy",
        foot=f"printed {when(paper.printed_at)}",
    )
    return flow_pdf(sheet, _story(paper))


def _story(paper: StayPaper) -> list[Flowable]:
    return [
        *_opening(paper),
        *_mapping(paper),
        *_readings("Readings at installation", paper.readings_installed, paper.split_installed, paper),
        *_readings("Readings at removal", paper.readings_removed, paper.split_removed, paper),
        *_moves(paper),
        *_power(paper),
        *_checklist(paper.checklist),
        *_counted(paper),
        *_left(paper),
        *_notes(paper.notes),
        *_cautions(paper),
        *_signatures(paper.signatures),
    ]


def _heading(text: str, beside_it: str = "") -> Flowable:
    more = (
        f"&nbsp;&nbsp;<font name='{SANS}' size='{T.caption.fontSize}'>{quiet(beside_it)}</font>"
        if beside_it
        else ""
    )
    return marked(safe(text) + more, T.heading)


def _opens(text: str, beside_it: str = "", *, room: float = 96) -> list[Flowable]:
    """The heading of a section that may run over pages, with room for its first rows below it."""
    return [CondPageBreak(room), _heading(text, beside_it)]


def _bullets(lines: Sequence[str]) -> list[Flowable]:
    if len(lines) == 1:
        return [say(sentence(lines[0]), T.body)]
    return [bullet(sentence(line), T.body) for line in lines]


# ---------------------------------------------------------------- whose, where, when


def _opening(paper: StayPaper) -> list[Flowable]:
    lasted = span(paper.installed_at, paper.removed_at)
    told = [f"stay {paper.stay_number}", paper.stage, f"{lasted} in the house" if lasted else ""]
    story: list[Flowable] = [
        say("Hand-back report", T.title),
        say(", ".join(part for part in told if part), T.subtitle),
    ]
    if paper.unfinished:
        title = "Not all of this stay is known" if paper.ended_at else "This stay is not finished"
        story += [
            box("late", title, _bullets(paper.unfinished), CONTENT, T),
            Spacer(1, 8),
        ]
    symbol = SymbolBox(paper.stay_url, 78, say("Opens this stay", T.caption)) if paper.stay_url else None
    symbol_width = symbol.wrap(0, 0)[0] if symbol else 0.0
    left = (CONTENT - symbol_width) * 0.49
    widths = [left, CONTENT - symbol_width - left]
    columns: list[Cell] = [[_house(paper, left - 16)], [_dates(paper, widths[1] - 16)]]
    if symbol:
        columns.append([symbol])
        widths.append(symbol_width)
    story += [Spacer(1, 8), beside(columns, widths), Spacer(1, 2)]
    if paper.customer_told_us.strip():
        story += [
            _heading("What the customer told us"),
            say(f"“{paper.customer_told_us.strip()}”", T.quote),
        ]
    return story


def _house(paper: StayPaper, width: float) -> Flowable:
    called = f"{paper.call_number}, {paper.call_reason}" if paper.call_reason else paper.call_number
    pairs: list[tuple[str, Cell]] = [
        ("Customer", say(paper.customer_name, T.cell_bold)),
        ("Address", say("\n".join(paper.site_address) or "not written down", T.cell)),
        ("Unit", say(paper.unit_description or "not written down", T.cell)),
        ("Service call", say(called or "none", T.cell)),
    ]
    if paper.agreement:
        pairs.append(("Agreement", say(paper.agreement, T.cell)))
    kit = [part for part in (paper.kit_name, *paper.kit_facts) if part]
    pairs.append(("Kit", say(", ".join(kit) or paper.kit_code, T.cell)))
    return facts(pairs, width, T, caption_width=62)


def _dates(paper: StayPaper, width: float) -> Flowable:
    pairs: list[tuple[str, Cell]] = [
        ("Planned", say(_planned(paper), T.cell)),
        ("Loaded", _step(paper.loaded_at, paper.booked_technician)),
        ("Installed", _step(paper.installed_at, paper.installed_by)),
        ("Taken out", _step(paper.removed_at, paper.removed_by)),
        ("Back in shop", _step(paper.handed_back_at, paper.handed_back_by)),
    ]
    if paper.ended_at and not paper.handed_back_at:
        pairs[-1] = (paper.stage.capitalize(), _step(paper.ended_at, ""))
    pairs.append(("Dates agreed", say(_agreed(paper), T.cell)))
    if paper.site_zone:
        pairs.append(("Clock", say(f"the house's, {paper.site_zone}", T.cell)))
    return facts(pairs, width, T, caption_width=62)


def _step(at: datetime | None, who: str) -> Flowable:
    if at is None:
        return marked(attention("not yet"), T.cell)
    return marked(strong(when(at)) + (f"<br/>{safe(who)}" if who else ""), T.cell)


def _planned(paper: StayPaper) -> str:
    if paper.planned_from is None and paper.planned_until is None:
        return "no dates yet"
    return f"{day(paper.planned_from)}\nto {day(paper.planned_until)}"


def _agreed(paper: StayPaper) -> str:
    if paper.take_out_by is None and paper.back_in_shop_by is None:
        return "none yet"
    return f"take out by {day(paper.take_out_by)}\nback in shop by {day(paper.back_in_shop_by)}"


# ---------------------------------------------------------------- sensors


def _mapping(paper: StayPaper) -> list[Flowable]:
    story: list[Flowable] = _opens("Which sensor sat where", "offset: what is added to the raw reading")
    if not paper.mapping:
        return [*story, say("No sensor was placed.", T.body)]
    rows = [_mapping_row(row, paper) for row in paper.mapping]
    heads = ("Tag", "ROM ID", "Position", "From", "Until", "Offset (added)")
    story.append(listing(heads, rows, (56, 84, 112, 76, 76, CONTENT - 404), T))
    bare = sorted({row.tag for row in paper.mapping if row.offset is None})
    if bare:
        story += [Spacer(1, 6), box("attention", "", [marked(_no_offset(bare, paper), T.cell)], CONTENT, T)]
    return story


def _no_offset(tags: Sequence[str], paper: StayPaper) -> str:
    if len(tags) == len({row.tag for row in paper.mapping}):
        whose = "No sensor had an offset in force:"
    elif len(tags) == 1:
        whose = f"Sensor {tags[0]} had no offset in force:"
    else:
        whose = f"Sensors {listed(tags)} had no offset in force:"
    limit = half_width(0.5, paper.shop.unit, places=1)
    return (
        f"{strong(whose)} readings stand as the sensor gave them, which its maker allows to be {safe(limit)} off."
        " A difference between two such sensors may be off by twice that."
    )


def _mapping_row(row: MappingRow, paper: StayPaper) -> list[Cell]:
    tag = strong(row.tag)
    if row.tag_colour and row.tag_colour.casefold() not in row.tag.casefold():
        tag += f" {safe(row.tag_colour)}"
    if row.terminal is not None:
        tag += f"<br/>{quiet(f'terminal {row.terminal}')}"
    return [
        marked(tag, T.cell),
        say(row.rom, T.mono),
        PositionMark(row.position_code, row.position_name, T),
        _instant(row.placed_from),
        _instant(row.placed_until) if row.placed_until else marked(attention("still there"), T.cell),
        _offset(row, paper),
    ]


def _instant(at: datetime) -> Flowable:
    return marked(f"{safe(day(at.date()))}<br/>{safe(clock(at))}", T.cell)


def _offset(row: MappingRow, paper: StayPaper) -> Flowable:
    if row.offset is None:
        return marked(attention("none in force"), T.cell)
    text = strong(difference(row.offset.offset_kelvin, paper.shop.unit))
    if row.offset.uncertainty_kelvin is not None:
        text += " " + safe(half_width(row.offset.uncertainty_kelvin, paper.shop.unit))
    origin = f"since {day(row.offset.in_force_from.date())}, {row.offset.source}"
    text += f"<br/><font size='{T.caption.fontSize}'>{quiet(origin)}</font>"
    if row.offset.checked_afterwards:
        text += f"<br/>{attention('checked afterwards')}"
    return marked(text, T.cell)


def _readings(title: str, rows: Sequence[ReadingRow], split: str, paper: StayPaper) -> list[Flowable]:
    if not rows:
        return [_heading(title), say("Nobody wrote any down.", T.body)]
    heads = ("Tag", "Position", "Raw", "Offset (added)", "Corrected", "Reference", "Off by")
    widths = (60, CONTENT - 60 - 5 * 66, 66, 66, 66, 66, 66)
    table = listing(heads, [_reading_row(row, paper) for row in rows], widths, T, right=(2, 3, 4, 5, 6))
    beside_it = [_read_when([row.taken_at for row in rows if row.taken_at])]
    if any(row.reference_celsius is not None for row in rows):
        beside_it.append(f"beside {paper.reference_thermometer or 'a reference nobody named'}")
    below = [Spacer(1, 4), say(f"{split}.", T.body)] if split else []
    return [KeepTogether([_heading(title, ", ".join(part for part in beside_it if part)), table, *below])]


def _read_when(times: Sequence[datetime]) -> str:
    if not times:
        return ""
    first, final = min(times), max(times)
    if first == final:
        return f"read {when(first)}"
    return f"read {when(first)} to {clock(final) if first.date() == final.date() else when(final)}"


def _raw(row: ReadingRow, unit: Unit) -> str:
    """The reading as the sensor gave it; one that it gives before it has measured is marked, not left out."""
    return "\n".join(text for text in (temperature(row.raw_celsius, unit), row.mark) if text)


def _reading_row(row: ReadingRow, paper: StayPaper) -> list[Cell]:
    unit = paper.shop.unit
    corrected = row.corrected_celsius
    best = corrected if corrected is not None else row.raw_celsius
    off = None if best is None or row.reference_celsius is None else best - row.reference_celsius
    return [
        say(row.tag, T.cell_bold),
        PositionMark(row.position_code, row.position_name, T),
        say(_raw(row, unit), T.figure),
        say(difference(row.offset_kelvin, unit), T.figure),
        say(temperature(corrected, unit, unknown="–"), T.figure),
        say(temperature(row.reference_celsius, unit, unknown="–"), T.figure),
        say(difference(off, unit, places=1, unknown="–"), T.figure),
    ]


# ---------------------------------------------------------------- during the stay


def _moves(paper: StayPaper) -> list[Flowable]:
    story: list[Flowable] = _opens("Changed during the stay")
    if not paper.moves:
        return [*story, say("Nothing was moved, swapped or put off.", T.body)]
    rows: list[list[Cell]] = [
        [
            _instant(move.at),
            say(move.what, T.cell),
            say(move.why or "no reason given", T.cell),
            say(move.by, T.cell),
        ]
        for move in paper.moves
    ]
    return [*story, listing(("When", "What", "Why", "Who"), rows, (84, 190, 134, CONTENT - 408), T)]


def _power(paper: StayPaper) -> list[Flowable]:
    power = paper.power
    pairs = [
        ("Power", power.power_input),
        ("Hooked up at", power.terminals),
        ("Volts read", power.volts),
        ("Float switch", power.float_switch),
        ("Tap sits", power.tap_relative_to_float),
        ("Aux contact", power.aux_contact or "not used"),
    ]
    cells: list[tuple[str, Cell]] = [
        (caption, say(value, T.cell) if value else marked(attention("not written down"), T.cell))
        for caption, value in pairs
    ]
    half = CONTENT / 2
    columns: list[Cell] = [[facts(cells[:3], half - 16, T)], [facts(cells[3:], half, T)]]
    return [KeepTogether([_heading("Power and float switch"), beside(columns, (half, half))])]


def _checklist(rows: Sequence[CheckRow]) -> list[Flowable]:
    story: list[Flowable] = _opens("Checklist")
    if not rows:
        return [*story, say("No checklist was filled in.", T.body)]
    cells: list[list[Cell]] = []
    for row in rows:
        answer = attention("not answered") if not row.answer else safe(row.answer)
        if row.attention and row.answer:
            answer = attention(row.answer)
        cells.append([say(row.question, T.cell), marked(answer, T.cell), say(row.note, T.cell)])
    return [
        *story,
        listing(("Question", "Answer", "Note"), cells, (CONTENT * 0.46, CONTENT * 0.2, CONTENT * 0.34), T),
    ]


# ---------------------------------------------------------------- coming home


def _counted(paper: StayPaper) -> list[Flowable]:
    story: list[Flowable] = _opens("Counted at hand-back")
    if paper.counted:
        rows = [_count_row(row) for row in paper.counted]
        table = listing(
            ("Part", "Went out", "Came back", "", "Note"),
            rows,
            (168, 54, 60, 64, CONTENT - 346),
            T,
            right=(1, 2),
        )
        story.append(table)
    else:
        story.append(say("Nobody has counted yet.", T.body))
    if paper.missing:
        story += [Spacer(1, 6), box("late", "Missing or broken", _bullets(paper.missing), CONTENT, T)]
    elif paper.counted and all(
        row.counted is not None and row.counted >= row.expected for row in paper.counted
    ):
        story += [Spacer(1, 4), say("Nothing is missing.", T.body)]
    if paper.condition:
        story += [Spacer(1, 3), marked(f"{quiet('Condition:')} {safe(paper.condition)}", T.body)]
    return [KeepTogether(story)] if len(paper.counted) <= 12 else story


def _count_row(row: CountRow) -> list[Cell]:
    verdict, came_back = "", "not counted"
    if row.counted is not None:
        came_back, short = str(row.counted), row.expected - row.counted
        verdict = late(f"{short} short") if short > 0 else attention(f"{-short} more") if short < 0 else ""
    return [
        say(row.part, T.cell),
        say(str(row.expected), T.figure),
        say(came_back, T.figure),
        marked(verdict, T.cell),
        say(row.note, T.cell),
    ]


def _left(paper: StayPaper) -> list[Flowable]:
    ticks: list[Flowable] = []
    for statement in statements(paper.left_behind):
        text = late(statement.text) if statement.state is False else safe(statement.text)
        ticks.append(Tick(statement.state, marked(text, T.cell)))
    return [KeepTogether([_heading("How the house was left"), *ticks])]


def _notes(notes: Sequence[str]) -> list[Flowable]:
    written = [note for note in notes if note.strip()]
    return [*_opens("Notes", room=60), *(say(note, T.body) for note in written)] if written else []


def _cautions(paper: StayPaper) -> list[Flowable]:
    lines: list[Flowable] = [bullet(line, T.cell) for line in crew_cautions(paper.shop.unit)]
    return [
        Spacer(1, 12),
        KeepTogether([box("attention", "Before anybody goes back to this unit", lines, CONTENT, T)]),
    ]


def _signatures(given: Sequence[Signature]) -> list[Flowable]:
    signatures = given or (
        Signature(role="Taken out by"),
        Signature(role="Counted and inspected in the shop by"),
        Signature(role="Seen by the manager"),
    )
    story: list[Flowable] = [CondPageBreak(96), _heading("Signed for")]
    for first in range(0, len(signatures), 3):
        row = signatures[first : first + 3]
        width = CONTENT / 3
        columns: list[Cell] = [[_signature(one)] for one in row] + [""] * (3 - len(row))
        story.append(beside(columns, (width, width, width)))
    return story


def _signature(signature: Signature) -> Flowable:
    role = signature.role if signature.name else f"{signature.role}, name and date"
    if signature.name and signature.signed_at:
        role += f", {day(signature.signed_at.date())}"
    return SignatureLine(role, signature.name, T)
