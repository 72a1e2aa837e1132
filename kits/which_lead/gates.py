"""The gates every judgement passes, from live series or from paper: who else moves, and could a hand do this? (pure)"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from kits.which_lead import sentences as say
from kits.which_lead.judgement import Judgement, Shown

SKIN_CELSIUS = 31.0
COLD_CELSIUS = 8.0
NEAR_KELVIN = 4.0
PAST_HAND_KELVIN = 6.0
PAST_CAN_KELVIN = 14.0

LEAST_CHANGE_KELVIN = 2.0
LEAST_MARGIN = 3.0
STILL_KELVIN = 0.5
MARGIN_WHEN_ANOTHER_MOVES = 6.0
TOO_MUCH_FOR_A_NEIGHBOUR_KELVIN = 1.0
CROWD_KELVIN = 0.8


AnyMoved = TypeVar("AnyMoved", bound="Moved")


@dataclass(frozen=True)
class Moved:
    """One lead: where it was before the hold, and by how much it has moved since."""

    rom: str
    baseline: float
    change: float = 0.0


def furthest_first(leads: Iterable[AnyMoved]) -> list[AnyMoved]:
    """By how far they moved. Two that moved as far either way are told apart by the way, never by their numbers."""
    return sorted(leads, key=lambda one: (-abs(one.change), -one.change, one.rom))


@dataclass(frozen=True)
class Gates:
    """What the leads are held against: the leads still without a name, and the temperature of the hand or the can."""

    unnamed: frozenset[str]
    target: float
    cold: bool
    shown: Shown

    @classmethod
    def of(cls, unnamed: frozenset[str], skin_celsius: float, warm_or_cold: str, shown: Shown) -> "Gates":
        if warm_or_cold not in ("hand", "cold"):
            raise ValueError(f'warm_or_cold is "hand" or "cold", not {warm_or_cold!r}')
        cold = warm_or_cold == "cold"
        return cls(unnamed, COLD_CELSIUS if cold else skin_celsius, cold, shown)

    def is_near(self, celsius: float) -> bool:
        """Too near the hand to be moved by it; a cold can moves nothing that is as cold already."""
        return celsius < self.target + NEAR_KELVIN if self.cold else abs(celsius - self.target) < NEAR_KELVIN

    def too_many_move(self, leader: Moved, others: Sequence[Moved], numbers: say.Numbers) -> Judgement | None:
        """Equipment starting, or two leads held."""
        moving = [one for one in others if abs(one.change) >= STILL_KELVIN]
        if abs(leader.change) < LEAST_CHANGE_KELVIN:
            crowd = [one for one in (leader, *moving) if abs(one.change) >= CROWD_KELVIN]
            return say.all_move(self.shown, len(crowd), numbers) if len(crowd) >= 3 else None
        if not moving:
            return None
        second = abs(moving[0].change)
        same_way = moving[0].change * leader.change > 0
        if abs(leader.change) >= MARGIN_WHEN_ANOTHER_MOVES * second and (
            second < TOO_MUCH_FOR_A_NEIGHBOUR_KELVIN or not same_way
        ):
            return None
        rivals = [one for one in moving if abs(one.change) * LEAST_MARGIN > abs(leader.change)]
        if len(rivals) >= 2:
            return say.all_move(self.shown, 1 + len(rivals), numbers)
        if not same_way:
            return say.another_the_other_way(self.shown, numbers)
        return say.two_lead(self.shown, numbers)

    def not_by_a_hand(self, leader: Moved, numbers: say.Numbers) -> Judgement | None:
        """The wrong way, past the hand's own temperature, named already, or as warm as the hand from the start."""
        level = leader.baseline + leader.change
        towards = self.target - leader.baseline
        if leader.rom not in self.unnamed:
            return say.named_already(self.shown, numbers)
        if self.is_near(leader.baseline):
            return say.near(self.shown, leader.baseline, self.target, self.cold, numbers)
        if leader.change * towards < 0:
            return say.wrong_way(self.shown, numbers, leader.baseline, level, self.target, self.cold)
        if (level - self.target) * towards > 0 and abs(level - self.target) > (
            PAST_CAN_KELVIN if self.cold else PAST_HAND_KELVIN
        ):
            return say.past_the_hand(self.shown, numbers, level, self.target, self.cold)
        return None
