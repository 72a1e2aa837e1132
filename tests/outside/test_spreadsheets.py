"""Files of rows held against what is published about them: RFC 4180 for CSV, and a spreadsheet library for its dates."""

import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904, from_excel, to_excel

from kits.exporting import csv_bytes
from reports.importing.cells import day_of_cell, serial_day
from reports.importing.reading import read_sheets

pytestmark = pytest.mark.outside


def cells(text: str) -> list[tuple[object, ...]]:
    return [line.cells for line in read_sheets(text.encode())[0].lines]


# RFC 4180 (Y. Shafranovich, 2005), section 2, the examples of rules 1, 2, 5, 6 and 7, letter by letter.
@pytest.mark.parametrize(
    ("text", "rows"),
    [
        pytest.param("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")], id="rule 1"),
        pytest.param("aaa,bbb,ccc\r\nzzz,yyy,xxx", [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")], id="rule 2: no last line break"),
        pytest.param('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [("aaa", "bbb", "ccc"), ("zzz", "yyy", "xxx")], id="rule 5"),
        pytest.param('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [("aaa", "b\r\nbb", "ccc"), ("zzz", "yyy", "xxx")], id="rule 6"),
        pytest.param('"aaa","b""bb","ccc"', [("aaa", 'b"bb', "ccc")], id="rule 7"),
    ],
)  # fmt: skip
def test_the_examples_of_rfc_4180_are_read(text, rows):
    assert cells(text) == rows


def test_what_we_write_is_rfc_4180():
    """Lines end with CR LF (rule 1), commas, quotes and breaks are quoted (6), quotes doubled (7)."""
    data = csv_bytes(["field_name", "b"], [["b\r\nbb", 'b"bb'], ["a,b", " spaces count "]])
    assert data == b'\xef\xbb\xbffield_name,b\r\n"b\r\nbb","b""bb"\r\n"a,b", spaces count \r\n'


# ECMA-376 part 1, 18.17.4.1: day 1 is 1 January 1900 and day 60 is 29 February 1900, which never was.
@pytest.mark.parametrize("serial", [1, 2, 58, 59, 61, 62, 366, 25_569, 36_526, 45_432, 73_000])
def test_the_number_of_a_day_is_the_day_a_spreadsheet_library_says(serial):
    assert serial_day(serial) == from_excel(serial).date()


def test_the_day_that_never_was_does_not_shift_those_around_it():
    assert [serial_day(59).isoformat(), serial_day(61).isoformat()] == ["1900-02-28", "1900-03-01"]


@pytest.mark.parametrize("serial", [1, 365, 24_107, 43_970])
def test_the_count_from_1904_is_known_too(serial):
    assert serial_day(serial, dates_from_1904=True) == from_excel(serial, CALENDAR_MAC_1904).date()


@pytest.mark.parametrize("written", ["2024-02-29", "2000-03-01", "1999-12-31"])
def test_a_day_as_a_spreadsheet_keeps_it_is_that_day(written):
    day = day_of_cell(written)
    assert day_of_cell(to_excel(day)) == day
