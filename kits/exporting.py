"""Tables as files: CSV and XLSX with numbers as numbers, dates as dates, and no text that a spreadsheet would run.

Pure: rows in, bytes out. Text that begins like a formula gets an apostrophe in front (OWASP ASVS 5.0, 1.2.10), which
`as_it_was` takes off again, so that a file of ours comes back in as it went out.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

Cell = str | int | float | Decimal | bool | date | datetime | None

CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# What a spreadsheet takes for the beginning of a formula, already behind apostrophes or not.
FORMULA_START = re.compile(r"'*[=+\-@\t\r\n\0]")
ESCAPED_START = re.compile(r"'+[=+\-@\t\r\n\0]")
# Control characters that XML 1.0 cannot hold.
NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
WIDEST_COLUMN = 60


@dataclass(frozen=True)
class FileColumn:
    """One column of a file: its heading, and what stands there for a row."""

    heading: str
    value: Callable[[Any], Cell]


def harmless(text: str) -> str:
    """The text as no spreadsheet takes it for a formula.

    >>> harmless("=1+1"), harmless("'=1+1"), harmless("9 Elm"), harmless("'tis")
    ("'=1+1", "''=1+1", '9 Elm', "'tis")
    """
    return f"'{text}" if FORMULA_START.match(text) else text


def as_it_was(text: str) -> str:
    """The text before `harmless`.

    >>> as_it_was("'=1+1"), as_it_was("''=1+1"), as_it_was("'tis")
    ('=1+1', "'=1+1", "'tis")
    """
    return text[1:] if ESCAPED_START.match(text) else text


def in_csv(cell: Cell) -> str:
    """A cell as it stands in a CSV file: dates in ISO 8601, numbers with a point, yes or no."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return cell.isoformat(timespec="seconds")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    return harmless(cell) if isinstance(cell, str) else str(cell)


def csv_bytes(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A CSV file (RFC 4180) in UTF-8 with a byte order mark, without which spreadsheets guess the letters wrong."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([harmless(heading) for heading in headings])
    for row in rows:
        writer.writerow([in_csv(cell) for cell in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def in_xlsx(cell: Cell) -> Any:
    """A cell as a workbook keeps it; times lose their zone, so they must come in the reader's."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return cell.replace(tzinfo=None, microsecond=0)
    return harmless(NOT_IN_XML.sub("", cell)) if isinstance(cell, str) else cell


def xlsx_bytes(title: str, headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A workbook of one sheet: headings that stay in view, columns about as wide as what is in them."""
    from openpyxl import Workbook  # takes longer to import than most pages take
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    listed = [[in_xlsx(cell) for cell in row] for row in rows]
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title[:31])
    sheet.freeze_panes = "A2"
    for number, heading in enumerate(headings):
        longest = max([len(heading), *(len(str(row[number] or "")) for row in listed[:200])])
        sheet.column_dimensions[get_column_letter(number + 1)].width = min(longest + 2, WIDEST_COLUMN)

    def made(value: Any) -> Any:
        if isinstance(value, date):
            cell = WriteOnlyCell(sheet, value)
            cell.number_format = "yyyy-mm-dd hh:mm:ss" if isinstance(value, datetime) else "yyyy-mm-dd"
            return cell
        return value

    head = [WriteOnlyCell(sheet, harmless(heading)) for heading in headings]
    for cell in head:
        cell.font = Font(bold=True)
    sheet.append(head)
    for row in listed:
        sheet.append([made(value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
