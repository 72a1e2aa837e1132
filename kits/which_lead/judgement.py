"""What a judgement says, and how numbers in its sentences are written (pure, no Django)."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from kits.rom import rom_tail
from kits.units import Unit, difference_text, temperature_text


class Kind(StrEnum):
    """What a judgement comes to. Only `decided` names a lead; every other kind means: name nothing now."""

    NOT_SURE_YET = "not_sure_yet"
    DECIDED = "decided"
    REFUSED_NEAR_SKIN = "refused_near_skin"
    REFUSED_ALL_MOVE = "refused_all_move"
    REFUSED_TWO_LEAD = "refused_two_lead"
    REFUSED_UNSTEADY_BASELINE = "refused_unsteady_baseline"
    NO_READINGS = "no_readings"
    RELEASED_NOT_RETURNING = "released_not_returning"


@dataclass(frozen=True)
class Shown:
    """How temperatures, differences and leads are written in sentences: in the shop's unit, by the ROM ID's tail."""

    temperature: Callable[[float], str]
    difference: Callable[[float], str]
    lead: Callable[[str], str]

    @classmethod
    def in_unit(cls, unit: Unit, roms: Iterable[str] = ()) -> "Shown":
        """In °C or °F. A difference is × 1.8 and never gets the 32. `roms` are those a tail must be told apart from."""
        among = tuple(roms)
        return cls(
            temperature=lambda celsius: temperature_text(celsius, unit),
            difference=lambda kelvin: difference_text(kelvin, unit),
            lead=lambda rom: f"…{rom_tail(rom, among)}",
        )


@dataclass(frozen=True)
class Judgement:
    """One look at the leads: what can be said now, in numbers and in two sentences.

    `change_kelvin` and `runner_up_kelvin` are changes from before the hold, with sign. `margin` is how many times
    larger the first is than the second (a second that stands still counts as one step of the sensor, 0.0625 K).
    `leader` moved most so far and is for showing only; `rom` is set when the lead is decided, and then alone.
    """

    kind: Kind
    sentence: str
    what_to_do: str
    rom: str | None = None
    leader: str | None = None
    change_kelvin: float | None = None
    runner_up: str | None = None
    runner_up_kelvin: float | None = None
    margin: float | None = None
    by_elimination: bool = False
    let_go: bool = False
    ready_to_hold: bool = False
    returned_share: float | None = None
    cannot_see: tuple[str, ...] = ()

    @property
    def is_decided(self) -> bool:
        """Whether it names a lead."""
        return self.kind is Kind.DECIDED

    @property
    def is_refused(self) -> bool:
        """Whether holding on longer does not help: do what `what_to_do` says and begin again."""
        return self.kind.startswith("refused") or self.kind in (Kind.NO_READINGS, Kind.RELEASED_NOT_RETURNING)

    @property
    def must_be_confirmed(self) -> bool:
        """Whether a person has to say so themselves, because nothing was measured."""
        return self.by_elimination
