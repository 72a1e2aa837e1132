"""Sensors as lists need them: where each is and the offset in force, in a fixed number of queries."""

from datetime import datetime
from typing import Any

import django_filters
from django import forms
from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from django.utils import timezone

from kits.models import KeptAt, Offset, Sensor, Shop, SparePlace, Wiring, kelvin_in_force
from kits.models.base import fold
from kits.readiness import not_in_date


def listed_sensors(now: datetime) -> QuerySet[Any]:
    """Every sensor with `open_wirings`, `open_spares`, `offset_now`, `offset_from`, and names to sort by."""
    wired = Wiring.objects.filter(sensor=OuterRef("pk"), wired_until=None)
    kept = SparePlace.objects.filter(sensor=OuterRef("pk"), kept_until=None)
    in_force = Offset.objects.filter(sensor=OuterRef("pk"), in_force_from__lte=now).order_by("-in_force_from")
    return Sensor.objects.annotate(
        wired_kit_name=Subquery(wired.values("kit__name")[:1]),
        wired_terminal=Subquery(wired.values("terminal")[:1]),
        kept_place=Subquery(kept.values("place")[:1]),
        offset_now=Subquery(in_force.values(kelvin=kelvin_in_force())[:1]),
        offset_from=Subquery(in_force.values("in_force_from")[:1]),
    ).prefetch_related(
        Prefetch(
            "wirings",
            queryset=Wiring.objects.filter(wired_until=None).select_related("kit"),
            to_attr="open_wirings",
        ),
        Prefetch(
            "spare_places",
            queryset=SparePlace.objects.filter(kept_until=None).select_related("technician"),
            to_attr="open_spares",
        ),
    )


GONE = (KeptAt.MISSING, KeptAt.SCRAPPED)


class SensorFilter(django_filters.FilterSet):
    """Sensors by text, by where they are, those nobody has compared yet, and those due for a check."""

    q = django_filters.CharFilter(label="Tag or ROM ID", method="by_text")
    where = django_filters.ChoiceFilter(
        label="Where",
        empty_label="Everywhere",
        choices=[
            ("kit", "In a kit"),
            ("spare", "Spare"),
            ("missing", "Missing"),
            ("scrapped", "Scrapped"),
        ],
        method="by_place",
    )
    without_offset = django_filters.BooleanFilter(
        label="Only without an offset", method="by_offset", widget=forms.CheckboxInput
    )
    due = django_filters.BooleanFilter(
        label="Only due for a check", method="by_date", widget=forms.CheckboxInput
    )

    def by_text(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return rows.filter(folded__contains=fold(value))

    def by_place(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value == "kit":
            return rows.filter(wired_terminal__isnull=False)
        if value == "spare":
            return rows.filter(wired_terminal=None).exclude(kept_place__in=GONE)
        return rows.filter(kept_place=value)

    def by_date(self, rows: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        if not value:
            return rows
        late = not_in_date("pk", timezone.localdate(), now=timezone.now(), shop=Shop.current())
        return rows.filter(late).exclude(kept_place__in=GONE)

    def by_offset(self, rows: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return rows.filter(offset_now=None) if value else rows
