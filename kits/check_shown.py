"""What a check says of its sensors, as a page reads it: words and figures in the shop's unit (pure).

Works on the arithmetic as it is kept with a closed check (`kits.check_arithmetic.plain_of`), so that a page of an old check and
the preview of an open one are drawn alike.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from kits.units import NARROW_BLANK, Unit, difference_text, temperature_text
from kits.words import Tone

WORDS: dict[str, tuple[str, Tone]] = {
    "good": ("Good", "good"),
    "use_offset": ("Use offset", "attention"),
    "replace": ("Replace", "late"),
}
CONFORMITY_TONES: dict[str, Tone] = {
    "pass": "good",
    "conditional pass": "attention",
    "conditional fail": "attention",
    "fail": "late",
}


@dataclass(frozen=True, kw_only=True)
class BudgetLine:
    """One term of a budget."""

    name: str
    note: str
    value: str
    divisor: str
    standard: str
    freedom: str
    share: str
    shared: bool


@dataclass(frozen=True, kw_only=True)
class BudgetShown:
    """A budget and what it comes to."""

    lines: Sequence[BudgetLine]
    standard: str
    shared: str
    freedom: str
    factor: str
    expanded: str


@dataclass(frozen=True, kw_only=True)
class PointShown:
    """One temperature."""

    number: int
    reference: str
    sensor: str
    offset: str
    expanded: str
    as_found: str
    as_found_word: str
    as_found_tone: Tone
    readings: str
    notes: Sequence[str]
    budget: BudgetShown


@dataclass(frozen=True, kw_only=True)
class LineShown:
    """The straight line through the points."""

    intercept: str
    about: str
    slope: str
    correlation: str
    scatter: str
    freedom: str
    reach: str


@dataclass(kw_only=True)
class SensorShown:
    """One sensor: the word in large, the figures, the arithmetic beneath."""

    member: Any
    word: str = ""
    tone: Tone = "plain"
    advice: str = ""
    offset: str = ""
    offset_varies: str = ""
    give_or_take: str = ""
    as_found: str = ""
    as_found_word: str = ""
    as_found_tone: Tone = "plain"
    as_left: str = ""
    as_left_word: str = ""
    as_left_tone: Tone = "plain"
    probability: str = ""
    offset_then: str = ""
    due: str = ""
    points: Sequence[PointShown] = field(default_factory=list)
    budget: BudgetShown | None = None
    line: LineShown | None = None
    trouble: Sequence[str] = ()

    @property
    def sensor(self) -> Any:
        return self.member.sensor

    @property
    def notes(self) -> list[str]:
        """What is to be known about the readings, each once."""
        return list(dict.fromkeys(note for point in self.points for note in point.notes))


def percent_text(probability: float) -> str:
    """A probability as people read it.

    >>> percent_text(0.02275), percent_text(0.00002), percent_text(0.9997)
    ('2.3 %', 'less than 0.1 %', 'more than 99.9 %')
    """
    if probability < 0.001:
        return "less than 0.1 %"
    if probability > 0.999:
        return "more than 99.9 %"
    return f"{probability * 100:.1f}{NARROW_BLANK}%".replace(NARROW_BLANK, " ")


def freedom_text(freedom: float | None) -> str:
    """Degrees of freedom; those of what was not found from readings have no end."""
    return "endless" if freedom is None else f"{freedom:.0f}"


def budget_shown(plain: Mapping[str, Any], unit: Unit) -> BudgetShown:
    def kelvin(value: float, places: int = 4) -> str:
        return difference_text(value, unit, places, signed=False)

    lines = [
        BudgetLine(
            name=term["name"],
            note=term["note"],
            value=kelvin(term["stated_kelvin"]),
            divisor=f"{term['divisor']:.3f}".rstrip("0").rstrip("."),
            standard=kelvin(term["standard_uncertainty_kelvin"]),
            freedom=freedom_text(term["degrees_of_freedom"]),
            share=f"{term['share_percent']:.0f} %",
            shared=term["shared"],
        )
        for term in plain["terms"]
    ]
    return BudgetShown(
        lines=lines,
        standard=kelvin(plain["standard_uncertainty_kelvin"]),
        shared=kelvin(plain["shared_kelvin"]),
        freedom=freedom_text(plain["degrees_of_freedom"]),
        factor=f"{plain['coverage_factor']:.2f}",
        expanded=kelvin(plain["expanded_kelvin"], 3),
    )


def point_shown(plain: Mapping[str, Any], unit: Unit) -> PointShown:
    found = plain["as_found"]
    readings = [
        temperature_text(value, unit, 2).partition(NARROW_BLANK)[0]
        for value in plain["sensor_readings_celsius"]
    ]
    return PointShown(
        number=plain["number"],
        reference=temperature_text(plain["reference_mean_celsius"], unit, 2),
        sensor=temperature_text(plain["sensor_mean_celsius"], unit, 2),
        offset=difference_text(plain["offset_kelvin"], unit, 2),
        expanded=f"± {difference_text(plain['budget']['expanded_kelvin'], unit, 2, signed=False)}",
        as_found=difference_text(found["error_kelvin"], unit, 2),
        as_found_word=found["word"],
        as_found_tone=CONFORMITY_TONES[found["word"]],
        readings=", ".join(readings),
        notes=[*plain["notes"], *plain["suspects"]],
        budget=budget_shown(plain["budget"], unit),
    )


def line_shown(plain: Mapping[str, Any], unit: Unit) -> LineShown:
    slope = plain["slope_kelvin_per_kelvin"]  # K for each K is also °F for each °F

    def give_or_take(kelvin: float, places: int = 3) -> str:
        return difference_text(kelvin, unit, places, signed=False)

    return LineShown(
        intercept=f"{difference_text(plain['intercept_kelvin'], unit, 3)}, u {give_or_take(plain['intercept_uncertainty_kelvin'])}",
        about=temperature_text(plain["zero_celsius"], unit, 1),
        slope=f"{slope:+.5f} for each degree, u {plain['slope_uncertainty_kelvin_per_kelvin']:.5f}".replace(
            "-", "−"
        ),
        correlation=f"{plain['correlation']:+.3f}".replace("-", "−"),
        scatter=give_or_take(plain["scatter_kelvin"], 4),
        freedom=freedom_text(plain["degrees_of_freedom"]),
        reach=f"{temperature_text(plain['lowest_celsius'], unit)} to {temperature_text(plain['highest_celsius'], unit)}",
    )


def varies_text(offset: Mapping[str, Any], unit: Unit) -> str:
    """How an offset that is another one at another temperature runs; nothing for one that does not."""
    if not offset["points"] and not offset["slope_kelvin_per_kelvin"]:
        return ""
    if offset["points"]:
        each = [
            f"{difference_text(add, unit, 2)} at {temperature_text(at, unit)}" for at, add in offset["points"]
        ]
        return f"{', '.join(each)}; straight between"
    return f"at {temperature_text(offset['about_celsius'], unit)}, on a straight line"


def sensor_shown(
    member: Any, plain: Mapping[str, Any], unit: Unit, *, verdict: str, due_on: str
) -> SensorShown:
    """A sensor whose result stands (or would stand, closed now)."""
    points = [point_shown(point, unit) for point in plain["points"]]
    decisive = next(one for one in plain["points"] if one["number"] == plain["decisive_point"])
    found, left = decisive["as_found"], plain["as_left"]
    word, tone = WORDS[verdict]
    then = decisive["offset_then_kelvin"]
    return SensorShown(
        member=member,
        word=word,
        tone=tone,
        advice=plain["advice"]["sentence"],
        offset=difference_text(plain["offset"]["offset_kelvin"], unit, 2),
        offset_varies=varies_text(plain["offset"], unit),
        give_or_take=f"± {difference_text(plain['budget']['expanded_kelvin'], unit, 2, signed=False)}",
        as_found=difference_text(found["error_kelvin"], unit, 2),
        as_found_word=found["word"],
        as_found_tone=CONFORMITY_TONES[found["word"]],
        as_left=difference_text(left["error_kelvin"], unit, 2),
        as_left_word=left["word"],
        as_left_tone=CONFORMITY_TONES[left["word"]],
        probability=percent_text(found["probability_out"]),
        offset_then="without an offset" if then is None else f"with {difference_text(then, unit, 2)} added",
        due=due_on,
        points=points,
        budget=budget_shown(plain["budget"], unit),
        line=line_shown(plain["line"], unit) if plain["line"] else None,
    )


def answer(shown: Sequence[SensorShown]) -> str:
    """The page's answer: "4 good, 1 use offset".

    >>> answer([])
    ''
    """
    words = [one.word for one in shown if one.word]
    return ", ".join(f"{words.count(word)} {word.lower()}" for word, _ in WORDS.values() if word in words)
