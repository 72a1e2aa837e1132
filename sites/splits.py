"""How well a temperature split (return minus supply) is known, from the checks of the two sensors."""

from dataclasses import dataclass
from datetime import datetime

from kits.check_arithmetic import budget_from
from kits.measuring.budget import Budget, Term, rectangular, resolution
from kits.measuring.difference import Difference, difference, without_offset
from kits.measuring.point import SENSOR_STEP_KELVIN
from kits.models import Offset, Sensor
from kits.units import Unit, difference_text


@dataclass(frozen=True, kw_only=True)
class Split:
    """The uncertainty of the difference between two sensors at an instant, and where it comes from."""

    difference: Difference
    same_sitting: bool
    """Both were corrected by one check, so what they have in common cancels."""
    why: str

    @property
    def expanded_kelvin(self) -> float:
        """U for 95 %."""
        return self.difference.expanded_kelvin

    def sentence(self, unit: Unit) -> str:
        """ "± 0.2 °F (95 %), both sensors checked in one sitting"."""
        return f"± {difference_text(self.expanded_kelvin, unit, 1, signed=False)} (95 %), {self.why}"


def split_between(first: Sensor, second: Sensor, instant: datetime) -> Split:
    """How well `first` minus `second` was known at `instant`, with the offsets then in force."""
    offsets = first.offset_at(instant), second.offset_at(instant)
    return split_of(*offsets)


def split_of(first: Offset | None, second: Offset | None) -> Split:
    """The same from the offsets, for a page that has them already. `result` and its sitting are followed."""
    checks = [
        offset.result.sitting_id if offset is not None and offset.result is not None else None
        for offset in (first, second)
    ]
    same = checks[0] is not None and checks[0] == checks[1]
    whole = difference(budget_of(first), budget_of(second), same_sitting=same, in_use=IN_USE)
    return Split(difference=whole, same_sitting=same, why=why(first, second, same=same))


# What comes to each sensor in a house: it shows steps of its own there too.
IN_USE: tuple[Term, ...] = (resolution("In use: one step of its reading", SENSOR_STEP_KELVIN),)


def budget_of(offset: Offset | None) -> Budget:
    """What an offset leaves uncertain: the budget of its check, else what was entered with it, else the maker's figure."""
    if offset is None:
        return without_offset()
    if offset.result is not None:
        return budget_from(offset.result.arithmetic["budget"])
    if offset.uncertainty_kelvin:
        term = Term(
            name="Offset: uncertainty entered by hand",
            stated_kelvin=float(offset.uncertainty_kelvin),
            divisor=2.0,
            note="taken as U with k = 2",
        )
        return Budget.of(term)
    return Budget.of(rectangular("Offset entered by hand, nobody said how well", 0.5))


def why(first: Offset | None, second: Offset | None, *, same: bool) -> str:
    """Where the uncertainty comes from, in a few words."""
    if same:
        return "both sensors checked in one sitting"
    bare = (first is None) + (second is None)
    if bare:
        return "neither sensor has an offset" if bare == 2 else "one sensor has no offset"
    by_hand = sum(offset is not None and offset.result is None for offset in (first, second))
    return "offsets entered by hand" if by_hand else "the sensors were checked in two sittings"
