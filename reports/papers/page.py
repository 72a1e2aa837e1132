"""The furniture of a sheet: the tag and the shop at the head, page numbers at the foot, the story between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO

from PIL import Image
from reportlab.lib.pagesizes import LETTER
from reportlab.lib.utils import ImageReader, simpleSplit
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, NextPageTemplate, PageTemplate

from reports.papers.blocks import cut_to, draw_tag
from reports.papers.fonts import SANS, SANS_SEMIBOLD, printable, register_fonts
from reports.papers.palette import HAIRLINE, INK, QUIET_INK
from reports.papers.pdf import new_canvas
from reports.papers.records import Shop

WIDTH, HEIGHT = LETTER
MARGIN = 52.0
CONTENT = WIDTH - 2 * MARGIN
HEAD = 128.0
"""From the top edge to the story of a first page."""
RUNNING_HEAD = 58.0
FOOT = 54.0

TAG_WIDTH, TAG_HEIGHT = 190.0, 74.0
LOGO_WIDTH, LOGO_HEIGHT = 110.0, 34.0


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What stands on every page of a paper round its story."""

    shop: Shop
    title: str
    subject: str
    kit_code: str
    """Empty for a paper about no single kit; `head_lines` take the place of its tag."""
    kit_name: str
    stage: str
    """The word on the tag."""
    running: str
    """"Stay 31, José Núñez": at the head of the second page and on."""
    copy: str
    """"Shop's copy"."""
    foot: str
    """What the foot says on the right: when it was printed."""
    head_lines: tuple[str, ...] = ()
    """Where a tag would be: whom the paper goes to, the first line in strong type."""


def flow_pdf(sheet: Sheet, story: list[Flowable]) -> bytes:
    """A paper of as many pages as its story needs, each numbered "page 2 of 3"."""
    register_fonts()
    buffer = BytesIO()

    def first(canvas: Canvas, _: BaseDocTemplate) -> None:
        draw_head(canvas, sheet)
        _foot(canvas, sheet)

    def later(canvas: Canvas, _: BaseDocTemplate) -> None:
        _running_head(canvas, sheet)
        _foot(canvas, sheet)

    template = BaseDocTemplate(
        buffer,
        pagesize=LETTER,
        title=printable(sheet.title),
        author=printable(sheet.shop.name),
        subject=printable(sheet.subject),
        creator="Kitperch",
        lang="en-US",
        displayDocTitle=True,
        invariant=1,
        pageCompression=1,
        initialFontName=SANS,
    )
    template.addPageTemplates(
        [
            PageTemplate("first", _frame(HEAD), onPage=first),
            PageTemplate("later", _frame(RUNNING_HEAD), onPage=later),
        ]
    )
    template.build([NextPageTemplate("later"), *story, _PageTotal()])
    return buffer.getvalue()


PAGE_TOTAL = "page_total"


class _PageTotal(Flowable):
    """The last thing of a story: only now is the number of pages known, which every foot has already made room for."""

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        total = self.canv.getPageNumber()
        self.canv.beginForm(PAGE_TOTAL, 0, -4, 60, 12)
        self.canv.setFont(SANS, 8)
        self.canv.setFillColor(QUIET_INK)
        self.canv.drawString(0, 0, f"of {total}")
        self.canv.endForm()


def _frame(top: float) -> Frame:
    return Frame(MARGIN, FOOT, CONTENT, HEIGHT - FOOT - top, 0, 0, 0, 0)


FIT_SCALES = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75)
FIT_CUTS = (900, 500, 280, 140)


def one_page_pdf(sheet: Sheet, build: Callable[[float, int | None], list[Flowable]]) -> bytes:
    """A paper that keeps to one page: set smaller when its words are many, then long passages cut to so many characters.

    `build(scale, cut)` tells the story at a type scale; `cut` is None until the smallest type is too large.
    """
    for scale, cut in [(scale, None) for scale in FIT_SCALES] + [(FIT_SCALES[-1], cut) for cut in FIT_CUTS]:
        canvas, buffer = new_canvas(LETTER, title=sheet.title, author=sheet.shop.name, subject=sheet.subject)
        draw_head(canvas, sheet)
        _foot(canvas, sheet, numbered=False)
        story = build(scale, cut)
        _frame(HEAD).addFromList(story, canvas)
        if not story:
            canvas.save()
            return buffer.getvalue()
    raise ValueError(
        f"“{sheet.title}” does not fit on one page even with its passages cut: shorten the notes."
    )


def shortened(text: str, cut: int | None) -> str:
    """A passage cut at a word after so many characters, with an ellipsis."""
    text = text.strip()
    if cut is None or len(text) <= cut:
        return text
    return text[:cut].rsplit(" ", 1)[0].rstrip(" ,.;:") + " …"


def draw_head(canvas: Canvas, sheet: Sheet) -> None:
    """The kit's tag on its string at the left, the shop at the right."""
    if sheet.kit_code:
        draw_tag(
            canvas,
            MARGIN,
            HEIGHT - 30 - TAG_HEIGHT,
            TAG_WIDTH,
            TAG_HEIGHT,
            code=sheet.kit_code,
            name=sheet.kit_name,
            word=sheet.stage,
            sheet_top=HEIGHT,
        )
    else:
        _draw_lines(canvas, sheet.head_lines)
    draw_shop(canvas, sheet.shop, WIDTH - MARGIN, HEIGHT - 38, WIDTH - 2 * MARGIN - TAG_WIDTH - 30)


def _draw_lines(canvas: Canvas, lines: Sequence[str]) -> None:
    """Up to six lines at the left of the head, low enough to show in the window of an envelope. A long name takes two or
    three of them: whom a paper is for is never cut off."""
    y = HEIGHT - 56
    room = TAG_WIDTH + 60
    canvas.setFillColor(INK)
    name, *others = lines
    drawn = [
        (SANS_SEMIBOLD, 11.0, part) for part in simpleSplit(printable(name), SANS_SEMIBOLD, 11.0, room)[:3]
    ]
    drawn += [(SANS, 9.5, line) for line in others]
    for font, size, line in drawn[:6]:
        canvas.setFont(font, size)
        canvas.drawString(MARGIN, y, cut_to(printable(line), font, size, room))
        y -= size * 1.3


def draw_shop(canvas: Canvas, shop: Shop, right: float, top: float, width: float) -> None:
    """The shop's name, address, phone and licence, set against the right margin; its logo left of them."""
    name_size = next(
        (
            s
            for s in (12.5, 11.5, 10.5)
            if canvas.stringWidth(printable(shop.name), SANS_SEMIBOLD, s) <= width
        ),
        9.0,
    )
    name = simpleSplit(printable(shop.name), SANS_SEMIBOLD, name_size, width)
    if len(name) > 2:
        name = [name[0], " ".join(name[1:])]
    lines = [(line, SANS_SEMIBOLD, name_size, INK) for line in name]
    lines += [(printable(line), SANS, 8.8, QUIET_INK) for line in shop.address_lines[:3] if line.strip()]
    if shop.phone:
        lines.append((printable(shop.phone), SANS_SEMIBOLD, 8.8, INK))
    if shop.licence_number:
        lines.append((printable(f"Contractor license {shop.licence_number}"), SANS, 8.8, QUIET_INK))
    y, widest = top, 0.0
    for text, font, size, colour in lines:
        text = cut_to(text, font, size, width)
        y -= size * 1.22
        canvas.setFont(font, size)
        canvas.setFillColor(colour)
        canvas.drawRightString(right, y, text)
        widest = max(widest, canvas.stringWidth(text, font, size))
    room = width - widest - 12
    logo = read_logo(shop.logo)
    if logo and room > 30:
        wide, high = logo.getSize()
        shrink = min(min(LOGO_WIDTH, room) / wide, LOGO_HEIGHT / high)
        x = right - widest - 12 - wide * shrink
        canvas.drawImage(logo, x, top - high * shrink - 2, wide * shrink, high * shrink, mask="auto")


def read_logo(logo: bytes | None) -> ImageReader | None:
    """The shop's picture, decoded and made small; None when there is none or it cannot be read."""
    if not logo:
        return None
    try:
        with Image.open(BytesIO(logo)) as picture:
            picture.thumbnail((660, 204))
            layered = picture.convert("RGBA")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    flat = Image.new("RGB", layered.size, "white")
    flat.paste(layered, mask=layered.getchannel("A"))
    return ImageReader(flat)


def _running_head(canvas: Canvas, sheet: Sheet) -> None:
    y = HEIGHT - 36
    canvas.setFont(SANS_SEMIBOLD, 8.8)
    canvas.setFillColor(INK)
    kit = printable(f"Kit {sheet.kit_code}" if sheet.kit_code else sheet.title)
    canvas.drawString(MARGIN, y, kit)
    start = MARGIN + canvas.stringWidth(kit, SANS_SEMIBOLD, 8.8) + 10
    canvas.setFont(SANS, 8.8)
    canvas.setFillColor(QUIET_INK)
    canvas.drawString(start, y, cut_to(printable(sheet.running), SANS, 8.8, WIDTH - MARGIN - start - 130))
    canvas.drawRightString(WIDTH - MARGIN, y, printable(sheet.copy))
    canvas.setStrokeColor(HAIRLINE)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, y - 6, WIDTH - MARGIN, y - 6)


def _foot(canvas: Canvas, sheet: Sheet, *, numbered: bool = True) -> None:
    y = 30
    canvas.setStrokeColor(HAIRLINE)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, y + 11, WIDTH - MARGIN, y + 11)
    canvas.setFont(SANS, 8)
    canvas.setFillColor(QUIET_INK)
    canvas.drawString(MARGIN, y, cut_to(printable(f"{sheet.title}. {sheet.copy}."), SANS, 8, 250))
    if numbered:
        page = f"page {canvas.getPageNumber()} "
        canvas.drawRightString(WIDTH / 2, y, page)
        canvas.saveState()
        canvas.translate(WIDTH / 2, y)
        canvas.doForm(PAGE_TOTAL)
        canvas.restoreState()
    canvas.drawRightString(WIDTH - MARGIN, y, printable(sheet.foot))
    canvas.setFillColor(INK)
