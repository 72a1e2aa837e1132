"""References and checks as lists and the bench need them, in a fixed number of queries."""

from collections import Counter
from datetime import date
from typing import Any

import django_filters
from django import forms
from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from kits.models import CalibrationCheck, Certificate, CheckResult, CheckSensor, ReferenceThermometer, Verdict
from kits.models.base import fold
from kits.models.checks import Method
from kits.models.thermometers import ReferenceKind
from kits.standing import NEEDS_NO_CERTIFICATE, Standing, certificate_standing
from kits.words import Tone


def listed_references(today: date) -> QuerySet[Any]:
    """Every reference with what its newest certificate says; `stand` tells how each stands."""
    newest = Certificate.objects.filter(thermometer=OuterRef("pk"), issued_on__lte=today).order_by(
        "-issued_on", "-pk"
    )
    return ReferenceThermometer.objects.annotate(
        certificate_number=Subquery(newest.values("number")[:1]),
        issued_on=Subquery(newest.values("issued_on")[:1]),
        due_on=Subquery(newest.values("due_on")[:1]),
        expanded_uncertainty=Subquery(newest.values("expanded_uncertainty_kelvin")[:1]),
        coverage_factor=Subquery(newest.values("coverage_factor")[:1]),
    ).order_by("kind", "name", "pk")


OUT_OF_USE = Standing("out of use", "plain", "It is out of use and not offered for checks.")


def standing_of(row: Any, today: date) -> Standing:
    """How a reference of `listed_references` stands today."""
    if row.out_of_use_since:
        return OUT_OF_USE
    if row.kind != ReferenceKind.THERMOMETER:
        return NEEDS_NO_CERTIFICATE
    return certificate_standing(row.due_on, today)


def stood(rows: QuerySet[Any], today: date) -> list[Any]:
    """The references, each with its `standing`."""
    found = list(rows)
    for row in found:
        row.standing = standing_of(row, today)
    return found


FOUND_WORDS = {
    Verdict.GOOD: "good",
    Verdict.USE_OFFSET: "with a new offset",
    Verdict.REPLACE: "to replace",
}


def listed_checks() -> QuerySet[Any]:
    """Every check with its sensors, the kits they were of, and what was found."""
    return CalibrationCheck.objects.select_related(
        "reference", "certificate", "begun_by", "closed_by", "withdrawal"
    ).prefetch_related(
        Prefetch(
            "sensors", queryset=CheckSensor.objects.select_related("kit", "sensor"), to_attr="taking_part"
        ),
        Prefetch(
            "results", queryset=CheckResult.objects.only("pk", "sitting_id", "verdict"), to_attr="found"
        ),
        Prefetch(
            "superseded_by",
            queryset=CalibrationCheck.objects.only("pk", "supersedes_id", "closed_at"),
            to_attr="later",
        ),
    )


def kit_names(check: Any) -> list[str]:
    """The kits whose sensors take part in a check of `listed_checks`."""
    return list(dict.fromkeys(one.kit.name for one in check.taking_part if one.kit))


def found_words(check: Any) -> str:
    """What a check of `listed_checks` found, counted: "3 good, 1 with a new offset"."""
    counts = Counter(result.verdict for result in check.found)
    return ", ".join(
        f"{counts[verdict]} {words}" for verdict, words in FOUND_WORDS.items() if counts[verdict]
    )


def state_of(check: Any) -> tuple[str, Tone]:
    """How far a check is, as a word with its tone."""
    if check.is_withdrawn:
        return "withdrawn", "late"
    if check.dropped_at:
        return "dropped", "plain"
    if check.closed_at is None:
        return "open", "attention"
    if any(later.closed_at for later in later_checks(check)):
        return "superseded", "plain"
    return "closed", "good"


def later_checks(check: Any) -> list[Any]:
    """The checks made in place of this one."""
    return list(check.later) if hasattr(check, "later") else list(check.superseded_by.all())


class CheckFilter(django_filters.FilterSet):
    """Checks by the kit or sensor in them, how they were made, and how far they are."""

    q = django_filters.CharFilter(label="Kit, tag or ROM ID", method="by_text")
    method = django_filters.ChoiceFilter(label="How", empty_label="Any way", choices=Method.choices)
    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="Any state",
        choices=[
            ("open", "Open"),
            ("closed", "Closed"),
            ("withdrawn", "Withdrawn"),
            ("dropped", "Dropped"),
        ],
        method="by_state",
    )

    def by_text(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        text = fold(value)
        part = CheckSensor.objects.filter(
            Q(sensor__folded__contains=text)
            | Q(kit__name__icontains=value.strip())
            | Q(kit__code__iexact=value.strip())
        )
        return rows.filter(pk__in=part.values("sitting"))

    def by_state(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return {
            "open": rows.filter(closed_at=None, dropped_at=None),
            "closed": rows.filter(closed_at__isnull=False, withdrawal=None),
            "withdrawn": rows.filter(withdrawal__isnull=False),
            "dropped": rows.filter(dropped_at__isnull=False),
        }[value]


class ReferenceFilter(django_filters.FilterSet):
    """References by text and by whether they are in use."""

    q = django_filters.CharFilter(label="Name or serial number", method="by_text")
    everything = django_filters.BooleanFilter(
        label="Also those out of use", method="by_use", widget=forms.CheckboxInput
    )

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        rows = super().filter_queryset(queryset)
        return rows if self.form.cleaned_data.get("everything") else rows.filter(out_of_use_since=None)

    def by_text(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return rows.filter(folded__contains=fold(value))

    def by_use(self, rows: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return rows
