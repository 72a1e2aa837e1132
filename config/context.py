"""What every page may name without asking its view for it."""

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from kits.models import Shop


def shop(request: HttpRequest) -> dict[str, object]:
    """The shop's own row; read only by pages that name it."""
    return {"shop": SimpleLazyObject(Shop.current)}
