"""Whose request this is, for counting failed sign-ins."""

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The caller's address: the connection's own, or what the shop's proxy wrote into the one header it is trusted for."""
    if header := settings.CLIENT_ADDRESS_HEADER:
        if address := request.headers.get(header, "").strip():
            return address
    return str(request.META.get("REMOTE_ADDR", ""))
