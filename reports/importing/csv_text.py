"""Text files of rows: which letters, which character between the fields, and where each record begins."""

import csv
import io
from collections import Counter

from reports.importing.grid import MOST_COLUMNS, MOST_ROWS, BadFile, Grid, Line, too_many_rows, trimmed

DELIMITERS = ",;\t|"
LINES_LOOKED_AT = 60
LARGEST_FIELD = 131_072


def read_csv(data: bytes) -> Grid:
    """Every line that holds something, whatever the encoding and the delimiter."""
    text, note = decoded(data)
    delimiter, text, first = delimiter_of(text)
    grid = Grid(sheet="", lines=records(text, delimiter, first))
    if note:
        grid.notes.append(note)
    return grid


def decoded(data: bytes) -> tuple[str, str]:
    """The text, and what to tell about how it was read."""
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if data.startswith(mark):
            try:
                return data.decode(encoding), ""
            except UnicodeDecodeError:
                break
    if encoding := utf_16_without_mark(data):
        return data.decode(encoding, errors="replace"), ""
    if b"\0" in data:
        raise BadFile(
            "This is no text file, although its name says so. In the spreadsheet, choose Save as, then CSV or XLSX."
        )
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        return (
            text,
            "Read with Western European letters (Windows-1252). Look whether accents are right in the rows below.",
        )


def utf_16_without_mark(data: bytes) -> str:
    """UTF-16 shows as a zero in every other byte of plain letters."""
    start = data[:400]
    if len(start) < 8:
        return ""
    even, odd = start[0::2].count(0), start[1::2].count(0)
    half = len(start) // 2
    if odd > half * 0.7 and even < half * 0.1:
        return "utf-16-le"
    if even > half * 0.7 and odd < half * 0.1:
        return "utf-16-be"
    return ""


def delimiter_of(text: str) -> tuple[str, str, int]:
    """The delimiter, the text without a line that only names it ("sep=;"), and the number of the first line."""
    head, _, rest = text.partition("\n")
    if head.strip().lower().startswith("sep=") and len(head.strip()) == 5:
        return head.strip()[4], rest, 2
    best, best_score = ",", 0.0
    for delimiter in DELIMITERS:
        score = fit(text, delimiter)
        if score > best_score:
            best, best_score = delimiter, score
    return best, text, 1


def fit(text: str, delimiter: str) -> float:
    """How well a delimiter cuts the first lines into the same number of fields; 0 when it never cuts."""
    widths: Counter[int] = Counter()
    try:
        for number, row in enumerate(
            csv.reader(io.StringIO(text[:200_000], newline=""), delimiter=delimiter)
        ):
            if number >= LINES_LOOKED_AT:
                break
            if any(cell.strip() for cell in row):
                widths[len(row)] += 1
    except csv.Error:
        return 0.0
    total = sum(widths.values())
    wide = {width: number for width, number in widths.items() if width > 1}
    if not wide:
        return 0.0
    width, number = max(wide.items(), key=lambda pair: (pair[1], pair[0]))
    return number / total + min(width, 50) / 1000


def records(text: str, delimiter: str, first: int) -> list[Line]:
    """The records as lines; a field may hold line breaks, so a record's number is that of its first line."""
    try:
        return list_of(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True), first)
    except csv.Error as error:
        if "field larger" in str(error) and text.count('"') % 2 == 0:
            raise BadFile(
                "A cell of this file holds more than 131,072 characters. Look whether it was cut into columns at the "
                "right character, or save the sheet as XLSX."
            ) from error
        if "unexpected end of data" in str(error) or "field larger" in str(error):
            raise BadFile(
                "A quotation mark is opened in this file and never closed, so its rows cannot be told apart. "
                'Look for a single " in a cell, or save the sheet as XLSX.'
            ) from error
    # Stray quotes in the middle of a field: taken as they stand.
    return list_of(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter), first)


def list_of(reader: "csv._reader", first: int) -> list[Line]:  # type: ignore[name-defined]
    lines: list[Line] = []
    begins = first
    for row in reader:
        cells = trimmed(row[:MOST_COLUMNS])
        if cells:
            lines.append(Line(begins, cells))
            # A heading and some title lines come on top of the rows.
            if len(lines) > MOST_ROWS + 30:
                raise too_many_rows()
        begins = first + reader.line_num
    return lines
