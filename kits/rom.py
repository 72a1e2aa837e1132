"""1-wire ROM IDs: reading one in any usual writing, and saying what is wrong with one that cannot be.

A ROM ID is eight bytes: the family code (28 for the kit's sensors), a six-byte serial, and a CRC-8 of those seven. It is
kept as sixteen upper-case hexadecimal digits in the order of the wire: family first, CRC last. People type it in either
order; the CRC decides which it was.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator
from typing import NamedTuple

FAMILY = "28"
HEX_DIGITS = "0123456789ABCDEF"
ROM_LENGTH = 16
TAIL_LENGTH = 4

FAMILIES = {
    "01": "a serial-number chip (DS2401 or DS1990A key)",
    "02": "a multikey button (DS1991)",
    "05": "an addressable switch (DS2405)",
    "10": "a DS18S20 or DS1820 thermometer",
    "12": "a two-channel switch (DS2406)",
    "1D": "a counter (DS2423)",
    "20": "a four-channel voltage meter (DS2450)",
    "22": "a DS1822 thermometer",
    "26": "a battery monitor (DS2438)",
    "29": "an eight-channel switch (DS2408)",
    "2D": "a memory chip (DS2431)",
    "3A": "a two-channel switch (DS2413)",
    "3B": "a DS1825 thermometer or MAX31850 thermocouple converter",
    "42": "a DS28EA00 thermometer",
}

# What a digit is taken for in dim light or bad handwriting.
_LOOK_ALIKE_PAIRS = "8B 0D 6C 17 38 EF 56 5B 4A C0 69 49 BD"
LOOK_ALIKE_DIGITS = frozenset(frozenset(pair) for pair in _LOOK_ALIKE_PAIRS.split())
LETTER_MEANS = {"O": "0", "Q": "0", "I": "1", "L": "1", "S": "5", "G": "6", "Z": "2"}

_URN = re.compile(r"^URN:DEV:OW:([0-9A-F]*)")
_FOLDER_NAME = re.compile(r"(?:^|/)([0-9A-F]{2})-([0-9A-F]{12})(?:$|/)")
_SEPARATORS = re.compile(r"[\s:.,;_\-{}()\[\]]+")


class BadRom(ValueError):
    """What was typed is no ROM ID of a sensor this kit takes. The message says why and how to mend it."""


class RomReading(NamedTuple):
    """A ROM ID in wire order, and what the person who typed it should know about the reading ("" if nothing)."""

    rom: str
    note: str


class Slip(NamedTuple):
    """One small typing mistake that would explain a wrong CRC: what to say, and the ROM ID that was meant."""

    sentence: str
    rom: str


def crc8(data: bytes) -> int:
    """The 1-wire CRC-8 (x^8 + x^5 + x^4 + 1, least significant bit first, start 0). Over data with its CRC it is 0."""
    register = 0
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0x8C if register & 1 else 0)
    return register


def is_rom(text: str) -> bool:
    """Whether `text`, as it stands, is the ROM ID of a sensor the kit takes."""
    return (
        len(text) == ROM_LENGTH
        and all(c in HEX_DIGITS for c in text)
        and text.startswith(FAMILY)
        and _verifies(text)
    )


def read_rom(typed: str) -> str:
    """The ROM ID somebody typed, as sixteen upper-case digits in wire order, or BadRom saying what is wrong."""
    return read_rom_with_note(typed).rom


def read_rom_with_note(typed: str) -> RomReading:
    """Like `read_rom`, with what the typist should know: that it was back to front, or could not be checked."""
    text = unicodedata.normalize("NFKC", typed).strip().upper()
    if found := _FOLDER_NAME.search(text):
        return _from_folder_name(family=found[1], serial=found[2])
    digits = _digits_of(text)
    _refuse_impossible_digits(digits)
    backwards = reversed_bytes(digits)
    fitting = [rom for rom in (digits, backwards) if _verifies(rom)]
    for rom in fitting:
        if rom.startswith(FAMILY):
            return RomReading(
                rom, "It was typed CRC first and has been turned round." if rom != digits else ""
            )
    if fitting:
        raise BadRom(_wrong_family(fitting[0][:2]))
    raise BadRom(_wrong_crc(digits))


def reversed_bytes(digits: str) -> str:
    """The same bytes in the other order: 28…34 becomes 34…28."""
    return bytes.fromhex(digits)[::-1].hex().upper()


def rom_tail(rom: str, among: Iterable[str] = ()) -> str:
    """The end of a ROM ID by which people call a sensor: its last four digits, as its full writing on screen ends.

    They hold the CRC, which depends on every other digit, so neighbours of one production batch differ there although
    their serials are nearly the same. Two sensors in a few hundred can still share a tail; given the other sensors
    `among` which this one must be told apart, the tail grows two digits at a time until it is unlike all of theirs.
    """
    others = {other for other in among if other != rom}
    length = TAIL_LENGTH
    while length < ROM_LENGTH and any(other.endswith(rom[-length:]) for other in others):
        length += 2
    return rom[-length:]


def _from_folder_name(family: str, serial: str) -> RomReading:
    """The writing 28-00000f1e64ff: family, then the serial with its highest byte first, and no CRC."""
    if family == "00" and not serial.strip("0"):
        raise BadRom(_ALL_ZERO)
    if family != FAMILY:
        raise BadRom(_wrong_family(family))
    first_seven = bytes.fromhex(family) + bytes.fromhex(serial)[::-1]
    rom = (first_seven + bytes([crc8(first_seven)])).hex().upper()
    return RomReading(
        rom, "This writing carries no CRC, so a slip in it cannot be found. Compare it once more."
    )


def _digits_of(text: str) -> str:
    """The bare digits of a ROM ID written with or without 0x, separators, braces, or leading zeros of each byte."""
    if found := _URN.match(text):
        return found[1]
    pieces = [piece.removeprefix("0X") for piece in _SEPARATORS.split(text) if piece]
    if len(pieces) == ROM_LENGTH // 2 and all(len(piece) <= 2 for piece in pieces):
        pieces = [piece.rjust(2, "0") for piece in pieces]
    return "".join(pieces)


_ALL_ZERO = (
    "A ROM ID of all zeros is what a shorted data wire reads: it passes the CRC, but no sensor has it. "
    "Look for the data wire touching ground, then read the sensor again."
)


def _refuse_impossible_digits(digits: str) -> None:
    if not digits:
        raise BadRom(
            "Type the sixteen digits of the sensor's ROM ID, for example as its controller lists it."
        )
    for position, character in enumerate(digits, start=1):
        if character not in HEX_DIGITS:
            shown = character if character.isprintable() else f"U+{ord(character):04X}"
            meant = LETTER_MEANS.get(character)
            hint = f" It may be {meant}." if meant else ""
            raise BadRom(
                f"Character {position}, {shown}, cannot be right: a ROM ID uses 0 to 9 and A to F.{hint}"
            )
    if len(digits) != ROM_LENGTH:
        raise BadRom(_wrong_length(len(digits)))
    if not digits.strip("0"):
        raise BadRom(_ALL_ZERO)
    if not digits.strip("F"):
        raise BadRom(
            "A ROM ID of all F is what an empty bus reads: no sensor answered. Check its three wires."
        )


def _wrong_length(count: int) -> str:
    if count > ROM_LENGTH:
        return f"A ROM ID has sixteen digits; this has {count}, {count - ROM_LENGTH} too many."
    sentence = f"A ROM ID has sixteen digits; this has {count}, {ROM_LENGTH - count} too few."
    if count == ROM_LENGTH - 2:
        sentence += " If the CRC (the last byte) was left out, add it: it proves the order of the others."
    return sentence


def _wrong_family(family: str) -> str:
    what = FAMILIES.get(family, "another kind of part")
    return f"Family {family} is {what}. The kit takes family 28 (DS18B20) only."


def _wrong_crc(digits: str) -> str:
    """The sentence for sixteen digits whose CRC fits in neither order."""
    opening = "The CRC does not fit the other digits, so something is mistyped. "
    if is_rom(digits[::-1]):
        return opening + f"Read back to front, digit by digit, it fits: {digits[::-1]}."
    if FAMILY not in (digits[:2], digits[-2:]):
        for family in (digits[:2], digits[-2:]):
            if family in FAMILIES:
                opening += (
                    f"It looks like family {family}, {FAMILIES[family]}, and the kit takes family 28 only. "
                )
                break
    slips = likely_slips(digits)
    if not slips:
        return opening + "No single slip explains it; compare all sixteen digits with the sensor."
    return (
        opening
        + "A single slip would explain it: "
        + "; or ".join(slip.sentence for slip in slips)
        + ". Compare with the sensor."
    )


def likely_slips(digits: str, at_most: int = 3) -> list[Slip]:
    """Single mistakes that explain sixteen digits with a wrong CRC, likeliest first: exchanged, look-alike, any digit."""
    found: dict[str, tuple[int, Slip]] = {}
    for rank, sentence, candidate in _edits(digits):
        for rom in (candidate, reversed_bytes(candidate)):
            if is_rom(rom) and rom not in found:
                found[rom] = (rank, Slip(sentence, rom))
    ranked = sorted(found.values(), key=lambda entry: entry[0])
    return [slip for _, slip in ranked[:at_most]]


def _edits(digits: str) -> Iterator[tuple[int, str, str]]:
    """Every ROM-length text one slip away: (how unlikely the slip is, its sentence, the text before the slip)."""
    for i in range(ROM_LENGTH - 1):
        a, b = digits[i], digits[i + 1]
        if a != b:
            sentence = f"digits {i + 1} and {i + 2} exchanged ({b}{a} instead of {a}{b})"
            yield 0, sentence, digits[:i] + b + a + digits[i + 2 :]
    for i, typed in enumerate(digits):
        for meant in HEX_DIGITS.replace(typed, ""):
            rank = 1 if frozenset((typed, meant)) in LOOK_ALIKE_DIGITS else 2
            yield rank, f"digit {i + 1} should be {meant}, not {typed}", digits[:i] + meant + digits[i + 1 :]


def _verifies(digits: str) -> bool:
    return crc8(bytes.fromhex(digits)) == 0
