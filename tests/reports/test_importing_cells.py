"""Cells as people type them: dates, money, lengths, yes and no, IDs; and what they are told when it cannot be."""

from datetime import date, datetime
from decimal import Decimal

import pytest

from reports.importing import cells
from reports.importing.cells import BadCell
from tests import make


@pytest.mark.parametrize(
    ("value", "day_first", "expected"),
    [
        (datetime(2024, 5, 20), False, date(2024, 5, 20)),
        (45432, False, date(2024, 5, 20)),
        ("45432", False, date(2024, 5, 20)),
        (45432.75, False, date(2024, 5, 20)),
        ("2024-05-20", False, date(2024, 5, 20)),
        ("2024-05-20T14:30:00Z", False, date(2024, 5, 20)),
        ("20240520", False, date(2024, 5, 20)),
        ("5/20/2024", False, date(2024, 5, 20)),
        ("20/5/2024", True, date(2024, 5, 20)),
        ("3/4/2026", False, date(2026, 3, 4)),
        ("3/4/2026", True, date(2026, 4, 3)),
        ("3.4.26", True, date(2026, 4, 3)),
        ("20 May 2024", False, date(2024, 5, 20)),
        ("May 20, 2024", False, date(2024, 5, 20)),
        ("Mon, 20th May 2024", False, date(2024, 5, 20)),
        ("20-May-24", False, date(2024, 5, 20)),
        ("5/20/2024 3:15 PM", False, date(2024, 5, 20)),
    ],
)
def test_a_day_in_every_usual_writing(value, day_first, expected):
    assert cells.day_of_cell(value, day_first=day_first) == expected


@pytest.mark.parametrize(
    "value", ["20/5/2024", "soon", "2024", "31 June 2024", 12, "1/1/1901", "0/0/2024", True]
)
def test_what_is_no_day_is_refused(value):
    with pytest.raises(BadCell):
        cells.day_of_cell(value)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        (["3/4/2026", "20/5/2026"], True),
        (["3/4/2026", "5/20/2026"], False),
        (["3/4/2026"], None),
        (["2026-05-20", 45432, None], None),
        (["20/5/2026", "5/20/2026"], None),
    ],
)
def test_which_way_round_days_and_months_stand_is_told_by_the_rest_of_the_column(values, expected):
    assert cells.which_order(values) is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (185, 18_500),
        (185.5, 18_550),
        ("$1,240.00", 124_000),
        ("1.240,50 €", 124_050),
        ("USD 185", 18_500),
        ("185.005", 18_501),
        ("0", 0),
    ],
)
def test_money_in_whole_cents(value, expected):
    assert cells.cents_of(value) == expected


@pytest.mark.parametrize("value", ["-5", "(5)", "free", "2,000,000", "1e400", "NaN", "Infinity"])
def test_what_is_no_money_is_refused(value):
    with pytest.raises(BadCell):
        cells.cents_of(value)


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        # 1 ft is 0.3048 m and 1 in 0.0254 m exactly: NIST Special Publication 811, appendix B.
        (10, "ft", "3.05"),
        (120, "in", "3.05"),
        (3, "m", "3.00"),
        ("3,5", "m", "3.50"),
        ("12 ft", "m", "3.66"),
        ("12'", "m", "3.66"),
        ("6' 6\"", "m", "1.98"),
        ("6 ft 6 in", "m", "1.98"),
        ("350 cm", "ft", "3.50"),
        ("3500mm", "ft", "3.50"),
    ],
)
def test_a_length_in_the_unit_of_its_cell_or_of_its_heading(value, unit, expected):
    assert cells.metres_of(value, unit) == Decimal(expected)


@pytest.mark.parametrize("value", ["3 yards", "long", "-2", "2000"])
def test_what_is_no_length_is_refused(value):
    with pytest.raises(BadCell):
        cells.metres_of(value)


@pytest.mark.parametrize(("value", "expected"), [("Yes", True), ("x", True), (True, True), (1, True), ("✓", True), ("No", False), (0, False), ("none", False)])  # fmt: skip
def test_yes_and_no(value, expected):
    assert cells.yes_or_no(value) is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [("America/Chicago", "America/Chicago"), ("america/new_york", "America/New_York"), ("Eastern", "America/New_York"), ("EST", "America/New_York"), ("Pacific Time", "America/Los_Angeles"), ("Mountain Standard Time", "America/Denver")],
)  # fmt: skip
def test_time_zones_as_people_say_them(value, expected):
    assert cells.zone_of(value) == expected


@pytest.mark.parametrize("value", ["Mars/Base", "+05:00", "GMT+1"])
def test_what_is_no_time_zone_is_refused_with_an_example(value):
    with pytest.raises(BadCell, match="America/New_York"):
        cells.zone_of(value)


# The letter codes are those of IEC 60757.
@pytest.mark.parametrize(("value", "expected"), [("Gray", "grey"), ("RED TAPE", "red"), ("bu", "blue"), ("VT", "violet"), ("purple", "violet"), ("none", "")])  # fmt: skip
def test_colours(value, expected):
    assert cells.colour_of(value) == expected


def test_a_rom_id_in_any_writing():
    rom = make.rom(0x1E64FF)
    assert cells.rom_of(":".join(rom[i : i + 2] for i in range(0, 16, 2)).lower()) == rom
    assert cells.rom_of(f" {rom} ") == rom


@pytest.mark.parametrize("value", [2.8e15, "2.8E+15", "2,81234E+15", 28_000_000_000_000])
def test_a_rom_id_that_became_a_number_is_told_so(value):
    with pytest.raises(BadCell, match="turned this ROM ID into a number"):
        cells.rom_of(value)


@pytest.mark.parametrize("value", [2.3e60, "2.34E+58", 12])
def test_a_kit_code_that_became_a_number_is_told_so(value):
    with pytest.raises(BadCell, match="turned this kit code into a number"):
        cells.code_text(value)


@pytest.mark.parametrize("value", ["#REF!", "#N/A", "#VALUE!"])
def test_an_error_of_the_spreadsheet_is_no_text(value):
    with pytest.raises(BadCell, match="error of the spreadsheet"):
        cells.text_of(value)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (7012.0, "7012"),
        (7012, "7012"),
        (12.5, "12.5"),
        ("  a  b\u00a0", "a b"),
        ("'=1+1", "=1+1"),
        (None, ""),
    ],
)
def test_numbers_and_text_as_somebody_meant_them(value, expected):
    assert cells.line_of(value) == expected
