"""The test sheet of a stock: label outlines, a rule in each, and scales across the first label's edges to read the nudge."""

from __future__ import annotations

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fonts import MONO, SANS, SANS_SEMIBOLD
from reports.papers.palette import INK, SPRUCE
from reports.papers.sheets import mm, sheet_canvas
from reports.papers.stock import LabelStock

RULES_MM = (50, 30, 20)
SCALE_REACH_MM = 4
"""How far a scale goes to either side of the edge it measures."""


def stock_test_pdf(sheet: LabelStock, *, shift_x_mm: float = 0.0, shift_y_mm: float = 0.0) -> bytes:
    """For plain paper held behind the stock against the light, or for one sheet of the stock itself."""
    canvas, buffer = sheet_canvas(sheet, "Test page for label stock")
    page_height = sheet.page_height_mm * mm
    for position in range(sheet.count):
        left_mm, top_mm = sheet.corner_mm(position)
        x, y = (left_mm + shift_x_mm) * mm, page_height - (top_mm + shift_y_mm + sheet.label_height_mm) * mm
        _label(canvas, sheet, x, y, position + 1)
        if position == 0 and sheet.count > 1:
            _scales(canvas, sheet, x, y + sheet.label_height_mm * mm)
    if sheet.count > 1:
        canvas.setFont(SANS_SEMIBOLD, 8)
        canvas.drawRightString((sheet.page_width_mm - sheet.left_mm) * mm, page_height - 8 * mm, sheet.title)
    canvas.save()
    return buffer.getvalue()


def _label(canvas: Canvas, sheet: LabelStock, x: float, y: float, number: int) -> None:
    """One outline with its number and the longest rule that fits."""
    width, height = sheet.label_width_mm, sheet.label_height_mm
    canvas.setStrokeColor(SPRUCE)
    canvas.setFillColor(INK)
    canvas.setLineWidth(0.4)
    if sheet.count > 1:
        canvas.rect(x, y, width * mm, height * mm)
    else:  # of tape only what the print head reaches
        canvas.rect(
            x + sheet.inset_x_mm * mm,
            y + sheet.inset_y_mm * mm,
            (width - 2 * sheet.inset_x_mm) * mm,
            (height - 2 * sheet.inset_y_mm) * mm,
        )
    rule_mm = next(length for length in RULES_MM if length + 10 <= width or length == RULES_MM[-1])
    left, base = x + 4.5 * mm, y + (sheet.inset_y_mm + 1.5) * mm
    canvas.setFont(MONO, 9)
    canvas.drawString(
        left + SCALE_REACH_MM * mm, y + (height - sheet.inset_y_mm) * mm - 3.6 * mm, str(number)
    )
    words = f"{rule_mm} mm when printed at 100 %"
    canvas.setFont(SANS, 7 if stringWidth(words, SANS, 7) <= (width - 9) * mm else 5.5)
    canvas.drawString(left, base + 1.6 * mm, words)
    canvas.setLineWidth(0.8)
    canvas.line(left, base, left + rule_mm * mm, base)
    canvas.setLineWidth(0.4)
    for step in range(rule_mm + 1):
        tall = 0.8 if step in (0, rule_mm) else 0.5 if step % 5 == 0 else 0.25
        canvas.line(left + step * mm, base - tall * mm, left + step * mm, base + tall * mm)


def _scales(canvas: Canvas, sheet: LabelStock, x: float, y: float) -> None:
    """A scale across the left and one across the top edge of the first label: the cut crosses it at the nudge to type.

    The cut lies right of the printed edge when the print came out too far left, so what is read is what mends it.
    """
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setFont(MONO, 5)
    across, down = y - sheet.label_height_mm * mm * 0.55, x + sheet.label_width_mm * mm * 0.62
    for step in range(-SCALE_REACH_MM * 2, SCALE_REACH_MM * 2 + 1):
        at = step / 2
        tall = (1.2 if step % 2 == 0 else 0.6) * mm
        canvas.setLineWidth(0.5 if step else 1.0)
        canvas.line(x + at * mm, across, x + at * mm, across + tall)
        canvas.line(down, y - at * mm, down + tall, y - at * mm)
        if step % (2 * SCALE_REACH_MM) == 0:
            sign = f"{at:+.0f}" if step else "0"
            canvas.drawCentredString(x + at * mm, across - 2.0 * mm, sign)
            canvas.drawString(down + 1.6 * mm, y - at * mm - 0.6 * mm, sign)
    canvas.setFont(SANS, 5.5)
    canvas.drawString(x + (SCALE_REACH_MM + 1) * mm, across, "right (mm)")
    canvas.drawString(down + 4.6 * mm, y - 3.6 * mm, "down (mm)")
