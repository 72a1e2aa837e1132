"""Labels laid out on their stock, true size: plain records in, PDF bytes out."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from reports.papers.flags import draw_sensor_flag
from reports.papers.labels import Place, draw_kit_label
from reports.papers.lid import draw_lid_label
from reports.papers.pdf import POINTS_PER_MM, new_canvas
from reports.papers.records import KitLabel, LidLabel, SensorFlag
from reports.papers.stock import LETTER_30, STOCKS, TAPE_24, LabelStock

__all__ = ["LETTER_30", "STOCKS", "TAPE_24", "Label", "LabelStock", "labels_pdf", "sheet_canvas"]

mm = POINTS_PER_MM

Label = KitLabel | LidLabel | SensorFlag


def labels_pdf(
    labels: Sequence[Label],
    sheet: LabelStock,
    start_position: int = 1,
    *,
    dpi: int | None = None,
    shift_x_mm: float = 0.0,
    shift_y_mm: float = 0.0,
) -> bytes:
    """Labels in the given order from `start_position` (1 = top left, along the rows) onto as many pages as they need.

    `dpi` overrides the stock's printer; `shift_x_mm` to the right and `shift_y_mm` down mend a printer that feeds askew.
    Refuses with a sentence what would not fit or not scan.
    """
    if not labels:
        raise ValueError("There is no label to print: choose at least one kit or sensor.")
    if not 1 <= start_position <= sheet.count:
        raise ValueError(f"{sheet.title} has positions 1 to {sheet.count}; {start_position} is none of them.")
    sheet = sheet.at(dpi)
    canvas, buffer = sheet_canvas(sheet, "Labels")
    page_height = sheet.page_height_mm * mm
    for number, label in enumerate(labels, start_position - 1):
        position = number % sheet.count
        if position == 0 and number >= sheet.count:
            canvas.showPage()
        left_mm, top_mm = sheet.corner_mm(position)
        place = Place(
            x=(left_mm + shift_x_mm) * mm,
            y=page_height - (top_mm + shift_y_mm + sheet.label_height_mm) * mm,
            page_height=page_height,
            dpi=sheet.dpi,
        )
        match label:
            case KitLabel():
                draw_kit_label(canvas, label, sheet, place)
            case LidLabel():
                draw_lid_label(canvas, label, sheet, place)
            case SensorFlag():
                draw_sensor_flag(canvas, label, sheet, place)
    canvas.save()
    return buffer.getvalue()


def sheet_canvas(sheet: LabelStock, title: str) -> tuple[Canvas, BytesIO]:
    """An empty page of a stock that asks the reader not to scale it."""
    return new_canvas(
        (sheet.page_width_mm * mm, sheet.page_height_mm * mm),
        title=f"{title}, {sheet.title}",
        subject="Print at 100 %, without scaling to the page",
        true_size=True,
    )
