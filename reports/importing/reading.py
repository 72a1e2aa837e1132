"""A file of any name to the sheets it holds, or a sentence why not. What it is, its first bytes tell, not its name."""

from reports.importing.csv_text import read_csv
from reports.importing.grid import LARGEST_FILE_BYTES, BadFile, Grid, too_large
from reports.importing.xlsx import read_xlsx

OTHER_KINDS = (
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"{\\rtf", "a text document"),
    (b"\x1f\x8b", "a packed file"),
    (b"7z\xbc\xaf", "a packed file"),
    (b"Rar!", "a packed file"),
    (b"SQLite format 3", "a database"),
)
PACKED = b"PK\x03\x04"
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
WEB_PAGE = (b"<!doctype html", b"<html", b"<table")


def read_sheets(data: bytes, sheet: str = "") -> list[Grid]:
    """The sheets with something in them, at least one; of a workbook only the one named `sheet` when one is named."""
    if not data.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n"):
        raise BadFile("This file is empty.")
    if len(data) > LARGEST_FILE_BYTES:
        raise too_large(len(data))
    refuse_other_kinds(data)
    grids = read_xlsx(data, sheet) if data.startswith(PACKED) else [read_csv(data)]
    grids = [grid for grid in grids if grid.lines]
    if not grids:
        raise BadFile("This file has no cell with anything in it.")
    return grids


def refuse_other_kinds(data: bytes) -> None:
    """Say what a file is that is no spreadsheet, whatever its name."""
    for magic, what in OTHER_KINDS:
        if data.startswith(magic):
            raise BadFile(
                f"This is {what}, not a spreadsheet, whatever its name says. Save the table itself as CSV or XLSX."
            )
    if data.startswith(OLD_OFFICE):
        if ENCRYPTED in data:
            raise BadFile(
                "This workbook is locked with a password. Open it, take the password off, save it, and send it again."
            )
        raise BadFile("This is a workbook of the old kind (XLS). Open it and save it as XLSX or CSV.")
    if data[:1_000].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(WEB_PAGE):
        raise BadFile(
            "This is a web page saved under the name of a spreadsheet. Open it in your spreadsheet and save it as XLSX."
        )
