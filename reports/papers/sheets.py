"""Labels laid out on their stock, true size: plain records in, PDF bytes out."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from reports.papers.fonts import MONO, SANS, SANS_SEMIBOLD
from reports.papers.labels import Place, draw_kit_label, draw_sensor_flag
from reports.papers.palette import INK, SPRUCE
from reports.papers.pdf import POINTS_PER_MM, new_canvas
from reports.papers.records import KitLabel, SensorFlag
from reports.papers.stock import LETTER_30, STOCKS, TAPE_24, LabelStock

__all__ = ["LETTER_30", "STOCKS", "TAPE_24", "LabelStock", "labels_pdf", "stock_test_pdf"]

mm = POINTS_PER_MM


def labels_pdf(
    labels: Sequence[KitLabel | SensorFlag],
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
    canvas, buffer = _sheet_canvas(sheet, "Labels")
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
            dpi=dpi or sheet.dpi,
        )
        if isinstance(label, KitLabel):
            draw_kit_label(canvas, label, sheet, place)
        else:
            draw_sensor_flag(canvas, label, sheet, place)
    canvas.save()
    return buffer.getvalue()


def stock_test_pdf(sheet: LabelStock, *, shift_x_mm: float = 0.0, shift_y_mm: float = 0.0) -> bytes:
    """The outline of every label and a rule to measure, for plain paper held behind the stock against the light."""
    canvas, buffer = _sheet_canvas(sheet, "Test page for label stock")
    page_height = sheet.page_height_mm * mm
    canvas.setStrokeColor(SPRUCE)
    canvas.setFillColor(INK)
    for position in range(sheet.count):
        left_mm, top_mm = sheet.corner_mm(position)
        x, y = (left_mm + shift_x_mm) * mm, page_height - (top_mm + shift_y_mm + sheet.label_height_mm) * mm
        canvas.setLineWidth(0.4)
        canvas.rect(x, y, sheet.label_width_mm * mm, sheet.label_height_mm * mm)
        canvas.setFont(MONO, 9)
        canvas.drawString(x + 4 * mm, y + sheet.label_height_mm * mm - 6 * mm, str(position + 1))
        canvas.setFont(SANS, 7)
        canvas.drawString(x + 4 * mm, y + 4.2 * mm, "50 mm when printed at 100 %")
        canvas.setLineWidth(0.8)
        canvas.line(x + 4 * mm, y + 3 * mm, x + 54 * mm, y + 3 * mm)
        for end in (4, 54):
            canvas.line(x + end * mm, y + 2.2 * mm, x + end * mm, y + 3.8 * mm)
    canvas.setFont(SANS_SEMIBOLD, 8)
    canvas.drawString(sheet.left_mm * mm + 14 * mm, page_height - 8 * mm, sheet.title)
    canvas.save()
    return buffer.getvalue()


def _sheet_canvas(sheet: LabelStock, title: str) -> tuple[Canvas, BytesIO]:
    return new_canvas(
        (sheet.page_width_mm * mm, sheet.page_height_mm * mm),
        title=f"{title}, {sheet.title}",
        subject="Print at 100 %, without scaling to the page",
        true_size=True,
    )
