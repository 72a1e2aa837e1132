"""Kits as lists need them: where each is, for which call, when it is due, in a fixed number of queries."""

from collections.abc import Iterable
from functools import cache
from typing import Any

import django_filters
from django.db.models import BigAutoField, FilteredRelation, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from kits.kept_query import Given, KeptQuery
from kits.lists import ROWS_A_PAGE
from kits.models import Condition, Custody, FollowUp, Kit, Place, Wiring
from kits.models.base import fold
from sites.counting import count_of
from sites.models import Deployment


def count_per_kit(rows: QuerySet[Any]) -> Coalesce:
    """How many of `rows` belong to the kit of the outer query."""
    return count_of(rows.filter(kit=OuterRef("pk")), "kit")


@cache
def _told_kits() -> QuerySet[Kit]:
    """What a list tells of a kit: its custody, the stay it is out on, its next plan, and counts. Never asked itself."""
    planned = Deployment.objects.running().filter(kit=OuterRef("pk"), loaded_at=None).order_by("holds_from")
    return Kit.objects.annotate(
        custody_now=FilteredRelation("custodies", condition=Q(custodies__held_until=None)),
        stay_now=FilteredRelation(
            "deployments", condition=Q(deployments__ended_at=None, deployments__loaded_at__isnull=False)
        ),
        planned_call=Subquery(planned.values("call__number")[:1]),
        planned_from=Subquery(planned.values("call__window_from")[:1]),
        sensor_count=count_per_kit(Wiring.objects.filter(wired_until=None)),
        follow_up_count=count_per_kit(FollowUp.objects.filter(done_at=None)),
    ).select_related("custody_now__technician", "stay_now__call", "stay_now__unit__site")  # type: ignore[misc]


@cache
def _listed_kits() -> QuerySet[Kit]:
    """Putting it together takes as long as its answer, so it is done once. Never asked itself."""
    open_custody = Custody.objects.filter(kit=OuterRef("pk"), held_until=None)
    out = Deployment.objects.out().filter(kit=OuterRef("pk"))
    return _told_kits().annotate(
        place_now=Subquery(open_custody.values("place")[:1]),
        due_back=Subquery(out.values("back_in_shop_by")[:1]),
        site_now=Subquery(out.values("unit__site__street")[:1]),
    )


def listed_kits() -> QuerySet[Kit]:
    """Every kit with all that a list tells of it, and places and days to sort by: one query."""
    return _listed_kits().all()


PLACES_OF_A_PAGE = [f"kit_{number}" for number in range(ROWS_A_PAGE)]
NO_KIT = 0  # no row has this key

kits_of_page = KeptQuery(
    lambda: (
        _told_kits().filter(pk__in=[Given(place, BigAutoField()) for place in PLACES_OF_A_PAGE]).order_by()
    )
)


def read_page(keys: list[int]) -> Iterable[Kit]:
    """The listed kits with these keys, at most a page of them."""
    given = dict.fromkeys(PLACES_OF_A_PAGE, NO_KIT) | dict(zip(PLACES_OF_A_PAGE, keys, strict=False))
    return kits_of_page.rows(**given)


def stay_out(kit: Kit) -> Deployment | None:
    """The stay a listed kit is out on."""
    return getattr(kit, "stay_now", None)  # Django leaves it off where no stay was found


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
