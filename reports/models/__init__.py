"""What the papers and reports keep of their own."""

from reports.models.printers import LabelPrinter

__all__ = ["LabelPrinter"]
