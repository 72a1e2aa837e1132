"""What every page knows about the shop: its row, its zone, its unit of temperature."""

from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from kits.kept_query import KeptQuery
from kits.models import Shop

the_shop_row = KeptQuery(lambda: Shop.objects.filter(pk=1))


class ShopMiddleware:
    """Reads the shop once a request, and makes its zone the one that times are shown in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        shop = the_shop_row.first() or Shop.current()
        request.shop = shop  # type: ignore[attr-defined]
        with timezone.override(ZoneInfo(shop.time_zone)):
            return self.get_response(request)


def shop(request: HttpRequest) -> dict[str, Any]:
    """`shop` and `temperature_unit` ("F" or "C") for every template."""
    the_shop = getattr(request, "shop", None)
    return {"shop": the_shop, "temperature_unit": the_shop.temperature_unit if the_shop else "F"}
