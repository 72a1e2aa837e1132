"""From a cell to a value: numbers, money, lengths, dates, yes and no, and words that mean one of a few choices.

Every reader takes what a spreadsheet holds (text, a number, a date) and gives a value or raises BadCell with a sentence
that says what to type instead.
"""

import re
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from functools import cache
from zoneinfo import available_timezones

from kits.codes import fold_code, is_code
from kits.exporting import as_it_was
from kits.rom import BadRom, read_rom
from reports.importing.grid import Value

ERRORS = frozenset({"#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A"})
METRES: dict[str, Decimal] = {
    "m": Decimal(1),
    "cm": Decimal("0.01"),
    "mm": Decimal("0.001"),
    "ft": Decimal("0.3048"),
    "in": Decimal("0.0254"),
}
LENGTH_UNITS = {
    "m": "m",
    **dict.fromkeys(("metre", "metres", "meter", "meters", "mtr"), "m"),
    **dict.fromkeys(("cm", "centimetres", "centimeters"), "cm"),
    **dict.fromkeys(("mm", "millimetres", "millimeters"), "mm"),
    **dict.fromkeys(("ft", "foot", "feet", "'", "′", "’"), "ft"),
    **dict.fromkeys(("in", "inch", "inches", '"', "″", "”"), "in"),
}
MONTH_WORDS = (
    "jan january",
    "feb february",
    "mar march",
    "apr april",
    "may",
    "jun june",
    "jul july",
    "aug august",
    "sep sept september",
    "oct october",
    "nov november",
    "dec december",
)
MONTHS = {name: number for number, names in enumerate(MONTH_WORDS, start=1) for name in names.split()}
YES = frozenset(["yes", "y", "true", "t", "1", "x", "on", "fitted", "installed", "✓", "✔", "ja", "si", "oui"])
NO = frozenset(["no", "n", "false", "f", "0", "-", "–", "off", "none", "without", "nein", "non"])
ZONES = {
    **dict.fromkeys(["eastern", "et", "est", "edt", "us/eastern"], "America/New_York"),
    **dict.fromkeys(["central", "ct", "cst", "cdt", "us/central"], "America/Chicago"),
    **dict.fromkeys(["mountain", "mt", "mst", "mdt", "us/mountain"], "America/Denver"),
    **dict.fromkeys(["arizona", "us/arizona"], "America/Phoenix"),
    **dict.fromkeys(["pacific", "pt", "pst", "pdt", "us/pacific"], "America/Los_Angeles"),
    **dict.fromkeys(["alaska", "akst", "akdt", "us/alaska"], "America/Anchorage"),
    **dict.fromkeys(["hawaii", "hst", "us/hawaii"], "Pacific/Honolulu"),
    **dict.fromkeys(["atlantic", "ast", "adt"], "America/Halifax"),
}
# IEC 60757 codes beside the names and the spellings people use.
COLOURS = {
    **dict.fromkeys(("black", "bk", "blk"), "black"),
    **dict.fromkeys(("brown", "bn", "brn"), "brown"),
    **dict.fromkeys(("red", "rd"), "red"),
    **dict.fromkeys(("orange", "og", "org"), "orange"),
    **dict.fromkeys(("yellow", "ye", "yel"), "yellow"),
    **dict.fromkeys(("green", "gn", "grn"), "green"),
    **dict.fromkeys(("blue", "bu", "blu"), "blue"),
    **dict.fromkeys(("violet", "vt", "purple"), "violet"),
    **dict.fromkeys(("grey", "gray", "gy"), "grey"),
    **dict.fromkeys(("white", "wh", "wht"), "white"),
    **dict.fromkeys(("none", "no colour", "no color", "-"), ""),
}
FIRST_DAY, LAST_DAY = date(1950, 1, 1), date(2100, 1, 1)
LARGEST_EXACT = 10**15


class BadCell(ValueError):
    """What stands in a cell cannot be what the column is for. The message says what to type instead."""


def text_of(value: Value) -> str:
    """A cell as the text somebody meant: 7012.0 is 7012, an apostrophe that only guarded a formula is gone."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if value == int(value) and abs(value) < LARGEST_EXACT:
            return str(int(value))
        return repr(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    text = as_it_was(str(value)).replace("\r\n", "\n").replace("\r", "\n")
    text = text.replace("_x000D_", "").replace("\0", "").strip().strip("\u00a0\u200b\ufeff").strip()
    if text in ERRORS:
        raise BadCell(
            f"The cell holds {text}, an error of the spreadsheet. Mend its formula or type the value."
        )
    return text


def line_of(value: Value) -> str:
    """Text of one line: breaks and runs of blanks become single blanks."""
    return " ".join(text_of(value).split())


def folded(text: str) -> str:
    """For comparing words: width and case folded, blanks single, no full stops."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().replace(".", " ").split())


def number_of(value: Value) -> Decimal:
    """A number as people write it: 1,234.5 and 1.234,5 and 1 234,5; a true minus sign; brackets mean minus.

    >>> number_of("1,234.50"), number_of("1.234,5"), number_of("−0,3")
    (Decimal('1234.50'), Decimal('1234.5'), Decimal('-0.3'))
    """
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        return Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    text = text_of(value).replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "").replace(" ", "")
    text = text.replace("'", "")
    if text.startswith("(") and text.endswith(")"):
        text = f"-{text[1:-1]}"
    if re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?\d*,\d{1,2}|[+-]?\d+,\d{4,}|[+-]?0,\d{3}", text):
        text = text.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?", text):
        text = text.replace(",", "")
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise BadCell(f"{shown(value)} is no number. Type digits, like 12.5.") from None
    if not number.is_finite():
        raise BadCell(f"{shown(value)} is no number. Type digits, like 12.5.")
    return number


def shown(value: Value) -> str:
    text = str(value)
    return f"“{text[:40]}…”" if len(text) > 40 else f"“{text}”"


def whole_number(value: Value) -> int:
    number = number_of(value)
    if number != number.to_integral_value():
        raise BadCell(f"{shown(value)} is no whole number.")
    return int(number)


def decimal_of(value: Value, places: int, units: str = "") -> Decimal:
    """A number with at most so many places; one of the words `units` may stand behind it."""
    if isinstance(value, str) and units:
        value = re.sub(rf"\s*({units})\s*$", "", text_of(value), flags=re.IGNORECASE)
    number = number_of(value)
    if abs(number) >= LARGEST_EXACT:
        raise BadCell(f"{shown(value)} is far too large.")
    return number.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def cents_of(value: Value) -> int:
    """Money in whole cents: $1,240 and 1240.00 and 1240 USD.

    >>> cents_of("$1,240"), cents_of(185.5)
    (124000, 18550)
    """
    if isinstance(value, str):
        value = re.sub(r"[$€£]|\b[A-Z]{2,3}\$?(?![A-Za-z])", "", text_of(value), flags=re.IGNORECASE).strip()
    amount = number_of(value)
    if amount < 0:
        raise BadCell("An amount of money here is not below zero.")
    if amount > 1_000_000:
        raise BadCell(f"{shown(value)} is more than a million. Check the amount.")
    return int((amount * 100).quantize(Decimal(1), ROUND_HALF_UP))


FEET_AND_INCHES = re.compile(
    r"""(\d+)\s*(?:ft|feet|foot|['′’])\.?\s*-?\s*(\d+(?:\.\d+)?)\s*(?:in(?:ch(?:es)?)?|["″”]|'')?\.?""", re.I
)


def metres_of(value: Value, unit: str = "m") -> Decimal:
    """A length in metres to the centimetre; `unit` counts where the cell has none of its own.

    >>> metres_of("12", "ft"), metres_of("6' 6\\""), metres_of("3,5 m", "ft")
    (Decimal('3.66'), Decimal('1.98'), Decimal('3.50'))
    """
    number: Decimal
    if isinstance(value, str):
        text = text_of(value)
        if found := FEET_AND_INCHES.fullmatch(text):
            number = Decimal(found[1]) * METRES["ft"] + Decimal(found[2]) * METRES["in"]
            return centimetre(number)
        if found := re.fullmatch(r"(.*?\d)\s*([a-z'\"′″’”]+)\.?", text, re.IGNORECASE):
            word = found[2].lower()
            if word not in LENGTH_UNITS:
                raise BadCell(
                    f"{shown(value)}: {found[2]} is no unit of length. Type it like 3.5 m or 12 ft."
                )
            value, unit = found[1], LENGTH_UNITS[word]
    number = number_of(value) * METRES[unit]
    if number < 0:
        raise BadCell("A length is not below zero.")
    if number > 300:
        raise BadCell(f"{shown(value)} {unit} is longer than any lead. Check the number and its unit.")
    return centimetre(number)


def centimetre(number: Decimal) -> Decimal:
    return number.quantize(Decimal("0.01"), ROUND_HALF_UP)


def celsius_of(value: Value, unit: str = "C") -> Decimal:
    """A temperature in °C to a tenth.

    >>> celsius_of("140 F"), celsius_of(60)
    (Decimal('60.0'), Decimal('60.0'))
    """
    if isinstance(value, str) and (
        found := re.fullmatch(r"(.*?\d)\s*°?\s*([CF])", text_of(value), re.IGNORECASE)
    ):
        value, unit = found[1], found[2].upper()
    number = number_of(value)
    if unit == "F":
        number = (number - 32) * 5 / 9
    if not -60 <= number <= 200:
        raise BadCell(
            f"{shown(value)} °{unit} cannot be what a box is rated to. Check the number and its unit."
        )
    return number.quantize(Decimal("0.1"), ROUND_HALF_UP)


def yes_or_no(value: Value) -> bool:
    word = folded(text_of(value))
    if word in YES:
        return True
    if word in NO:
        return False
    raise BadCell(f"{shown(value)} is neither yes nor no. Type one of the two.")


def serial_day(serial: float | Decimal, dates_from_1904: bool = False) -> date:
    """The day behind the number a spreadsheet keeps for a date.

    Day 60 of the older count is 29 February 1900, which never was; so days before it count from one day later.

    >>> serial_day(61), serial_day(45432)
    (datetime.date(1900, 3, 1), datetime.date(2024, 5, 20))
    """
    days = int(serial)
    if dates_from_1904:
        return date(1904, 1, 1) + timedelta(days=days)
    return date(1899, 12, 31 if days < 60 else 30) + timedelta(days=days)


def day_of_cell(value: Value, *, day_first: bool = False, dates_from_1904: bool = False) -> date:
    """A day written in one of the usual ways; where 3/4/2026 could be two days, `day_first` decides.

    >>> day_of_cell("3/4/2026"), day_of_cell("3/4/2026", day_first=True), day_of_cell("4 Mar 2026")
    (datetime.date(2026, 3, 4), datetime.date(2026, 4, 3), datetime.date(2026, 3, 4))
    """
    if isinstance(value, datetime):
        return believable(value.date(), value)
    if isinstance(value, date):
        return believable(value, value)
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        return day_of_serial(value, dates_from_1904)
    text = line_of(value)
    if re.fullmatch(r"\d{5}(\.\d+)?", text):
        return day_of_serial(Decimal(text), dates_from_1904)
    return believable(written_day(text, day_first), value)


def day_of_serial(value: int | float | Decimal, dates_from_1904: bool) -> date:
    if not 18_000 <= value <= 73_000:
        raise BadCell(f"{shown(value)} is no date. Type it like 2026-03-04.")
    return serial_day(value, dates_from_1904)


def believable(day: date, value: Value) -> date:
    if not FIRST_DAY <= day < LAST_DAY:
        raise BadCell(f"{shown(value)} is in the year {day.year}. Check the year.")
    return day


def written_day(text: str, day_first: bool) -> date:
    text = re.sub(r"(?<=\d)(st|nd|rd|th)\b", "", text.strip(), flags=re.IGNORECASE)
    # A time of day behind the date counts for nothing here.
    text = re.sub(
        r"[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?\s*([ap]\.?m\.?)?(Z|[+-]\d{2}:?\d{2})?$", "", text, flags=re.I
    )
    text = re.sub(r"^(mon|tue|wed|thu|fri|sat|sun)[a-z]*[,.]?\s+", "", text, flags=re.IGNORECASE)
    parts = [part for part in re.split(r"[\s/.,\-]+", text) if part]
    if len(parts) == 1 and re.fullmatch(r"(19|20)\d{6}", parts[0]):
        parts = [parts[0][:4], parts[0][4:6], parts[0][6:]]
    bad = BadCell(f"{shown(text)} is no date. Type it like 2026-03-04.")
    if len(parts) != 3:
        raise bad
    words = [index for index, part in enumerate(parts) if part.casefold() in MONTHS]
    if words:
        month = MONTHS[parts.pop(words[0]).casefold()]
        first, second = parts
        day, year = (second, first) if len(first) == 4 else (first, second)
    elif len(parts[0]) == 4:
        year, month_text, day = parts
        month = int(month_text) if month_text.isdigit() else 0
    else:
        first, second, year = parts
        day, month_text = (first, second) if day_first else (second, first)
        month = int(month_text) if month_text.isdigit() else 0
    if not (day.isdigit() and year.isdigit() and len(year) in (2, 4)):
        raise bad
    full_year = int(year) if len(year) == 4 else 2000 + int(year) if int(year) < 70 else 1900 + int(year)
    try:
        return date(full_year, month, int(day))
    except ValueError:
        turned = ""
        if month > 12 >= int(day):
            turned = (
                " Perhaps days and months stand the other way round in this file: then say so above the rows."
            )
        raise BadCell(f"{shown(text)} is no date.{turned} Type it like 2026-03-04.") from None


def which_order(values: list[Value]) -> bool | None:
    """Whether days stand before months in these cells: True, False, or None where nothing tells."""
    day_first = month_first = 0
    for value in values:
        if not isinstance(value, str):
            continue
        found = re.match(r"\s*(\d{1,2})[/.\-](\d{1,2})[/.\-]\d{2,4}\b", value)
        if found:
            day_first += int(found[1]) > 12 >= int(found[2])
            month_first += int(found[2]) > 12 >= int(found[1])
    if day_first == month_first:
        return None
    return day_first > month_first


def rom_of(value: Value) -> str:
    """A ROM ID; one that the spreadsheet turned into a number has lost its last digits and is refused."""
    if isinstance(value, int | float | Decimal) and not isinstance(value, bool):
        digits = str(int(value))
        if len(digits) != 16 or isinstance(value, float):
            raise BadCell(turned_into_number("ROM ID"))
        value = digits
    text = line_of(value)
    if re.fullmatch(r"\d([.,]\d+)?E\+?\d+", text, re.IGNORECASE):
        raise BadCell(turned_into_number("ROM ID"))
    try:
        return read_rom(text)
    except BadRom as bad:
        raise BadCell(str(bad)) from bad


NO_ADDRESS = frozenset(
    ("none", "n/a", "na", "no", "no email", "no e-mail", "-", "--", "—", "?", "unknown", "tbd")
)
ADDRESS = re.compile(r"[^@\s,;<>]+@[^@\s,;<>]+\.[^@\s,;<>]+")


def email_of(value: Value) -> str:
    """An e-mail address; words by which people say that there is none count as an empty cell.

    >>> email_of("Ana Diaz <ana@example.com>"), email_of("n/a")
    ('ana@example.com', '')
    """
    text = line_of(value)
    if folded(text) in NO_ADDRESS:
        return ""
    found = ADDRESS.findall(text.removeprefix("mailto:"))
    if len(found) > 1:
        raise BadCell(f"{shown(value)} holds more than one address. Keep the one that mail should go to.")
    if not found:
        raise BadCell(f"{shown(value)} is no e-mail address. Type it like ana@example.com or leave it empty.")
    return str(found[0])


def like_email(text: str) -> float:
    return 1.0 if ADDRESS.fullmatch(text) else 0.5


def like_code(text: str) -> float:
    """How surely this is a kit code: a good one, six characters that may hold a slip, something else."""
    code = fold_code(text)
    return 1.0 if is_code(code) else 0.5 if len(code) == 6 and code.isalnum() else 0.0


def like_rom(text: str) -> float:
    """How surely this is a ROM ID: a good one, as many characters, something else."""
    try:
        read_rom(text)
    except BadRom:
        return 0.5 if len(bare(text)) in range(14, 19) else 0.0
    return 1.0


def code_text(value: Value) -> str:
    """A kit code as it was typed, not yet checked."""
    text = line_of(value)
    # "23E456" typed into a cell that is no text becomes a number with an exponent.
    if isinstance(value, float | int) and (len(text) != 6 or "e" in text.lower()):
        raise BadCell(turned_into_number("kit code"))
    if re.fullmatch(r"\d([.,]\d+)?E\+\d+", text, re.IGNORECASE):
        raise BadCell(turned_into_number("kit code"))
    return text


def turned_into_number(what: str) -> str:
    return (
        f"The spreadsheet turned this {what} into a number and lost some of it. "
        f"Set the column to text, then type the {what} again."
    )


@cache
def known_zones() -> dict[str, str]:
    """IANA names by themselves in lower case."""
    return {name.casefold(): name for name in available_timezones() if "/" in name}


def zone_of(value: Value) -> str:
    """A time zone by its IANA name in any case, or by what people call it."""
    text = text_of(value)
    word = re.sub(r"\s*(standard|daylight)?\s*time$", "", folded(text)).strip()
    if word in ZONES:
        return ZONES[word]
    wanted = text.strip().replace(" ", "_").casefold()
    if wanted in known_zones():
        return known_zones()[wanted]
    raise BadCell(f"{shown(value)} is no time zone. Write it like America/New_York.")


def colour_of(value: Value) -> str:
    word = re.sub(r"\s*(tape|flag|lead)$", "", folded(text_of(value)))
    if word in COLOURS:
        return COLOURS[word]
    raise BadCell(
        f"{shown(value)} is no colour of tape. Use one of: {', '.join(sorted(set(COLOURS.values()) - {''}))}."
    )


def choice_of(value: Value, words: Mapping[str, str], what: str, allowed: str) -> str:
    """One of a few choices by any of its words (folded, without blanks and signs)."""
    word = bare(text_of(value))
    if word in words:
        return words[word]
    raise BadCell(f"{shown(value)} is no {what}. Use one of: {allowed}.")


def bare(text: str) -> str:
    """
    >>> bare("24 V AC, through adapter")
    '24vacthroughadapter'
    """
    return re.sub(r"[\W_]+", "", folded(text))
