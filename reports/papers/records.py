"""What the papers are drawn from: frozen records without a model, a request or a clock.

Three rules hold for every record here:

- an instant is an aware datetime in the zone of the site (or of the shop, for a paper without a site), because
  the paper prints the wall clock it finds in it;
- a temperature is in degrees Celsius and a difference in kelvin; `Shop.unit` decides what is printed;
- what nobody knows is None (or an empty tuple), and the paper says so in words instead of leaving a hole.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

Unit = Literal["F", "C"]


@dataclass(frozen=True, kw_only=True)
class Shop:
    """The firm whose name stands at the head of the paper, and the unit it reads temperatures in."""

    name: str
    address_lines: tuple[str, ...] = ()
    phone: str = ""
    licence_number: str = ""
    unit: Unit = "F"
    logo: bytes | None = None
    """A PNG or JPEG; drawn small at the head, left out when it cannot be read."""


# ---------------------------------------------------------------- labels


@dataclass(frozen=True, kw_only=True)
class KitLabel:
    """One label for a kit's box. `text` is what the QR symbol holds, in upper case (alphanumeric mode)."""

    code: str
    name: str
    shop_phone: str
    text: str


@dataclass(frozen=True, kw_only=True)
class SensorFlag:
    """One flag round a sensor's lead: the tag as the shop says it, the end of its ROM, the kit it belongs to."""

    tag: str
    rom: str
    """The whole ROM ID in wire order (16 hex digits, separators allowed); the flag prints its last four."""
    kit_code: str
    """Empty for a spare, and the flag says so."""
    tag_colour: str = ""
    """The shop's name of the tape colour ("red"); printed as a word."""


@dataclass(frozen=True, kw_only=True)
class LidSensor:
    """One line inside the lid: what is on a terminal."""

    terminal: int
    tag: str
    tail: str
    """The last four of its ROM ID."""
    tag_colour: str = ""


@dataclass(frozen=True, kw_only=True)
class LidLabel:
    """The second label of a kit, inside its lid, for whoever has the box open."""

    code: str
    name: str
    text: str
    """What the QR symbol holds, as on the box."""
    power: str
    """"24 V AC through adapter, 8.5 VA"."""
    sensors: tuple[LidSensor, ...] = ()


# ---------------------------------------------------------------- a stay


@dataclass(frozen=True, kw_only=True)
class OffsetNote:
    """The offset in force for a sensor at a position, and where it came from."""

    offset_kelvin: float
    in_force_from: datetime
    source: str
    """"calibration check 12, ice bath", "typed by hand by R. Ortiz"."""
    checked_afterwards: bool = False
    """True when the check was made only after the readings it corrects."""
    uncertainty_kelvin: float | None = None
    """Expanded uncertainty (about 95 %), half width, when known."""


@dataclass(frozen=True, kw_only=True)
class MappingRow:
    """One sensor at one position from an instant until another. A moved sensor has two rows."""

    tag: str
    rom: str
    position_code: str
    """SA, RA, LL, VL, OA, or "" for one of the shop's own places."""
    position_name: str
    placed_from: datetime
    placed_until: datetime | None = None
    tag_colour: str = ""
    terminal: int | None = None
    offset: OffsetNote | None = None


@dataclass(frozen=True, kw_only=True)
class MoveRow:
    """Something that changed while the kit was in the house: a sensor moved, a lead swapped, the end date put off."""

    at: datetime
    what: str
    """"Sensor 3 moved from vapor line to liquid line"."""
    why: str = ""
    by: str = ""


@dataclass(frozen=True, kw_only=True)
class ReadingRow:
    """One sensor read at installation or removal, beside the reference thermometer if one was held there."""

    tag: str
    position_code: str
    position_name: str
    raw_celsius: float | None
    offset_kelvin: float | None = None
    corrected_celsius: float | None = None
    reference_celsius: float | None = None
    taken_at: datetime | None = None

    @property
    def mark(self) -> str:
        """Says so where the reading is the one a sensor gives before it has measured (its maker's datasheet): 85.0 °C.

        Readings are typed to a tenth of a degree, and 185.0 °F is the same.
        """
        at_power_on = self.raw_celsius is not None and abs(self.raw_celsius - 85.0) < 0.03
        return "power-on value" if at_power_on else ""


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One line of a checklist with what was answered: "yes", "no", "27.1 V", or "" when nobody answered."""

    question: str
    answer: str = ""
    note: str = ""
    attention: bool = False
    """True when the answer is one the office must look at."""


@dataclass(frozen=True, kw_only=True)
class CountRow:
    """One kind of part counted at hand-back. `counted` is None until somebody counted."""

    part: str
    expected: int
    counted: int | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class LeftBehind:
    """How the house was left. None means nobody has said yet."""

    holes_drilled: int | None = None
    holes_plugged: int | None = None
    wires_restored: bool | None = None
    system_ran: bool | None = None
    account_wiped: bool | None = None
    wifi_wiped: bool | None = None
    """Wi-Fi name and password erased from the kit. Leave None when no home Wi-Fi was used."""
    home_wifi_used: bool | None = None
    photo_count: int = 0


@dataclass(frozen=True, kw_only=True)
class PowerTap:
    """Where the kit took its power and what else hung on it."""

    power_input: str = ""
    """"24 V AC through adapter"."""
    terminals: str = ""
    """"R and C at the air handler board"."""
    float_switch: str = ""
    """"breaks R", "breaks Y", "none", "unknown"."""
    tap_relative_to_float: str = ""
    """"before the float switch", "after the float switch"."""
    volts: str = ""
    """"27.1 V AC at the kit's plug"."""
    aux_contact: str = ""
    """"not used", or what it switches, on what condition, and who agreed."""


@dataclass(frozen=True, kw_only=True)
class Signature:
    """Who signed what, when. `name` empty prints a line to sign on."""

    role: str
    """"Customer", "Technician", "Counted in the shop by"."""
    name: str = ""
    signed_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class StayPaper:
    """Everything the hand-back report tells about one stay, for the shop's copy and the customer's copy alike."""

    shop: Shop
    printed_at: datetime

    # which stay
    stay_number: str
    stage: str
    """The stage's word: "planned", "loaded", "installed", "removed", "handed back", "called off", "not recovered"."""
    kit_code: str
    kit_name: str
    kit_facts: tuple[str, ...] = ()
    """"Box rated to 60 C", "adapter isolated", "no battery inside"."""
    stay_url: str = ""
    """Address of the stay's page, for the QR symbol of the shop's copy. Empty: no symbol."""

    # whose, where, why
    customer_name: str
    site_address: tuple[str, ...] = ()
    site_zone: str = ""
    """IANA name, printed once so that nobody wonders whose clock it is."""
    unit_description: str = ""
    call_number: str = ""
    call_reason: str = ""
    customer_told_us: str = ""
    agreement: str = ""

    # when
    planned_from: date | None = None
    planned_until: date | None = None
    loaded_at: datetime | None = None
    installed_at: datetime | None = None
    removed_at: datetime | None = None
    handed_back_at: datetime | None = None
    ended_at: datetime | None = None
    """When it was called off or declared not recovered; else the same as `handed_back_at`."""
    take_out_by: date | None = None
    back_in_shop_by: date | None = None

    # who
    installed_by: str = ""
    removed_by: str = ""
    """Who pulled it, also somebody without a login: "Sam (helper of Ortiz Plumbing)"."""
    handed_back_by: str = ""
    booked_technician: str = ""

    # what happened
    mapping: tuple[MappingRow, ...] = ()
    moves: tuple[MoveRow, ...] = ()
    readings_installed: tuple[ReadingRow, ...] = ()
    readings_removed: tuple[ReadingRow, ...] = ()
    split_installed: str = ""
    """"Return minus supply: +18.9 °F ± 0.2 °F (95 %), both sensors checked in one sitting"; "" when one was not read."""
    split_removed: str = ""
    reference_thermometer: str = ""
    """"Ref 2, certificate due 14 Mar 2027" or "ice, 0.0 C, allow 0.1 K"."""
    checklist: tuple[CheckRow, ...] = ()
    power: PowerTap = field(default_factory=PowerTap)
    counted: tuple[CountRow, ...] = ()
    missing: tuple[str, ...] = ()
    """One sentence a missing or broken thing: "Magnet, 2 of 10 not in the box"."""
    condition: str = ""
    left_behind: LeftBehind = field(default_factory=LeftBehind)
    notes: tuple[str, ...] = ()
    unfinished: tuple[str, ...] = ()
    """What is still open, one sentence each; printed at the head so that no copy passes for a finished one."""
    signatures: tuple[Signature, ...] = ()

    # for the customer's copy, in plain words
    saw: tuple[str, ...] = ()
    """At most three sentences. Empty: the paper says that the readings are being looked at."""
    suggest: tuple[str, ...] = ()


# ---------------------------------------------------------------- papers that stay with the customer


@dataclass(frozen=True, kw_only=True)
class LeaveBehindCard:
    """The card left by the box on the day it goes in: what it is, when it leaves, whom to call."""

    shop: Shop
    printed_at: datetime
    kit_code: str
    kit_name: str
    customer_name: str
    site_address: tuple[str, ...] = ()
    box_place: str = ""
    """"beside the air handler in the attic"."""
    positions: tuple[str, ...] = ()
    """What is measured, from `words.plain_position`: "the air blown into the rooms"."""
    installed_on: date | None = None
    take_out_by: date | None = None
    home_wifi_used: bool = False
    guest_network: bool = False
    aux_contact: str = ""
    """What the auxiliary contact switches; empty when nothing."""
    battery_inside: bool = False
    technician_name: str = ""


@dataclass(frozen=True, kw_only=True)
class LeavingSlip:
    """The slip signed at the door when the box comes out."""

    shop: Shop
    printed_at: datetime
    stay_number: str
    kit_code: str
    kit_name: str
    customer_name: str
    site_address: tuple[str, ...] = ()
    unit_description: str = ""
    removed_at: datetime | None = None
    removed_by: str = ""
    left_behind: LeftBehind = field(default_factory=LeftBehind)
    notes: tuple[str, ...] = ()
    signer_name: str = ""
    signer_part: str = ""
    """"owner", "tenant", "property manager", "adult living here"."""
    signed_at: datetime | None = None
