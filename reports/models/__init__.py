"""What the papers and reports keep of their own, and the spreadsheets that came in."""

from reports.models.imports import ColumnMapping, ImportFile, ImportKind
from reports.models.printers import LabelPrinter

__all__ = ["ColumnMapping", "ImportFile", "ImportKind", "LabelPrinter"]
