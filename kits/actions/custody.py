"""Moving a kit from hand to hand. These know nothing of stays: `sites.actions` looks at those first."""

from datetime import date, datetime

from kits.actions.acting import Act
from kits.models import Custody, FollowUp, KeptAt, Kit, Place, Sensor, SparePlace, User
from kits.promises import Refused
from kits.saying import later


def move_kit(kit: Kit, place: Place, *, at: datetime, technician: User | None = None) -> Custody:
    """Close the kit's open custody row at `at` and open the next. To where it is already: nothing changes.

    The kit must be held (locked). Raises Refused when it came to its present place only after `at`, also when it stays
    there: whatever is told of that instant would not fit.
    """
    now = kit.custodies.select_related("technician").get(held_until=None)
    if at < now.held_from:
        raise Refused(
            f"{kit} came to {where(now)} {later(now.held_from)}. Give a time after it, or have a manager correct that one.",
            code="before_last_move",
        )
    if now.place == place and now.technician == technician:
        return now
    now.held_until = at
    now.save(update_fields=["held_until"])
    kit.__dict__.pop("open_custody", None)
    return Custody.objects.create(kit=kit, place=place, technician=technician, held_from=at)


def move_spare(
    sensor: Sensor, place: KeptAt | None, *, at: datetime, technician: User | None = None, why: str = ""
) -> SparePlace | None:
    """Close where the spare sensor is kept and open the next place; None: it goes into a kit."""
    now = sensor.spare_places.filter(kept_until=None).first()
    if place != KeptAt.TRUCK:
        technician = None
    elif technician is None:
        raise Refused("Say whose truck.")
    if now is not None:
        if now.place == place and now.technician == technician:
            return now
        if at < now.kept_from:
            raise Refused(f"Sensor {sensor} came to {now.word} {later(now.kept_from)}. Give a time after it.")
        now.kept_until = at
        now.save(update_fields=["kept_until"])
    if place is None:
        return None
    return SparePlace.objects.create(
        sensor=sensor, place=place, technician=technician, kept_from=at, why=why[:200]
    )


def where(custody: Custody) -> str:
    """The whereabouts with an article, for a sentence: "the shelf", "Ben Ortiz's truck"."""
    return custody.word if custody.place == Place.TRUCK else f"the {custody.word}"


def follow_up(act: Act, kit: Kit, what: str, *, due_on: date | None = None) -> FollowUp:
    """Open something still to be done about a kit."""
    return FollowUp.objects.create(
        kit=kit, what=what[:200], due_on=due_on, opened_at=act.recorded_at, opened_by=act.typed_by
    )
