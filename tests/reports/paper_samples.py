"""Invented stays to draw papers from: the common one, and the ones that break a layout."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from reports.papers.records import (
    CheckRow,
    CountRow,
    KitLabel,
    LeaveBehindCard,
    LeavingSlip,
    LeftBehind,
    LidLabel,
    LidSensor,
    MappingRow,
    MoveRow,
    OffsetNote,
    PowerTap,
    ReadingRow,
    SensorFlag,
    Shop,
    Signature,
    StayPaper,
)
from reports.papers.words import plain_position

DENVER = ZoneInfo("America/Denver")
INSTALLED = datetime(2026, 4, 14, 15, 20, tzinfo=DENVER)
REMOVED = INSTALLED + timedelta(days=14, hours=3, minutes=5)
HANDED_BACK = REMOVED + timedelta(days=1, hours=-7)
CHECKED = datetime(2026, 3, 2, 9, 0, tzinfo=DENVER)

SHOP = Shop(
    name="Ridgeline Heating and Air",
    address_lines=("418 Tin Cup Road", "Larkspur, CO 80118"),
    phone="(720) 555-0134",
    licence_number="HVAC-20417",
)

POSITIONS = (
    ("SA", "supply air"),
    ("RA", "return air"),
    ("LL", "liquid line"),
    ("VL", "vapor line"),
    ("OA", "outdoor air"),
)
COLOURS = ("red", "blue", "green", "yellow", "white")
ROMS = ("28FF641E8A16035C", "28FF3A5F8C1603A1", "28FF7B208B1604E7", "28FF92C48916050B", "28FF10AD8816024F")
OFFSETS = (0.3125, -0.1875, 0.0, 0.25, -0.4375)
RAW_IN = (11.9, 24.4, 37.1, 9.2, 33.8)
RAW_OUT = (12.6, 23.9, 35.4, 9.9, 31.2)


def _mapping() -> tuple[MappingRow, ...]:
    return tuple(
        MappingRow(
            tag=str(n + 1),
            rom=ROMS[n],
            position_code=code,
            position_name=name,
            placed_from=INSTALLED,
            placed_until=REMOVED,
            tag_colour=COLOURS[n],
            terminal=n + 1,
            offset=OffsetNote(
                offset_kelvin=OFFSETS[n], in_force_from=CHECKED, source="calibration check 12, ice bath"
            ),
        )
        for n, (code, name) in enumerate(POSITIONS)
    )


def _readings(raw: tuple[float, ...], at: datetime) -> tuple[ReadingRow, ...]:
    return tuple(
        ReadingRow(
            tag=str(n + 1),
            position_code=code,
            position_name=name,
            raw_celsius=raw[n],
            offset_kelvin=OFFSETS[n],
            corrected_celsius=raw[n] + OFFSETS[n],
            reference_celsius=raw[n] + OFFSETS[n] + 0.1 if code in {"SA", "RA"} else None,
            taken_at=at + timedelta(minutes=4 * n),
        )
        for n, (code, name) in enumerate(POSITIONS)
    )


CHECKLIST = (
    CheckRow(question="Locked out and proved dead", answer="yes, 0.2 V", note="photo of the lock"),
    CheckRow(question="Panels back on before power up", answer="yes"),
    CheckRow(question="Volts at the kit's plug", answer="27.1 V AC"),
    CheckRow(
        question="Signal with panels on", answer="−71 dBm", note="moved the box to the hatch", attention=True
    ),
    CheckRow(question="Customer signed before power-on", answer="yes"),
    CheckRow(question="First reading seen by the office", answer=""),
)

STAY = StayPaper(
    shop=SHOP,
    printed_at=HANDED_BACK + timedelta(hours=2),
    stay_number="31",
    stage="handed back",
    kit_code="7M4Q2P",
    kit_name="Attic kit",
    kit_facts=("box rated to 60 °C", "adapter isolated", "no battery inside"),
    stay_url="https://kits.example.com/stays/31/",
    customer_name="Maria Delgado",
    site_address=("2207 Juniper Court", "Castle Rock, CO 80104"),
    site_zone="America/Denver",
    unit_description="Air handler in the attic, 3 tons, R-410A, 40 VA transformer",
    call_number="2041",
    call_reason="intermittent fault",
    customer_told_us="Upstairs never gets below 78 in the afternoon, and it clicks a lot. Fine at night.",
    agreement="Comfort agreement of 1 Feb 2026",
    planned_from=date(2026, 4, 14),
    planned_until=date(2026, 4, 29),
    loaded_at=INSTALLED - timedelta(hours=8, minutes=5),
    installed_at=INSTALLED,
    removed_at=REMOVED,
    handed_back_at=HANDED_BACK,
    take_out_by=date(2026, 4, 28),
    back_in_shop_by=date(2026, 4, 29),
    booked_technician="Ben Ortiz",
    installed_by="Ben Ortiz",
    removed_by="Ben Ortiz",
    handed_back_by="Priya Raman",
    mapping=_mapping(),
    moves=(
        MoveRow(
            at=INSTALLED + timedelta(days=3, hours=1),
            what="Sensor 4 pushed further up the vapor line, insulation closed over it",
            why="read like the attic air",
            by="Ben Ortiz",
        ),
    ),
    readings_installed=_readings(RAW_IN, INSTALLED),
    readings_removed=_readings(RAW_OUT, REMOVED),
    reference_thermometer="reference 2, certificate due 14 Mar 2027",
    checklist=CHECKLIST,
    power=PowerTap(
        power_input="24 V AC through adapter",
        terminals="R and C at the air handler's board",
        float_switch="breaks R",
        tap_relative_to_float="before the float switch",
        volts="27.1 V AC at the kit's plug",
    ),
    counted=(
        CountRow(part="Sensor on its lead", expected=5, counted=5),
        CountRow(part="24 V adapter", expected=1, counted=1),
        CountRow(part="Magnet", expected=10, counted=9, note="one left on the blower door"),
        CountRow(part="Port plug", expected=2, counted=2, note="4 went out, 2 used"),
    ),
    missing=("one magnet of 10; asked for at the next visit",),
    condition="in service; lead 3 wiped of pitch",
    left_behind=LeftBehind(
        holes_drilled=2,
        holes_plugged=2,
        wires_restored=True,
        system_ran=True,
        account_wiped=True,
        wifi_wiped=True,
        home_wifi_used=True,
        photo_count=2,
    ),
    notes=("Attic stairs stick; lift on the left side.",),
    signatures=(
        Signature(role="Taken out by", name="Ben Ortiz", signed_at=REMOVED),
        Signature(role="Counted in the shop by", name="Priya Raman", signed_at=HANDED_BACK),
        Signature(role="Seen by the manager"),
    ),
    saw=(
        "The air coming out of your vents was cold enough whenever the system ran.",
        "Between 2 and 6 in the afternoon it started 9 times an hour and stopped after 3 minutes each time.",
        "At night the same system ran 15 minutes at a stretch, as it should.",
    ),
    suggest=(
        "Let us look at the outdoor unit's pressure switch and clean its coil",
        "Keep the upstairs doors open in the afternoon until then",
    ),
)

LONG_NAME = "José Núñez-Wołkowski and Đặng Thị Hương, trustees of the Ørsted–Müller family living trust"
LONG_SHOP = replace(
    SHOP,
    name="Søndergård, Nguyễn & Wołkowska Heating, Cooling and Sheet Metal of Greater Arapahoe County",
    address_lines=(
        "18804 Old Stage Coach and Cattle Drive Road, Building 14, Suite 220",
        "Saint-Hyacinthe-sur-la-Côte, CO 80118-4410",
    ),
    unit="C",
)
LONG_STAY = replace(
    STAY,
    shop=LONG_SHOP,
    kit_name="Long-lead kit no. 3 for José Núñez-Wołkowski’s two-storey farmhouse",
    customer_name=LONG_NAME,
    site_address=(
        "c/o Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch Property Management",
        "44218 Upper Saint Catherine’s Reservoir Access Road, Unit 7B (behind the blue barn)",
        "Colorado Springs, CO 80918",
    ),
    unit_description="Two-stage heat pump with strip heat, packaged on the roof above the second-floor laundry; Øresund ABC-4400-XX-12 serial 00442188-Z",
    customer_told_us="It blows cold in winter. " * 24,
    booked_technician="Æthelthryth O’Shaughnessy-Çelik",
    installed_by="Æthelthryth O’Shaughnessy-Çelik",
    removed_by="Sam (a cousin of the owner, told by telephone by Æthelthryth O’Shaughnessy-Çelik)",
    moves=tuple(
        MoveRow(
            at=INSTALLED + timedelta(hours=9 * n),
            what=f"Sensor {n % 5 + 1} moved from {POSITIONS[n % 5][1]} to {POSITIONS[(n + 1) % 5][1]}"
            + (
                " because the first strap let go in the heat of the attic and the lead hung free"
                if n % 4 == 0
                else ""
            ),
            why="looked swapped" if n % 2 else "",
            by="Ben Ortiz" if n % 3 else "Æthelthryth O’Shaughnessy-Çelik",
        )
        for n in range(30)
    ),
    notes=tuple("The hatch is above the baby’s bed: call first. " * 6 for _ in range(3)),
    saw=tuple(
        "The supply air followed the return air for hours at a time while the outdoor unit stood still. " * 3
        for _ in range(3)
    ),
    suggest=tuple(
        "Have the reversing valve’s coil measured and replaced if it is open. " * 2 for _ in range(3)
    ),
)

UNFINISHED_STAY = replace(
    STAY,
    stage="installed",
    removed_at=None,
    handed_back_at=None,
    removed_by="",
    handed_back_by="",
    mapping=tuple(replace(row, placed_until=None) for row in STAY.mapping),
    readings_removed=(),
    counted=(),
    missing=(),
    condition="",
    left_behind=LeftBehind(holes_drilled=2, home_wifi_used=True),
    signatures=(),
    saw=(),
    suggest=(),
    unfinished=(
        "the kit is still in the house; it was to come out by Tue 28 Apr 2026",
        "nobody has said whether the 2 holes are plugged",
    ),
)

NO_OFFSETS_STAY = replace(
    STAY,
    mapping=tuple(replace(row, offset=None) for row in STAY.mapping),
    readings_installed=tuple(
        replace(row, offset_kelvin=None, corrected_celsius=None) for row in STAY.readings_installed
    ),
    readings_removed=tuple(
        replace(row, offset_kelvin=None, corrected_celsius=None) for row in STAY.readings_removed
    ),
)

EMPTY_STAY = StayPaper(
    shop=Shop(name="Ridgeline Heating and Air"),
    printed_at=INSTALLED,
    stay_number="32",
    stage="planned",
    kit_code="7M4Q3N",
    kit_name="",
    customer_name="Maria Delgado",
)

STAYS = {
    "common": STAY,
    "long": LONG_STAY,
    "unfinished": UNFINISHED_STAY,
    "no-offsets": NO_OFFSETS_STAY,
    "empty": EMPTY_STAY,
}

CARD = LeaveBehindCard(
    shop=SHOP,
    printed_at=INSTALLED,
    kit_code="7M4Q2P",
    kit_name="Attic kit",
    customer_name="Maria Delgado",
    site_address=("2207 Juniper Court", "Castle Rock, CO 80104"),
    box_place="beside the air handler in the attic",
    positions=tuple(plain_position(code, name) for code, name in POSITIONS),
    installed_on=date(2026, 4, 14),
    take_out_by=date(2026, 4, 28),
    home_wifi_used=True,
    guest_network=True,
    technician_name="Ben Ortiz",
)
LONG_CARD = replace(
    CARD,
    shop=LONG_SHOP,
    kit_name=LONG_STAY.kit_name,
    customer_name=LONG_NAME,
    site_address=LONG_STAY.site_address,
    box_place="on the joist left of the second hatch, above the laundry, behind the old evaporative cooler",
    aux_contact="the dehumidifier in the crawl space, on when the return air is above 60 percent; agreed by José Núñez-Wołkowski",
    battery_inside=True,
    technician_name="Æthelthryth O’Shaughnessy-Çelik",
)
BARE_CARD = LeaveBehindCard(
    shop=Shop(name="Ridgeline Heating and Air"),
    printed_at=INSTALLED,
    kit_code="7M4Q3N",
    kit_name="",
    customer_name="",
)

SLIP = LeavingSlip(
    shop=SHOP,
    printed_at=REMOVED,
    stay_number="31",
    kit_code="7M4Q2P",
    kit_name="Attic kit",
    customer_name="Maria Delgado",
    site_address=("2207 Juniper Court", "Castle Rock, CO 80104"),
    unit_description=STAY.unit_description,
    removed_at=REMOVED,
    removed_by="Ben Ortiz",
    left_behind=STAY.left_behind,
    signer_name="Maria Delgado",
    signer_part="owner",
    signed_at=REMOVED + timedelta(minutes=10),
)
LONG_SLIP = replace(
    SLIP,
    shop=LONG_SHOP,
    kit_name=LONG_STAY.kit_name,
    customer_name=LONG_NAME,
    site_address=LONG_STAY.site_address,
    unit_description=LONG_STAY.unit_description,
    removed_by=LONG_STAY.removed_by,
    left_behind=LeftBehind(
        holes_drilled=3, holes_plugged=2, wires_restored=True, system_ran=False, home_wifi_used=True
    ),
    notes=("The third hole waits for a larger plug; we come back for it on Thursday. " * 3,),
    signer_name="",
    signed_at=None,
)
BARE_SLIP = LeavingSlip(
    shop=Shop(name="Ridgeline Heating and Air"),
    printed_at=REMOVED,
    stay_number="32",
    kit_code="7M4Q3N",
    kit_name="",
    customer_name="Maria Delgado",
)

CODES = ("7M4Q2P", "7M4Q3N", "23456A", "HVAC2D", "ZZZZZE", "ABCDEW")


def kit_labels(count: int, host: str = "KITS.EXAMPLE.COM") -> list[KitLabel]:
    """Labels whose codes differ in their text."""
    alphabet = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
    labels = []
    for n in range(count):
        code = "".join(alphabet[(n // 30**place + 7 * place) % 30] for place in range(6))
        labels.append(
            KitLabel(
                code=code,
                name=("Attic kit", "Ostrich", LONG_STAY.kit_name)[n % 3],
                shop_phone=SHOP.phone,
                text=f"HTTPS://{host}/K/{code}",
            )
        )
    return labels


FLAGS = [
    SensorFlag(tag=tag, rom=rom, kit_code="7M4Q2P", tag_colour=colour)
    for tag, colour, rom in zip(
        ("1", "2", "yellow", "Supply, long", "5"), ("red", "blue", "yellow", "green", ""), ROMS, strict=True
    )
]

LID = LidLabel(
    code="7M4Q2P",
    name="Attic kit",
    text="HTTPS://KITS.EXAMPLE.COM/K/7M4Q2P",
    power="24 V AC through adapter, 8.5 VA",
    sensors=tuple(
        LidSensor(terminal=n, tag=tag, tail=rom[-4:], tag_colour=colour)
        for n, (tag, rom, colour) in enumerate(
            zip(("1", "2", "upstairs return", "4", "15"), ROMS, COLOURS, strict=True), start=1
        )
    ),
)
