"""How a house was left, as sentences with yes, no or nobody-has-said."""

from __future__ import annotations

from dataclasses import dataclass

from reports.papers.records import LeftBehind
from reports.papers.words import count


@dataclass(frozen=True, kw_only=True)
class Statement:
    """One thing about how the house was left. `state` None: nobody has said."""

    state: bool | None
    text: str


def statements(left: LeftBehind, *, to_tick: bool = False) -> list[Statement]:
    """Holes, wires, system and kit, in the order they are checked at the unit.

    With `to_tick` what nobody has said is worded for somebody to tick with a pen.
    """
    said = [
        _holes(left, to_tick),
        _said(left.wires_restored, "Wires back where they were", "Wires are NOT back where they were"),
        _said(
            left.system_ran,
            "System called for and ran before we left",
            "The system did NOT run before we left",
        ),
        _wifi(left),
        _said(
            left.account_wiped,
            "The house’s name and readings erased from the kit",
            "The house’s name and readings are STILL on the kit",
        ),
    ]
    if to_tick:
        return said
    return [
        Statement(state=one.state, text=f"{one.text}: nobody has said") if one.state is None else one
        for one in said
    ]


def _said(state: bool | None, yes: str, no: str) -> Statement:
    return Statement(state=state, text=no if state is False else yes)


def _holes(left: LeftBehind, to_tick: bool) -> Statement:
    drilled, plugged = left.holes_drilled, left.holes_plugged
    if drilled is None:
        return Statement(
            state=None, text="____ holes drilled, ____ plugged" if to_tick else "Holes drilled and plugged"
        )
    if drilled == 0:
        return Statement(state=True, text="No holes were drilled")
    if plugged is None:
        return Statement(state=None, text=f"{count(drilled, 'hole')} drilled, all plugged")
    photos = f" ({count(left.photo_count, 'photo')})" if left.photo_count else ""
    if plugged >= drilled:
        return Statement(state=True, text=f"{count(drilled, 'hole')} drilled, {plugged} plugged{photos}")
    still_open = drilled - plugged
    return Statement(
        state=False,
        text=f"{count(drilled, 'hole')} drilled, {plugged} plugged: {still_open} STILL OPEN{photos}",
    )


def _wifi(left: LeftBehind) -> Statement:
    if left.home_wifi_used is False:
        return Statement(state=True, text="The home’s Wi-Fi was not used")
    return _said(
        left.wifi_wiped,
        "Wi-Fi name and password erased from the kit",
        "Wi-Fi name and password are STILL on the kit",
    )
