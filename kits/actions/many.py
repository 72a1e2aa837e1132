"""Many rows in one action: each is checked and told as if it were done by itself, and all are saved together.

Saved one by one, with a receipt and a look at the books for each, a spreadsheet of 20,000 rows takes many minutes. Here
the caller has read the books once and says what is added, changed and told; `save` then writes row by row what the
databases check row by row, in few statements.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar
from uuid import uuid5

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models

from kits.actions.acting import Act, event_for, kind_of, plain
from kits.models import Event, EventAbout
from kits.models.base import Searchable, Versioned, fold
from kits.promises import Refused, kept

ROWS_A_STATEMENT = 500

Row = TypeVar("Row", bound=models.Model)
Sentence = str | Callable[[], str]


@dataclass(frozen=True)
class Told:
    """One event to be written; its sentence may need the number that a new row gets."""

    what: str
    sentence: Sentence
    about: tuple[models.Model, ...]
    details: Mapping[str, Any]


@dataclass
class Change:
    """What becomes of a row that is in the books."""

    row: models.Model
    fields: dict[str, Any]
    part: str


@dataclass
class Many:
    """Rows to be added and changed within `act`. `part` names what is being worked on, for a refusal: "Line 7 (Heron)"."""

    act: Act
    part: str = ""
    added: dict[type[models.Model], list[tuple[models.Model, str]]] = field(default_factory=dict)
    changed: list[Change] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    new: set[int] = field(default_factory=set)

    def key_of(self, row: models.Model) -> tuple[Any, int]:
        """Tells rows apart: new ones as objects, since they have no number yet, others by their number."""
        return ("new", id(row)) if id(row) in self.new else (type(row), row.pk)

    def add(self, row: Row) -> Row:
        """A new row; it may point to other new rows."""
        self.added.setdefault(type(row), []).append((row, self.part))
        self.new.add(id(row))
        return row

    def change(self, row: models.Model, **fields: Any) -> None:
        """Set fields of a row that is in the books."""
        self.changed.append(Change(row, fields, self.part))

    def tell(
        self, what: str, sentence: Sentence, *about: models.Model, details: Mapping[str, Any] | None = None
    ) -> None:
        """One event about these rows; each of them counts one up."""
        self.told.append(Told(what, sentence, about, details or {}))

    def save(self) -> None:
        """Write everything, in the order: changes, new rows, events. Raises Refused, naming the part that cannot be."""
        counted = Counter(self.key_of(row) for told in self.told for row in told.about)
        versions = self.versions_before()
        self.save_changes()
        for model in targets_first(self.added):
            self.insert(self.added[model], counted)
        self.save_events(versions)
        self.count_up(counted)

    def versions_before(self) -> dict[Any, int]:
        """The versions of what is in the books and told about; those rows are locked, in one order, until all is saved."""
        concerned: dict[type[models.Model], set[int]] = defaultdict(set)
        for row in (*(row for told in self.told for row in told.about), *(one.row for one in self.changed)):
            if row.pk is not None:
                concerned[type(row)].add(row.pk)
        before: dict[Any, int] = {}
        for model in sorted(concerned, key=kind_of):
            for ids in pieces(sorted(concerned[model])):
                rows = model._default_manager.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk")
                before |= {(model, row.pk): getattr(row, "version", 0) for row in rows}
        return before

    def save_changes(self) -> None:
        for one in self.changed:
            for name, value in one.fields.items():
                setattr(one.row, name, value)
            self.at_part(one.part, lambda one=one: one.row.save(update_fields=list(one.fields)))  # type: ignore[misc]

    def insert(self, rows: Sequence[tuple[models.Model, str]], counted: Mapping[Any, int]) -> None:
        """New rows in few statements; where the database refuses one of them, row by row up to that one."""
        for row, _ in rows:
            if isinstance(row, Searchable):
                row.folded = fold(" ".join(str(getattr(row, name) or "") for name in row.searched))
            if isinstance(row, Versioned):
                row.version = counted[self.key_of(row)]
        model = type(rows[0][0])
        for some in pieces(rows):
            try:
                kept(lambda some=some: model._default_manager.bulk_create([row for row, _ in some]))  # type: ignore[misc]
            except (ValidationError, IntegrityError):
                for row, part in some:
                    row.pk = None
                    self.at_part(part, row.save)
                raise  # each by itself would have gone in

    def at_part(self, part: str, work: Callable[[], Any]) -> None:
        """Do it; a refusal says of which part it is."""
        try:
            kept(work)
        except ValidationError as refusal:
            named = f"{part} could not go in, so nothing was saved: " if part else ""
            raise Refused(f"{named}{' '.join(refusal.messages)}") from refusal

    def save_events(self, versions: Mapping[Any, int]) -> None:
        """One event for each thing told, with request ids of its own that follow from that of the act."""
        reached: Counter[Any] = Counter(versions)
        for number, some in enumerate(pieces(self.told)):
            events = Event.objects.bulk_create(
                event_for(
                    self.act,
                    told.what,
                    told.sentence if isinstance(told.sentence, str) else told.sentence(),
                    details=plain(told.details),
                    request_id=uuid5(self.act.request_id, f"row {number * ROWS_A_STATEMENT + place + 1}"),
                )
                for place, told in enumerate(some)
            )
            abouts = []
            for event, told in zip(events, some, strict=True):
                for row in told.about:
                    reached[self.key_of(row)] += 1
                    version = reached[self.key_of(row)] if isinstance(row, Versioned) else None
                    about = EventAbout(
                        event=event, kind=kind_of(type(row)), subject_id=row.pk, version=version
                    )
                    abouts.append(about)
            EventAbout.objects.bulk_create(abouts, batch_size=ROWS_A_STATEMENT)

    def count_up(self, counted: Mapping[Any, int]) -> None:
        """Versions of rows that were in the books; new ones were added with theirs."""
        by_count: dict[tuple[type[models.Model], int], set[int]] = defaultdict(set)
        for told in self.told:
            for row in told.about:
                if id(row) not in self.new and isinstance(row, Versioned):
                    by_count[type(row), counted[self.key_of(row)]].add(row.pk)
        for (model, times), ids in by_count.items():
            for some in pieces(sorted(ids)):
                rows = model._default_manager.filter(pk__in=some)
                rows.update(version=models.F("version") + times)


def targets_first(models_: Iterable[type[models.Model]]) -> list[type[models.Model]]:
    """The models in an order in which each comes after all that it points to."""
    waiting = list(models_)
    ordered: list[type[models.Model]] = []
    while waiting:
        ready = [model for model in waiting if not points_to(model) & (set(waiting) - {model})]
        ordered += ready
        waiting = [model for model in waiting if model not in ready]
        if not ready:
            raise ValueError(f"These point to one another in a circle: {waiting}")
    return ordered


def points_to(model: type[models.Model]) -> set[Any]:
    return {one.related_model for one in model._meta.fields if one.is_relation}


def pieces(things: Sequence[Any]) -> Iterator[Sequence[Any]]:
    for start in range(0, len(things), ROWS_A_STATEMENT):
        yield things[start : start + ROWS_A_STATEMENT]


def labels_of(row: models.Model, names: Iterable[str]) -> str:
    return ", ".join(str(row._meta.get_field(name).verbose_name) for name in names)  # type: ignore[union-attr]


def add_one(many: Many, row: Row, fields: Mapping[str, Any]) -> Row:
    """A plain record, told as `add_record` tells it."""
    for name, value in fields.items():
        setattr(row, name, value)
    many.add(row)
    word = str(row._meta.verbose_name)
    many.tell(f"{word} added", f"{word.capitalize()} added", row)
    return row


def change_one(many: Many, row: models.Model, changes: Mapping[str, Any]) -> None:
    """Fields of a record, told as `change_record` tells it."""
    many.change(row, **changes)
    word = str(row._meta.verbose_name)
    sentence = f"{word.capitalize()} changed: {labels_of(row, changes)}"
    many.tell(f"{word} changed", sentence, row, details={"fields": list(changes)})
