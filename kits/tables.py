"""Lists of the bench and the sensors."""

from typing import Any

import django_tables2 as tables
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from kits.file_columns import SENSOR_COLUMNS
from kits.models import KeptAt, Sensor, Shop
from kits.readiness import dated
from kits.templatetags.kitperch import NOTHING, day, difference, length_in, tape, word
from kits.words import DUE_TONES


class SensorTable(tables.Table):
    """Every sensor with where it is and the offset in force. Rows come from `kits.listing.listed_sensors`, dated."""

    caption = "Sensors"
    counted = "sensor,sensors"
    exports = ("csv", "xlsx")
    file_columns = SENSOR_COLUMNS
    teach = "Each sensor is known by the sixteen digits of its ROM ID. Add one, then wire it into a kit."
    teach_action = "Add a sensor"

    tag = tables.Column(verbose_name="Tag", empty_values=())
    rom = tables.Column(verbose_name="ROM ID")
    whereabouts = tables.Column(
        verbose_name="Where", order_by=("wired_kit_name", "wired_terminal", "kept_place"), empty_values=()
    )
    lead_length_m = tables.Column(verbose_name="Lead", attrs={"td": {"class": "numeral"}})
    offset_now = tables.Column(
        verbose_name="Offset (added)",
        attrs={"td": {"class": "numeral"}},
        empty_values=(),
    )
    offset_from = tables.Column(verbose_name="In force from", empty_values=())

    check = tables.Column(verbose_name="Check", empty_values=(), orderable=False)

    class Meta:
        empty_text = "No sensors yet."
        order_by = ("tag", "rom")

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop, self.unit = shop, shop.temperature_unit
        self.today = timezone.localdate()

    def render_tag(self, record: Sensor) -> SafeString:
        return format_html('<a href="{}">{}</a>', record.get_absolute_url(), swatch(record))

    def render_rom(self, value: str) -> SafeString:
        return format_html("<code>{}</code>", value)

    def render_whereabouts(self, record: Sensor) -> SafeString | str:
        if record.open_wirings:  # type: ignore[attr-defined]
            wiring = record.open_wirings[0]  # type: ignore[attr-defined]
            return format_html(
                '<a href="{}">{}</a>, terminal {}',
                wiring.kit.get_absolute_url(),
                wiring.kit.name,
                wiring.terminal,
            )
        return kept_word(record)

    def render_lead_length_m(self, value: Any) -> str:
        return length_in(value, self.unit)

    def render_offset_now(self, record: Sensor) -> SafeString | str:
        value = record.offset_now  # type: ignore[attr-defined]
        return word("none", "attention") if value is None else difference(value, self.unit)

    def render_offset_from(self, record: Sensor) -> str:
        return day(record.offset_from)  # type: ignore[attr-defined]

    def render_check(self, record: Sensor) -> SafeString | str:
        if record.kept_place in {KeptAt.MISSING, KeptAt.SCRAPPED}:  # type: ignore[attr-defined]
            return NOTHING
        state = dated(record, self.shop).word(self.today)
        return word(state, DUE_TONES[state])


def swatch(sensor: Sensor) -> SafeString:
    """The tape on a lead as it stands in a table; a lead without any says so."""
    if not sensor.tag and not sensor.tag_colour:
        return format_html('<span class="soft">{}</span>', "no tag")
    suffix = tape(sensor.tag_colour)
    if not suffix:
        return format_html("<b>{}</b>", sensor.tag)
    return format_html(
        '<span class="swatch swatch-{}"><b>{}</b> {}</span>', suffix, sensor.tag, sensor.tag_colour
    )


def kept_word(sensor: Sensor) -> SafeString | str:
    """Where a spare is kept; a missing or scrapped one stands out."""
    if not sensor.open_spares:  # type: ignore[attr-defined]
        return NOTHING
    spare = sensor.open_spares[0]  # type: ignore[attr-defined]
    if spare.place == KeptAt.MISSING:
        return word("missing", "late")
    return word(spare.word if spare.place == KeptAt.SCRAPPED else f"spare: {spare.word}", "plain")
