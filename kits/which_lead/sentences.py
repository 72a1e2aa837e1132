"""The sentences of a judgement: what is so, with the numbers, and what to do now (pure, no Django)."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from kits.which_lead.judgement import Judgement, Kind, Shown
from kits.which_lead.series import STEP_KELVIN, Screened

if TYPE_CHECKING:
    from kits.which_lead.gates import Moved

HANG = "Let all leads hang free, touch none, fan and equipment off"
BEGIN_AGAIN = f"{HANG}. Wait two minutes, then begin again."
COLD_INSTEAD = "Hold a cold can or a wet cloth to the metal tip instead and choose cold: that lead will fall."


class Numbers(NamedTuple):
    """The two leads that moved most, and by how much."""

    leader: str
    change: float
    runner_up: str | None
    runner_up_change: float | None
    margin: float | None

    @classmethod
    def of(cls, leader: "Moved", runner_up: "Moved | None") -> "Numbers":
        if runner_up is None:
            return cls(leader.rom, leader.change, None, None, None)
        margin = abs(leader.change) / max(abs(runner_up.change), STEP_KELVIN)
        return cls(leader.rom, leader.change, runner_up.rom, runner_up.change, margin)


def _of(
    kind: Kind, sentence: str, what_to_do: str, numbers: Numbers | None = None, **more: object
) -> Judgement:
    if numbers is None:
        return Judgement(kind, sentence, what_to_do, **more)  # type: ignore[arg-type]
    return Judgement(
        kind,
        sentence,
        what_to_do,
        leader=numbers.leader,
        change_kelvin=numbers.change,
        runner_up=numbers.runner_up,
        runner_up_kelvin=numbers.runner_up_change,
        margin=numbers.margin,
        **more,  # type: ignore[arg-type]
    )


def _both(shown: Shown, numbers: Numbers) -> str:
    """ "…A1F3 by +4.7 K, the next (…B202) by +0.1 K"."""
    text = f"{shown.lead(numbers.leader)} by {shown.difference(numbers.change)}"
    if numbers.runner_up is not None and numbers.runner_up_change is not None:
        text += (
            f", the next ({shown.lead(numbers.runner_up)}) by {shown.difference(numbers.runner_up_change)}"
        )
    return text


def _about(seconds: float) -> str:
    """A time to wait, in whole fives, so that the words do not flicker."""
    return f"{max(5, 5 * round(seconds / 5))} seconds"


# -- Before ----------------------------------------------------------------------------------------


def nobody_left() -> Judgement:
    return _of(Kind.NO_READINGS, "Every lead of this kit is named.", "There is nothing left to tell apart.")


def no_readings(screened: Iterable[Screened]) -> Judgement:
    left_out = sum(one.power_on + one.impossible for one in screened)
    sentence = "No lead has sent a temperature."
    if left_out:
        sentence = "No lead has sent a usable temperature, only what a sensor says when it has just woken or is not heard."
    return _of(
        Kind.NO_READINGS,
        sentence,
        "See that the box has power and is being read and the leads are plugged in.",
    )


def ready(cold: bool) -> Judgement:
    if cold:
        return _of(
            Kind.NOT_SURE_YET,
            "All leads are quiet.",
            "Hold a cold can or wet cloth to one metal tip.",
            ready_to_hold=True,
        )
    return _of(
        Kind.NOT_SURE_YET,
        "All leads are quiet.",
        "Close a bare hand round one metal tip and keep it closed.",
        ready_to_hold=True,
    )


def too_little_before(
    shown: Shown, missing: Sequence[str], never: Sequence[str], *, waiting: bool
) -> Judgement:
    leads = ", ".join(shown.lead(rom) for rom in (never or missing))
    if never:
        return _of(
            Kind.NOT_SURE_YET if waiting else Kind.REFUSED_UNSTEADY_BASELINE,
            f"No usable reading yet from {leads}.",
            "See that it is plugged in. If it is not in this kit, take it off the list.",
        )
    if waiting:
        return _of(
            Kind.NOT_SURE_YET, "Still finding out where the leads are now.", f"{HANG}, for half a minute."
        )
    return _of(
        Kind.REFUSED_UNSTEADY_BASELINE, f"Too few readings from {leads} before you took hold.", BEGIN_AGAIN
    )


def unsteady(shown: Shown, rom: str, kelvin_per_minute: float, *, waiting: bool) -> Judgement:
    wait = "was" if not waiting else "is"
    return _of(
        Kind.REFUSED_UNSTEADY_BASELINE,
        f"{shown.lead(rom)} {wait} still moving, {shown.difference(kelvin_per_minute)} a minute, with nobody holding it.",
        BEGIN_AGAIN,
    )


def near(
    shown: Shown, celsius: float, target: float, cold: bool, numbers: Numbers | None = None
) -> Judgement:
    which = f"{shown.lead(numbers.leader)} was" if numbers else "The leads are"
    if cold:
        return _of(
            Kind.REFUSED_NEAR_SKIN,
            f"{which} at {shown.temperature(celsius)}, as cold as a cold can. It would not move them.",
            "Use your bare hand and choose hand.",
            numbers,
        )
    return _of(
        Kind.REFUSED_NEAR_SKIN,
        f"{which} at {shown.temperature(celsius)}; a hand is about {shown.temperature(target)}. Too near to tell.",
        COLD_INSTEAD,
        numbers,
    )


# -- During ----------------------------------------------------------------------------------------


def silent(shown: Shown, rom: str, silent_s: float, numbers: Numbers) -> Judgement:
    since = "has sent nothing" if silent_s == float("inf") else f"has sent nothing for {_about(silent_s)}"
    return _of(
        Kind.NOT_SURE_YET,
        f"Not sure yet: {shown.lead(rom)} {since}, so it cannot be ruled out.",
        "Keep holding. If it stays silent, look at its plug.",
        numbers,
    )


def keep_holding(shown: Shown, numbers: Numbers, wait_s: float, slow_s: float | None = None) -> Judgement:
    to_do = f"Keep holding, about {_about(wait_s)} more."
    if slow_s is not None:
        to_do = f"Keep holding. This box has a new reading only every {round(slow_s)} seconds."
    elif wait_s <= 0:
        to_do = "Keep holding the metal tip, bare hand, closed fist."
    return _of(Kind.NOT_SURE_YET, f"Not sure yet: moved most {_both(shown, numbers)}.", to_do, numbers)


def nothing_moves(shown: Shown, numbers: Numbers, cold: bool) -> Judgement:
    to_do = "Unclamp the probe, take off the glove, close your fist round the metal tip. Begin again when all is quiet."
    if not cold:
        to_do += f" Or: {COLD_INSTEAD[0].lower()}{COLD_INSTEAD[1:]}"
    return _of(
        Kind.NOT_SURE_YET,
        f"No lead has moved far enough. Moved most: {_both(shown, numbers)}.",
        to_do,
        numbers,
    )


def nothing_typed() -> Judgement:
    return _of(
        Kind.NO_READINGS,
        "No lead has a usable value before and after. 85.0 and −127 °C are no temperatures.",
        "Write down what every lead reads, hold one tip for 45 seconds, write down all of them again.",
    )


def typed_is_missing(shown: Shown, roms: Sequence[str]) -> Judgement:
    return _of(
        Kind.NOT_SURE_YET,
        f"Not sure yet: {', '.join(map(shown.lead, roms))} has no usable value before and after, so it cannot be ruled out.",
        "Type both values of every lead. If one is not in this kit, take it off the list.",
    )


def let_go_too_early(shown: Shown, numbers: Numbers) -> Judgement:
    return _of(
        Kind.NOT_SURE_YET,
        f"Let go too early to tell. Moved most: {_both(shown, numbers)}.",
        f"{HANG}. Wait two minutes, then hold for 45 seconds.",
        numbers,
    )


def all_move(shown: Shown, count: int, numbers: Numbers) -> Judgement:
    return _of(
        Kind.REFUSED_ALL_MOVE,
        f"{count} leads move together, {_both(shown, numbers)}. Equipment or a fan has started, or they lie in one bundle.",
        f"Switch equipment and fan off, spread the leads. {BEGIN_AGAIN}",
        numbers,
    )


def another_the_other_way(shown: Shown, numbers: Numbers) -> Judgement:
    return _of(
        Kind.REFUSED_ALL_MOVE,
        f"Two leads move opposite ways, {_both(shown, numbers)}. No hand does that; equipment or a fan has started.",
        f"Switch equipment and fan off. {BEGIN_AGAIN}",
        numbers,
    )


def two_lead(shown: Shown, numbers: Numbers) -> Judgement:
    return _of(
        Kind.REFUSED_TWO_LEAD,
        f"Two leads move, {_both(shown, numbers)}.",
        f"Hold one tip only, and spread the leads so that they do not warm each other. {BEGIN_AGAIN}",
        numbers,
    )


def named_already(shown: Shown, numbers: Numbers) -> Judgement:
    return _of(
        Kind.NOT_SURE_YET,
        f"The lead that moves, {shown.lead(numbers.leader)} ({shown.difference(numbers.change)}), is named already.",
        "Take another lead. If that name was wrong, undo it first.",
        numbers,
    )


def wrong_way(
    shown: Shown, numbers: Numbers, baseline: float, level: float, target: float, cold: bool
) -> Judgement:
    went = (
        f"{shown.lead(numbers.leader)} went from {shown.temperature(baseline)} to {shown.temperature(level)}"
    )
    if cold:
        why = "something cold would make it fall"
    else:
        why = f"a hand at about {shown.temperature(target)} would move it the other way"
    return _of(
        Kind.REFUSED_ALL_MOVE,
        f"{went}; {why}. Something else moves it.",
        f"Switch equipment and fan off, out of the sun. {BEGIN_AGAIN}",
        numbers,
    )


def past_the_hand(shown: Shown, numbers: Numbers, level: float, target: float, cold: bool) -> Judgement:
    limit = "what a cold can reaches" if cold else f"a hand, about {shown.temperature(target)}"
    return _of(
        Kind.REFUSED_ALL_MOVE,
        f"{shown.lead(numbers.leader)} went to {shown.temperature(level)}, well past {limit}. Something else moves it.",
        f"Switch equipment and fan off, out of the sun. {BEGIN_AGAIN}",
        numbers,
    )


# -- The end ---------------------------------------------------------------------------------------


def decided(shown: Shown, numbers: Numbers, returned_share: float | None = None) -> Judgement:
    sentence = f"It is {shown.lead(numbers.leader)}. Moved most: {_both(shown, numbers)}"
    if numbers.margin is not None:
        times = f"{numbers.margin:.0f}" if numbers.margin <= 20 else "more than 20"
        sentence += f", {times} times as much"
    if returned_share is not None:
        sentence += f"; let go, it came back by {100 * min(returned_share, 1.0):.0f} %"
    return _of(
        Kind.DECIDED,
        sentence + ".",
        "Name it, put its tape on now, and lay it apart from the others.",
        numbers,
        rom=numbers.leader,
        returned_share=returned_share,
    )


def let_go(shown: Shown, numbers: Numbers) -> Judgement:
    return _of(
        Kind.NOT_SURE_YET,
        f"It looks like {_both(shown, numbers)}, but something else could move it so.",
        "Let go now and say so: if it was your hand, it comes back within two minutes.",
        numbers,
        let_go=True,
    )


def wait_for_return(shown: Shown, numbers: Numbers, share: float, left_s: float) -> Judgement:
    return _of(
        Kind.NOT_SURE_YET,
        f"{shown.lead(numbers.leader)} moved by {shown.difference(numbers.change)} and has come back by "
        f"{100 * max(share, 0):.0f} %; 20 % will do.",
        f"Leave it hanging, at most {_about(left_s)} more.",
        numbers,
        returned_share=share,
    )


def not_returning(shown: Shown, numbers: Numbers, share: float) -> Judgement:
    return _of(
        Kind.RELEASED_NOT_RETURNING,
        f"{shown.lead(numbers.leader)} moved by {shown.difference(numbers.change)} but came back by only "
        f"{100 * max(share, 0):.0f} % in two minutes. It was not your hand that moved it.",
        f"Switch equipment and fan off, out of the sun. {BEGIN_AGAIN}",
        numbers,
        returned_share=share,
    )


def by_elimination(shown: Shown, rom: str) -> Judgement:
    return _of(
        Kind.DECIDED,
        f"Only {shown.lead(rom)} is left, so the last lead is that one. Nothing was measured.",
        "Look whether exactly one lead has no tape, then confirm it.",
        rom=rom,
        leader=rom,
        by_elimination=True,
    )


def last_does_not_move(shown: Shown, rom: str, measured: Judgement) -> Judgement:
    moved = f" ({shown.difference(measured.change_kelvin)})" if measured.change_kelvin is not None else ""
    return _of(
        Kind.NOT_SURE_YET,
        f"Only {shown.lead(rom)} is left, but no such movement is seen{moved} while you hold the last lead.",
        "Look for a lead that is named twice or not plugged in; else confirm by looking.",
        leader=rom,
        change_kelvin=measured.change_kelvin,
    )
