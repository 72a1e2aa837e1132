"""Files as they really are: letters, delimiters, titles above headings, merged cells; and files that are none."""

import io
import re
import struct
import zipfile
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest

from reports.importing.fields import CUSTOMERS, KINDS, KITS, SENSORS
from reports.importing.grid import LARGEST_FILE_BYTES, MOST_ROWS, BadFile
from reports.importing.layout import Column, best_sheet, guess, lay_out
from reports.importing.reading import read_sheets
from tests.reports.spreadsheets import book_of, csv_of, saved

ROWS = [["Name", "Phone", "Notes"], ["José Núñez", "+1 201 555 0101", "Gate; blue, left"], ["Ana", "", "x"]]


def cells(data: bytes) -> list[tuple[object, ...]]:
    return [line.cells for line in read_sheets(data)[0].lines]


def quoted(delimiter: str) -> bytes:
    return csv_of([[f'"{cell}"' for cell in row] for row in ROWS], delimiter=delimiter)


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(quoted(","), id="commas"),
        pytest.param(quoted(";"), id="semicolons"),
        pytest.param(quoted("\t"), id="tabs"),
        pytest.param(quoted("|"), id="bars"),
        pytest.param(b"\xef\xbb\xbf" + quoted(","), id="UTF-8 with byte order mark"),
        pytest.param(quoted(";").decode().encode("utf-16"), id="UTF-16 with byte order mark"),
        pytest.param(quoted(";").decode().encode("utf-16-le"), id="UTF-16 without any"),
        pytest.param(quoted(",").decode().encode("cp1252"), id="Windows-1252"),
        pytest.param(quoted(",").replace(b"\r\n", b"\n"), id="line feeds alone"),
        pytest.param(quoted(",").replace(b"\r\n", b"\r"), id="carriage returns alone"),
        pytest.param(b"sep=;\r\n" + quoted(";"), id="a line that names the delimiter"),
        pytest.param(quoted(",") + b"\r\n,,\r\n\r\n", id="blank lines at the end"),
        pytest.param(book_of(People=ROWS), id="a workbook"),
    ],
)
def test_the_same_rows_in_every_writing(data):
    assert [tuple(cell or "" for cell in row) for row in cells(data)] == [tuple(row) for row in ROWS]


def test_a_line_has_the_number_a_spreadsheet_shows():
    data = b'Our customers\n\nName,Notes\nAna,"two\nlines"\n\nBob,x\n'
    assert [line.number for line in read_sheets(data)[0].lines] == [1, 3, 4, 7]


def test_dates_and_numbers_of_a_workbook_keep_their_kind():
    data = book_of(Kits=[["Name", "Built", "Value"], ["Heron", date(2024, 5, 20), 185.5]])
    assert cells(data)[1] == ("Heron", datetime(2024, 5, 20), 185.5)


def test_a_formula_counts_for_the_value_it_last_had():
    book = openpyxl.Workbook()
    book.active.append(["Name", "Value"])
    book.active.append(["Heron", "=1+1"])
    # No program has worked it out yet, so there is no value.
    assert cells(saved(book))[1] == ("Heron",)


def test_a_cell_merged_over_rows_counts_for_each_of_them():
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ["Customer", "Street"],
        ["Ana Diaz", "1 Elm"],
        [None, "2 Elm"],
        [None, "3 Elm"],
        ["Bob", "4 Elm"],
    ):
        sheet.append(row)
    sheet.merge_cells("A2:A4")
    assert [row[0] for row in cells(saved(book))] == ["Customer", "Ana Diaz", "Ana Diaz", "Ana Diaz", "Bob"]


def test_a_merged_title_above_the_headings_is_left_out():
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["Customers of 2026"], [], ["Name", "Phone"], ["Ana", "1"]):
        sheet.append(row)
    sheet.merge_cells("A1:F1")
    layout = lay_out(read_sheets(saved(book))[0], CUSTOMERS)
    assert (layout.header_line, layout.headings, len(layout.rows)) == (3, ["Name", "Phone"], 1)
    assert layout.notes == ("The headings stand in line 3. The line above it is left out.",)


def test_of_several_sheets_the_one_with_such_rows_is_read():
    data = book_of(
        Read_me=[["How to use this"], ["Ask Ruth"]],
        Kits=[["Kit code", "Name", "Built on"], ["", "Heron", ""]],
        Sensors=[["ROM ID", "Tag"], ["28", "1"]],
    )
    grids = read_sheets(data)
    assert best_sheet(grids, KITS).sheet == "Kits"
    assert best_sheet(grids, SENSORS).sheet == "Sensors"
    assert grids[0].sheets == ("Read_me", "Kits", "Sensors")


def test_a_hidden_sheet_is_not_read():
    book = openpyxl.load_workbook(io.BytesIO(book_of(Kits=ROWS, Secret=ROWS)))
    book["Secret"].sheet_state = "hidden"
    assert [grid.sheet for grid in read_sheets(saved(book))] == ["Kits"]


def test_headings_that_stand_twice_are_told_apart_and_the_first_is_used():
    layout = lay_out(read_sheets(b"Name,Phone,Phone\nAna,1,2\n")[0], CUSTOMERS)
    assert layout.headings == ["Name", "Phone", "Phone (2)"]
    assert "More than one column is headed Phone" in layout.notes[0]
    assert guess(layout.columns, CUSTOMERS) == {0: "name", 1: "phone"}


@pytest.mark.parametrize(
    ("kind", "headings", "expected"),
    [
        ("customers", "Client|Tel.|E-Mail Address|Comments", "name phone email notes"),
        ("customers", "First Name|Surname|Mobile", "first_name last_name phone"),
        ("sites", "Service Address|Town|ST|ZIP Code|Owner", "street city region postal_code customer"),
        ("units", "Address|System|Equipment Type|Brand|Model #|S/N|Tons", "street name kind make model serial capacity_tons"),
        ("kits", "Label|Kit Name|Date Built|Board|FW|Cost ($)", "code name built_on controller firmware replacement_value_cents"),
        ("kits", "Code|Box rated to (°F)", "code rated_to_celsius@°F"),
        ("sensors", "ROM Code|Tape|Color|Lead (ft)|Box|Port", "rom tag tag_colour lead_length_m@ft kit terminal"),
        ("sensors", "ROM|Cable length, cm|Lead length [m]", "rom - lead_length_m@m"),
        ("sensors", "1-Wire ID|Lead length", "rom lead_length_m@m"),
        ("sensors", "ROM ID|Why refused|Offset (added), K", "rom - -"),
    ],
)  # fmt: skip
def test_headings_in_plain_trade_english_are_guessed(kind, headings, expected):
    columns = [Column(index, heading) for index, heading in enumerate(headings.split("|"))]
    guessed = guess(columns, KINDS[kind])
    assert " ".join(guessed.get(column.index, "-") for column in columns) == expected


# -- Files that cannot be read ---------------------------------------------------------------------


def packed(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name.replace("__", "/").replace("_xml", ".xml"), data)
    return out.getvalue()


def bomb() -> bytes:
    """A workbook that says it unpacks to far more than a table can hold."""
    return packed(xl__workbook_xml=b"<workbook/>", xl__worksheets__sheet1_xml=b"0" * 160_000_000)


def old_office(inside: bytes) -> bytes:
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + struct.pack("<I", 0) * 100 + inside


def with_doctype() -> bytes:
    good = io.BytesIO(book_of(A=ROWS))
    out = io.BytesIO()
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(out, "w") as target:
        for part in source.infolist():
            data = source.read(part)
            if part.filename == "xl/workbook.xml":
                data = b'<!DOCTYPE x [<!ENTITY a "aaaa">]>' + data
            target.writestr(part.filename, data)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        pytest.param(b"", "This file is empty", id="nothing"),
        pytest.param(b"\xef\xbb\xbf\r\n\r\n", "This file is empty", id="blank lines"),
        pytest.param(b",,,\n,,\n", "no cell with anything", id="delimiters alone"),
        pytest.param(b"%PDF-1.7 ...", "a PDF, not a spreadsheet", id="a PDF by another name"),
        pytest.param(b"\x89PNG\r\n\x1a\n", "a picture", id="a picture"),
        pytest.param(old_office(b"Workbook"), "of the old kind", id="an old workbook"),
        pytest.param(old_office("EncryptedPackage".encode("utf-16-le")), "locked with a password", id="a password"),
        pytest.param(b"<html><table><tr><td>x", "a web page", id="a web page named xls"),
        pytest.param(b"\x00\x01\x02garbage\x00" * 50, "no text file", id="bytes"),
        pytest.param(packed(readme=b"x"), "no workbook", id="a packed folder"),
        pytest.param(book_of(A=ROWS)[:-300], "damaged", id="a workbook cut short"),
        pytest.param(with_doctype(), "damaged", id="XML that declares entities"),
        pytest.param(b'Name,Notes\nAna,"never closed\nBob,x\n', "never closed", id="a quotation mark never closed"),
        pytest.param(b"x" * (LARGEST_FILE_BYTES + 1), "the most that is taken is 10 MB", id="too many bytes"),
        pytest.param(b"Name\n" + b"a\n" * (MOST_ROWS * 5), "more than 20,000 rows", id="100,000 rows"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_read_says_why(data, sentence):
    with pytest.raises(BadFile, match=sentence):
        read_sheets(data)


def test_a_workbook_that_unpacks_to_far_too_much_is_not_opened():
    with pytest.raises(BadFile, match="far larger"):
        read_sheets(bomb())


def test_exactly_the_most_rows_are_taken():
    grid = read_sheets(b"Name\n" + b"a\n" * MOST_ROWS)[0]
    assert len(lay_out(grid, CUSTOMERS).rows) == MOST_ROWS
    one_more = read_sheets(b"Name\n" + b"a\n" * (MOST_ROWS + 1))[0]
    with pytest.raises(BadFile, match="more than 20,000"):
        lay_out(one_more, CUSTOMERS)


def test_headings_without_rows_are_said_to_be_that():
    with pytest.raises(BadFile, match="no rows beneath"):
        lay_out(read_sheets(b"Name,Phone\n")[0], CUSTOMERS)


def test_the_page_of_documentation_names_every_field_and_its_likeliest_headings():
    page = (Path(__file__).parents[2] / "docs" / "spreadsheets.md").read_text(encoding="utf-8")
    missing = [
        (kind.key, word)
        for kind in KINDS.values()
        for field in kind.fields
        for word in (field.label, field.headings[0])
        if word not in page
    ]
    assert missing == []


def test_a_sheet_that_would_take_minutes_to_read_is_refused_before_it_is(monkeypatch):
    from reports.importing import xlsx

    monkeypatch.setattr(xlsx, "MOST_CELLS", 5)
    with pytest.raises(BadFile, match="more than 5 cells"):
        read_sheets(book_of(People=ROWS))
    without_size = saved(openpyxl.load_workbook(io.BytesIO(book_of(People=[["Name"], *[["Ana"]] * 4]))))
    monkeypatch.setattr(xlsx, "MOST_ROWS", 2)
    monkeypatch.setattr(xlsx, "LARGEST_GAP", 1)
    assert read_sheets(without_size)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(without_size)) as source, zipfile.ZipFile(out, "w") as target:
        for part in source.infolist():
            data = source.read(part)
            target.writestr(part.filename, re.sub(rb"<dimension[^>]*>", b"", data))
    with pytest.raises(BadFile, match="the most that are taken at once"):
        read_sheets(out.getvalue())


def test_a_cell_too_long_for_a_cell_is_said_to_be_that():
    with pytest.raises(BadFile, match="more than 131,072 characters"):
        read_sheets(b"Name,Notes\nAna," + b"x" * 140_000 + b"\n")
