"""What pages about bills draw with: `{% load bills %}`."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from reports.billing.calendar import say_month, say_span
from reports.billing.lines import Line
from reports.billing_books import Told
from reports.billing_close import Draft
from reports.billing_list import state_tone, state_word, with_state
from reports.billing_words import amount_text, sums_text
from reports.models import Bill
from sites.models import Customer, Site

register = template.Library()
BILLS_SHOWN = 12


@register.filter
def amount(cents: int | None, currency: str = "") -> str:
    """ "1,240.00 USD" of whole cents: {{ bill.total_cents|amount:bill.currency }}."""
    return "" if cents is None else amount_text(cents, currency)


@register.filter
def sums(by_currency: Mapping[str, int]) -> str:
    """ "1,240.00 USD and 80.00 CAD" of cents by currency."""
    return sums_text(by_currency)


@register.filter
def month(day: date | None) -> str:
    """ "June 2026"."""
    return say_month(day) if day else ""


@register.filter
def span(line: Any) -> str:
    """ "8-14 May" of anything that has `start` and `until`."""
    return say_span(line.start, line.until)


@register.filter
def last_day(until: date | None) -> date | None:
    """The last day before `until`."""
    return until - timedelta(days=1) if until else None


@register.filter
def rate(share: Decimal) -> str:
    """ "7.25 %" of a tax rate; "none" where there is none."""
    return f"{(share * 100).normalize():f} %" if share else "none"


@register.simple_tag
def bills_of(customer: Customer | Any = None, site: Site | Any = None) -> SafeString:
    """The part of a customer's or a site's page that lists their latest bills."""
    rows = Bill.objects.filter(issued_at__isnull=False).select_related("payer")
    if customer:
        rows = rows.filter(payer=customer)
    if site:
        rows = rows.filter(lines__deployment__unit__site=site).distinct()
    found = list(with_state(rows).order_by("-year", "-serial")[: BILLS_SHOWN + 1])
    shown = [(bill, state_word(bill), state_tone(bill)) for bill in found[:BILLS_SHOWN]]
    context = {"bills": shown, "more": len(found) > BILLS_SHOWN, "customer": customer}
    return mark_safe(render_to_string("reports/_bills_of.html", context))  # a template of ours escapes


@register.filter
def houses(draft: Draft, told: Mapping[int, Told]) -> list[tuple[str, list[Line]]]:
    """The lines of a draft by house, in their order."""
    rows = groupby(draft.lines, key=lambda line: told[line.stay].site_words)
    return [(house, list(lines)) for house, lines in rows]
