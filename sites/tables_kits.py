"""Tables of kits."""

from datetime import date
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.models import Condition, Kit, Place
from kits.templatetags.kitperch import NOTHING, day, spaced_code, word
from kits.ways import way_to
from kits.words import tone_of_place
from sites.days import say_day
from sites.file_columns import KIT_COLUMNS
from sites.kit_list import stay_out

NUMERAL = {"td": {"class": "numeral"}}


class KitTable(tables.Table):
    """Every kit and where it is. Rows come from `sites.kit_list.listed_kits`."""

    caption = "Kits"
    counted = "kit,kits"
    exports = ("csv", "xlsx")
    file_columns = KIT_COLUMNS
    teach = (
        "A kit gets its code when it is built. Print its label, wire its sensors in, and put it on the shelf."
    )
    teach_action = "Build the first kit"

    code = tables.Column(verbose_name="Code", empty_values=())
    name = tables.Column(verbose_name="Name")
    whereabouts = tables.Column(verbose_name="Whereabouts", order_by=("place_now", "code"), empty_values=())
    exactly = tables.Column(
        verbose_name="Where, and for what", order_by=("site_now", "code"), empty_values=()
    )
    due_back = tables.Column(verbose_name="Back in shop by", empty_values=())
    sensor_count = tables.Column(verbose_name="Sensors", attrs=NUMERAL)
    condition = tables.Column(verbose_name="Condition", order_by=("-condition", "code"), empty_values=())
    follow_up_count = tables.Column(verbose_name="Still to do", attrs=NUMERAL)

    class Meta:
        empty_text = "No kits yet."
        order_by = "name"

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def is_late(self, kit: Kit) -> bool:
        stay = stay_out(kit)
        return stay is not None and (
            stay.back_in_shop_by < self.today or (stay.removed_at is None and stay.take_out_by < self.today)
        )

    def row_class(self, kit: Kit) -> str:
        if kit.custody.place == Place.MISSING or self.is_late(kit):
            return "is-late"
        return "is-attention" if kit.condition == Condition.NEEDS_WORK else ""

    def render_code(self, record: Kit) -> SafeString:
        shown = spaced_code(record.code)
        return format_html('<a class="kit-code" href="{}">{}</a>', way_to("kit", record.code), shown)

    def render_whereabouts(self, record: Kit) -> SafeString:
        return word(record.whereabouts, tone_of_place(record.custody.place))

    def render_exactly(self, record: Kit) -> str:
        if stay := stay_out(record):
            return f"{stay.unit.site}, {stay.call}"
        if record.planned_call:  # type: ignore[attr-defined]
            since = say_day(record.planned_from, self.today)  # type: ignore[attr-defined]
            return f"promised to call {record.planned_call} from {since}"  # type: ignore[attr-defined]
        return NOTHING

    def render_due_back(self, record: Kit) -> SafeString | str:
        stay = stay_out(record)
        if stay is None:
            return NOTHING
        if self.is_late(record):
            return format_html("{} {}", day(stay.back_in_shop_by), word("late", "late"))
        return day(stay.back_in_shop_by)

    def render_condition(self, record: Kit) -> SafeString | str:
        if record.condition == Condition.NEEDS_WORK:
            return format_html("{} {}", word("needs work", "attention"), record.condition_why)
        return "in service"
