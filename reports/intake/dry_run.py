"""A whole file against the books: how it is read, what each row would do, and the rows that were refused as a file."""

import hashlib
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from kits.exporting import Cell, csv_bytes
from reports.importing.cells import BadCell, text_of
from reports.importing.fields import KINDS, Kind, Options
from reports.importing.grid import Grid, Line
from reports.importing.layout import WHY_REFUSED, Layout, best_sheet, guess, guess_order, lay_out, missing
from reports.importing.reading import read_sheets
from reports.intake.customers import CustomerPlanner
from reports.intake.places import SitePlanner, UnitPlanner
from reports.intake.rows import Outcome, Planner, Problem, RowPlan, RowRefused, digest, read_values
from reports.intake.things import KitPlanner, SensorPlanner
from reports.models import ColumnMapping, ImportFile

PLANNERS: dict[str, type[Planner]] = {
    planner.kind.key: planner
    for planner in (CustomerPlanner, SitePlanner, UnitPlanner, KitPlanner, SensorPlanner)
}


@dataclass(frozen=True)
class Reading:
    """A file read as a table, with what its columns mean."""

    kind: Kind
    grid: Grid
    layout: Layout
    targets: dict[int, str]
    options: Options

    @property
    def missing(self) -> list[str]:
        """Fields that every row needs and no column holds."""
        return missing(self.targets, self.kind)


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
        if target.partition("@")[0] in known and int(index) in places
    }
    return Reading(kind, grid, layout, targets, Options(file.day_first, grid.dates_from_1904))


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
    values, problems = read_values(line, reading.targets, reading.kind, reading.options)
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


def refused_csv(reading: Reading, plans: Sequence[RowPlan]) -> bytes:
    """The refused rows with the columns of the file and why, to mend and send again."""
    lines = {line.number: line for line in reading.layout.rows}
    columns = [column for column in reading.layout.columns if column.heading != WHY_REFUSED]

    def cells(plan: RowPlan) -> list[Cell]:
        line = lines[plan.line]
        row = [line.cells[column.index] if column.index < len(line.cells) else None for column in columns]
        return [*(cell if isinstance(cell, Cell) else str(cell) for cell in row), plan.why]

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
