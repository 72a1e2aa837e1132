"""Links a phone acts on: numbers to call, places to drive to. `{% load contact %}`."""

import re
from urllib.parse import quote

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sites.models import Site

register = template.Library()

_EXTENSION = re.compile(r"\s*(?:ext\.?|x|#)\s*(\d+)\s*$", re.IGNORECASE)


@register.filter
def tel(number: str | None) -> str:
    """The tel: address of a number as people write it (RFC 3966): "+1 201 555 0100 x 12" -> "tel:+12015550100;ext=12"."""
    number = (number or "").strip()
    extension = _EXTENSION.search(number)
    if extension:
        number = number[: extension.start()]
    digits = re.sub(r"\D", "", number)
    if not digits:
        return ""
    plus = "+" if number.startswith("+") else ""
    return f"tel:{plus}{digits}" + (f";ext={extension[1]}" if extension else "")


@register.filter
def phone(number: str | None) -> SafeString | str:
    """The number as a link to call it; nothing when there is none."""
    address = tel(number)
    # A number stays on one line: it is read aloud and dialled.
    shown = (number or "").replace(" ", "\N{NO-BREAK SPACE}").replace("-", "\N{NON-BREAKING HYPHEN}")
    return format_html('<a href="{}">{}</a>', address, shown) if address else shown


@register.filter
def geo(site: Site) -> str:
    """The geo: address of a site (RFC 5870), with its street as what to look for."""
    at = "0,0" if site.latitude is None else f"{site.latitude},{site.longitude}"
    return f"geo:{at}?q={quote(', '.join(line for line in site.address_lines() if line))}"
