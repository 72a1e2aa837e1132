"""Who is named so far: leads named one at a time, the last undone, the last one by elimination (pure, no Django).

A `Naming` never changes; each step gives a new one, so a page can keep it as a small list and go back.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple


class NamingError(ValueError):
    """This step cannot be done. The message says why and what to do."""


class Named(NamedTuple):
    """One lead that got its name: the sensor, what stands on its tape, and whether that was by elimination only."""

    rom: str
    tag: str
    by_elimination: bool = False


@dataclass(frozen=True)
class Naming:
    """The leads of one kit: those without a name, in the order given, and those named, in the order of naming."""

    unnamed: tuple[str, ...]
    named: tuple[Named, ...] = ()

    @classmethod
    def of(cls, roms: Iterable[str]) -> "Naming":
        """A kit whose leads are all unnamed. A ROM ID twice is one lead."""
        return cls(tuple(dict.fromkeys(roms)))

    @property
    def is_complete(self) -> bool:
        """Whether every lead has its name."""
        return not self.unnamed

    @property
    def last_left(self) -> str | None:
        """The only lead without a name, known by elimination; None while there are more, or none."""
        return self.unnamed[0] if len(self.unnamed) == 1 and self.named else None

    def name(self, rom: str, tag: str, *, measured: bool = True, confirmed: bool = False) -> "Naming":
        """Give one lead its tape. Without a measurement it is the last one left, and somebody has to confirm it."""
        tag = tag.strip()
        if rom not in self.unnamed:
            raise NamingError(
                "This lead has its name already; undo that first."
                if any(one.rom == rom for one in self.named)
                else "This sensor is not among the leads to be named."
            )
        if not tag:
            raise NamingError("Say what stands on the tape of this lead.")
        if holder := next((one for one in self.named if one.tag.casefold() == tag.casefold()), None):
            raise NamingError(
                f"Tape {holder.tag} is on another lead of this kit. Choose another, or undo that one."
            )
        if not measured and rom != self.last_left:
            raise NamingError("Only the last lead can be named without warming it.")
        if not measured and not confirmed:
            raise NamingError(
                "The last lead was not measured. Look at it and confirm that it is the one left."
            )
        left = tuple(other for other in self.unnamed if other != rom)
        return replace(self, unnamed=left, named=(*self.named, Named(rom, tag, by_elimination=not measured)))

    def undo(self) -> "Naming":
        """Take back the last name given; that lead is first among the unnamed again."""
        if not self.named:
            raise NamingError("No lead has been named yet.")
        return replace(self, unnamed=(self.named[-1].rom, *self.unnamed), named=self.named[:-1])
