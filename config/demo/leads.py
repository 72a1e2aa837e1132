"""A simulated kit on the bench: leads that obey Newton's law of cooling, in the hand and in still air (pure, seeded).

Time constants are those of a 6 x 50 mm steel probe: some 26 s in a fist, some 210 s in still air. A sensor tells steps of
1/16 K.
"""

import math
from dataclasses import dataclass, field
from random import Random

from kits.rom import crc8

TAU_HAND_S, TAU_AIR_S = 26.0, 210.0
HAND_CELSIUS, CAN_CELSIUS, ROOM_CELSIUS = 31.5, 6.0, 22.0
STEP_KELVIN = 0.0625


def simulated_rom(serial: int) -> str:
    """A valid ROM ID that no sensor was ever made with: its serial begins with zeros."""
    body = bytes([0x28]) + (0x51_0000 + serial).to_bytes(6, "little")
    return (body + bytes([crc8(body)])).hex().upper()


@dataclass
class Leads:
    """Leads by ROM ID; `hold` takes one in the hand, `advance` lets time go by, `read` is what the box would send."""

    roms: list[str]
    room_celsius: float = ROOM_CELSIUS
    seed: int = 1
    held: str | None = None
    touch_celsius: float = HAND_CELSIUS
    present: dict[str, float] = field(init=False)

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)
        self.offset = {rom: self.chance.gauss(0, 0.2) for rom in self.roms}
        self.present = dict.fromkeys(self.roms, self.room_celsius)

    def hold(self, rom: str | None, *, cold: bool = False) -> None:
        """Take a lead in the hand or to a cold can; None lets go."""
        self.held, self.touch_celsius = rom, CAN_CELSIUS if cold else HAND_CELSIUS

    def advance(self, seconds: float) -> None:
        for rom, celsius in self.present.items():
            in_hand = rom == self.held
            goal, tau = (self.touch_celsius, TAU_HAND_S) if in_hand else (self.room_celsius, TAU_AIR_S)
            self.present[rom] = celsius + (goal - celsius) * -math.expm1(-seconds / tau)

    def read(self) -> dict[str, float]:
        """What each sensor says now."""
        said = {
            rom: celsius + self.offset[rom] + self.chance.gauss(0, 0.03)
            for rom, celsius in self.present.items()
        }
        return {rom: round(value / STEP_KELVIN) * STEP_KELVIN for rom, value in said.items()}


def pack(readings: dict[str, float], seconds_ago: float = 0) -> list[dict[str, object]]:
    """One round of readings as a SenML pack."""
    records: list[dict[str, object]] = [
        {
            "n": f"urn:dev:ow:{rom.lower()}",
            "u": "Cel",
            "v": value,
            **({"t": -seconds_ago} if seconds_ago else {}),
        }
        for rom, value in readings.items()
    ]
    return records
