"""Which line of a sheet holds the headings, and which heading means which field."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from reports.importing.cells import BadCell, bare, folded, line_of, which_order
from reports.importing.fields import Field, Kind
from reports.importing.grid import MOST_ROWS, BadFile, Grid, Line, Value, is_blank, too_many_rows

LINES_SEARCHED = 25
LINES_SAMPLED = 60  # of these, what stands under each heading is looked at to find the headings
UNMISTAKABLE = 2  # so many headings of a field name it whatever stands beneath them
TOTAL = re.compile(r"(grand |sub)?-?(total|sum|count)s?\b.*", re.I)
WHY_REFUSED = "Why refused"
UNIT_IN_HEADING = re.compile(
    r"[(\[,/ ]\s*(°?\s*[CF]|m|metres?|meters?|ft|feet|foot|in|inch|inches|cm|mm)\.?\s*[)\]]?\s*$", re.I
)
UNITS_SAID = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("ft", "feet", "foot"), "ft"),
    **dict.fromkeys(("in", "inch", "inches"), "in"),
    "cm": "cm",
    "mm": "mm",
    "c": "°C",
    "f": "°F",
    "°c": "°C",
    "°f": "°F",
}


@dataclass(frozen=True)
class Column:
    """One column of a sheet: its place, its heading as shown, and the first few things in it."""

    index: int
    heading: str
    samples: tuple[str, ...] = ()


@dataclass(frozen=True)
class Layout:
    """A sheet as a table: headings, and the lines beneath them."""

    header_line: int
    columns: tuple[Column, ...]
    rows: tuple[Line, ...]
    notes: tuple[str, ...] = ()

    def unread(self, targets: Mapping[int, str], kind: "Kind") -> list[str]:
        """Headings of columns that hold something and are not read, but for those we put there ourselves."""
        ours = {bare(WHY_REFUSED), *map(bare, kind.worked_out)}
        return [
            column.heading
            for column in self.columns
            if column.samples and column.index not in targets and bare(column.heading) not in ours
        ]

    @property
    def headings(self) -> list[str]:
        return [column.heading for column in self.columns]


def heading_of(value: Value) -> str:
    try:
        return line_of(value)
    except BadCell:
        return ""


def lay_out(grid: Grid, kind: Kind, header_line: int = 0) -> Layout:
    """The table on a sheet; the headings stand in `header_line`, else in the line that looks most like headings."""
    at = place_of_header(grid, kind, header_line)
    rows, totals = without_totals(grid.lines[at + 1 :])
    if len(rows) > MOST_ROWS:
        raise too_many_rows()
    if not rows:
        raise BadFile("There are headings in this file and no rows beneath them.")
    head = grid.lines[at].cells
    width = max(len(head), *(len(line.cells) for line in rows))
    columns = []
    seen: Counter[str] = Counter()
    twice = []
    for index in range(width):
        heading = heading_of(head[index]) if index < len(head) else ""
        samples = samples_of(rows, index)
        if not heading and not samples:
            continue
        heading = heading or f"Column {letters(index)}"
        seen[folded(heading)] += 1
        if (number := seen[folded(heading)]) > 1:
            twice.append(heading)
            heading = f"{heading} ({number})"
        columns.append(Column(index, heading, samples))
    notes = list(grid.notes)
    notes += [f"Line {line.number} looks like a total and is left out." for line in totals]
    if twice:
        named = ", ".join(dict.fromkeys(twice))
        notes.append(
            f"More than one column is headed {named}. The first is used unless you choose another below."
        )
    if at:
        above = "The line above it is" if at == 1 else f"The {at} lines above it are"
        notes.append(f"The headings stand in line {grid.lines[at].number}. {above} left out.")
    return Layout(grid.lines[at].number, tuple(columns), rows, tuple(notes))


def without_totals(lines: Sequence[Line]) -> tuple[tuple[Line, ...], list[Line]]:
    """The rows, and the lines at their end that only add them up."""
    end = len(lines)
    while end > 1 and is_total(lines[end - 1], lines[end - 2]):
        end -= 1
    return tuple(lines[:end]), list(lines[end:])


def is_total(line: Line, above: Line) -> bool:
    words = [heading_of(cell) for cell in line.cells if not is_blank(cell)]
    return bool(TOTAL.fullmatch(words[0])) and len(words) <= max(len(above.cells) // 2, 2)


def place_of_header(grid: Grid, kind: Kind, header_line: int) -> int:
    """Where in the sheet's lines the headings stand."""
    if header_line:
        for at, line in enumerate(grid.lines):
            if line.number == header_line:
                return at
    best, best_score = 0, 0.0
    for at, line in enumerate(grid.lines[:LINES_SEARCHED]):
        score = score_of(line, kind, grid.lines[at + 1 :])
        if score > best_score:
            best, best_score = at, score
    if best_score:
        return best
    # Nothing known: the first line with more than a title in it.
    filled = [sum(not is_blank(cell) for cell in line.cells) for line in grid.lines[:LINES_SEARCHED]]
    return next((at for at, count in enumerate(filled) if count > 1), 0)


def score_of(line: Line, kind: Kind, beneath: Sequence[Line] = ()) -> float:
    """How many fields of the kind a line of headings would name; text that only looks like one counts less."""
    headings = [heading_of(cell) if isinstance(cell, str) else "" for cell in line.cells]
    columns = [
        Column(index, heading, samples_of(beneath[:LINES_SAMPLED], index))
        for index, heading in enumerate(headings)
        if heading
    ]
    return sum(1.0 if exact else 0.4 for _, exact in matches(columns, kind).values())


def samples_of(rows: Sequence[Line], index: int) -> tuple[str, ...]:
    found: list[str] = []
    for line in rows[:200]:
        if index < len(line.cells) and not is_blank(line.cells[index]):
            text = heading_of(line.cells[index])[:40]
            if text and text not in found:
                found.append(text)
            if len(found) == 3:
                break
    return tuple(found)


def letters(index: int) -> str:
    """
    >>> letters(0), letters(27)
    ('A', 'AB')
    """
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(65 + rest) + text
    return text


def unit_in(heading: str, field: Field) -> str:
    """The unit a heading names, when the field has units; else the field's first."""
    if found := UNIT_IN_HEADING.search(f" {heading}"):
        unit = UNITS_SAID.get(found[1].lower().replace(" ", "").rstrip("."), "")
        if unit in field.units:
            return unit
    return field.units[0] if field.units else ""


def without_unit(heading: str) -> str:
    return re.sub(r"\s*[(\[][^)\]]*[)\]]\s*$", "", heading)


@cache
def bare_words(field: Field) -> dict[str, int]:
    """Every heading of a field without blanks and signs, with its place: the likeliest stand first."""
    known: dict[str, int] = {}
    for place, word in enumerate((*field.headings, field.label)):
        known.setdefault(bare(word), place)
    return known


@cache
def words_of(field: Field) -> tuple[frozenset[str], ...]:
    return tuple(frozenset(re.findall(r"\w+", folded(known))) for known in field.headings)


def stripped(heading: str, field: Field) -> str:
    """A heading without the unit behind it."""
    return without_unit(UNIT_IN_HEADING.sub("", f" {heading}") if field.units else heading)


def rank(heading: str, field: Field) -> int:
    """The place of a heading among those of the field; the last when it is not one of them."""
    known = bare_words(field)
    return known.get(bare(heading), known.get(bare(stripped(heading, field)), len(known)))


def fit_of(column: Column, field: Field) -> float:
    """How well a column goes with a field, by its heading and, where that can tell, by what stands in it."""
    by_heading = fit(column.heading, field)
    if field.looks_like is None or not column.samples:
        return by_heading
    found = [field.looks_like(text) for text in column.samples]
    if min(found) == 1:
        return max(4.0, by_heading + 1)
    if max(found) == 0 and rank(column.heading, field) >= UNMISTAKABLE:
        return 0.0
    return by_heading


def fit(heading: str, field: Field) -> float:
    """How well a heading names a field: above 2 exactly, above 0 by some of its words, 0 not at all."""
    known = bare_words(field)
    if bare(heading) in known:
        return 3.0
    if bare(stripped(heading, field)) in known or bare(without_unit(heading)) in known:
        return 2.5
    tokens = set(re.findall(r"\w+", folded(heading)))
    best = 0.0
    for parts in words_of(field):
        if parts and parts <= tokens and len(max(parts, key=len)) > 3:
            best = max(best, len(parts) / len(tokens))
    return best if best >= 0.4 else 0.0


def matches(columns: Sequence[Column], kind: Kind) -> dict[int, tuple[str, bool]]:
    """Column index -> (field, whether its heading names the field exactly). Each field once, the best fit first."""
    ranked = []
    worked_out = {bare(word) for word in kind.worked_out}
    for column in columns:
        text = folded(column.heading)
        if bare(text) == bare(WHY_REFUSED) or bare(text) in worked_out:
            continue
        for order, field in enumerate(kind.fields):
            if (score := fit_of(column, field)) > 0:
                ranked.append(
                    (
                        -score,
                        rank(column.heading, field),
                        column.index,
                        order,
                        field,
                    )
                )
    ranked.sort(key=lambda entry: entry[:4])
    found: dict[int, tuple[str, bool]] = {}
    taken: set[str] = set()
    for score, _, index, _, field in ranked:
        if index not in found and field.name not in taken:
            found[index] = (field.name, score < -2)
            taken.add(field.name)
    return found


def guess(columns: Sequence[Column], kind: Kind) -> dict[int, str]:
    """Column index -> the field it seems to hold, with its unit behind an @ where it has one."""
    by_index = {column.index: column for column in columns}
    guessed = {}
    for index, (name, _) in matches(columns, kind).items():
        field = kind.field(name)
        unit = unit_in(by_index[index].heading, field)
        guessed[index] = f"{name}@{unit}" if unit else name
    return guessed


def missing(chosen: Mapping[int, str], kind: Kind) -> list[str]:
    """What no column holds although each row needs it, in words."""
    names = {target.partition("@")[0] for target in chosen.values()}
    return [
        " or ".join(kind.field(name).label for name in group)
        for group in kind.needs
        if not names & set(group)
    ]


def guess_order(layout: Layout, chosen: Mapping[int, str], kind: Kind) -> bool | None:
    """Whether days stand before months in the date columns; None when nothing tells."""
    from reports.importing.fields import day

    dates = [index for index, target in chosen.items() if kind.field(target.partition("@")[0]).read is day]
    values = [line.cells[index] for line in layout.rows[:2_000] for index in dates if index < len(line.cells)]
    return which_order(values)


def best_sheet(grids: Sequence[Grid], kind: Kind) -> Grid:
    """The sheet that most looks like rows of this kind; one that is called so wins a tie."""

    def score(grid: Grid) -> float:
        lines = grid.lines[: LINES_SEARCHED + LINES_SAMPLED]
        found = max(
            (score_of(line, kind, lines[at + 1 :]) for at, line in enumerate(lines[:LINES_SEARCHED])),
            default=0.0,
        )
        return found + (2.5 if bare(grid.sheet) in (bare(kind.many), bare(kind.one)) else 0)

    return max(grids, key=score)
