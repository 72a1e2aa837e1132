"""Filters and tags every page may use: `{% load kitperch %}`. docs/look.md shows each with an example.

Times: an instant is shown in the zone given (a site's), else in the active one (the shop's).
Temperatures: the unit is the page's `temperature_unit` ("F" or "C"), °F when nobody has said.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta, tzinfo
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from kits import units
from kits.explained import EXPLAINED
from kits.table_rows import class_attribute, drawn_rows

register = template.Library()

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
NOTHING = "\N{EM DASH}"
TAPE_COLOURS = frozenset(
    ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
)


# -- Time ----------------------------------------------------------------------------------------


def _zone(zone: tzinfo | str | None) -> tzinfo:
    if not zone:
        return timezone.get_current_timezone()
    return ZoneInfo(zone) if isinstance(zone, str) else zone


def _day_text(day: date, this_year: int) -> str:
    year = "" if day.year == this_year else f" {day.year}"
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}{year}"


def _clock_text(instant: datetime) -> str:
    return f"{instant.hour % 12 or 12}:{instant:%M} {'am' if instant.hour < 12 else 'pm'}"


@register.filter
def when(instant: datetime | None, zone: tzinfo | str | None = None) -> str:
    """ "Tue 14 Apr, 3:20 pm" in `zone`; the year is told when it is not this one."""
    if not instant:
        return NOTHING
    local = instant.astimezone(_zone(zone))
    this_year = timezone.now().astimezone(_zone(zone)).year
    return f"{_day_text(local, this_year)}, {_clock_text(local)}"


@register.filter
def clock(instant: datetime | None, zone: tzinfo | str | None = None) -> str:
    """ "3:20 pm" in `zone`."""
    return _clock_text(instant.astimezone(_zone(zone))) if instant else NOTHING


@register.filter
def day(value: date | datetime | None, zone: tzinfo | str | None = None) -> str:
    """ "Tue 14 Apr": of a date as it stands, of an instant as that zone's day."""
    if not value:
        return NOTHING
    if isinstance(value, datetime):
        value = value.astimezone(_zone(zone)).date()
    return _day_text(value, timezone.now().astimezone(_zone(zone)).year)


@register.filter
def full_instant(instant: datetime | None, zone: tzinfo | str | None = None) -> str:
    """ "2026-04-14 15:20:07 EDT, America/New_York": what hovering a time shows."""
    if not instant:
        return ""
    local = instant.astimezone(_zone(zone))
    return f"{local:%Y-%m-%d %H:%M:%S %Z}, {_zone(zone)}"


@register.filter
def how_long(length: timedelta | int | None) -> str:
    """ "9 days", "1 day", "5 hours", "20 minutes": the largest whole unit, for ages and stays. A number is days."""
    if length is None:
        return NOTHING
    seconds = length * 86_400 if isinstance(length, int) else abs(length.total_seconds())
    for unit, size in (("day", 86_400), ("hour", 3_600), ("minute", 60)):
        if seconds >= size:
            count = int(seconds // size)
            return f"{count} {unit}{'' if count == 1 else 's'}"
    return "less than a minute"


# -- Numbers -------------------------------------------------------------------------------------


def _unit(unit: str | None) -> units.Unit:
    return "C" if unit == "C" else "F"


@register.filter
def temperature(celsius: float | Decimal | None, unit: str | None = None) -> str:
    """ "55.4 °F" of degrees Celsius: {{ reading|temperature:temperature_unit }}."""
    return NOTHING if celsius is None else units.temperature_text(celsius, _unit(unit))


@register.filter
def length_in(metres: Decimal | None, unit: str | None = None) -> str:
    """ "12 ft (3.66 m)" or "3.66 m": {{ sensor.lead_length_m|length_in:temperature_unit }}."""
    return NOTHING if metres is None else units.length_text(Decimal(metres), _unit(unit))


@register.filter
def difference(kelvin: float | Decimal | None, unit: str | None = None) -> str:
    """ "+0.54 °F" or "+0.30 K" of kelvins, sign always shown; two places, since offsets are fine."""
    return NOTHING if kelvin is None else units.difference_text(kelvin, _unit(unit), 2)


@register.filter
def give_or_take(kelvin: float | Decimal | None, unit: str | None = None) -> str:
    """ "± 0.18 °F" of kelvins: an uncertainty or an allowance, which has no sign."""
    return NOTHING if kelvin is None else f"± {units.difference_text(kelvin, _unit(unit), 2, signed=False)}"


@register.filter
def step(kelvin: float | Decimal | None, unit: str | None = None) -> str:
    """ "0.1 °F" of kelvins: the step of a display, without noughts at its end."""
    if kelvin is None:
        return NOTHING
    digits, blank, name = units.difference_text(kelvin, _unit(unit), 3, signed=False).partition(
        units.NARROW_BLANK
    )
    return f"{digits.rstrip('0').rstrip('.')}{blank}{name}"


@register.filter
def money(cents: int | None, sign: str = "$") -> str:
    """ "$1,240.00" of whole cents."""
    if cents is None:
        return NOTHING
    minus = units.MINUS if cents < 0 else ""
    return f"{minus}{sign}{abs(cents) // 100:,}.{abs(cents) % 100:02d}"


@register.filter
def counted(count: int, words: str) -> str:
    """ "1 kit", "7 kits": {{ n|counted:"kit,kits" }}."""
    one, _, many = words.partition(",")
    return f"{count:,} {one if count == 1 else many}"


@register.filter
def explained(field_name: str) -> str:
    """What a technical field means, for "What is this?" beside it; empty for a field that speaks for itself."""
    return EXPLAINED.get(field_name, "")


# -- Codes and tape ------------------------------------------------------------------------------


@register.filter
def spaced_code(code: str | None) -> str:
    """ "7M4 Q2P": a kit code in two threes, the way it is read aloud. Blanks are dropped again when it is typed."""
    code = code or ""
    return f"{code[:3]}\N{NO-BREAK SPACE}{code[3:]}" if len(code) == 6 else code


@register.filter
def tape(colour: str | None) -> str:
    """The class suffix of a tape colour word, or nothing for a colour that is none of the ten."""
    word = (colour or "").strip().lower().replace("gray", "grey")
    return word if word in TAPE_COLOURS else ""


@register.simple_tag
def swatch(text: str | None, colour: str | None) -> SafeString:
    """The tape on a lead: its text, and its colour as a band with the word beside; hatched when it is none of the ten."""
    known = tape(colour)
    return format_html(
        '<span class="swatch{}">{}{}</span>',
        f" swatch-{known}" if known else "",
        format_html("<b>{}</b> ", text) if text else "",
        format_html("<span>{}</span>", colour) if colour else "",
    )


@register.simple_tag
def position(code: str | int, name: str | None = None) -> SafeString:
    """Two letters in an outlined square; the name is read out, and shown on hover."""
    return format_html(
        '<abbr class="position"{}>{}</abbr>', format_html(' title="{}"', name) if name else "", code
    )


@register.simple_tag
def word(text: str, tone: str = "plain") -> SafeString:
    """A state as a word: {% word "late" "late" %}. Tones: plain, good, attention, late."""
    return format_html('<span class="word word-{}">{}</span>', tone, text)


@register.inclusion_tag("_steps.html")
def steps(current: int, *labels: str) -> dict[str, Any]:
    """{% steps 2 "At the door" "In the attic" "At the truck" %}: where one is on a guided page."""
    return {"labels": labels, "current": current}


@register.simple_tag(name="time")
def time_tag(instant: datetime | None, zone: tzinfo | str | None = None) -> SafeString:
    """{% time event.happened_at site.zone %}: the time, the full instant on hover and for machines."""
    drawn = render_to_string("_time.html", {"instant": instant, "zone": zone})
    return mark_safe(drawn.strip())  # the line's end would be a blank before the full stop


# -- Forms ---------------------------------------------------------------------------------------


@register.filter
def unit_of(field: Any) -> str:
    """What stands behind the number of this form field ("m", "K", "$"): widget attrs {"data-unit": "m"}."""
    return str(field.field.widget.attrs.get("data-unit", ""))


@register.filter
def refusals(form: Any) -> list[str]:
    """Errors that belong to no field one can see: those of the whole form and those of hidden fields."""
    hidden = [error for field in form.hidden_fields() for error in field.errors]
    return [*form.non_field_errors(), *hidden]


@register.filter
def any_filled(fields: Iterable[Any]) -> bool:
    """Whether anything was typed into these fields, or refused in them."""
    return any(field.errors or field.value() for field in fields)


@register.filter
def drawn_as(field: Any) -> str:
    """tick, choices, or line: how _field.html lays this field out."""
    widget = field.field.widget
    match getattr(widget, "input_type", ""):
        case "checkbox" if not hasattr(widget, "choices"):
            return "tick"
        case "radio" | "checkbox":
            return "choices"
    return "line"


# -- Tables --------------------------------------------------------------------------------------


@register.simple_tag
def table_rows(table: Any) -> SafeString:
    """The rows of this page of a django-tables2 table, drawn by `kits.table_rows`."""
    return drawn_rows(table)


@register.filter
def line_count(table: Any) -> str:
    """ "45 kits" on all pages of the table together, in the words of its `counted`."""
    count = table.page.paginator.count if hasattr(table, "page") else len(table.rows)
    return counted(count, getattr(table, "counted", "line,lines"))


@register.filter
def cell_attrs(column: Any) -> SafeString:
    """The fixed class of a column's cells."""
    return class_attribute(column)


@register.filter
def heading_attrs(column: Any) -> SafeString:
    """aria-sort and class of a heading cell."""
    attribute = class_attribute(column)
    if not column.is_ordered:
        return attribute
    descending = column.order_by_alias.is_descending
    return format_html('{} aria-sort="{}"', attribute, "descending" if descending else "ascending")


@register.filter
def gap_pages(table: Any) -> Iterable[int | str]:
    """Page numbers to offer: the first, the last, those about the present one; "…" where some are left out."""
    return table.page.paginator.get_elided_page_range(table.page.number, on_each_side=1, on_ends=1)
