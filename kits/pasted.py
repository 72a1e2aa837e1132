"""A block of readings pasted from a spreadsheet: which column or row is whose, and how it was understood (pure)."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation

from kits.units import MINUS, Unit

MOST_READINGS = 200
NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
UNIT_AT_END = re.compile(r"\s*(?:°|º|deg)?\s*([CF])\s*$", re.IGNORECASE)
UNIT_IN_HEADING = re.compile(r"(?:°|º|deg\s*|[(\[]\s*)([CF])\b", re.IGNORECASE)
TIME_OR_DAY = re.compile(r"\d{1,2}:\d{2}|\d{4}-\d{2}-\d{2}|\d{1,2}/\d{1,2}/\d{2,4}")
TIME_WORDS = frozenset({"time", "date", "day", "no", "no.", "nr", "#", "reading", "round", "n"})


class BadBlock(ValueError):
    """A block that cannot be understood. The message says why and how to lay it out."""


@dataclass(frozen=True, kw_only=True)
class Heard:
    """A block as it was understood: readings by key, in its own unit, and a sentence to check it by."""

    values: Mapping[str, Sequence[Decimal]]
    unit: Unit
    sentence: str


@dataclass(frozen=True)
class Cell:
    """One cell: its text, its number if it is one, the unit written behind it if there is one."""

    text: str
    number: Decimal | None = None
    unit: Unit | None = None

    @property
    def is_time(self) -> bool:
        return bool(TIME_OR_DAY.search(self.text))


@dataclass
class Grid:
    """Rows of cells, all of one length, and whether they were turned so that each column is one sensor."""

    rows: list[list[Cell]]
    turned: bool = False
    headings: list[str] = field(default_factory=list)

    @property
    def width(self) -> int:
        return len(self.rows[0]) if self.rows else 0

    def column(self, number: int) -> list[Cell]:
        return [row[number] for row in self.rows]


def read_number(text: str) -> Decimal | None:
    """A number as people and spreadsheets write it, with a point or a comma.

    >>> read_number("32,10"), read_number("−0.5"), read_number("lead 3")
    (Decimal('32.10'), Decimal('-0.5'), None)
    """
    text = text.strip().replace(MINUS, "-")
    if not NUMBER.fullmatch(text):
        return None
    try:
        return Decimal(text.replace(",", "."))
    except InvalidOperation:
        return None


def read_cell(text: str) -> Cell:
    """A cell, with the unit written behind its number if there is one."""
    text = text.strip().strip('"')
    bare = UNIT_AT_END.sub("", text)
    named = UNIT_AT_END.search(text)
    number = read_number(bare)
    unit: Unit | None = ("F" if named[1].upper() == "F" else "C") if named and number is not None else None
    return Cell(text, number, unit)


def split_line(line: str, separator: str | None) -> list[str]:
    return line.split() if separator is None else line.split(separator)


def separator_of(text: str) -> str | None:
    """What stands between the cells: a tab, a semicolon, a comma, or (None) blanks.

    >>> separator_of("32.1\\t32.2"), separator_of("32,1;32,2"), separator_of("32.1,32.2"), separator_of("32,1 32,2")
    ('\\t', ';', ',', None)
    """
    for mark in ("\t", ";"):
        if mark in text:
            return mark
    commas_between = any(
        line.count(",") > 1 or (", " in line) or ("." in line and "," in line) for line in text.splitlines()
    )
    in_every_word = all(word.count(",") == 1 for word in text.split() if NUMBER.fullmatch(word))
    return (
        ","
        if "," in text and commas_between and not (in_every_word and " " in text.strip() and ", " not in text)
        else None
    )


def grid_of(text: str) -> Grid:
    """The block as rows of equal length; lines with nothing in them are left out."""
    separator = separator_of(text)
    rows = [
        [read_cell(cell) for cell in split_line(line, separator)]
        for line in text.splitlines()
        if line.strip()
    ]
    if not rows:
        raise BadBlock("There is nothing to read. Copy the cells in the spreadsheet, then paste them here.")
    width = max(map(len, rows))
    return Grid([row + [Cell("")] * (width - len(row)) for row in rows])


def plain_name(text: str) -> str:
    """A name as it is compared: no case, no blanks, no unit behind it."""
    return re.sub(r"[\s…._-]+|[(\[]?[°º][cf][)\]]?", "", text.casefold())


def whose(text: str, names: Mapping[str, Sequence[str]]) -> str | None:
    """The key that answers to a heading; refused when several do."""
    wanted = plain_name(text)
    bare = re.sub(r"^(sensor|lead|tag|terminal)", "", wanted)
    found = [
        key
        for key, said in names.items()
        if wanted and {wanted, bare} & {plain_name(name) for name in said if name}
    ]
    if len(found) > 1:
        raise BadBlock(
            f"“{text}” is the name of {len(found)} sensors in this check. Use the last four digits of their ROM IDs."
        )
    return found[0] if found else None


def named_first(cells: Sequence[Cell], names: Mapping[str, Sequence[str]]) -> bool:
    """Whether these cells are names rather than readings: each is one, or a word, and at least one is known."""
    filled = [cell for cell in cells if cell.text]
    if not filled:
        return False
    known = [whose(cell.text, names) is not None for cell in filled]
    return any(known) and all(
        is_known or (cell.number is None and not cell.is_time)
        for cell, is_known in zip(filled, known, strict=True)
    )


def turned(grid: Grid) -> Grid:
    return Grid([list(row) for row in zip(*grid.rows, strict=True)], turned=True)


def unit_of(grid: Grid, used: Sequence[int], unit: Unit) -> Unit:
    """The unit of the block: what it says itself, else the unit of the page."""
    said = {cell.unit for number in used for cell in grid.column(number) if cell.unit}
    for number in used:
        if grid.headings and (found := UNIT_IN_HEADING.search(grid.headings[number])):
            said.add("F" if found[1].upper() == "F" else "C")
    if len(said) > 1:
        raise BadBlock("Some of these cells say °F and some °C. Paste them one unit at a time.")
    return said.pop() if said else unit


def read_block(text: str, names: Mapping[str, Sequence[str]], *, unit: Unit, reference: str = "") -> Heard:
    """The readings in a pasted block.

    `names`: for each key of the check, in the order of the page, what it answers to, the name to say first.
    `reference`: the key of the reference, which an unnamed block may leave out.
    """
    grid = grid_of(text)
    if named_first(grid.rows[0], names) and len(grid.rows) > 1:
        grid.headings = [cell.text for cell in grid.rows.pop(0)]
    elif named_first(grid.column(0), names) and grid.width > 1:
        grid = turned(grid)
        grid.headings = [cell.text for cell in grid.rows.pop(0)]
    columns = by_name(grid, names) if grid.headings else by_place(grid, names, reference)
    used = list(columns.values())
    values = {key: readings_of(grid, number, names[key][0]) for key, number in columns.items()}
    if not any(values.values()):
        raise BadBlock("No number was found under the names. Paste the readings along with them.")
    heard = unit_of(grid, used, unit)
    return Heard(values=values, unit=heard, sentence=said(grid, values, columns, names, heard))


def by_name(grid: Grid, names: Mapping[str, Sequence[str]]) -> dict[str, int]:
    columns: dict[str, int] = {}
    for number, heading in enumerate(grid.headings):
        key = whose(heading, names)
        if key is None:
            continue
        if key in columns:
            raise BadBlock(f"{names[key][0]} stands there twice. Leave one of the two out.")
        columns[key] = number
    return columns


def by_place(grid: Grid, names: Mapping[str, Sequence[str]], reference: str) -> dict[str, int]:
    """Without names the order of the page is meant, if the number of columns (or of rows) fits."""
    everybody = list(names)
    sensors = [key for key in everybody if key != reference]
    for one in (grid, turned(grid)):
        columns = [number for number in range(one.width) if not is_time_column(one.column(number))]
        for keys in (everybody, sensors):
            if len(columns) == len(keys):
                grid.rows, grid.turned = one.rows, one.turned
                return dict(zip(keys, columns, strict=True))
    words = f"{len(sensors)} sensor{'s' if len(sensors) != 1 else ''}"
    with_reference = f"{words} and the reference" if reference else words
    raise BadBlock(
        f"This block has {counted(grid.width, 'column')} and {counted(len(grid.rows), 'row')}, and the check has "
        f"{with_reference}. Give each a column, in the order of this page; or write their tags above the columns."
    )


def is_time_column(cells: Sequence[Cell]) -> bool:
    filled = [cell for cell in cells if cell.text]
    return not filled or all(cell.is_time or cell.text.casefold() in TIME_WORDS for cell in filled)


def readings_of(grid: Grid, number: int, name: str) -> list[Decimal]:
    found = []
    for place, cell in enumerate(grid.column(number), start=1):
        if not cell.text:
            continue
        if cell.number is None:
            raise BadBlock(
                f"“{cell.text[:30]}” is no number ({name}, reading {place}). Take it out, or put it right."
            )
        found.append(cell.number)
    if len(found) > MOST_READINGS:
        raise BadBlock(
            f"{len(found)} readings of {name}: a point holds {MOST_READINGS} at the most. Paste the steady part only."
        )
    return found


def counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def said(
    grid: Grid,
    values: Mapping[str, Sequence[Decimal]],
    columns: Mapping[str, int],
    names: Mapping[str, Sequence[str]],
    unit: Unit,
) -> str:
    """How a block was understood, so that the typist can see whether that was meant."""
    line = "row" if grid.turned else "column"
    whose_is = ", ".join(f"{names[key][0]} ({counted(len(read), 'reading')})" for key, read in values.items())
    how = "by the names written there" if grid.headings else "in the order of this page"
    left_out = [
        grid.headings[number] or "one without a name"
        for number in range(grid.width)
        if grid.headings and number not in columns.values()
    ]
    rest = f" Left out: {', '.join(left_out)}." if left_out else ""
    return f"Each {line} was taken as one instrument, {how}: {whose_is}. Taken as °{unit}.{rest}"


def read_pairs(text: str) -> list[tuple[Decimal, Decimal]]:
    """Lines of two numbers, such as the table of a certificate: a temperature and what belongs to it.

    >>> read_pairs("0  -0.02\\n25; 0.01")
    [(Decimal('0'), Decimal('-0.02')), (Decimal('25'), Decimal('0.01'))]
    """
    pairs: list[tuple[Decimal, Decimal]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        cells = [read_cell(cell) for cell in split_line(line, separator_of(line)) if cell.strip()]
        figures = [cell.number for cell in cells if cell.number is not None]
        if not figures and not pairs:
            continue  # the headings of a table
        if len(cells) != 2 or len(figures) != 2:
            raise BadBlock(
                f"Line {number} holds “{line.strip()[:40]}”: give two numbers on it, with a blank between."
            )
        pairs.append((figures[0], figures[1]))
    return pairs
