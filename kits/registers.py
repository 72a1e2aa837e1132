"""The DS18B20's registers: from raw bits to degrees Celsius, and which values are faults rather than temperatures."""

from typing import NamedTuple

from kits.rom import crc8

STEPS_PER_CELSIUS = 16
LOWEST_CELSIUS = -55.0
HIGHEST_CELSIUS = 125.0
SCRATCHPAD_LENGTH = 9

# The low bits that a coarser conversion leaves undefined.
UNDEFINED_BITS = {9: 3, 10: 2, 11: 1, 12: 0}

POWER_ON_CELSIUS = 85.0
NO_ANSWER_CELSIUS = -127.0
TOO_LITTLE_POWER_CELSIUS = 127.9375

# Half a display digit: readings are typed to a tenth, and 185.0 °F or 85.0 °C are the same reading.
TYPING_TOLERANCE_KELVIN = 0.05


class BadScratchpad(ValueError):
    """Nine bytes that are no answer of a sensor. The message says why."""


class ScratchpadReading(NamedTuple):
    """What one sensor answered: the temperature, the resolution it was set to, and a doubt ("" if none)."""

    celsius: float
    resolution_bits: int
    doubt: str


def celsius_from_register(register: int, resolution_bits: int = 12) -> float:
    """Degrees Celsius of a 16-bit temperature register, with the bits this resolution leaves undefined masked out."""
    if not 0 <= register <= 0xFFFF:
        raise ValueError(f"A temperature register has 16 bits; {register} does not fit.")
    undefined = UNDEFINED_BITS[resolution_bits]
    defined = register >> undefined << undefined
    signed = defined - 0x10000 if defined & 0x8000 else defined
    return signed / STEPS_PER_CELSIUS


def read_scratchpad(data: bytes) -> ScratchpadReading:
    """The temperature in a sensor's nine-byte scratchpad, or BadScratchpad when they are no sensor's answer."""
    if len(data) != SCRATCHPAD_LENGTH:
        raise BadScratchpad(f"A scratchpad has nine bytes; this has {len(data)}.")
    if not any(data):
        raise BadScratchpad(
            "All nine bytes are zero: the data wire is shorted low. Their CRC fits, but no sensor spoke."
        )
    if all(byte == 0xFF for byte in data):
        raise BadScratchpad("All nine bytes are FF: no sensor answered. Check its three wires.")
    if crc8(data):
        raise BadScratchpad(
            "The CRC does not fit: the answer was garbled on the wire. Read the sensor again."
        )
    resolution_bits = 9 + (data[4] >> 5 & 0b11)
    celsius = celsius_from_register(data[0] | data[1] << 8, resolution_bits)
    return ScratchpadReading(celsius, resolution_bits, doubt_of(celsius))


def doubt_of(celsius: float, ice_expected: bool = False) -> str:
    """Why a reading may be no temperature at all, as one sentence, or "". A doubted reading is marked, never dropped."""
    if _is(celsius, POWER_ON_CELSIUS):
        return (
            "85.0 °C is what a sensor says when it has just got power and has not measured yet; that is 185 °F. "
            "Wait a second and read again; keep it only if the place really is that hot."
        )
    if _is(celsius, NO_ANSWER_CELSIUS):
        return "-127 °C is what controllers show when the sensor does not answer. Check its wires and read again."
    if abs(celsius - TOO_LITTLE_POWER_CELSIUS) < 2 * TYPING_TOLERANCE_KELVIN:
        return "127.9 °C is what a sensor says when it gets too little power. Check its supply wire and read again."
    if not LOWEST_CELSIUS <= celsius <= HIGHEST_CELSIUS:
        return "The sensor measures only from -55 to 125 °C (-67 to 257 °F). Check the figure and its unit."
    if _is(celsius, LOWEST_CELSIUS):
        return "-55 °C, the end of the range, is what some controllers show when the sensor does not answer. Read again."
    if celsius == 0 and not ice_expected:
        return "Exactly 0.0 °C is also what a shorted data wire reads. Keep it only if the place really is at freezing."
    return ""


def _is(celsius: float, fault_celsius: float) -> bool:
    """Whether a reading typed to a tenth of a degree, in °C or °F, is this fault value."""
    return abs(celsius - fault_celsius) <= TYPING_TOLERANCE_KELVIN
