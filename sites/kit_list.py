"""Kits as lists need them: where each is, for which call, when it is due, in a fixed number of queries."""

from typing import Any

import django_filters
from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from kits.models import Condition, Custody, FollowUp, Kit, Place, Wiring
from kits.models.base import fold
from sites.counting import count_of
from sites.models import Deployment, Stage


def count_per_kit(rows: QuerySet[Any]) -> Coalesce:
    """How many of `rows` belong to the kit of the outer query."""
    return count_of(rows.filter(kit=OuterRef("pk")), "kit")


def listed_kits() -> QuerySet[Kit]:
    """Every kit with its custody, its running stays (`running_stays`), and counts and days to sort by."""
    open_custody = Custody.objects.filter(kit=OuterRef("pk"), held_until=None)
    out = Deployment.objects.out().filter(kit=OuterRef("pk"))
    return (
        Kit.objects.with_custody()
        .annotate(
            place_now=Subquery(open_custody.values("place")[:1]),
            due_back=Subquery(out.values("back_in_shop_by")[:1]),
            site_now=Subquery(out.values("unit__site__street")[:1]),
            sensor_count=count_per_kit(Wiring.objects.filter(wired_until=None)),
            follow_up_count=count_per_kit(FollowUp.objects.filter(done_at=None)),
        )
        .prefetch_related(
            Prefetch(
                "deployments",
                queryset=Deployment.objects.running()
                .select_related("call", "unit__site")
                .order_by("holds_from"),
                to_attr="running_stays",
            )
        )
    )


def stay_out(kit: Kit) -> Deployment | None:
    """The stay a listed kit is out on."""
    return next((stay for stay in kit.running_stays if stay.loaded_at), None)  # type: ignore[attr-defined]


def next_plan(kit: Kit) -> Deployment | None:
    """The next stay a listed kit is promised to."""
    return next((stay for stay in kit.running_stays if stay.stage == Stage.PLANNED), None)  # type: ignore[attr-defined]


class KitFilter(django_filters.FilterSet):
    """Kits by text (code, name, controller, address), whereabouts and condition. Retired ones only when asked for."""

    q = django_filters.CharFilter(label="Code, name or address", method="by_text")
    where = django_filters.ChoiceFilter(
        label="Whereabouts",
        empty_label="Everywhere but retired",
        choices=Place.choices,
        field_name="place_now",
    )
    condition = django_filters.ChoiceFilter(label="Condition", empty_label="Any", choices=Condition.choices)

    def by_text(self, rows: QuerySet[Kit], name: str, value: str) -> QuerySet[Kit]:
        words = fold(value)
        bare = words.replace(" ", "").replace("-", "")
        there = Deployment.objects.out().filter(unit__site__folded__contains=words)
        return rows.filter(Q(folded__contains=words) | Q(code=bare.upper()) | Q(pk__in=there.values("kit")))

    def filter_queryset(self, queryset: QuerySet[Kit]) -> QuerySet[Kit]:
        rows = super().filter_queryset(queryset)
        asked = self.form.cleaned_data
        if not asked.get("where") and not asked.get("q"):
            # Not by `place_now`: counting the rows would then look up the place of every kit.
            retired = Custody.objects.filter(held_until=None, place=Place.RETIRED)
            rows = rows.exclude(pk__in=retired.values("kit"))
        return rows
