"""What the files of who was what where, and of what sat where, hold. They go out only: each row is a step somebody took."""

from kits.exporting import FileColumn

# Rows with their site and customer.
PARTY_COLUMNS = (
    FileColumn("Customer", lambda party: party.customer.name),
    FileColumn("Customer's phone", lambda party: party.customer.phone),
    FileColumn("Site street", lambda party: party.site.street),
    FileColumn("Site city", lambda party: party.site.city),
    FileColumn("Site postal code", lambda party: party.site.postal_code),
    FileColumn("As what", lambda party: party.get_part_display()),
    FileColumn("From", lambda party: party.since),
    FileColumn("Until", lambda party: party.until),
)

# Rows with their sensor, position, and the stay's kit, call, unit and site.
PLACEMENT_COLUMNS = (
    FileColumn("Kit", lambda placement: placement.deployment.kit.code),
    FileColumn("Call", lambda placement: placement.deployment.call.number),
    FileColumn("Site street", lambda placement: placement.deployment.unit.site.street),
    FileColumn("Unit", lambda placement: placement.deployment.unit.name),
    FileColumn("Position", lambda placement: placement.position.code),
    FileColumn("Position in words", lambda placement: placement.position.name),
    FileColumn("ROM ID", lambda placement: placement.sensor.rom),
    FileColumn("Tag", lambda placement: placement.sensor.tag),
    FileColumn("From", lambda placement: placement.placed_from),
    FileColumn("Until", lambda placement: placement.placed_until),
)

POSITION_COLUMNS = (
    FileColumn("Position", lambda position: position.code),
    FileColumn("In words", lambda position: position.name),
    FileColumn("Built in", lambda position: position.built_in),
)
