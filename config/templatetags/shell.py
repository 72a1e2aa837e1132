"""What the frame of every page is drawn with: `{% load shell %}`. In Python, since every page pays for it."""

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from kits.models import Role
from kits.ways import way

register = template.Library()

TECHNICIANS = (("truck", "Truck"), ("kits", "Kits"), ("bench", "Bench"))
OFFICES = (
    ("day_sheet", "Day sheet"),
    ("calls", "Calls"),
    ("kits", "Kits"),
    ("sites", "Sites"),
    ("bench", "Bench"),
    ("agreements", "Agreements"),
    ("bills", "Bills"),
)
MANAGERS = (*OFFICES, ("shop", "Shop"), ("people", "People"))
WAYS = {Role.TECHNICIAN.value: TECHNICIANS, Role.OFFICE.value: OFFICES, Role.MANAGER.value: MANAGERS}


@register.filter
def page_address(name: str) -> str:
    """The address of the page of that name, or nothing while there is no such page: {{ "truck"|page_address }}."""
    return way(name)


@register.simple_tag
def ways(role: str, path: str) -> SafeString:
    """The links in the head for somebody with that role; the one that `path` is at, or beneath, is marked."""
    there = ((way(name), label) for name, label in WAYS.get(role, OFFICES))
    return format_html_join(
        "\n      ",
        '<a href="{}"{}>{}</a>',
        ((address, current(address, path), label) for address, label in there if address),
    )


def current(address: str, path: str) -> SafeString:
    """The mark of the page one is on ("page"), or of the part of the product it belongs to ("true")."""
    if path == address:
        return format_html(' aria-current="{}"', "page")
    if address != "/" and address in path:
        return format_html(' aria-current="{}"', "true")
    return SafeString()
