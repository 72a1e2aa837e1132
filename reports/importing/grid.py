"""What a file holds once it is read: lines of cells, numbered as people see them. Also every refusal of a whole file."""

from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal

Value = str | int | float | Decimal | bool | date | datetime | time | None

LARGEST_FILE_MB = 10
LARGEST_FILE_BYTES = LARGEST_FILE_MB * 1_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 100


class BadFile(ValueError):
    """The file cannot be read as a table. The message says why and what to do about it."""


@dataclass(frozen=True)
class Line:
    """One line of a sheet that holds something; `number` is the one a spreadsheet shows beside it."""

    number: int
    cells: tuple[Value, ...]


@dataclass
class Grid:
    """One sheet of a file."""

    sheet: str
    lines: list[Line]
    sheets: tuple[str, ...] = ()
    dates_from_1904: bool = False
    notes: list[str] = field(default_factory=list)


def is_blank(value: Value) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def trimmed(cells: list[Value] | tuple[Value, ...]) -> tuple[Value, ...]:
    """The cells without the empty ones at the end."""
    last = len(cells)
    while last and is_blank(cells[last - 1]):
        last -= 1
    return tuple(cells[:last])


def too_many_rows() -> BadFile:
    return BadFile(
        f"This file has more than {MOST_ROWS:,} rows, the most that are taken at once. "
        "Split it into several files with the same headings."
    )


def too_large(size: int) -> BadFile:
    return BadFile(
        f"This file has {size / 1_000_000:.0f} MB; the most that is taken is {LARGEST_FILE_MB} MB. "
        "Save only the sheet with the table as CSV, without pictures."
    )
