"""Whose request this is, for counting failed sign-ins."""

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The caller's address: the connection's own, or what the shop's proxy wrote into the one header it is trusted for."""
    header = settings.CLIENT_ADDRESS_HEADER
    # Where several proxies each add an address, the last one was written by the shop's own.
    told = request.headers.get(header, "").rpartition(",")[2].strip() if header else ""
    return told or str(request.META.get("REMOTE_ADDR", ""))
