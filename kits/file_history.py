"""What the files of a kit's and a sensor's past hold, column by column. They go out only: each row is a step somebody took."""

from kits.exporting import Cell, FileColumn
from kits.file_columns import dollars
from kits.models import Offset
from kits.models.sensor import OffsetSource

# Rows with their kit.
PART_COLUMNS = (
    FileColumn("Kit", lambda part: part.kit.code),
    FileColumn("Kit name", lambda part: part.kit.name),
    FileColumn("Part", lambda part: part.name),
    FileColumn("Quantity", lambda part: part.quantity),
    FileColumn("Unit cost", lambda part: dollars(part.unit_cost_cents)),
    FileColumn("Counted at hand-back", lambda part: part.returns),
)

# Rows with their kit and technician.
WHEREABOUTS_COLUMNS = (
    FileColumn("Kit", lambda custody: custody.kit.code),
    FileColumn("Kit name", lambda custody: custody.kit.name),
    FileColumn("Whereabouts", lambda custody: custody.word),
    FileColumn("From", lambda custody: custody.held_from),
    FileColumn("Until", lambda custody: custody.held_until),
)

# Rows with their kit and sensor.
WIRING_COLUMNS = (
    FileColumn("ROM ID", lambda wiring: wiring.sensor.rom),
    FileColumn("Tag", lambda wiring: wiring.sensor.tag),
    FileColumn("Kit", lambda wiring: wiring.kit.code),
    FileColumn("Kit name", lambda wiring: wiring.kit.name),
    FileColumn("Terminal", lambda wiring: wiring.terminal),
    FileColumn("From", lambda wiring: wiring.wired_from),
    FileColumn("Until", lambda wiring: wiring.wired_until),
)

# Rows with their sensor and technician.
SPARE_COLUMNS = (
    FileColumn("ROM ID", lambda spare: spare.sensor.rom),
    FileColumn("Tag", lambda spare: spare.sensor.tag),
    FileColumn("Kept", lambda spare: spare.word),
    FileColumn("From", lambda spare: spare.kept_from),
    FileColumn("Until", lambda spare: spare.kept_until),
    FileColumn("Why", lambda spare: spare.why),
)


def kelvin(offset: Offset) -> Cell:
    """Nothing where the row only says that none is in force any more."""
    return None if offset.source == OffsetSource.NONE else offset.offset_kelvin


# Rows with their sensor and who wrote them down.
OFFSET_COLUMNS = (
    FileColumn("ROM ID", lambda offset: offset.sensor.rom),
    FileColumn("Tag", lambda offset: offset.sensor.tag),
    FileColumn("In force from", lambda offset: offset.in_force_from),
    FileColumn("Offset (added), K", kelvin),
    FileColumn("Uncertainty (95 %), K", lambda offset: offset.uncertainty_kelvin),
    FileColumn("Where from", lambda offset: offset.get_source_display()),
    FileColumn("How", lambda offset: offset.how),
    FileColumn("Written down", lambda offset: offset.recorded_at),
    FileColumn("By", lambda offset: str(offset.recorded_by)),
)

# Rows with their kit and the people.
FOLLOW_UP_COLUMNS = (
    FileColumn("Kit", lambda one: one.kit.code),
    FileColumn("Still to do", lambda one: one.what),
    FileColumn("Due", lambda one: one.due_on),
    FileColumn("Opened", lambda one: one.opened_at),
    FileColumn("Opened by", lambda one: str(one.opened_by)),
    FileColumn("Done", lambda one: one.done_at),
    FileColumn("Done by", lambda one: str(one.done_by or "")),
    FileColumn("What came of it", lambda one: one.outcome),
)

PERSON_COLUMNS = (
    FileColumn("Name", lambda person: person.name),
    FileColumn("Role", lambda person: person.get_role_display()),
    FileColumn("Sign-in name", lambda person: person.username),
    FileColumn("Phone", lambda person: person.phone),
    FileColumn("E-mail", lambda person: person.email),
    FileColumn("May sign in", lambda person: person.is_active),
)
