"""Addresses that are read outside of the app: in calendars and e-mails."""

from django.conf import settings

from kits.models import Shop


def absolute(path: str, shop: Shop) -> str:
    """The full address of `path` at the host by which phones reach the shop."""
    return f"{'https' if settings.HTTPS else 'http'}://{shop.label_host}{path}"
