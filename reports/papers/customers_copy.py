"""The customer's copy of the hand-back report: one page in plain words, without a ROM ID, an offset or a warning to the crew."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reportlab.platypus import Flowable, Spacer

from reports.papers.blocks import Cell, SymbolBox, Tick, beside, box
from reports.papers.cautions import NOT_AN_ALARM_HEADING, NOT_AN_ALARM_REST
from reports.papers.page import CONTENT, Sheet, one_page_pdf, shortened
from reports.papers.records import LeftBehind, Shop, StayPaper
from reports.papers.type import TypeScale, bullet, marked, quiet, safe, say, strong, type_scale
from reports.papers.words import count, day, dialled, listed, plain_position, sentence, span

BODY = 11.0
WHEN_TAKEN_OUT = "We plug the holes we drilled, put the wires back and run your system before we leave."
WITH_WIFI = " We erase your Wi-Fi from the box."


def customer_copy_pdf(paper: StayPaper) -> bytes:
    """What you told us, what we watched, what we saw, what we suggest, what we left: one page."""
    sheet = Sheet(
        shop=paper.shop,
        title="What we watched at your house",
        subject=f"Hand-back report for {paper.customer_name}, stay {paper.stay_number}",
        kit_code=paper.kit_code,
        kit_name=paper.kit_name,
        stage=f"stay {paper.stay_number}",
        running="",
        copy="Your copy",
        foot=day(paper.printed_at.date()),
    )
    return one_page_pdf(sheet, lambda scale, cut: _story(paper, type_scale(scale, body=BODY), cut))


def _story(paper: StayPaper, t: TypeScale, cut: int | None) -> list[Flowable]:
    address = ", ".join(line for line in paper.site_address if line.strip())
    whose = f"For {paper.customer_name}" + (f", {address}" if address else "")
    story: list[Flowable] = [
        say("What we watched at your house", t.title),
        say(shortened(whose, cut), t.subtitle),
    ]
    if paper.customer_told_us.strip():
        story += [say("You told us", t.heading), say(f"“{shortened(paper.customer_told_us, cut)}”", t.quote)]
    story += [
        say("We watched" if paper.installed_at else "We will watch", t.heading),
        marked(_watched(paper), t.body),
    ]
    if paper.installed_at or paper.saw:
        story += [say("What we saw", t.heading), *_saw(paper, t, cut)]
    if paper.suggest:
        story += [
            say("What we suggest", t.heading),
            *_list([shortened(line, cut) for line in paper.suggest[:4]], t),
        ]
    if paper.removed_at is None:
        promised = WHEN_TAKEN_OUT + (WITH_WIFI if paper.left_behind.home_wifi_used is not False else "")
        story += [say("When we take it out", t.heading), say(promised, t.body)]
    else:
        story += [say("What we left", t.heading), *left_for_customer(paper.left_behind, t)]
    story += [Spacer(1, 12 * t.scale), call_us(paper.shop, t)]
    return story


def _watched(paper: StayPaper) -> str:
    names = list(dict.fromkeys(plain_position(row.position_code, row.position_name) for row in paper.mapping))
    what = f"the temperature of {safe(listed(names))}" if names else "the temperatures"
    unit = _plain_unit(paper.unit_description)
    unit = f" at your {safe(unit)}" if unit else ""
    if paper.installed_at is None:
        return f"Our box has not been put in yet. It will watch {what}{unit}."
    begin = strong(day(paper.installed_at.date()))
    if paper.removed_at is None:
        until = (
            f", and our box is still there; it comes out by {safe(day(paper.take_out_by))}"
            if paper.take_out_by
            else ""
        )
        return f"From {begin} on we watch {what}{unit}{until}."
    lasted = span(paper.installed_at, paper.removed_at)
    end = strong(day(paper.removed_at.date()))
    return f"From {begin} to {end}{f' ({lasted})' if lasted else ''} we watched {what}{unit}."


def _plain_unit(description: str) -> str:
    """What the unit is and where, without tons, refrigerant and serial number: the words before the first comma."""
    words = re.split(r"[,;(]", description, maxsplit=1)[0].strip()
    return words[:1].lower() + words[1:]


def _saw(paper: StayPaper, t: TypeScale, cut: int | None) -> list[Flowable]:
    if paper.saw:
        return [say(" ".join(sentence(shortened(line, cut)) for line in paper.saw[:3]), t.body)]
    if paper.removed_at is None:
        return [say("The box is still measuring. We tell you what it saw when it is out.", t.body)]
    return [say("We are still looking at the readings and will call you.", t.body)]


def _list(lines: Sequence[str], t: TypeScale) -> list[Flowable]:
    if len(lines) == 1:
        return [say(sentence(lines[0]), t.body)]
    return [bullet(sentence(line), t.body) for line in lines]


def left_for_customer(left: LeftBehind, t: TypeScale) -> list[Flowable]:
    """How the house was left, as ticks the customer can check; what nobody has said stays an empty box."""
    said: list[tuple[bool | None, str]] = [_holes(left)]
    said.append(
        (
            left.wires_restored,
            "The wires are back where they were." if left.wires_restored else "Wires put back",
        )
    )
    said.append(
        (
            left.system_ran,
            "Your system ran before we left." if left.system_ran else "System ran before we left",
        )
    )
    if left.home_wifi_used is False:
        said.append((True, "We did not use your Wi-Fi."))
    elif left.wifi_wiped:
        said.append(
            (
                True,
                "Your Wi-Fi name and password are erased from the box. Change your guest password all the same.",
            )
        )
    else:
        said.append((left.wifi_wiped, "Wi-Fi name and password erased from the box"))
    ticks: list[Flowable] = []
    for state, text in said:
        words = (
            safe(text)
            if state
            else f"{safe(text)}: {'not yet; we owe you a visit' if state is False else quiet('not checked yet')}"
        )
        ticks.append(Tick(state, marked(words, t.body.clone("tick", spaceAfter=0)), side=10.5 * t.scale))
    return ticks


def _holes(left: LeftBehind) -> tuple[bool | None, str]:
    drilled, plugged = left.holes_drilled, left.holes_plugged
    if drilled is None:
        return None, "Holes plugged"
    if drilled == 0:
        return True, "We drilled no holes."
    photos = f" ({count(left.photo_count, 'photo')} taken)" if left.photo_count else ""
    if plugged is None:
        return None, f"{count(drilled, 'hole')} drilled, plugged"
    if plugged >= drilled:
        return True, f"{count(drilled, 'hole')} drilled and plugged{photos}."
    return False, f"{count(drilled, 'hole')} drilled, {plugged} plugged so far"


def call_us(shop: Shop, t: TypeScale, *, said_before: str = "") -> Flowable:
    """The box every paper for a customer ends with: not an alarm, and the shop's phone to dial or scan."""
    padding, symbol = 22.0, None
    number = dialled(shop.phone)
    if number:
        symbol = SymbolBox(number, 62 * t.scale, say("dials us", t.caption))
    symbol_width = symbol.wrap(0, 0)[0] + 18 if symbol else 0.0
    words: list[Flowable] = [
        marked(f"{strong(NOT_AN_ALARM_HEADING)} {safe(said_before + NOT_AN_ALARM_REST)}", t.body),
    ]
    if shop.phone:
        large = t.lead.clone("phone", fontSize=t.lead.fontSize * 1.35, leading=t.lead.fontSize * 1.75)
        words.append(marked(strong(shop.phone), large))
    words.append(say(shop.name, t.caption))
    if symbol is None:
        return box("spruce", "", words, CONTENT, t)
    columns: list[Cell] = [words, [Spacer(1, symbol.quiet - 4), symbol]]
    inner = beside(columns, (CONTENT - padding - symbol_width, symbol_width))
    return box("spruce", "", [inner], CONTENT, t)
