"""The readings of one point of a check, several of each sensor, typed in the unit the shop reads."""

import re
from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from django.http import QueryDict

from kits import units
from kits.forms.checks import NowForm
from kits.pasted import MOST_READINGS, read_number
from kits.units import MINUS

REFERENCE = "reference"
FEWEST_ROUNDS, MOST_BOXES = 3, 8
TOO_LARGE = 10_000
TEN_THOUSANDTH = Decimal("0.0001")


def to_celsius(typed: Decimal, unit: str) -> Decimal:
    """A reading as it is kept: °C, to a ten-thousandth."""
    celsius = units.fahrenheit_to_celsius(typed) if unit == "F" else typed
    return celsius.quantize(TEN_THOUSANDTH, ROUND_HALF_EVEN)


def as_typed(celsius: Decimal, unit: str) -> str:
    """A reading that was kept, as it was typed in this unit.

    >>> as_typed(Decimal("0.0556"), "F"), as_typed(Decimal("-0.0600"), "C"), as_typed(Decimal("100"), "C")
    ('32.1', '-0.06', '100')
    """
    shown = units.celsius_to_fahrenheit(celsius) if unit == "F" else celsius
    text = f"{shown:.3f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


class ReadingsForm(NowForm):
    """What each instrument of a point reads. A field of the same name for each reading, or one with several in it.

    Only instruments whose boxes differ from how they were drawn are given on, so that two people who type at the same
    point do not wipe each other's readings.
    """

    def __init__(
        self,
        *args: Any,
        kept: Mapping[str, Sequence[Decimal]],
        names: Mapping[str, str],
        unit: str,
        rounds: int = 0,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.names, self.unit = names, unit
        self.kept = {key: [as_typed(value, unit) for value in kept.get(key, ())] for key in names}
        self.rounds = max(
            [FEWEST_ROUNDS, min(rounds, MOST_BOXES), *(len(self.boxes(key)) for key in names)],
        )
        self.troubles: dict[str, str] = {}
        # Of an instrument with something unreadable among its readings: those that can be read.
        self.readable: dict[str, list[Decimal]] = {}

    @property
    def as_lines(self) -> bool:
        """Too many readings for boxes: then they stand one behind the other in one field for each instrument."""
        return self.rounds > MOST_BOXES

    def typed(self, key: str) -> list[str] | None:
        """What was sent for an instrument, box by box; None when nothing about it was."""
        if not self.is_bound or key not in self.data:
            return None
        sent = self.data.getlist(key) if isinstance(self.data, QueryDict) else [self.data[key]]
        return [box.strip() for box in sent]

    def boxes(self, key: str) -> list[str]:
        """What stands in the boxes of an instrument."""
        typed = self.typed(key)
        if typed is None:
            return self.kept[key]
        while typed and not typed[-1]:
            typed = typed[:-1]
        words = [word for box in typed for word in split(box)]
        return words if len(words) > len(typed) else typed

    def was(self, key: str) -> str:
        """What was kept of an instrument when the page was drawn, as the page sends it back."""
        return " ".join(self.kept[key])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        readings: dict[str, list[Decimal]] = {}
        for key, name in self.names.items():
            typed = self.typed(key)
            if typed is None:
                continue
            words = [word for box in typed for word in split(box)]
            if f"was-{key}" in self.data and " ".join(words) == self.data[f"was-{key}"]:
                continue
            if trouble := self.trouble(words, name):
                self.troubles[key] = trouble
                figures = [figure for word in words if (figure := read_number(word)) is not None]
                self.readable[key] = [to_celsius(one, self.unit) for one in figures if abs(one) < TOO_LARGE]
            else:
                readings[key] = [to_celsius(read_number(word) or Decimal(0), self.unit) for word in words]
        if self.troubles:
            self.add_error(None, " ".join(self.troubles.values()))
        cleaned["readings"] = readings
        return cleaned

    @staticmethod
    def trouble(words: Sequence[str], name: str) -> str:
        """Why what was typed for an instrument is not kept, as a sentence, or nothing."""
        for number, word in enumerate(words, start=1):
            figure = read_number(word)
            if figure is None:
                return f"“{word[:20]}” is no number ({name}, reading {number}). Write it like 32.1."
            if abs(figure) >= TOO_LARGE:
                return f"{word[:20]} is no temperature ({name}, reading {number})."
        if len(words) > MOST_READINGS:
            return f"{len(words)} readings of {name} are too many: a point holds {MOST_READINGS}."
        return ""


def split(box: str) -> list[str]:
    """The readings in one box.

    >>> split("32.1  32,2;31.9"), split("− 0.5")
    (['32.1', '32,2', '31.9'], ['-0.5'])
    """
    tidy = re.sub(rf"([-+{MINUS}])\s+(?=\d)", r"\1", box.replace(MINUS, "-"))
    return [word for word in re.split(r"[\s;]+", tidy) if word]
