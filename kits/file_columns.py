"""What the files of sensors and events hold, column by column. The headings are those an import knows again."""

from decimal import Decimal

from kits.exporting import Cell, FileColumn
from kits.models import Event, Sensor


def dollars(cents: int) -> Decimal:
    return Decimal(cents).scaleb(-2)


def shelf_or_kit(sensor: Sensor) -> str:
    """Where a listed sensor is: the code of its kit with the terminal, or where a spare is kept."""
    if sensor.open_wirings:  # type: ignore[attr-defined]
        wiring = sensor.open_wirings[0]  # type: ignore[attr-defined]
        return f"{wiring.kit.code} terminal {wiring.terminal}"
    return sensor.open_spares[0].word if sensor.open_spares else ""  # type: ignore[attr-defined]


def kit_code(sensor: Sensor) -> str:
    return sensor.open_wirings[0].kit.code if sensor.open_wirings else ""  # type: ignore[attr-defined]


def terminal(sensor: Sensor) -> Cell:
    return sensor.open_wirings[0].terminal if sensor.open_wirings else None  # type: ignore[attr-defined]


def offset_now(sensor: Sensor) -> Cell:
    """The offset in force, in kelvins as it is kept, whatever unit pages are read in."""
    value = sensor.offset_now  # type: ignore[attr-defined]
    return None if value is None else Decimal(value).quantize(Decimal("0.001"))


# Rows from `kits.listing.listed_sensors`.
SENSOR_COLUMNS = (
    FileColumn("Tag", lambda sensor: sensor.tag),
    FileColumn("ROM ID", lambda sensor: sensor.rom),
    FileColumn("Where now", shelf_or_kit),
    FileColumn("Tape colour", lambda sensor: sensor.tag_colour),
    FileColumn("Lead length (m)", lambda sensor: sensor.lead_length_m),
    FileColumn("Housing", lambda sensor: sensor.housing),
    FileColumn("Bought on", lambda sensor: sensor.bought_on),
    FileColumn("Kit", kit_code),
    FileColumn("Terminal", terminal),
    FileColumn("Offset (added), K", offset_now),
    FileColumn("In force from", lambda sensor: sensor.offset_from),
    FileColumn("Notes", lambda sensor: sensor.notes),
)


def who_typed(event: Event) -> str:
    return str(event.typed_by)


# Rows with `did_by` and `typed_by`.
EVENT_COLUMNS = (
    FileColumn("Happened", lambda event: event.happened_at),
    FileColumn("Written down", lambda event: event.recorded_at),
    FileColumn("Event", lambda event: event.what),
    FileColumn("In words", lambda event: event.summary),
    FileColumn("Why", lambda event: event.why),
    FileColumn("Done by", lambda event: event.doer),
    FileColumn("Typed by", who_typed),
    FileColumn("How told", lambda event: event.get_told_display()),
)
