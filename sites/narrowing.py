"""The few kits worth looking at for a call, picked by the database: `sites.free.judge` says why, kit by kit.

The conditions here say in SQL what `judge` says in sentences, and the order is its rank; tests hold the two together.
"""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Case, Exists, IntegerField, Max, OuterRef, Q, QuerySet, Subquery, Value, When

from kits.models import Condition, Custody, Kit, Place, Shop, Wiring
from kits.models.kit import KitQuerySet
from kits.readiness import by_hand, not_in_date
from sites.counting import count_of
from sites.free import NEARNESS, Candidate, candidates, hold_of, shop_zone
from sites.models import Deployment, ServiceCall

FREE_SHOWN, KEPT_SHOWN = 20, 20


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The best free kits and some of those that are not, with how many there are of each."""

    free: list[Candidate]
    free_count: int
    kept: list[Candidate]
    kept_count: int


def choice(
    call: ServiceCall, back_in_shop_by: date, *, now: datetime, take_out_by: date | None = None
) -> Choice:
    """The kits to show for a call, in a number of queries that does not grow with the kits."""
    kits = with_place(Kit.objects.all()).exclude(Q(place_now=Place.RETIRED))
    shop = Shop.current()
    late = out_of_date(take_out_by or back_in_shop_by, now, shop)
    fits = may_go(kits, call, back_in_shop_by)
    if shop.sensors_must_be_in_date:
        fits = fits.filter(~Exists(late))
    free = list(ranked(fits, call, now, late).values_list("pk", flat=True))
    is_free = set(free)
    nearest = kits.order_by(nearness(), "code").values_list("pk", flat=True)
    kept = [pk for pk in nearest if pk not in is_free]
    among = [*free[:FREE_SHOWN], *kept[:KEPT_SHOWN]]
    looked_at = candidates(call, back_in_shop_by, now=now, take_out_by=take_out_by, among=among)
    return Choice(
        free=[row for row in looked_at if row.is_free],
        free_count=len(free),
        kept=[row for row in looked_at if not row.is_free],
        kept_count=len(kept),
    )


def with_place(kits: KitQuerySet) -> KitQuerySet:
    """Kits with `place_now`."""
    held = Custody.objects.filter(kit=OuterRef("pk"), held_until=None)
    return kits.annotate(place_now=Subquery(held.values("place")[:1]))


def may_go(kits: KitQuerySet, call: ServiceCall, back_in_shop_by: date) -> KitQuerySet:
    """Kits that nothing speaks against: there, in order, promised to nobody then, with sensors enough and long leads."""
    start, until = hold_of(call.window_from, back_in_shop_by, shop_zone())
    held = Deployment.objects.running().filter(holds_from__lt=until, holds_until__gt=start)
    wired = Wiring.objects.filter(kit=OuterRef("pk"), wired_until=None)
    kits = (
        kits.exclude(Q(place_now=Place.MISSING))
        .exclude(condition=Condition.NEEDS_WORK)
        .filter(~Exists(held.filter(kit=OuterRef("pk"))))
        .annotate(wired_count=count_of(wired, "kit"))
        .filter(wired_count__gte=max(call.wanted_positions.count(), 1))
    )
    if call.lead_length_m:
        longest = wired.order_by().values("kit").annotate(longest=Max("sensor__lead_length_m"))
        kits = kits.annotate(longest_lead_m=Subquery(longest.values("longest")))
        kits = kits.filter(longest_lead_m__gte=call.lead_length_m)
    return kits


def out_of_date(day: date, now: datetime, shop: Shop) -> QuerySet[Wiring]:
    """The leads of the outer query's kit whose sensor is not in date all through `day`."""
    wired = Wiring.objects.filter(kit=OuterRef("pk"), wired_until=None)
    return wired.filter(not_in_date("sensor", day, now=now, shop=shop))


def ranked(kits: KitQuerySet, call: ServiceCall, now: datetime, late: QuerySet[Wiring]) -> KitQuerySet:
    """Kits best first: on that technician's truck, nearest, sensors in date, checked on the bench, fewest stays so far."""
    wired = Wiring.objects.filter(kit=OuterRef("pk"), wired_until=None)
    entered = wired.filter(by_hand("sensor", now=now))
    stays = Deployment.objects.filter(kit=OuterRef("pk"), installed_at__isnull=False)
    on_truck = Custody.objects.filter(
        kit=OuterRef("pk"), held_until=None, place=Place.TRUCK, technician=call.technician_id
    )
    # Without a technician nobody's truck is nearer than the shelf.
    same_truck = Case(When(Exists(on_truck), then=Value(0)), default=Value(1), output_field=IntegerField())
    return kits.order_by(
        same_truck,
        nearness(),
        count_of(late, "kit"),
        count_of(entered, "kit"),
        count_of(stays, "kit"),
        "code",
    )


def nearness() -> Case:
    """How far off a kit with `place_now` is: the shelf first."""
    steps = (When(Q(place_now=place), then=Value(rank)) for place, rank in NEARNESS.items())
    return Case(*steps, default=Value(len(NEARNESS)), output_field=IntegerField())
