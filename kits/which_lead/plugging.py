"""Naming leads while they are plugged in one at a time, from what the box sees at each look (pure, no Django)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from kits.rom import BadRom, is_rom, read_rom
from kits.which_lead.judgement import Shown

# A lead can be missed at one look though it is plugged in; at two in a row it is out.
LOOKS_TO_BELIEVE = 2


@dataclass(frozen=True)
class Plugging:
    """What plugging in has shown so far, in the order of the looks.

    `in_order` are the leads that appeared alone; `to_name` is the first of them without a name; `at_once` are new leads
    that cannot be told apart yet. `gone` appeared and are not plugged in now. `refused` is what was seen and is no ROM ID
    of a sensor we take, each with the reason.
    """

    in_order: tuple[str, ...]
    to_name: str | None
    at_once: tuple[str, ...]
    gone: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]
    sentence: str


def newly_seen(
    looks: Sequence[Iterable[str]],
    *,
    already_there: Iterable[str] = (),
    named: Iterable[str] = (),
    shown: Shown | None = None,
) -> Plugging:
    """Follow the looks (each the ROM IDs then seen on the wire, oldest look first) and say which lead is new.

    `already_there` were plugged in before and are not to be named this way; `named` have their tape. A lead that goes and
    comes back is not new. Two that appear at one look wait until all but one are unplugged: that one is told apart.
    """
    follow = _Follow(set(already_there))
    for look in looks:
        follow.look(look)
    shown = shown or Shown.in_unit("C", sorted(follow.known))
    done = set(named)
    to_name = next((rom for rom in follow.in_order if rom not in done), None)
    at_once = tuple(follow.waiting)
    return Plugging(
        in_order=tuple(follow.in_order),
        to_name=to_name,
        at_once=at_once,
        gone=tuple(rom for rom in (*follow.in_order, *at_once) if rom not in follow.there),
        refused=tuple(follow.refused.items()),
        sentence=_sentence(shown, to_name, at_once, follow),
    )


@dataclass
class _Follow:
    """The state between two looks: who is known, who waits to be told apart, who stayed alone for how many looks."""

    known: set[str]
    there: set[str] = field(default_factory=set)
    waiting: list[str] = field(default_factory=list)
    in_order: list[str] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)
    alone: tuple[str, int] = ("", 0)

    def look(self, seen: Iterable[str]) -> None:
        self.there = set()
        for text in seen:
            if is_rom(text):
                self.there.add(text)
            elif text not in self.refused:
                self.refused[text] = _why_not(text)
        new = sorted(self.there - self.known)
        self.known.update(new)
        if len(new) == 1 and not any(rom in self.there for rom in self.waiting):
            self.in_order.append(new[0])
            return
        self.waiting.extend(new)
        self.tell_apart()

    def tell_apart(self) -> None:
        """Of several that wait, the one that alone stayed plugged in, or came back alone, is told apart."""
        here = [rom for rom in self.waiting if rom in self.there]
        if len(here) != 1:
            self.alone = ("", 0)
            return
        self.alone = (here[0], self.alone[1] + 1 if self.alone[0] == here[0] else 1)
        if self.alone[1] >= LOOKS_TO_BELIEVE:
            self.waiting.remove(here[0])
            self.in_order.append(here[0])
            self.alone = ("", 0)


def _why_not(text: str) -> str:
    """Why what was seen on the wire is no sensor of ours."""
    try:
        read_rom(text)
    except BadRom as why:
        return str(why)
    return "This is not written in the order of the wire: family first, CRC last, sixteen capitals."


def _sentence(shown: Shown, to_name: str | None, at_once: tuple[str, ...], follow: _Follow) -> str:
    here = [rom for rom in at_once if rom in follow.there]
    if len(here) > 1:
        number = {2: "Two", 3: "Three", 4: "Four", 5: "Five"}.get(len(here), str(len(here)))
        unplug = "one" if len(here) == 2 else "all of them but one"
        return f"{number} new at once: {', '.join(map(shown.lead, here))}. Unplug {unplug}."
    if to_name is not None:
        return f"New: {shown.lead(to_name)}. Which tape?"
    if at_once:
        return "Plug them in again one at a time." if len(at_once) > 1 else "Plug the other one in again."
    if follow.refused:
        return "Something on the wire is no sensor of ours. Look at the last plug: half in, or data touching ground."
    return "Plug in the next lead." if follow.in_order else "Plug in the first lead."
