"""What a 24 V transformer still has to give, and what the wire to the kit loses (pure, no Django).

All figures are volt-amperes or volts root mean square of a single-phase Class 2 supply. They are arithmetic on what a
nameplate says: a meter at R and C, with everything pulled in, is the proof.
"""

from dataclasses import dataclass
from typing import Literal

NOMINAL_VOLT = 24.0
WARN_ABOVE_PERCENT = 80.0
FULL_PERCENT = 100.0

# Class 2 circuits of this voltage are limited to 100 VA: a larger figure on a nameplate is not the 24 V side.
CLASS_2_LIMIT_VOLT_AMPERE = 100.0

# Copper, out and back counted apart: ohm per 1000 ft of one conductor at 25 °C, by American wire gauge.
OHM_PER_1000_FT_AT_25_C = {16: 4.091, 18: 6.505}
# The temperature at which copper's resistance, drawn as a straight line, would be nil.
COPPER_ZERO_CELSIUS = -234.5

Verdict = Literal["fine", "tight", "too much"]


@dataclass(frozen=True, kw_only=True)
class Load:
    """One thing that runs off the transformer, at its worst, at the same time as the others."""

    name: str
    volt_ampere: float


@dataclass(frozen=True, kw_only=True)
class Budget:
    """A transformer and all that hangs on it at once."""

    transformer_volt_ampere: float
    kit_volt_ampere: float
    loads: tuple[Load, ...] = ()

    def __post_init__(self) -> None:
        if self.transformer_volt_ampere <= 0:
            raise ValueError("a transformer gives more than nothing")
        if self.kit_volt_ampere < 0 or any(load.volt_ampere < 0 for load in self.loads):
            raise ValueError("a load takes, it does not give")

    @property
    def used_volt_ampere(self) -> float:
        return self.kit_volt_ampere + sum(load.volt_ampere for load in self.loads)

    @property
    def used_percent(self) -> float:
        return 100 * self.used_volt_ampere / self.transformer_volt_ampere

    @property
    def headroom_volt_ampere(self) -> float:
        """What is left; less than nothing when it is overloaded."""
        return self.transformer_volt_ampere - self.used_volt_ampere

    @property
    def headroom_percent(self) -> float:
        return 100 - self.used_percent

    @property
    def room_for_the_rest_volt_ampere(self) -> float:
        """What everything but the kit may take together before the budget gets tight, never less than nothing."""
        return max(
            0.0, self.transformer_volt_ampere * WARN_ABOVE_PERCENT / FULL_PERCENT - self.kit_volt_ampere
        )

    @property
    def verdict(self) -> Verdict:
        """fine up to 80 %, tight up to 100 %, too much above.

        >>> heat_pump = (Load(name="unit", volt_ampere=27),)
        >>> Budget(transformer_volt_ampere=40, kit_volt_ampere=5, loads=heat_pump).verdict
        'fine'
        """
        # Sums of tenths must not turn 80.00000000000001 into a warning.
        used = round(self.used_percent, 6)
        if used > FULL_PERCENT:
            return "too much"
        return "tight" if used > WARN_ABOVE_PERCENT else "fine"

    @property
    def sentence(self) -> str:
        """The verdict in words; above 100 % it is never called fine."""
        used = f"{self.used_volt_ampere:g} of {self.transformer_volt_ampere:g} VA ({self.used_percent:.0f} %)"
        match self.verdict:
            case "too much":
                return f"Too much: {used}. Do not leave the kit on this transformer."
            case "tight":
                return f"Tight: {used}, above 80 %. Read the volts with everything pulled in before you leave it."
        return f"{used}, {self.headroom_volt_ampere:g} VA to spare."


def current_ampere(volt_ampere: float, volt: float = NOMINAL_VOLT) -> float:
    """The current of a load.

    >>> round(current_ampere(40), 2)
    1.67
    """
    return volt_ampere / volt


def ohm_per_1000_ft(awg: int, celsius: float = 25.0) -> float:
    """Resistance of one copper conductor; warm wire resists more.

    >>> round(ohm_per_1000_ft(18, 60), 3)
    7.382
    """
    warmer = (celsius - COPPER_ZERO_CELSIUS) / (25.0 - COPPER_ZERO_CELSIUS)
    return OHM_PER_1000_FT_AT_25_C[awg] * warmer


def wire_drop_volt(one_way_ft: float, ampere: float, resistance_ohm_per_1000_ft: float) -> float:
    """Volts lost in a two-wire run: the current goes out and comes back, so the length counts twice.

    >>> round(wire_drop_volt(100, 0.8, 6.505), 2)
    1.04
    """
    return 2 * one_way_ft / 1000 * ampere * resistance_ohm_per_1000_ft
