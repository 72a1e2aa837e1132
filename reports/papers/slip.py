"""The leaving slip, signed at the door: the same words twice on one page, one half for the house and one for the shop."""

from __future__ import annotations

from reportlab.lib.pagesizes import LETTER
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, Spacer

from reports.papers.blocks import Cell, SignatureLine, Tick, beside, draw_tag
from reports.papers.fonts import SANS, SANS_SEMIBOLD, printable
from reports.papers.left import statements
from reports.papers.page import CONTENT, FIT_CUTS, FIT_SCALES, HEIGHT, MARGIN, WIDTH, draw_shop, shortened
from reports.papers.palette import HAIRLINE, QUIET_INK, SPRUCE
from reports.papers.pdf import new_canvas
from reports.papers.records import LeavingSlip
from reports.papers.type import TypeScale, late, marked, safe, say, strong, type_scale
from reports.papers.words import day, when

HALF = HEIGHT / 2
TOP, FOOT = 96.0, 32.0
TAG_WIDTH, TAG_HEIGHT = 154.0, 60.0


def slip_pdf(slip: LeavingSlip) -> bytes:
    """One page to cut across the middle; the upper half stays in the house."""
    for scale, cut in [(scale, None) for scale in FIT_SCALES] + [(FIT_SCALES[-1], cut) for cut in FIT_CUTS]:
        canvas, buffer = new_canvas(
            LETTER,
            title=f"Leaving slip, stay {slip.stay_number}",
            author=slip.shop.name,
            subject=f"Kit {slip.kit_code} taken out at {slip.customer_name}",
        )
        fits = [
            _draw_half(canvas, slip, low, copy, type_scale(scale, body=10.5), cut)
            for low, copy in ((HALF, "Copy for the house"), (0.0, "Copy for the shop"))
        ]
        if all(fits):
            _draw_cut(canvas)
            canvas.save()
            return buffer.getvalue()
    raise ValueError(f"The slip of stay {slip.stay_number} does not fit on half a page: shorten the notes.")


def _draw_half(
    canvas: Canvas, slip: LeavingSlip, low: float, copy: str, t: TypeScale, cut: int | None
) -> bool:
    top = low + HALF
    draw_tag(
        canvas,
        MARGIN,
        top - 24 - TAG_HEIGHT,
        TAG_WIDTH,
        TAG_HEIGHT,
        code=slip.kit_code,
        name=slip.kit_name,
        word="taken out",
        sheet_top=top,
    )
    draw_shop(canvas, slip.shop, WIDTH - MARGIN, top - 20, CONTENT - TAG_WIDTH - 30)
    canvas.setFont(SANS, 8)
    canvas.setFillColor(QUIET_INK)
    canvas.drawString(MARGIN, low + 18, printable(f"Leaving slip, stay {slip.stay_number}"))
    canvas.setFont(SANS_SEMIBOLD, 8)
    canvas.drawRightString(WIDTH - MARGIN, low + 18, copy)
    story = _story(slip, t, cut)
    Frame(MARGIN, low + FOOT, CONTENT, HALF - TOP - FOOT, 0, 0, 0, 0).addFromList(story, canvas)
    return not story


def _draw_cut(canvas: Canvas) -> None:
    canvas.setStrokeColor(HAIRLINE)
    canvas.setLineWidth(0.7)
    canvas.setDash(4, 3)
    canvas.line(0, HALF, WIDTH, HALF)
    canvas.setDash()


def _story(slip: LeavingSlip, t: TypeScale, cut: int | None) -> list[Flowable]:
    address = ", ".join(line for line in slip.site_address if line.strip())
    out = (
        f"taken out {when(slip.removed_at)}" if slip.removed_at else "taken out on ______________ at ________"
    )
    by = f" by {slip.removed_by}" if slip.removed_by else ""
    whose = ", ".join(part for part in (slip.customer_name, address) if part)
    title = t.title.clone("slip-title", fontSize=15 * t.scale, leading=18 * t.scale, textColor=SPRUCE)
    story: list[Flowable] = [
        say("Our box is out of your house", title),
        marked(
            f"{strong(shortened(whose, cut))}<br/>{safe(shortened(f'Kit {slip.kit_code}, {out}{by}', cut))}",
            t.body,
        ),
    ]
    if slip.unit_description:
        story.append(say(shortened(slip.unit_description, cut), t.caption))
    story.append(Spacer(1, 5 * t.scale))
    for statement in statements(slip.left_behind, to_tick=True):
        text = late(statement.text) if statement.state is False else safe(statement.text)
        story.append(
            Tick(statement.state, marked(text, t.body.clone("tick", spaceAfter=0)), side=10 * t.scale)
        )
    story += [say(shortened(note, cut), t.body) for note in slip.notes if note.strip()]
    story += [Spacer(1, 2), _signatures(slip, t)]
    return story


def _signatures(slip: LeavingSlip, t: TypeScale) -> Flowable:
    part = f" ({slip.signer_part})" if slip.signer_part else ""
    customer = f"For the house{part}: " + (
        f"signed {day(slip.signed_at.date())}" if slip.signed_at else "name, signature, date"
    )
    widths = (CONTENT * 0.56, CONTENT * 0.44)
    columns: list[Cell] = [
        [SignatureLine(customer, slip.signer_name if slip.signed_at else "", t, room=30)],
        [SignatureLine("Technician: signature, date", "", t, room=30)],
    ]
    return beside(columns, widths)
