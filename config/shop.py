"""The shop of every request: its zone is the clock people read, its name and unit stand on every page."""

from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from kits.models import Shop


class ShopClock:
    """Middleware: the shop's own zone is active while a request is answered. One small query a request."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith("/static/"):
            return self.answer(request)
        request.shop = Shop.current()  # type: ignore[attr-defined]
        with timezone.override(ZoneInfo(request.shop.time_zone)):  # type: ignore[attr-defined]
            return self.answer(request)


def shop(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `shop` and `temperature_unit`."""
    current = getattr(request, "shop", None) or Shop.current()
    return {"shop": current, "temperature_unit": current.temperature_unit}
