"""Lists of the bench: references, and the checks made with them."""

from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.bench_lists import found_words, kit_names, state_of
from kits.file_columns_bench import CHECK_COLUMNS, REFERENCE_COLUMNS
from kits.models.thermometers import ReferenceKind, ReferenceThermometer
from kits.templatetags.kitperch import day, word
from kits.units import difference_text


class ReferenceTable(tables.Table):
    """Every reference with its newest certificate. Rows come from `kits.bench_lists.listed_references`."""

    caption = "References"
    counted = "reference,references"
    exports = ("csv", "xlsx")
    file_columns = REFERENCE_COLUMNS
    teach = (
        "A trusted thermometer with a certificate is best. Crushed ice needs no certificate and is good for a tenth "
        "of a degree."
    )
    teach_action = "Add a reference"

    name = tables.Column(verbose_name="Reference")
    standing = tables.Column(verbose_name="Certificate", order_by=("due_on",), empty_values=())
    due_on = tables.Column(verbose_name="Good until", empty_values=())
    give_or_take = tables.Column(
        verbose_name="Give or take (95 %)",
        orderable=False,
        empty_values=(),
        attrs={"td": {"class": "numeral"}},
    )

    kind = tables.Column(verbose_name="What it is")
    serial = tables.Column(verbose_name="Serial number")

    class Meta:
        empty_text = "No references yet."
        order_by = ("name",)
        row_attrs = {"class": lambda record: f"is-{record.standing.tone}"}  # as the library has it

    def __init__(self, *args: Any, unit: str = "F", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit

    def render_name(self, record: ReferenceThermometer) -> SafeString:
        return format_html('<a href="{}">{}</a>', record.get_absolute_url(), record.name)

    def render_kind(self, record: ReferenceThermometer) -> str:
        return ReferenceKind(record.kind).label

    def render_standing(self, record: Any) -> SafeString:
        return word(record.standing.word, record.standing.tone)

    def render_due_on(self, record: Any) -> str:
        return "" if record.due_on is None else day(record.due_on)

    def render_give_or_take(self, record: Any) -> str:
        if record.kind != ReferenceKind.THERMOMETER:
            return f"± {difference_text(record.allowance_kelvin, self.unit, 2, signed=False)}"  # type: ignore[arg-type]
        if record.expanded_uncertainty is None:
            return ""
        return f"± {difference_text(record.expanded_uncertainty, self.unit, 2, signed=False)}"  # type: ignore[arg-type]


class CheckTable(tables.Table):
    """Checks, newest first. Rows come from `kits.bench_lists.listed_checks`."""

    caption = "Checks"
    counted = "check,checks"
    exports = ("csv", "xlsx")
    file_columns = CHECK_COLUMNS
    teach = "A check compares sensors with a reference and finds what must be added to their readings."
    teach_action = "Begin a check"

    begun_at = tables.Column(verbose_name="Begun")
    state = tables.Column(verbose_name="State", order_by=("closed_at",), empty_values=())
    method = tables.Column(verbose_name="How")
    reference = tables.Column(verbose_name="Beside", order_by=("reference__name",))
    sensor_count = tables.Column(
        verbose_name="Sensors", orderable=False, empty_values=(), attrs={"td": {"class": "numeral"}}
    )
    kits_named = tables.Column(verbose_name="Of", orderable=False, empty_values=())
    found = tables.Column(verbose_name="Found", orderable=False, empty_values=())
    begun_by = tables.Column(verbose_name="By", order_by=("begun_by__name",))

    class Meta:
        empty_text = "No checks yet."
        order_by = ("-begun_at",)

    def render_begun_at(self, record: Any) -> SafeString:
        return format_html('<a href="{}">{}</a>', record.get_absolute_url(), day(record.begun_at))

    def render_state(self, record: Any) -> SafeString:
        return word(*state_of(record))

    def render_sensor_count(self, record: Any) -> int:
        return len(record.taking_part)

    def render_method(self, record: Any) -> str:
        return str(record.get_method_display())

    def render_kits_named(self, record: Any) -> str:
        return ", ".join(kit_names(record)) or "loose sensors"

    def render_found(self, record: Any) -> str:
        return found_words(record)
