"""The type of the papers: one scale of styles, and text made safe for it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph

from reports.papers.fonts import (
    MONO,
    MONO_SEMIBOLD,
    SANS,
    SANS_ITALIC,
    SANS_SEMIBOLD,
    printable,
)
from reports.papers.palette import BRASS, BRICK, INK, QUIET_INK, SPRUCE


@dataclass(frozen=True, kw_only=True)
class TypeScale:
    """The styles of one paper, largest first. A paper that must keep to one page takes a smaller scale."""

    scale: float
    title: ParagraphStyle
    subtitle: ParagraphStyle
    heading: ParagraphStyle
    lead: ParagraphStyle
    body: ParagraphStyle
    body_bold: ParagraphStyle
    quote: ParagraphStyle
    cell: ParagraphStyle
    cell_bold: ParagraphStyle
    figure: ParagraphStyle
    caption: ParagraphStyle
    caption_right: ParagraphStyle
    mono: ParagraphStyle
    mono_bold: ParagraphStyle


@cache
def type_scale(scale: float = 1.0, *, body: float = 9.5) -> TypeScale:
    """Styles for a body size in points, everything else in proportion, all times `scale`."""

    def style(
        size: float,
        leading: float,
        font: str = SANS,
        colour: Color = INK,
        *,
        before: float = 0,
        after: float = 0,
        alignment: int = TA_LEFT,
    ) -> ParagraphStyle:
        points = size * body / 9.5 * scale
        return ParagraphStyle(
            f"{font}-{points:.2f}",
            fontName=font,
            fontSize=points,
            leading=points * leading,
            textColor=colour,
            spaceBefore=before * scale,
            spaceAfter=after * scale,
            alignment=alignment,
            splitLongWords=True,
            allowOrphans=0,
            allowWidows=0,
        )

    return TypeScale(
        scale=scale,
        title=style(23, 1.08, SANS_SEMIBOLD, SPRUCE, after=2),
        subtitle=style(10.5, 1.3, SANS, QUIET_INK, after=4),
        heading=style(11.5, 1.2, SANS_SEMIBOLD, SPRUCE, before=13, after=4),
        lead=style(12, 1.4, after=4),
        body=style(9.5, 1.38, after=3),
        body_bold=style(9.5, 1.38, SANS_SEMIBOLD, after=3),
        quote=style(10.5, 1.4, SANS_ITALIC, after=3),
        cell=style(8.8, 1.28),
        cell_bold=style(8.8, 1.28, SANS_SEMIBOLD),
        figure=style(8.8, 1.28, alignment=TA_RIGHT),
        caption=style(7.8, 1.28, SANS, QUIET_INK),
        caption_right=style(7.8, 1.28, SANS, QUIET_INK, alignment=TA_RIGHT),
        mono=style(7.4, 1.4, MONO),
        mono_bold=style(9.5, 1.3, MONO_SEMIBOLD),
    )


def safe(text: str, font_name: str = SANS) -> str:
    """Text as it may stand between our own marks of a paragraph: drawable characters, nothing read as a mark."""
    return escape(printable(text.strip(), font_name)).replace("\n", "<br/>")


class Words(Paragraph):
    """A paragraph whose lines are broken once a width: a table asks its cells for their height two or three times."""

    _asked: tuple[float, tuple[float, float]] | None = None

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        # A paragraph that did not fit a page forgets its lines and is asked again on the next one.
        broken = hasattr(self, "blPara")
        if self._asked is None or self._asked[0] != available_width or not broken:
            self._asked = (available_width, super().wrap(available_width, available_height))
        return self._asked[1]


@lru_cache(maxsize=128)
def _plain(style: ParagraphStyle) -> Any:
    """A stretch of text in this style, as reportlab keeps it once marks are read."""
    return Paragraph("text", style).frags[0]


def say(text: str, style: ParagraphStyle) -> Paragraph:
    """A paragraph of somebody's words. On one line they hold no marks, so none are looked for."""
    drawn = printable(text.strip(), style.fontName)
    if not drawn or "\n" in drawn:
        return Words(safe(text, style.fontName), style)
    return Words(drawn, style, frags=[_plain(style).clone(text=drawn)])


def marked(markup: str, style: ParagraphStyle) -> Paragraph:
    """A paragraph of our own marks; whatever somebody typed has gone through `safe` first."""
    return Words(markup, style)


def bullet(text: str, style: ParagraphStyle) -> Paragraph:
    """A paragraph under a bullet, its lines in one column."""
    indented = style.clone(
        f"bullet-{style.name}", leftIndent=style.fontSize, bulletFontName=SANS, bulletFontSize=style.fontSize
    )
    return Words(safe(text, style.fontName), indented, bulletText="•")


def strong(text: str) -> str:
    return f'<font name="{SANS_SEMIBOLD}">{safe(text)}</font>'


def quiet(text: str) -> str:
    return f'<font color="{_hex(QUIET_INK)}">{safe(text)}</font>'


def attention(text: str) -> str:
    return f'<font name="{SANS_SEMIBOLD}" color="{_hex(BRASS)}">{safe(text)}</font>'


def late(text: str) -> str:
    return f'<font name="{SANS_SEMIBOLD}" color="{_hex(BRICK)}">{safe(text)}</font>'


def _hex(colour: Color) -> str:
    return f"#{colour.hexval()[2:]}"
