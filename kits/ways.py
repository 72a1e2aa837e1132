"""Where to go next: addresses of pages by name, left out while a page does not exist; and what was sent."""

from functools import lru_cache

from django.core.exceptions import BadRequest, ValidationError
from django.http import HttpRequest, QueryDict
from django.urls import NoReverseMatch, get_script_prefix, get_urlconf, reverse
from django.utils.http import url_has_allowed_host_and_scheme

from kits.web import payload_of


def way(name: str, *args: object) -> str:
    """The address of the page called `name`, or "" when there is none."""
    if not args:
        return _fixed_way(name, get_urlconf(), get_script_prefix())
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


_SOME_KEY = "987654321"  # fits where a code is expected and where a number is


def way_to(name: str, key: str | int) -> str:
    """The address of one thing's page by its code or number, letters and digits alone, where a list has many of them.

    >>> way_to("kit", "7M4Q2P"), way_to("call", 1087)
    ('/kits/7M4Q2P/', '/calls/1087/')
    """
    before, after = _around(name, get_urlconf(), get_script_prefix())
    return f"{before}{key}{after}"


@lru_cache
def _around(name: str, urlconf: str | None, prefix: str) -> tuple[str, str]:
    """What stands before and after the code in such an address."""
    before, after = reverse(name, urlconf, args=[_SOME_KEY]).split(_SOME_KEY)
    return before, after


@lru_cache
def _fixed_way(name: str, urlconf: str | None, prefix: str) -> str:
    """The address of a page that has only one; it is the same as long as these three are."""
    try:
        return reverse(name, urlconf)
    except NoReverseMatch:
        return ""


def way_back(request: HttpRequest) -> str:
    """The page of ours named in `?back=`, where a step was begun from, or ""."""
    back = request.GET.get("back", "")
    return back if back.startswith("/") and url_has_allowed_host_and_scheme(back, allowed_hosts=None) else ""


def sent(request: HttpRequest) -> QueryDict | None:
    """What a step was sent with, as a form or as JSON; None when the page is only looked at."""
    if request.method != "POST":
        return None
    try:
        return payload_of(request)
    except ValidationError as bad:
        raise BadRequest(bad.messages[0]) from bad
