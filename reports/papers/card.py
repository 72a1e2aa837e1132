"""The leave-behind card: what the box is, what it is not, when it leaves, whom to call. One page, large type."""

from __future__ import annotations

from reportlab.platypus import Flowable, Spacer

from reports.papers.blocks import Cell, beside, box
from reports.papers.cautions import WIFI_NOT_USED, WIFI_SENDS
from reports.papers.customers_copy import call_us
from reports.papers.page import CONTENT, Sheet, one_page_pdf, shortened
from reports.papers.records import LeaveBehindCard
from reports.papers.type import TypeScale, bullet, marked, safe, say, strong, type_scale
from reports.papers.words import day, listed, sentence

BODY = 12.5


def card_pdf(card: LeaveBehindCard) -> bytes:
    """The card for the house, left by the box on the day it goes in."""
    sheet = Sheet(
        shop=card.shop,
        title="What this box is",
        subject=f"Card for the house, kit {card.kit_code}",
        kit_code=card.kit_code,
        kit_name=card.kit_name,
        stage="leave it plugged in, please",
        running="",
        copy="Keep this card by the box",
        foot=day(card.printed_at.date()),
    )
    return one_page_pdf(sheet, lambda scale, cut: _story(card, type_scale(scale, body=BODY), cut))


def _story(card: LeaveBehindCard, t: TypeScale, cut: int | None) -> list[Flowable]:
    story: list[Flowable] = [
        say(
            "This box takes your system’s temperature",
            t.title.clone("card-title", fontSize=25 * t.scale, leading=28 * t.scale),
        ),
        Spacer(1, 6),
        marked(_what_it_does(card), t.lead),
        Spacer(1, 4 * t.scale),
        _dates(card, t),
        say("Your Wi-Fi", t.heading),
        say(_wifi(card), t.body),
    ]
    if card.aux_contact.strip():
        story += [
            say("It also switches something", t.heading),
            say(sentence(shortened(card.aux_contact, cut)), t.body),
        ]
    story += [say("Please", t.heading), *(bullet(line, t.body) for line in _please(card))]
    story += [Spacer(1, 10 * t.scale), call_us(card.shop, t)]
    return story


def _what_it_does(card: LeaveBehindCard) -> str:
    what = f"the temperature of {listed(card.positions)}" if card.positions else "temperatures"
    where = f" You find the box here: {safe(card.box_place)}." if card.box_place.strip() else ""
    return (
        f"{strong(card.shop.name)} left it here to find out how your heating and cooling behaves from hour to hour."
        f" It measures {safe(what)}, and nothing else in the house.{where}"
    )


def _dates(card: LeaveBehindCard, t: TypeScale) -> Flowable:
    by = f" by {card.technician_name}" if card.technician_name else ""
    taken_out = day(card.take_out_by, unknown="no date agreed yet")
    columns: list[Cell] = [
        [
            say("Put in", t.caption),
            say((day(card.installed_on) if card.installed_on else "not yet") + by, t.body),
        ],
        [say("We take it out by", t.caption), marked(strong(taken_out), t.lead)],
    ]
    return box("plain", "", [beside(columns, (CONTENT * 0.46, CONTENT * 0.46))], CONTENT, t)


def _wifi(card: LeaveBehindCard) -> str:
    if not card.home_wifi_used:
        return WIFI_NOT_USED
    on = (
        "It is on your guest network; change that password once the box is gone."
        if card.guest_network
        else ("A guest network is best; change the password once the box is gone.")
    )
    return f"{WIFI_SENDS} {on}"


def _please(card: LeaveBehindCard) -> list[str]:
    please = [
        "Leave the box plugged in and its leads where they are. Use your thermostat as you always do.",
        "Do not open panels or reach into the unit: there is mains power and there are moving parts behind them.",
        "Selling the house, moving out or want it gone sooner? Call us, and we come for it.",
    ]
    if card.battery_inside:
        please.append("There is a battery in the box: do not open, crush or heat it.")
    return please
