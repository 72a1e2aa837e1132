"""What happened to things of places and work, newest first."""

from collections.abc import Iterable

from django.db import models
from django.db.models import Q

from kits.actions.acting import kind_of
from kits.models import Event


def events_about(rows: Iterable[models.Model], *, at_most: int = 60) -> list[Event]:
    """The latest events about any of `rows`, newest first, with the people in them."""
    wanted = Q()
    for row in rows:
        wanted |= Q(abouts__kind=kind_of(type(row)), abouts__subject_id=row.pk)
    if not wanted:
        return []
    found = Event.objects.filter(wanted).select_related("did_by", "typed_by").distinct()
    return list(found.order_by("-happened_at", "-pk")[:at_most])
