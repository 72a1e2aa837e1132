"""Workbooks: values not formulas, one sheet, and nothing unpacked before its size is known."""

import io
import re
import zipfile
from typing import Any

from reports.importing.grid import MOST_COLUMNS, MOST_ROWS, BadFile, Grid, Line, Value, too_many_rows, trimmed

LARGEST_UNPACKED_BYTES = 150_000_000
MOST_PARTS = 2_000
MOST_CELLS = 1_000_000
PIECE_BYTES = 1 << 20
# Rows that may lie between filled ones before the sheet is taken to be over.
LARGEST_GAP = 10_000
MERGED = re.compile(rb'<mergeCell [^>]*ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')
MOST_MERGED = 20_000

DAMAGED = BadFile(
    "This workbook is damaged and cannot be opened. Open it in your spreadsheet and save it anew."
)


def read_xlsx(data: bytes, sheet: str = "") -> list[Grid]:
    """The sheet of that name, or every sheet that is not hidden when none is named. Empty ones are left out."""
    import openpyxl

    check_sizes(data)
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        shown = [one for one in book.worksheets if one.sheet_state == "visible"] or list(book.worksheets)
        names = tuple(one.title for one in shown)
        grids = []
        for one in shown:
            if sheet in ("", one.title):
                grid = Grid(one.title, lines_of(one, data), names, book.epoch.year == 1904)
                if grid.lines:
                    grids.append(grid)
        return grids
    except BadFile:
        raise
    except Exception as error:  # openpyxl raises whatever a damaged part makes of it
        raise DAMAGED from error


def check_sizes(data: bytes) -> None:
    """Refuse before unpacking what would fill the memory, or is no workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
            if "xl/workbook.xml" not in {part.filename for part in parts}:
                raise BadFile(
                    "This is a packed file, but no workbook. Unpack it and choose the spreadsheet inside, "
                    "or save your sheet as XLSX or CSV."
                )
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED_BYTES:
                raise BadFile(
                    "Unpacked, this workbook is far larger than a table of this shop can be, so it is not opened. "
                    "Copy the table alone into a new workbook, or save it as CSV."
                )
            for part in parts:
                if part.filename.endswith((".xml", ".rels")):
                    with packed.open(part) as opened:
                        head = opened.read(2_000)
                    if b"<!DOCTYPE" in head:
                        raise DAMAGED
                    if part.filename.startswith("xl/worksheets/"):
                        check_cells(packed, part)
    except zipfile.BadZipFile as error:
        raise DAMAGED from error


def check_cells(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    """Refuse a sheet of so many cells or rows that reading it would take minutes."""
    cells = rows = 0
    with packed.open(part) as opened:
        has_size = b"<dimension" in (piece := opened.read(PIECE_BYTES))
        while piece:
            cells += piece.count(b"<c ") + piece.count(b"<c>")
            rows += piece.count(b"<row")
            piece = opened.read(PIECE_BYTES)
    if cells > MOST_CELLS:
        raise BadFile(
            f"A sheet of this workbook has more than {MOST_CELLS:,} cells, empty ones that were painted included. "
            "Copy the table alone into a new workbook, or save it as CSV."
        )
    # Only from a sheet that says its size can rows be read without going through all of them first.
    if not has_size and rows > MOST_ROWS + LARGEST_GAP:
        raise too_many_rows()


def lines_of(sheet: Any, data: bytes) -> list[Line]:
    """The lines of a sheet that hold something; a cell merged over several rows counts for each of them."""
    # The size a sheet says it has may be wrong; without it, each row has as many cells as it really holds.
    sheet.reset_dimensions()
    down = merged_down(sheet, data)
    lines: list[Line] = []
    carried: dict[int, tuple[Value, int]] = {}
    last_filled = 0
    for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True), start=1):
        cells: list[Value] = list(row)
        for column, last_row in down.get(number, {}).items():
            if column < len(cells):
                carried[column] = (cells[column], last_row)
        if carried and any(cell is not None for cell in cells):
            fill_down(cells, carried, number)
        filled = trimmed(cells)
        if filled:
            lines.append(Line(number, filled))
            last_filled = number
            if len(lines) > MOST_ROWS + 30:
                raise too_many_rows()
        elif number - last_filled > LARGEST_GAP:
            break
    return lines


def fill_down(cells: list[Value], carried: dict[int, tuple[Value, int]], number: int) -> None:
    """Put the value of a merged cell into a row it reaches down to."""
    for column, (value, last_row) in list(carried.items()):
        if number > last_row:
            del carried[column]
            continue
        while len(cells) <= column:
            cells.append(None)
        if cells[column] is None:
            cells[column] = value


def merged_down(sheet: Any, data: bytes) -> dict[int, dict[int, int]]:
    """First row -> column (from 0) -> last row, of the cells merged over more than one row."""
    from openpyxl.utils import column_index_from_string

    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        try:
            part = packed.read(sheet._worksheet_path.lstrip("/"))
        except (KeyError, AttributeError):
            return {}
    down: dict[int, dict[int, int]] = {}
    start = max(part.rfind(b"<mergeCells"), 0)
    for found in MERGED.finditer(part, start) if b"<mergeCells" in part else ():
        first_row, last_row = int(found[2]), int(found[4])
        if last_row > first_row and len(down) < MOST_MERGED:
            down.setdefault(first_row, {})[column_index_from_string(found[1].decode()) - 1] = last_row
    return down
