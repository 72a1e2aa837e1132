"""The fields of each kind of thing an import knows: their names for people, the headings they hide behind, how to read them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from reports.importing import cells
from reports.importing.grid import Value


@dataclass(frozen=True)
class Options:
    """How ambiguous cells of a column are meant."""

    day_first: bool = False
    dates_from_1904: bool = False
    unit: str = ""


Read = Callable[[Value, Options], Any]


@dataclass(frozen=True)
class Field:
    """One thing a column can hold. `units` are offered where the heading may leave the unit open, the first by default."""

    name: str
    label: str
    headings: tuple[str, ...]
    read: Read = lambda value, options: cells.line_of(value)
    units: tuple[str, ...] = ()
    # Where what stands in a column tells what it is, whatever its heading: 1 surely this, 0 surely not, between maybe.
    looks_like: Callable[[str], float] | None = None
    # Value and label of each choice, where a column can hold only these.
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Kind:
    """One kind of thing that comes in as rows."""

    key: str
    one: str
    many: str
    fields: tuple[Field, ...]
    # At least one field of each group must have a column.
    needs: tuple[tuple[str, ...], ...]
    # Headings of our own files that are worked out, so nothing is read from them.
    worked_out: tuple[str, ...]
    about: str

    def field(self, name: str) -> Field:
        return next(field for field in self.fields if field.name == name)


def paragraph(value: Value, options: Options) -> str:
    return cells.text_of(value)


def day(value: Value, options: Options) -> date:
    return cells.day_of_cell(value, day_first=options.day_first, dates_from_1904=options.dates_from_1904)


def yes_no(value: Value, options: Options) -> bool:
    return cells.yes_or_no(value)


def whole(value: Value, options: Options) -> int:
    return cells.whole_number(value)


def number(places: int, units: str = "") -> Read:
    return lambda value, options: cells.decimal_of(value, places, units)


def length(value: Value, options: Options) -> Decimal:
    return cells.metres_of(value, options.unit or "m")


def temperature(value: Value, options: Options) -> Decimal:
    return cells.celsius_of(value, "F" if options.unit == "°F" else "C")


def offered(said: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, str], ...]:
    """Value and label of each choice."""
    return tuple((value, texts[0]) for value, texts in said.items())


def choice(what: str, words: Mapping[str, tuple[str, ...]]) -> Read:
    """One of a few values, each by any of its words; the first of them is named in a refusal."""
    known = {cells.bare(word): value for value, said in words.items() for word in (value, *said)}
    allowed = ", ".join(said[0] for said in words.values())
    return lambda value, options: cells.choice_of(value, known, what, allowed)


def words(*headings: str) -> tuple[str, ...]:
    return tuple(heading for text in headings for heading in text.split(", "))


PHONE = words("phone, phone number, telephone, tel, mobile, cell, cell phone, mobile phone, phone no, ph")
EMAIL = words("e-mail, email, mail, email address, e-mail address")
NOTES = words("notes, note, comment, comments, remark, remarks, description")
ZIP = words("postal code, zip, zip code, zipcode, postcode, post code, postal, zip/postal code")

CUSTOMERS = Kind(
    "customers",
    "customer",
    "customers",
    (
        Field(
            "name",
            "Name",
            words(
                "name, customer, customer name, client, client name, full name, homeowner, account, account name"
            )
            + words("company, company name, contact, contact name, owner, bill to"),
        ),
        Field("first_name", "First name", words("first name, first, given name, forename")),
        Field("last_name", "Last name", words("last name, last, surname, family name")),
        Field("phone", "Phone", PHONE + words("customer phone, contact phone, home phone")),
        Field(
            "email",
            "E-mail",
            EMAIL + words("customer email"),
            lambda value, options: cells.email_of(value),
            looks_like=cells.like_email,
        ),
        Field("notes", "Notes", NOTES, paragraph),
    ),
    (("name", "last_name"),),
    ("where, and as what",),
    "A customer is told by name and phone (or name and e-mail).",
)

SITES = Kind(
    "sites",
    "site",
    "sites",
    (
        Field(
            "street",
            "Street",
            words(
                "street, address, street address, address 1, address line 1, site, site street, site address"
            )
            + words("service address, property, property address, job address, house"),
        ),
        Field(
            "street_2",
            "Second address line",
            words("address 2, address line 2, street 2, apt, suite, apartment"),
        ),
        Field("city", "City", words("city, town, site city, municipality, suburb")),
        Field("region", "State", words("state, province, region, st, state/province, site state")),
        Field("postal_code", "Postal code", ZIP + words("site postal code, site zip")),
        Field(
            "time_zone",
            "Time zone",
            words("time zone, timezone, tz, zone"),
            lambda value, options: cells.zone_of(value),
        ),
        Field(
            "customer",
            "Customer",
            words("customer, customer name, client, client name, owner, homeowner, tenant, name"),
        ),
        Field(
            "customer_phone",
            "Customer's phone",
            words("customer phone, client phone, owner phone, customer's phone") + PHONE,
        ),
        Field(
            "customer_email",
            "Customer's e-mail",
            words("customer email, customer e-mail, client email, customer's e-mail") + EMAIL,
            lambda value, options: cells.email_of(value),
            looks_like=cells.like_email,
        ),
        Field(
            "parts",
            "Customer is there as",
            words("as what, part, role, relation, relationship, customer is there as"),
        ),
        Field("who", "Who is who there", words("who is who there, who is who, parties")),
        Field(
            "contact_name", "Contact", words("contact, contact name, site contact, on site contact, ask for")
        ),
        Field(
            "contact_phone", "Contact phone", words("contact phone, contact number, site phone, contact tel")
        ),
        Field(
            "access_notes",
            "Access notes",
            words("access notes, access, how to get in, directions, gate, site notes, key") + NOTES,
            paragraph,
        ),
        Field("latitude", "Latitude", words("latitude, lat"), number(5)),
        Field("longitude", "Longitude", words("longitude, lon, lng, long"), number(5)),
    ),
    (("street",), ("city",)),
    ("units", "stays so far", "kits there now"),
    "A site is told by street and postal code (without one, by street and city).",
)

UNIT_KINDS = {
    "air_handler": ("air handler", "ahu", "ah", "air handling unit", "fan coil", "fancoil"),
    "furnace": ("furnace", "gas furnace", "electric furnace", "oil furnace", "furn"),
    "heat_pump": ("heat pump", "hp", "heatpump", "air source heat pump", "split heat pump", "mini split"),
    "packaged": (
        *("packaged unit", "packaged", "package unit", "package", "pkg", "pkg unit", "gas pack"),
        *("rtu", "roof top unit", "rooftop unit", "rooftop"),
    ),
}
FLOAT_SWITCHES = {
    "breaks_r": ("breaks R", "r", "breaks red", "in R"),
    "breaks_y": ("breaks Y", "y", "breaks yellow", "in Y"),
    "none": ("none fitted", "none", "no", "no switch", "not fitted"),
    "unknown": ("not known", "unknown", "?", "unk"),
}

UNITS = Kind(
    "units",
    "unit",
    "units",
    (
        Field(
            "street",
            "Site: street",
            words(
                "site street, site, address, street, street address, site address, service address, property, address 1"
            ),
        ),
        Field("city", "Site: city", words("site city, city, town")),
        Field("postal_code", "Site: postal code", words("site postal code, site zip") + ZIP),
        Field(
            "name",
            "Name of the unit",
            words(
                "unit, unit name, system, system name, equipment, equipment name, name, name of the unit, label"
            ),
        ),
        Field(
            "kind",
            "Kind",
            words("kind, type, unit type, equipment type, system type, kind of unit, unit kind"),
            choice("kind of unit", UNIT_KINDS),
            choices=offered(UNIT_KINDS),
        ),
        Field("make", "Make", words("make, manufacturer, brand, mfr, maker")),
        Field("model", "Model", words("model, model number, model no, model #")),
        Field("serial", "Serial number", words("serial number, serial, serial no, serial #, s/n, sn")),
        Field("refrigerant", "Refrigerant", words("refrigerant, gas, ref, refrigerant type")),
        Field(
            "capacity_tons",
            "Tonnage",
            words("tonnage, tons, capacity, capacity tons, ton, size tons"),
            number(1, "tons?|t"),
        ),
        Field("location", "Location", words("location, where, place, installed at, unit location, position")),
        Field(
            "transformer_volt_ampere",
            "Transformer (VA)",
            words("transformer va, transformer, va, xfmr, control transformer"),
            lambda value, options: cells.whole_number(cells.decimal_of(value, 0, "va")),
        ),
        Field(
            "float_switch",
            "Float switch",
            words("float switch, float, condensate switch, safety switch"),
            choice("float switch", FLOAT_SWITCHES),
            choices=offered(FLOAT_SWITCHES),
        ),
        Field("notes", "Notes", NOTES, paragraph),
    ),
    (("street",), ("name",), ("kind",)),
    (),
    "A unit is told by its site and its name.",
)

POWER_INPUTS = {
    "24vac": ("24 V AC", "24 V AC through adapter", "24v", "24 volt ac", "24 volts ac", "r and c"),
    "12vdc": ("12 V DC", "12v", "12 volt dc", "12 volts dc"),
    "24-48vdc": ("24-48 V DC", "24 to 48 V DC", "48 v dc", "24 v dc"),
    "110-240vac": ("110-240 V AC", "mains", "120 v", "120 v ac", "230 v", "230 v ac", "240 v", "wall plug"),
}
ISOLATIONS = {
    "yes": ("isolated", "yes", "y", "true"),
    "no": ("not isolated", "no", "n", "false"),
    "unknown": ("not known", "unknown", "?"),
}

KITS = Kind(
    "kits",
    "kit",
    "kits",
    (
        Field(
            "code",
            "Kit code",
            words("kit code, code, label, tag, kit id, id, label code, kit label, kit no"),
            lambda value, options: cells.code_text(value),
            looks_like=cells.like_code,
        ),
        Field("name", "Name", words("name, kit name, kit, box, called, box name")),
        Field(
            "built_on",
            "Built on",
            words("built on, built, build date, date built, made on, in use since"),
            day,
        ),
        Field("controller", "Controller", words("controller, board, processor, controller board, mcu")),
        Field("firmware", "Firmware", words("firmware, software, version, firmware version, fw")),
        Field(
            "power_input",
            "Power input",
            words("power input, power, supply, powered by, power supply, input"),
            choice("power input", POWER_INPUTS),
            choices=offered(POWER_INPUTS),
        ),
        Field(
            "power_draw_watt",
            "Power draw (W)",
            words("power draw w, watts, watt, w, power w, draw w"),
            number(2, "w|watts?"),
        ),
        Field(
            "power_draw_volt_ampere",
            "Power draw (VA)",
            words("power draw va, va, volt-ampere, power va, draw va"),
            number(2, "va"),
        ),
        Field(
            "sensor_limit",
            "Terminals",
            words("terminals, sensor limit, channels, inputs, sensor terminals, ports"),
            whole,
        ),
        Field(
            "has_aux_contact",
            "Auxiliary contact fitted",
            words("auxiliary contact fitted, auxiliary contact, aux contact, relay, relay fitted, aux"),
            yes_no,
        ),
        Field(
            "aux_contact_rating",
            "Auxiliary contact rating",
            words("auxiliary contact rating, aux rating, relay rating, contact rating"),
        ),
        Field(
            "rated_to_celsius",
            "Box rated to",
            words(
                "box rated to, rated to, box rating, max temperature, max temp, enclosure rating, temperature rating"
            ),
            temperature,
            ("°C", "°F"),
        ),
        Field(
            "adapter_isolated",
            "Adapter isolated",
            words("adapter isolated, isolated, isolation, isolated adapter"),
            choice("answer here", ISOLATIONS),
            choices=offered(ISOLATIONS),
        ),
        Field(
            "has_battery",
            "Battery inside",
            words("battery inside, battery, has battery, backup battery"),
            yes_no,
        ),
        Field(
            "replacement_value_cents",
            "Replacement value",
            words("replacement value, replacement cost, value, cost, price, worth, replacement price"),
            lambda value, options: cells.cents_of(value),
        ),
        Field("notes", "Notes", NOTES, paragraph),
    ),
    (("code", "name"),),
    ("whereabouts", "where exactly", "back in shop by", "sensors", "condition", "still to do"),
    "A kit is told by its code (without one, by its name). A new kit starts on the bench; without a code it is given one.",
)

SENSORS = Kind(
    "sensors",
    "sensor",
    "sensors",
    (
        Field(
            "rom",
            "ROM ID",
            words(
                "rom id, rom, rom code, sensor id, 1-wire id, 1wire id, onewire id, serial, serial number, address, id, rom address"
            )
            + words("ds18b20 id, sensor address, sensor serial"),
            lambda value, options: cells.rom_of(value),
            looks_like=cells.like_rom,
        ),
        Field(
            "tag", "Tag", words("tag, label, name, sensor, sensor name, number, no, lead, tape, flag, mark")
        ),
        Field(
            "tag_colour",
            "Tape colour",
            words("tape colour, tape color, colour, color, tag colour, tag color, lead colour, lead color"),
            lambda value, options: cells.colour_of(value),
            choices=tuple(
                (colour, colour or "no colour") for colour in dict.fromkeys(cells.COLOURS.values())
            ),
        ),
        Field(
            "lead_length_m",
            "Lead length",
            words("lead length, length, lead, cable length, cable, wire length, lead m, lead ft"),
            length,
            ("m", "ft", "in", "cm", "mm"),
        ),
        Field("housing", "Housing", words("housing, probe, sheath, probe type, tip, body")),
        Field(
            "bought_on",
            "Bought on",
            words("bought on, bought, purchased, purchase date, date bought, date purchased"),
            day,
        ),
        Field("kit", "Kit (code or name)", words("kit, kit code, kit name, box, in kit, wired into, kit id")),
        Field(
            "terminal",
            "Terminal",
            words("terminal, port, channel, position, input, terminal no, socket, slot"),
            whole,
        ),
        Field("notes", "Notes", NOTES, paragraph),
    ),
    (("rom",),),
    ("where now", "offset (added), k", "in force from", "offset added"),
    "A sensor is told by its ROM ID. With a kit it is wired in; without one it is kept as a spare on the bench.",
)

KINDS = {kind.key: kind for kind in (CUSTOMERS, SITES, UNITS, KITS, SENSORS)}
