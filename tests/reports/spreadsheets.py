"""Spreadsheets for tests: as bytes of CSV in any writing, or as workbooks."""

import io
from collections.abc import Iterable, Sequence
from typing import Any

import openpyxl

from kits.actions.acting import Done
from kits.models import User
from reports.actions.imports import bring_in, keep_file
from reports.intake.dry_run import counts, digest, plan_rows, read_file
from reports.intake.rows import RowPlan
from reports.models import ImportFile
from tests import make


def csv_of(rows: Iterable[Sequence[str]], *, delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    return "\r\n".join(delimiter.join(row) for row in rows).encode(encoding)


def book_of(**sheets: Sequence[Sequence[Any]]) -> bytes:
    """A workbook with these sheets of rows."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def sent(kind: str, content: bytes, *, by: User | None = None, name: str = "rows.csv") -> ImportFile:
    """The file kept by the real action."""
    return keep_file(make.act(by), kind=kind, name=name, content=content).row(ImportFile)


def looked(file: ImportFile) -> list[RowPlan]:
    return plan_rows(read_file(file))


def look(kind: str, content: bytes) -> list[RowPlan]:
    """What each row of such a file would do."""
    return looked(sent(kind, content))


def brought_in(kind: str, content: bytes, *, by: User | None = None) -> Done:
    """The file kept, looked at and brought in."""
    file = sent(kind, content, by=by)
    return bring_in(make.act(by), file=file, seen=digest(looked(file)))


def outcomes(plans: Iterable[RowPlan]) -> list[str]:
    return [plan.outcome.value for plan in plans]


def counted(kind: str, content: bytes) -> dict[str, int]:
    """How many rows of such a file would have each outcome, those without any left out."""
    return {outcome: number for outcome, number in counts(look(kind, content)).items() if number}
