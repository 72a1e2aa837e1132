"""The technician's card: the whole job on one page for the sun visor, and a slip to fill in where no phone works."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from reportlab.platypus import Flowable, Spacer

from reports.papers.blocks import beside, box, listing
from reports.papers.cautions import crew_cautions
from reports.papers.page import CONTENT, Sheet, one_page_pdf
from reports.papers.records import Shop
from reports.papers.type import TypeScale, bullet, say, type_scale
from reports.papers.words import day

GAP = 18.0
SLIP_ROWS = 5

AT_THE_DOOR = (
    "Consent by name, before power goes on. Take-out day. Wi-Fi: guest, home, or none.",
    "Ask about pacemakers. Ask where the float switch is.",
)
IN_THE_ATTIC = (
    "1. Meter dead: type the volts.",
    "2. Hook-up: terminals, before or after the float switch.",
    "3. Each lead to its position: SA supply, RA return, LL liquid, VL vapor, OA outdoor.",
    "4. Holes drilled: how many.",
    "5. One photo of lock, hook-up and holes.",
    "6. The time.",
)
AT_THE_TRUCK = (
    "Panels on, power on, volts read at the kit's plug: 24 or more is good, under 22 take the kit off.",
    "Supply and return read beside the thermometer.",
    "Leave the card by the box.",
)
COMING_OUT = (
    "Lock out. Leads out, every hole plugged and taped: as many closed as drilled.",
    "Wires back where they were. Panels on. See the system run.",
    "Wipe the Wi-Fi. Have the leaving slip signed. Hand the kit back: count leads and parts.",
)
ODD = (
    "On somebody else's truck: scan, “Take it onto my truck”.",
    "The books have it in a house, you hold it: “Not in the house?”",
    "A lead is cut: “Swap a lead”. The new one brings its own offset, or none.",
    "No signal: write the slip below; the office types it in as told by phone.",
)


def quick_card_pdf(shop: Shop, *, printed_at: datetime) -> bytes:
    """One page for a technician; the same for every kit, so the tag has room for a code written by hand."""
    sheet = Sheet(
        shop=shop,
        title="The technician's card",
        subject="How a kit goes in and comes out",
        kit_code="______",
        kit_name="Kit code, by hand",
        stage="scan its label: it shows the one next step",
        running="",
        copy="Keep it behind the sun visor",
        foot=day(printed_at.date()),
    )
    return one_page_pdf(sheet, lambda scale, cut: _story(shop, type_scale(scale, body=9.5)))


def _story(shop: Shop, t: TypeScale) -> list[Flowable]:
    half = (CONTENT - GAP) / 2
    going_in = [
        *_list("At the door", AT_THE_DOOR, t),
        *_list("In the attic, six things", IN_THE_ATTIC, t),
        *_list("At the truck", AT_THE_TRUCK, t),
    ]
    coming_out = [
        *_list("Coming out", COMING_OUT, t),
        *_list("When something is odd", ODD, t),
    ]
    cautions = [bullet(caution, t.cell) for caution in crew_cautions(shop.unit)]
    return [
        say("In and out, on one page", t.title),
        beside([going_in, coming_out], [half + GAP, half], gap=GAP),
        Spacer(1, 8 * t.scale),
        box("attention", "Always", cautions, CONTENT, t),
        say("Attic slip", t.heading),
        *_slip(t),
    ]


def _list(heading: str, lines: Sequence[str], t: TypeScale) -> list[Flowable]:
    return [
        say(heading, t.heading),
        *(say(line, t.body) if line[0].isdigit() else bullet(line, t.body) for line in lines),
    ]


def _slip(t: TypeScale) -> list[Flowable]:
    """Five rows by hand; the office types them in."""
    blank = "\N{NO-BREAK SPACE}"
    by_hand = t.cell_bold.clone("by-hand", leading=t.cell_bold.leading * 1.6)
    rows = [[say(f"{number}", by_hand), blank, blank, blank] for number in range(1, SLIP_ROWS + 1)]
    widths = [50.0, 130.0, 130.0, CONTENT - 310.0]
    line = "Volts dead ______   Hook-up ____________________   Float: before / after / none   Holes ____   Time ______   Name ______________"
    return [
        listing(["Lead", "Tag or last four", "Position", "Note"], rows, widths, t),
        Spacer(1, 6 * t.scale),
        say(line, t.cell),
    ]
