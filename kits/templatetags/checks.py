"""Filters and tags of the bench's measuring: `{% load checks %}`."""

from decimal import Decimal
from typing import Any

from django import template
from django.utils.safestring import SafeString

from kits.bench_lists import found_words, kit_names, state_of
from kits.measuring.boiling import METRE_PER_FOOT, PASCAL_PER_HECTOPASCAL, PASCAL_PER_INCH_OF_MERCURY
from kits.templatetags.kitperch import word
from kits.units import NARROW_BLANK

register = template.Library()


@register.filter
def check_kits(check: Any) -> str:
    """The kits in a check of `listed_checks`, by name."""
    return ", ".join(kit_names(check)) or "Loose sensors"


@register.filter
def check_found(check: Any) -> str:
    """What it found, counted."""
    return found_words(check)


@register.simple_tag
def check_state(check: Any) -> SafeString:
    """How far it is, as a word."""
    return word(*state_of(check))


@register.filter
def pressure(pascal: int | None, unit: str | None = None) -> str:
    """A pressure as the shop's barometers show it: "29.92 inHg" where °F is read, else "1,013.2 hPa"."""
    if pascal is None:
        return ""
    if unit == "C":
        return f"{pascal / PASCAL_PER_HECTOPASCAL:,.1f}{NARROW_BLANK}hPa"
    return f"{pascal / PASCAL_PER_INCH_OF_MERCURY:.2f}{NARROW_BLANK}inHg"


@register.filter
def altitude(metres: Decimal | None, unit: str | None = None) -> str:
    """ "1,000 ft" where °F is read, else "305 m"."""
    if metres is None:
        return ""
    if unit == "C":
        return f"{metres:,.0f}{NARROW_BLANK}m"
    return f"{float(metres) / METRE_PER_FOOT:,.0f}{NARROW_BLANK}ft"
