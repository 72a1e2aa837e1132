"""What the files of kits, places and work hold, column by column. The headings are those an import knows again."""

from decimal import Decimal

from kits.exporting import Cell, FileColumn
from kits.file_columns import dollars
from kits.models import Kit
from sites.kit_list import stay_out
from sites.models import Agreement, Customer, Deployment, ServiceCall, Site
from sites.parties import parts_by_customer, parts_by_site, stays_here
from sites.templatetags.work import call_word


def where_exactly(kit: Kit) -> str:
    """The address and call a listed kit is out on, or the call it is promised to."""
    if stay := stay_out(kit):
        return f"{stay.unit.site}, {stay.call}"
    call = kit.planned_call  # type: ignore[attr-defined]
    return f"promised to call {call}" if call else ""


def due_back(kit: Kit) -> Cell:
    stay = stay_out(kit)
    return stay.back_in_shop_by if stay else None


# Rows from `sites.kit_list.listed_kits`.
KIT_COLUMNS = (
    FileColumn("Kit code", lambda kit: kit.code),
    FileColumn("Name", lambda kit: kit.name),
    FileColumn("Whereabouts", lambda kit: kit.whereabouts),
    FileColumn("Where exactly", where_exactly),
    FileColumn("Back in shop by", due_back),
    FileColumn("Sensors", lambda kit: kit.sensor_count),
    FileColumn("Condition", lambda kit: kit.get_condition_display()),
    FileColumn("Still to do", lambda kit: kit.follow_up_count),
    FileColumn("Built on", lambda kit: kit.built_on),
    FileColumn("Controller", lambda kit: kit.controller),
    FileColumn("Firmware", lambda kit: kit.firmware),
    FileColumn("Power input", lambda kit: kit.get_power_input_display()),
    FileColumn("Power draw (W)", lambda kit: kit.power_draw_watt),
    FileColumn("Power draw (VA)", lambda kit: kit.power_draw_volt_ampere),
    FileColumn("Terminals", lambda kit: kit.sensor_limit),
    FileColumn("Auxiliary contact fitted", lambda kit: kit.has_aux_contact),
    FileColumn("Auxiliary contact rating", lambda kit: kit.aux_contact_rating),
    FileColumn("Box rated to (°C)", lambda kit: kit.rated_to_celsius),
    FileColumn("Adapter isolated", lambda kit: kit.get_adapter_isolated_display()),
    FileColumn("Battery inside", lambda kit: kit.has_battery),
    FileColumn("Replacement value", lambda kit: dollars(kit.replacement_value_cents)),
    FileColumn("Notes", lambda kit: kit.notes),
)


def where_as_what(customer: Customer) -> str:
    places = parts_by_site(customer.current_parties)  # type: ignore[attr-defined]
    return "; ".join(f"{words} {site}" for site, words in places)


# Rows with `current_parties`.
CUSTOMER_COLUMNS = (
    FileColumn("Name", lambda customer: customer.name),
    FileColumn("Phone", lambda customer: customer.phone),
    FileColumn("E-mail", lambda customer: customer.email),
    FileColumn("Notes", lambda customer: customer.notes),
    FileColumn("Where, and as what", where_as_what),
)


def named(customer: Customer) -> str:
    return f"{customer} ({customer.phone})" if customer.phone else str(customer)


def who_is_who(site: Site) -> str:
    """Everybody with a part at the site: "Ana Diaz (+1 201 555 0100): lives there, pays; Bob Lee: owns"."""
    people = parts_by_customer(site.current_parties)  # type: ignore[attr-defined]
    return "; ".join(f"{named(customer)}: {words}" for customer, words in people)


# Rows with `current_parties`, `unit_count`, `stay_count`, and units with `stays_here`.
SITE_COLUMNS = (
    FileColumn("Street", lambda site: site.street),
    FileColumn("City", lambda site: site.city),
    FileColumn("State", lambda site: site.region),
    FileColumn("Postal code", lambda site: site.postal_code),
    FileColumn("Time zone", lambda site: site.time_zone),
    FileColumn("Who is who there", who_is_who),
    FileColumn("Contact", lambda site: site.contact_name),
    FileColumn("Contact phone", lambda site: site.contact_phone),
    FileColumn("Access notes", lambda site: site.access_notes),
    FileColumn("Latitude", lambda site: site.latitude),
    FileColumn("Longitude", lambda site: site.longitude),
    FileColumn("Units", lambda site: site.unit_count),
    FileColumn("Stays so far", lambda site: site.stay_count),
    FileColumn("Kits there now", lambda site: ", ".join(stay.kit.code for stay in stays_here(site))),
)

# Rows with their site.
UNIT_COLUMNS = (
    FileColumn("Site street", lambda unit: unit.site.street),
    FileColumn("Site city", lambda unit: unit.site.city),
    FileColumn("Site postal code", lambda unit: unit.site.postal_code),
    FileColumn("Unit", lambda unit: unit.name),
    FileColumn("Kind", lambda unit: unit.get_kind_display()),
    FileColumn("Make", lambda unit: unit.make),
    FileColumn("Model", lambda unit: unit.model),
    FileColumn("Serial number", lambda unit: unit.serial),
    FileColumn("Refrigerant", lambda unit: unit.refrigerant),
    FileColumn("Tonnage", lambda unit: unit.capacity_tons),
    FileColumn("Location", lambda unit: unit.location),
    FileColumn("Transformer (VA)", lambda unit: unit.transformer_volt_ampere),
    FileColumn("Float switch", lambda unit: unit.get_float_switch_display()),
    FileColumn("Notes", lambda unit: unit.notes),
)


def covered(agreement: Agreement) -> str:
    return "; ".join(str(site) for site in agreement.sites.all())


# Rows with their customer, sites prefetched, and `state`.
AGREEMENT_COLUMNS = (
    FileColumn("Customer", lambda agreement: str(agreement.customer)),
    FileColumn("Sites it covers", covered),
    FileColumn("From", lambda agreement: agreement.since),
    FileColumn("Until", lambda agreement: agreement.until),
    FileColumn("Now", lambda agreement: agreement.state[0]),
    FileColumn("What was agreed", lambda agreement: agreement.terms),
)


def promised_kit(call: ServiceCall) -> str:
    stays = call.running_stays  # type: ignore[attr-defined]
    return stays[0].kit.code if stays else ""


# Rows from `sites.work.calls_with_state`.
CALL_COLUMNS = (
    FileColumn("Call", lambda call: call.number),
    FileColumn("Window from", lambda call: call.window_from),
    FileColumn("Window to", lambda call: call.window_until),
    FileColumn("Site street", lambda call: call.unit.site.street),
    FileColumn("Site city", lambda call: call.unit.site.city),
    FileColumn("Unit", lambda call: call.unit.name),
    FileColumn("Reason", lambda call: call.get_reason_display()),
    FileColumn("Technician", lambda call: str(call.technician or "")),
    FileColumn("State", call_word),
    FileColumn("Kit", promised_kit),
    FileColumn("What the customer told us", lambda call: call.told_us),
    FileColumn("Closed on", lambda call: call.closed_on),
    FileColumn("Notes", lambda call: call.notes),
)


def days_there(stay: Deployment) -> Cell:
    """Whole and tenth days between installing and taking out; empty while the kit hangs there."""
    if stay.installed_at is None or stay.removed_at is None:
        return None
    return (Decimal((stay.removed_at - stay.installed_at).total_seconds()) / 86_400).quantize(Decimal("0.1"))


# Rows from `Deployment.objects.with_places()`.
STAY_COLUMNS = (
    FileColumn("Kit", lambda stay: stay.kit.code),
    FileColumn("Kit name", lambda stay: stay.kit.name),
    FileColumn("Call", lambda stay: stay.call.number),
    FileColumn("Site street", lambda stay: stay.unit.site.street),
    FileColumn("Site city", lambda stay: stay.unit.site.city),
    FileColumn("Unit", lambda stay: stay.unit.name),
    FileColumn("Technician", lambda stay: str(stay.technician or "")),
    FileColumn("Stage", lambda stay: stay.stage.label),
    FileColumn("Planned", lambda stay: stay.planned_at),
    FileColumn("Loaded", lambda stay: stay.loaded_at),
    FileColumn("Installed", lambda stay: stay.installed_at),
    FileColumn("Taken out", lambda stay: stay.removed_at),
    FileColumn("Days there", days_there),
    FileColumn("Back in shop", lambda stay: stay.handed_back_at),
    FileColumn("Take out by", lambda stay: stay.take_out_by),
    FileColumn("Back in shop by", lambda stay: stay.back_in_shop_by),
    FileColumn("How it ended", lambda stay: stay.ended_why),
)
