"""Building kits and keeping them in order."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.records import apply
from kits.codes import draw_code
from kits.models import Condition, Custody, FollowUp, Kit, Part, Place, ShelfCount
from kits.promises import Refused

LARGEST_BATCH = 60


@action
def add_kits(
    act: Act,
    *,
    fields: Mapping[str, Any],
    count: int = 1,
    parts: Iterable[Mapping[str, Any]] = (),
    codes: Sequence[str] = (),
) -> Done:
    """Build `count` kits alike; each gets a code of its own and starts on the bench. More than one are numbered.

    `codes` are for kits that are labelled already; else codes are drawn.
    """
    if not 1 <= count <= LARGEST_BATCH:
        raise Refused(f"Between 1 and {LARGEST_BATCH} kits can be added at once.")
    parts = list(parts)
    kits = []
    for number in range(1, count + 1):
        name = fields["name"] if count == 1 else f"{fields['name']} {number}"
        kit = Kit(code=codes[number - 1] if codes else unused_code())
        apply(kit, {**fields, "name": name})
        Custody.objects.create(kit=kit, place=Place.BENCH, held_from=act.happened_at)
        Part.objects.bulk_create(Part(kit=kit, **part) for part in parts)
        kits.append(kit)
    sentence = f"{kits[0]} built" if count == 1 else f"{count} kits built"
    return record(act, "kit built", sentence, about=kits)


def unused_code() -> str:
    """A fresh code that no kit of the shop has, nor ever had."""
    while Kit.objects.filter(code=(code := draw_code())).exists():
        pass
    return code


@action
def change_parts(act: Act, *, kit: Kit, parts: Iterable[Mapping[str, Any]]) -> Done:
    """Replace the kit's parts list."""
    kit = hold(kit, based_on=act.based_on, act=act)
    kit.parts.all().delete()
    Part.objects.bulk_create(Part(kit=kit, **part) for part in parts)
    return record(act, "parts changed", f"Parts list of {kit} changed", about=[kit])


@action
def set_condition(act: Act, *, kit: Kit, condition: Condition, why: str = "") -> Done:
    """Say that a kit needs work, and why, or that it is in service again."""
    kit = hold(kit, based_on=act.based_on, act=act)
    change_condition(act, kit, condition, why)
    sentence = (
        f"{kit} needs work: {why}" if condition == Condition.NEEDS_WORK else f"{kit} is in service again"
    )
    return record(act, "condition set", sentence, about=[kit])


def change_condition(act: Act, kit: Kit, condition: Condition, why: str = "") -> None:
    """Set the condition of a held kit; a kit that needs work says why."""
    if condition == Condition.NEEDS_WORK and not why.strip():
        raise Refused("Say what is wrong with the kit, so that the bench knows what to mend.")
    kit.condition = condition
    kit.condition_why = why.strip()[:200] if condition == Condition.NEEDS_WORK else ""
    kit.condition_since = act.happened_at
    kit.condition_by = act.did_by or act.typed_by
    kit.save(update_fields=["condition", "condition_why", "condition_since", "condition_by"])


@action
def finish_follow_up(act: Act, *, follow_up: FollowUp, outcome: str) -> Done:
    """Say how a follow-up ended."""
    kit = hold(follow_up.kit)
    follow_up = FollowUp.objects.get(pk=follow_up.pk)
    if follow_up.done_at:
        raise Refused(f"That was done already: {follow_up.outcome or 'no words given'}.")
    if not outcome.strip():
        raise Refused("Say how it ended, in a few words.")
    follow_up.done_at, follow_up.done_by, follow_up.outcome = (
        act.happened_at,
        act.typed_by,
        outcome.strip()[:200],
    )
    follow_up.save()
    return record(
        act, "follow-up done", f"Done: {follow_up.what}", about=[kit], details={"outcome": follow_up.outcome}
    )


@action
def count_shelf(act: Act, *, seen: Iterable[Kit]) -> Done:
    """Compare the kits seen on the shelf with the books and keep the result. It moves nothing."""
    seen = set(seen)
    on_shelf = set(Kit.objects.filter(custodies__place=Place.SHELF, custodies__held_until=None))
    count = ShelfCount.objects.create(
        counted_at=act.happened_at,
        counted_by=act.did_by or act.typed_by,
        seen=sorted(kit.code for kit in seen),
        wanting=sorted(kit.code for kit in on_shelf - seen),
        unexpected=sorted(kit.code for kit in seen - on_shelf),
    )
    sentence = (
        f"Shelf counted: {len(seen)} seen, {len(count.wanting)} wanting, "
        f"{len(count.unexpected)} that the books have elsewhere"
    )
    return record(
        act, "shelf counted", sentence, about=[count, *sorted(on_shelf | seen, key=lambda kit: kit.pk)]
    )
