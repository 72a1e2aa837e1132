"""A whole file against the books: how it is read, what each row would do, and the rows that were refused as a file."""

import hashlib
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, time

from kits.exporting import Cell, csv_bytes
from reports.importing.cells import BadCell, text_of
from reports.importing.fields import KINDS, Field, Kind, Options
from reports.importing.grid import BadFile, Grid, Line, Value, is_blank
from reports.importing.layout import (
    WHY_REFUSED,
    Layout,
    best_sheet,
    guess,
    guess_order,
    lay_out,
    matches,
    missing,
)
from reports.importing.reading import read_sheets
from reports.intake.customers import CustomerPlanner
from reports.intake.places import SitePlanner, UnitPlanner
from reports.intake.rows import Outcome, Planner, Problem, RowPlan, RowRefused, digest, read_values, word_key
from reports.intake.things import KitPlanner, SensorPlanner
from reports.models import ColumnMapping, ImportFile

PLANNERS: dict[str, type[Planner]] = {
    planner.kind.key: planner
    for planner in (CustomerPlanner, SitePlanner, UnitPlanner, KitPlanner, SensorPlanner)
}


MOST_STRANGE_WORDS = 20
FIELDS_OF_A_KIND = 3


@dataclass(frozen=True)
class StrangeWord:
    """A word of the shop's own where one of a few choices is expected, and what it was told to mean."""

    key: str
    field: Field
    word: str
    rows: int
    meaning: str


def readable(asked: Field, cell: Value, options: Options) -> bool:
    try:
        asked.read(cell, options)
    except BadCell:
        return False
    return True


@dataclass(frozen=True)
class Reading:
    """A file read as a table, with what its columns mean."""

    kind: Kind
    grid: Grid
    layout: Layout
    targets: dict[int, str]
    options: Options
    words: dict[str, str] = field(default_factory=dict)

    @property
    def missing(self) -> list[str]:
        """Fields that every row needs and no column holds."""
        return missing(self.targets, self.kind)

    @property
    def unread(self) -> list[str]:
        """Headings of columns from which nothing is taken."""
        return self.layout.unread(self.targets, self.kind)

    def strange_words(self) -> list[StrangeWord]:
        """Words in columns of choices that are none of the choices, most frequent first, those explained before too."""
        found: Counter[str] = Counter()
        shown_as: dict[str, tuple[Field, str]] = {}
        for index, target in self.targets.items():
            asked = self.kind.field(target.partition("@")[0])
            if not asked.choices:
                continue
            cells = Counter(line.cells[index] for line in self.layout.rows if index < len(line.cells))
            for cell, times in cells.items():
                if not is_blank(cell) and not readable(asked, cell, self.options):
                    found[word_key(asked.name, cell)] += times
                    shown_as.setdefault(word_key(asked.name, cell), (asked, shown(cell)))
        return [
            StrangeWord(key, *shown_as[key], times, self.words.get(key, ""))
            for key, times in found.most_common(MOST_STRANGE_WORDS)
            if key
        ]


def read_file(file: ImportFile) -> Reading:
    """The file as it was last told to be read. Raises BadFile."""
    kind = KINDS[file.kind]
    grids = read_sheets(bytes(file.content), file.sheet)
    grid = grids[0] if file.sheet else best_sheet(grids, kind)
    layout = lay_out(grid, kind, file.header_line)
    known = {field.name for field in kind.fields}
    places = {column.index for column in layout.columns}
    targets = {
        int(index): target
        for index, target in file.columns.items()
        if index.isdigit() and target.partition("@")[0] in known and int(index) in places
    }
    words = {key.removeprefix(WORD): meaning for key, meaning in file.columns.items() if key.startswith(WORD)}
    return Reading(kind, grid, layout, targets, Options(file.day_first, grid.dates_from_1904), words)


# Before the key of a word of the shop's own, among what the columns of a file mean.
WORD = "word:"


def other_kinds(file: ImportFile, reading: Reading) -> list[Kind]:
    """Kinds of rows that the same file seems to hold as well and that were not brought in from it yet."""
    one_sheet = len(reading.grid.sheets) < 2
    grids = [reading.grid] if one_sheet else read_sheets(bytes(file.content))
    in_already = set(
        ImportFile.objects.filter(sha256=file.sha256, done_at__isnull=False).values_list("kind", flat=True)
    )
    others = (kind for kind in KINDS.values() if kind.key not in {file.kind, *in_already})
    return [kind for kind in others if holds(grids, kind)]


def holds(grids: list[Grid], kind: Kind) -> bool:
    """Whether a sheet has what each row needs, and so many headings of this kind that it is no chance."""
    try:
        layout = lay_out(best_sheet(grids, kind), kind)
    except BadFile:
        return False
    found = matches(layout.columns, kind)
    sure = sum(exact for _, exact in found.values())
    return sure >= FIELDS_OF_A_KIND and not missing(guess(layout.columns, kind), kind)


def headings_sha256(layout: Layout) -> str:
    return hashlib.sha256(json.dumps(layout.headings).encode()).hexdigest()


def first_look(file: ImportFile) -> None:
    """Set how a new file is read: as the last one with the same headings was, else as its headings suggest."""
    kind = KINDS[file.kind]
    grid = best_sheet(read_sheets(bytes(file.content)), kind)
    layout = lay_out(grid, kind)
    file.sheet, file.header_line = grid.sheet, layout.header_line
    remembered = ColumnMapping.objects.filter(kind=kind.key, headings_sha256=headings_sha256(layout)).first()
    if remembered:
        file.columns, file.day_first = remembered.columns, remembered.day_first
        return
    guessed = guess(layout.columns, kind)
    file.columns = {str(index): target for index, target in guessed.items()}
    file.day_first = bool(guess_order(layout, guessed, kind))


def plan_rows(reading: Reading) -> list[RowPlan]:
    """What each row would do, in the order of the file. Looks only; nothing is written."""
    planner = PLANNERS[reading.kind.key]()
    return [plan_row(planner, line, reading) for line in reading.layout.rows]


def plan_row(planner: Planner, line: Line, reading: Reading) -> RowPlan:
    values, problems = read_values(line, reading.targets, reading.kind, reading.options, reading.words)
    if not problems:
        try:
            return planner.plan(line.number, values)
        except RowRefused as refused:
            problems = list(refused.problems)
    return RowPlan(line.number, Outcome.REFUSED, first_words(line), problems=problems)


def first_words(line: Line) -> str:
    """The first things in a row, by which people find it again."""
    words = [text for text in map(shown, line.cells) if text]
    return ", ".join(words[:3])[:80]


def shown(value: object) -> str:
    try:
        return " ".join(text_of(value).split())  # type: ignore[arg-type]
    except BadCell:
        return str(value)


def counts(plans: Sequence[RowPlan]) -> dict[str, int]:
    """How many rows have each outcome, all four named."""
    found = Counter(plan.outcome for plan in plans)
    return {outcome.value: found[outcome] for outcome in Outcome}


def as_written(cell: Value) -> Cell:
    """A cell as people wrote it: a workbook keeps each day as its midnight."""
    if isinstance(cell, datetime) and cell.time() == time():
        return cell.date()
    return cell if isinstance(cell, Cell) else str(cell)


def refused_csv(reading: Reading, plans: Sequence[RowPlan]) -> bytes:
    """The refused rows with the columns of the file and why, to mend and send again."""
    lines = {line.number: line for line in reading.layout.rows}
    columns = [column for column in reading.layout.columns if column.heading != WHY_REFUSED]

    def cells(plan: RowPlan) -> list[Cell]:
        line = lines[plan.line]
        row = [line.cells[column.index] if column.index < len(line.cells) else None for column in columns]
        return [*map(as_written, row), plan.why]

    headings = [*(column.heading for column in columns), WHY_REFUSED]
    return csv_bytes(headings, (cells(plan) for plan in plans if plan.outcome == Outcome.REFUSED))


__all__ = [
    "Outcome",
    "Problem",
    "Reading",
    "RowPlan",
    "counts",
    "digest",
    "first_look",
    "plan_rows",
    "read_file",
]
