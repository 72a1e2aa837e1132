"""What one row of a file would do, and what every planner of rows shares."""

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from kits.actions.many import Many
from reports.importing.cells import BadCell, bare, text_of
from reports.importing.fields import Field, Kind, Options
from reports.importing.grid import Line, Value, is_blank

MOST_HINTS = 40  # looking for near names takes time; the first misses say enough


class Outcome(StrEnum):
    """What would become of a row."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    REFUSED = "refused"

    @property
    def words(self) -> str:
        return {"same": "left alone"}.get(self.value, self.value)

    @property
    def tone(self) -> str:
        return {"new": "good", "changed": "good", "refused": "late"}.get(self.value, "plain")


@dataclass(frozen=True)
class Problem:
    """Why a row is refused: the field, what is wrong and how to mend it."""

    label: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.label}: {self.sentence}" if self.label else self.sentence


Job = Callable[[Many], object]


@dataclass
class RowPlan:
    """One row: what it is about, what would become of it and why."""

    line: int
    outcome: Outcome
    what: str
    details: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    job: Job | None = None

    @property
    def why(self) -> str:
        return " ".join(str(problem) for problem in self.problems)


class RowRefused(Exception):
    """The row cannot go in."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__("; ".join(map(str, problems)))
        self.problems = problems


def refuse(label: str, sentence: str) -> RowRefused:
    return RowRefused(Problem(label, sentence))


@cache
def how_to_read(kind: Kind, target: str, options: Options) -> tuple[str, Field, Options]:
    """The field that a column was told to hold, and how its cells are meant."""
    name, _, unit = target.partition("@")
    return name, kind.field(name), replace(options, unit=unit)


# What a word may be told to mean besides one of the choices.
LEFT_EMPTY = "-"
NO_WORDS: Mapping[str, str] = {}


def word_key(field: str, cell: Value) -> str:
    """Under which a word of the shop's own is remembered for a field of choices."""
    try:
        return f"{field}:{bare(text_of(cell))}"
    except BadCell:
        return ""


def read_values(
    line: Line, targets: Mapping[int, str], kind: Kind, options: Options, words: Mapping[str, str] = NO_WORDS
) -> tuple[dict[str, Any], list[Problem]]:
    """The values of a row by field, empty cells left out, and what could not be read.

    `words` says by `word_key` what words of the shop's own mean.
    """
    values: dict[str, Any] = {}
    problems = []
    for index, target in targets.items():
        cell = line.cells[index] if index < len(line.cells) else None
        if is_blank(cell):
            continue
        name, known, meant = how_to_read(kind, target, options)
        if known.choices and (key := word_key(name, cell)) in words:
            if words[key] != LEFT_EMPTY:
                values[name] = words[key]
            continue
        try:
            value = known.read(cell, meant)
        except BadCell as bad:
            problems.append(Problem(known.label, str(bad)))
            continue
        if value != "" or name == "tag_colour":
            values[name] = value
    return values, problems


class Planner:
    """Plans rows of one kind against the books. Made anew for each look, so that it knows the books as they are."""

    kind: Kind

    def __init__(self) -> None:
        self.seen: dict[Any, tuple[int, dict[str, Any]]] = {}
        self.hints = 0

    def plan(self, line: int, values: dict[str, Any]) -> RowPlan:
        """What a row that could be read would do. Raises RowRefused."""
        raise NotImplementedError

    def label(self, name: str) -> str:
        return self.kind.field(name).label

    def once(self, key: Any, line: int, values: Mapping[str, Any], what: str) -> RowPlan | None:
        """None for the first row about a thing; a plan that leaves it alone when a row repeats an earlier one."""
        first_line, said_there = self.seen.setdefault(key, (line, dict(values)))
        if first_line == line:
            return None
        # An empty cell says nothing, so a row that says less than the first one says nothing else.
        otherwise = [name for name, value in values.items() if said_there.get(name) != value]
        if not otherwise:
            return RowPlan(line, Outcome.SAME, what, [f"the same as line {first_line}"])
        about = ", ".join(self.label_or_name(name) for name in otherwise)
        raise refuse(
            about,
            f"Line {first_line} is about the same {self.kind.one} and says otherwise. Keep one of the two.",
        )

    def near(self, typed: str, known: Iterable[str]) -> str:
        """A hint of names like the one that is not there."""
        if self.hints >= MOST_HINTS:
            return ""
        self.hints += 1
        found = get_close_matches(typed, list(known), n=2, cutoff=0.75)
        return f" Near it: {' or '.join(found)}." if found else ""

    def problems_of(self, row: models.Model, names: Iterable[str]) -> list[Problem]:
        """What the model itself finds wrong with these fields of a row that is not saved."""
        names = set(names)
        others = [one.name for one in row._meta.fields if one.name not in names]
        try:
            row.clean_fields(exclude=others)
        except ValidationError as error:
            return [
                Problem(self.label_or_name(name), " ".join(in_our_words(one) for one in found))
                for name, found in error.error_dict.items()
            ]
        return []

    def label_or_name(self, name: str) -> str:
        return next((one.label for one in self.kind.fields if one.name == name), name.replace("_", " "))

    def checked(self, row: models.Model, fields: Mapping[str, Any]) -> None:
        """Set the fields on a row that is thrown away, and refuse what its model would refuse."""
        for name, value in fields.items():
            setattr(row, name, value)
        if problems := self.problems_of(row, fields):
            raise RowRefused(*problems)


def in_our_words(error: ValidationError) -> str:
    """What a model finds wrong, said as the rest of the page is."""
    params = error.params or {}
    if error.code == "max_length":
        return (
            f"It has {params['show_value']} characters; at most {params['limit_value']} are kept. Shorten it."
        )
    if error.code in {"max_digits", "max_whole_digits", "max_value"}:
        return "Too large. Check the number."
    if error.code == "min_value":
        return "Below zero. Check the number."
    return " ".join(error.messages)


def same(old: Any, new: Any) -> bool:
    """Whether a cell says what the books say; blanks at the ends and kinds of line breaks do not matter."""
    if isinstance(old, str) and isinstance(new, str):
        if "\n" in old or "\r" in old:
            return old.replace("\r\n", "\n").strip() == new.strip()
        return old.strip() == new.strip() or " ".join(old.split()) == new
    return bool(old == new)


def changes(row: models.Model, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values that differ from what the row holds."""
    return {name: value for name, value in values.items() if not same(getattr(row, name), value)}


def said(value: Any) -> str:
    """A value for the list of changes."""
    if value in (None, ""):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    return f"{text[:57]}…" if len(text) > 58 else text


def told(row: models.Model, changed: Mapping[str, Any], labels: Callable[[str], str]) -> list[str]:
    """ "Phone: 555-0100, was nothing" for each change."""
    return [
        f"{labels(name)}: {shown(row, name, value)}, was {shown(row, name, getattr(row, name))}"
        for name, value in changed.items()
    ]


def held(
    model: type[models.Model],
    values: Mapping[str, Any],
    labels: Callable[[str], str],
    *,
    but: Iterable[str] = (),
) -> list[str]:
    """ "Phone: 555-0100" for each thing a new row would hold, but for those that its name says already."""
    left_out = set(but)
    return [
        f"{labels(name)}: {shown(model, name, value)}"
        for name, value in values.items()
        if name not in left_out and value not in (None, "")
    ]


def shown(row: models.Model | type[models.Model], name: str, value: Any) -> str:
    if name.endswith("_cents"):
        return f"{value / 100:,.2f}"
    if value != "" and (choices := row._meta.get_field(name).flatchoices):  # type: ignore[union-attr]
        return str(dict(choices).get(value, said(value)))
    return said(value)


def digest(plans: Iterable[RowPlan]) -> str:
    """Tells whether two looks at a file would do the same."""
    seen = [[plan.line, plan.outcome, plan.what, plan.details] for plan in plans]
    return hashlib.sha256(json.dumps(seen).encode()).hexdigest()
