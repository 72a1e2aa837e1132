"""ROM IDs in a text copied from a console: every one that is in it, in its order, in any usual writing (pure, no Django)."""

import re
from typing import NamedTuple

from kits.rom import BadRom, read_rom

# Longest writing first: bytes with anything usual between them, a folder's name, digits in one piece.
_HEX = "[0-9A-Fa-f]"
WRITINGS = re.compile(
    rf"(?<![0-9A-Za-z])(?:"
    rf"(?:0[xX])?{_HEX}{{1,2}}(?:[\s,:;._-]+(?:0[xX])?{_HEX}{{1,2}}){{7}}"
    rf"|{_HEX}{{2}}-{_HEX}{{12}}"
    rf"|(?:0[xX])?{_HEX}{{16}}"
    rf")(?![0-9A-Za-z])"
)
LOOKS_LIKE_ONE = re.compile(rf"(?<![0-9A-Za-z])(?:0[xX])?{_HEX}{{12,20}}(?![0-9A-Za-z])")


class Listed(NamedTuple):
    """The ROM IDs found, and the sentences about what looked like one and is none."""

    roms: tuple[str, ...]
    refused: tuple[str, ...]


def roms_in(text: str) -> Listed:
    """Read a console's output, line by line.

    >>> roms_in("Found 28-00000f1e64ff, 22.5 C").refused
    ()
    >>> roms_in("no sensors here").roms
    ()
    """
    roms: dict[str, None] = {}
    refused: list[str] = []
    for number, line in enumerate(text.splitlines(), start=1):
        pieces = [found[0] for found in WRITINGS.finditer(line)]
        pieces = pieces or [found[0] for found in LOOKS_LIKE_ONE.finditer(line)]
        for piece in pieces:
            try:
                roms[read_rom(piece)] = None
            except BadRom as bad:
                refused.append(f"Line {number}, {piece}: {bad}")
    return Listed(tuple(roms), tuple(refused))
