"""Eight weeks at a glance: which kit is promised, away or late when, and where the gaps are."""

from dataclasses import dataclass
from datetime import timedelta

from django.core.paginator import Paginator
from django.db.models import Prefetch, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_GET

from kits.models import Custody, Kit, Place
from kits.web import EVERYBODY, for_roles
from sites.days import day_of, start_of_day
from sites.free import shop_zone
from sites.models import Deployment
from sites.week_bars import BAR_HEIGHT, ROW_HEIGHT, Bar, StaySpan, Strip

WEEKS = 8
WEEKS_BEFORE = 1  # so that today is in view on a phone, too
KITS_A_PAGE = 40


@dataclass(frozen=True, kw_only=True)
class Row:
    """One kit's line of the picture."""

    kit: Kit
    bars: list[Bar]


@for_roles(*EVERYBODY)
@require_GET
def weeks(request: HttpRequest) -> HttpResponse:
    """The picture, from the Monday of last week unless `from` says another day."""
    now, zone = timezone.now(), shop_zone()
    today = day_of(now, zone)
    asked = parse_date(request.GET.get("from", "")) if is_day(request.GET.get("from", "")) else None
    first = asked or today - timedelta(weeks=WEEKS_BEFORE)
    first -= timedelta(days=first.weekday())
    strip = Strip(first=first, days=7 * WEEKS, zone=zone, now=now)
    page = Paginator(kits_with_stays(strip), KITS_A_PAGE).get_page(request.GET.get("page"))
    rows = [Row(kit=kit, bars=strip.bars(map(span_of, kit.stays_shown))) for kit in page.object_list]
    context = {
        "strip": strip,
        "rows": rows,
        "page": page,
        "row_height": ROW_HEIGHT,
        "bar_height": BAR_HEIGHT,
        "height": ROW_HEIGHT * len(rows),
        "last": first + timedelta(days=7 * WEEKS - 1),
        "earlier": first - timedelta(weeks=WEEKS // 2),
        "further": first + timedelta(weeks=WEEKS // 2),
        "is_now": asked is None,
        "late": sum(
            1
            for row in rows
            if any(bar.kind == "late" and bar.x + bar.width >= strip.today_x for bar in row.bars)
        ),
    }
    return render(request, "sites/weeks.html", context)


def is_day(text: str) -> bool:
    try:
        return parse_date(text) is not None
    except ValueError:
        return False


def kits_with_stays(strip: Strip):  # type: ignore[no-untyped-def]
    """Kits still in use, each with the stays that touch the strip as `stays_shown`."""
    start = start_of_day(strip.first, strip.zone)
    end = start_of_day(strip.first + timedelta(days=strip.days), strip.zone)
    touches = Q(ended_at=None) | Q(ended_at__gt=start, loaded_at__isnull=False)
    stays = Deployment.objects.filter(touches, holds_from__lt=end).select_related("call")
    retired = Custody.objects.filter(held_until=None, place=Place.RETIRED)
    return (
        Kit.objects.exclude(pk__in=retired.values("kit"))
        .with_custody()
        .prefetch_related(Prefetch("deployments", queryset=stays, to_attr="stays_shown"))
        .order_by("name", "code")
    )


def span_of(stay: Deployment) -> StaySpan:
    return StaySpan(
        url=stay.get_absolute_url(),
        label=str(stay.call.number),
        holds_from=stay.holds_from,
        home_from=stay.holds_until,
        loaded_at=stay.loaded_at,
        ended_at=stay.ended_at,
    )
