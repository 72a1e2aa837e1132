"""Adding and changing plain records: one action for each, whatever the model."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from kits.actions.acting import Act, Done, action, hold, record
from kits.promises import NoOverlap, Refused


def apply(row: models.Model, fields: Mapping[str, Any]) -> list[str]:
    """Set `fields` on `row`, check it, save it; returns the names that changed. Many-to-many come as iterables."""
    many = {field.name for field in row._meta.many_to_many}
    plain = {name: value for name, value in fields.items() if name not in many}
    changed = [name for name, value in plain.items() if row.pk is None or getattr(row, name) != value]
    for name, value in plain.items():
        setattr(row, name, value)
    # Checks are the database's, which refuses in the rule's own sentence: asking it for each one beforehand costs more
    # than all else an action does.
    row.full_clean(validate_constraints=False)
    check_overlaps(row)
    row.save()
    for name in many & set(fields):
        manager = getattr(row, name)
        if {item.pk for item in manager.all()} != {item.pk for item in fields[name]}:
            manager.set(fields[name])
            changed.append(name)
    return changed


def check_overlaps(row: models.Model) -> None:
    """Refuse a row that would share its time with another, naming that one.

    For rows that actions build themselves: what else could be wrong, the database refuses in its own sentence.
    """
    for rule in row._meta.constraints:
        if isinstance(rule, NoOverlap):
            try:
                rule.validate(type(row), row)
            except ValidationError as clash:
                raise Refused(clash.messages, code=rule.name) from clash


@action
def add_record(act: Act, *, row: models.Model, fields: Mapping[str, Any]) -> Done:
    """Save the unsaved `row` with `fields`. The event names what was made, never its personal text."""
    apply(row, fields)
    word = row._meta.verbose_name
    return record(act, f"{word} added", f"{str(word).capitalize()} added", about=[row])


@action
def change_record(act: Act, *, row: models.Model, changes: Mapping[str, Any]) -> Done:
    """Set `changes` on `row`. The event names the fields that changed, not their text."""
    row = hold(row, based_on=act.based_on, act=act)
    changed = apply(row, changes)
    labels = [str(row._meta.get_field(name).verbose_name) for name in changed]  # type: ignore[union-attr]
    word = row._meta.verbose_name
    sentence = (
        f"{str(word).capitalize()} changed: {', '.join(labels)}"
        if labels
        else f"Nothing changed about this {word}"
    )
    return record(act, f"{word} changed", sentence, about=[row], details={"fields": changed})
