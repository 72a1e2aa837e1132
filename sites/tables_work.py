"""Tables of work: calls."""

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.templatetags.kitperch import day
from sites.file_columns import CALL_COLUMNS
from sites.models import ServiceCall
from sites.templatetags.work import call_state


class CallTable(tables.Table):
    """Expects calls from `calls_with_state`."""

    caption = "Calls"
    counted = "call,calls"
    exports = ("csv", "xlsx")
    file_columns = CALL_COLUMNS
    teach = "A call is a booked visit: a unit, a window of days, a technician and the positions to watch."

    number = tables.Column(linkify=True, verbose_name="Call")
    window = tables.Column(empty_values=(), order_by=("window_from", "number"))
    site = tables.Column(empty_values=(), order_by="unit__site__street", verbose_name="Where")
    reason = tables.Column()
    technician = tables.Column(order_by="technician__name", default="nobody yet")
    state = tables.Column(empty_values=(), orderable=False)
    kit = tables.Column(empty_values=(), orderable=False)

    class Meta:
        empty_text = "No calls yet."
        order_by = "window"

    def row_class(self, call: ServiceCall) -> str:
        return "is-attention" if call.wants_kit else ""  # type: ignore[attr-defined]

    def render_window(self, record: ServiceCall) -> str:
        if record.window_from == record.window_until:
            return day(record.window_from)
        return f"{day(record.window_from)} to {day(record.window_until)}"

    def render_site(self, record: ServiceCall) -> SafeString:
        site = record.unit.site
        return format_html('<a href="{}">{}</a>, {}', site.get_absolute_url(), site, record.unit.name)

    def render_state(self, record: ServiceCall) -> SafeString:
        return call_state(record)

    def render_kit(self, record: ServiceCall) -> SafeString | str:
        stays = record.running_stays  # type: ignore[attr-defined]
        if not stays:
            return ""
        kit = stays[0].kit
        return format_html(
            '<a href="{}">{}</a> <span class="kit-code">{}</span>', kit.get_absolute_url(), kit.name, kit.code
        )
