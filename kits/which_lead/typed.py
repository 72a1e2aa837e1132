"""Which lead it was, from values written down before and after a hold: no series, so less can be seen (pure, no Django)."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from kits.which_lead import sentences as say
from kits.which_lead.gates import LEAST_CHANGE_KELVIN, SKIN_CELSIUS, Gates, Moved, furthest_first
from kits.which_lead.judgement import Judgement, Shown
from kits.which_lead.series import COLDEST_CELSIUS, HOTTEST_CELSIUS, POWER_ON_CELSIUS, median

RETURN_SHARE = 0.20
CANNOT_SEE = (
    "whether the leads were quiet before",
    "whether it began when the hand closed",
    "whether a lead was read while it had just been plugged in",
)
CANNOT_SEE_RETURN = "whether it came back when let go"


@dataclass(frozen=True)
class TypedValues:
    """One lead on paper, in °C as the sensor said it; None where nothing was written."""

    rom: str
    before_celsius: float | None
    after_celsius: float | None
    two_minutes_later_celsius: float | None = None


def judge_typed(
    rows: Sequence[TypedValues],
    *,
    skin_celsius: float = SKIN_CELSIUS,
    unnamed: Collection[str] | None = None,
    warm_or_cold: str = "hand",
    shown: Shown | None = None,
) -> Judgement:
    """What values before and after a hold of 45 s say. What they cannot show stands in `cannot_see`."""
    left = frozenset((row.rom for row in rows) if unnamed is None else unnamed)
    shown = shown or Shown.in_unit("C", sorted({*(row.rom for row in rows), *left}))
    gates = Gates.of(left, skin_celsius, warm_or_cold, shown)
    blind: tuple[str, ...] = CANNOT_SEE
    if all(row.two_minutes_later_celsius is None for row in rows):
        blind = (*CANNOT_SEE, CANNOT_SEE_RETURN)
    return replace(_judged(gates, rows), cannot_see=blind)


def _judged(gates: Gates, rows: Sequence[TypedValues]) -> Judgement:
    if not gates.unnamed:
        return say.nobody_left()
    if len(gates.unnamed) == 1:
        return say.by_elimination(gates.shown, next(iter(gates.unnamed)))
    moved = {row.rom: one for row in rows if (one := _moved(row)) is not None}
    if not any(rom in moved for rom in gates.unnamed):
        return say.nothing_typed()
    missing = sorted(gates.unnamed - set(moved))
    if missing:
        return say.typed_is_missing(gates.shown, missing)
    baselines = [moved[rom].baseline for rom in gates.unnamed]
    if all(gates.is_near(celsius) for celsius in baselines):
        return say.near(gates.shown, median(baselines), gates.target, gates.cold)
    leader, *others = furthest_first(moved.values())
    numbers = say.Numbers.of(leader, others[0] if others else None)
    return (
        gates.too_many_move(leader, others, numbers)
        or _too_little(gates, leader, numbers)
        or gates.not_by_a_hand(leader, numbers)
        or _returned(gates, leader, numbers, rows)
    )


def _usable(celsius: float | None) -> bool:
    return (
        celsius is not None and COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS and celsius != POWER_ON_CELSIUS
    )


def _moved(row: TypedValues) -> Moved | None:
    before, after = row.before_celsius, row.after_celsius
    if before is None or after is None or not (_usable(before) and _usable(after)):
        return None
    return Moved(row.rom, before, after - before)


def _too_little(gates: Gates, leader: Moved, numbers: say.Numbers) -> Judgement | None:
    if abs(leader.change) < LEAST_CHANGE_KELVIN:
        return say.nothing_moves(gates.shown, numbers, gates.cold)
    return None


def _returned(gates: Gates, leader: Moved, numbers: say.Numbers, rows: Sequence[TypedValues]) -> Judgement:
    """With a third value written two minutes after letting go, the lead must have come back by a fifth."""
    later = next(row.two_minutes_later_celsius for row in rows if row.rom == leader.rom)
    if later is None or not _usable(later):
        return say.decided(gates.shown, numbers)
    share = 1.0 - (later - leader.baseline) / leader.change
    if share < RETURN_SHARE - 1e-9:
        return say.not_returning(gates.shown, numbers, share)
    return say.decided(gates.shown, numbers, returned_share=share)
