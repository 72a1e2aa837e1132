"""From rows to the plain records that papers are drawn from. Everything is told as known now, in the site's time."""

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from kits.models import Event, Kit, Offset, Sensor, Shop
from kits.units import Unit, difference_text, temperature_text
from reports.papers import records
from reports.papers.words import plain_position, when
from sites.as_of import KitThen, SensorThen, kit_as_of
from sites.days import day_of
from sites.models import Deployment, Occasion, PartyRole, Placement, ReferenceReading, Stage, WifiUse
from sites.splits import split_of

MOVES = ("sensor moved", "lead swapped", "extended", "time corrected")


def shop_record() -> records.Shop:
    """The head of every paper."""
    shop = Shop.current()
    return records.Shop(
        name=shop.name,
        address_lines=tuple(line.strip() for line in shop.address.splitlines() if line.strip()),
        phone=shop.phone,
        licence_number=shop.licence_number,
        unit="C" if shop.temperature_unit == "C" else "F",
        logo=bytes(shop.logo_png) or None,
    )


def customer_of(stay: Deployment) -> str:
    """Who lived there (else owned it) when the stay began: an old report stays with the old customer."""
    zone = stay.unit.site.zone
    day = day_of(stay.installed_at or stay.loaded_at or stay.planned_at, zone)
    for part in (PartyRole.LIVES_THERE, PartyRole.OWNS, PartyRole.PAYS):
        names = [party.customer.name for party in stay.unit.site.parties.on(day).filter(part=part)]
        if names:
            return " and ".join(names)
    return ""


def stay_paper(stay: Deployment, *, printed_at: datetime, stay_url: str = "") -> records.StayPaper:
    """Everything the hand-back report tells about one stay."""
    site, zone = stay.unit.site, stay.unit.site.zone
    events = list(stay_events(stay))
    shop = shop_record()
    books = Books(stay)
    return records.StayPaper(
        shop=shop,
        printed_at=printed_at.astimezone(zone),
        stay_number=str(stay.pk),
        stage=stay.stage.label.lower(),
        kit_code=stay.kit.code,
        kit_name=stay.kit.name,
        kit_facts=kit_facts(stay.kit, shop.unit),
        stay_url=stay_url,
        customer_name=customer_of(stay),
        site_address=tuple(site.address_lines()),
        site_zone=site.time_zone,
        unit_description=stay.unit.describe(),
        call_number=str(stay.call.number),
        call_reason=stay.call.get_reason_display(),
        customer_told_us=stay.call.told_us,
        agreement=str(stay.call.agreement or ""),
        planned_from=stay.call.window_from,
        planned_until=stay.call.window_until,
        loaded_at=local(stay.loaded_at, zone),
        installed_at=local(stay.installed_at, zone),
        removed_at=local(stay.removed_at, zone),
        handed_back_at=local(stay.handed_back_at, zone),
        ended_at=local(stay.ended_at, zone),
        take_out_by=stay.take_out_by,
        back_in_shop_by=stay.back_in_shop_by,
        installed_by=doer_of(events, "installed"),
        removed_by=stay.removal.pulled_by if hasattr(stay, "removal") else "",
        handed_back_by=stay.hand_back.received_by if hasattr(stay, "hand_back") else "",
        booked_technician=str(stay.technician or ""),
        mapping=tuple(mapping_row(row, books, zone) for row in placements_of(stay)),
        moves=tuple(move_row(event, zone) for event in events if event.what in MOVES),
        readings_installed=tuple(readings_of(stay, Occasion.INSTALL, books, zone)),
        readings_removed=tuple(readings_of(stay, Occasion.REMOVAL, books, zone)),
        split_installed=split_read(stay, Occasion.INSTALL, books),
        split_removed=split_read(stay, Occasion.REMOVAL, books),
        reference_thermometer=stay.installation.reference_thermometer
        if hasattr(stay, "installation")
        else "",
        checklist=tuple(checklist_of(stay)),
        power=power_of(stay),
        counted=tuple(counted_of(stay)),
        missing=tuple(stay.hand_back.missing) if hasattr(stay, "hand_back") else (),
        condition=stay.hand_back.condition_note if hasattr(stay, "hand_back") else "",
        left_behind=left_behind_of(stay),
        notes=notes_of(stay),
        unfinished=tuple(unfinished_of(stay)),
        signatures=(records.Signature(role="Technician"), records.Signature(role="Counted in the shop by")),
        saw=tuple(line.strip() for line in stay.saw.splitlines() if line.strip()),
        suggest=tuple(line.strip() for line in stay.suggest.splitlines() if line.strip()),
    )


def local(instant: datetime | None, zone: ZoneInfo) -> datetime | None:
    return instant.astimezone(zone) if instant else None


def stay_events(stay: Deployment) -> "QuerySet[Event]":
    """Every event about a stay, oldest first by when it happened."""
    return (
        Event.objects.filter(abouts__kind="stay", abouts__subject_id=stay.pk)
        .select_related("did_by", "typed_by")
        .order_by("happened_at", "pk")
    )


def doer_of(events: Iterable[Event], what: str) -> str:
    return next((event.doer for event in events if event.what == what), "")


def kit_facts(kit: Kit, unit: records.Unit) -> tuple[str, ...]:
    """What a person at the unit must know about the box."""
    rated = (
        f"Box rated to {temperature_text(kit.rated_to_celsius, unit, 0)}"
        if kit.rated_to_celsius is not None
        else "Box rating not recorded"
    )
    isolation = {"yes": "Adapter isolated", "no": "Adapter NOT isolated"}.get(
        kit.adapter_isolated, "Adapter isolation not known"
    )
    return rated, isolation, "Battery inside" if kit.has_battery else "No battery inside"


def placements_of(stay: Deployment) -> list[Placement]:
    return list(
        stay.placements.select_related("sensor", "position").order_by("placed_from", "position", "pk")
    )


class Books:
    """What the books say of a stay's kit at the instants a paper asks for; each instant is looked up once."""

    def __init__(self, stay: Deployment) -> None:
        self.code = stay.kit.code
        self.known: dict[datetime, KitThen] = {}

    def sensor(self, sensor: Sensor, instant: datetime) -> SensorThen | None:
        """How the sensor was wired, placed and corrected at `instant`."""
        if instant not in self.known:
            self.known[instant] = kit_as_of(self.code, instant)
        return next((row for row in self.known[instant].sensors if row.sensor == sensor), None)


def offset_note(offset: Offset, zone: ZoneInfo) -> records.OffsetNote:
    source = f"{offset.get_source_display().lower()} by {offset.recorded_by}"
    if offset.correction.varies:
        source += ", another one at another temperature"
    uncertainty = offset.uncertainty_kelvin
    return records.OffsetNote(
        offset_kelvin=float(offset.offset_kelvin),
        in_force_from=offset.in_force_from.astimezone(zone),
        source=f"{source}, {offset.how}" if offset.how else source,
        uncertainty_kelvin=None if uncertainty is None else float(uncertainty),
    )


def mapping_row(row: Placement, books: Books, zone: ZoneInfo) -> records.MappingRow:
    then = books.sensor(row.sensor, row.placed_from)
    return records.MappingRow(
        tag=row.sensor.tag,
        tag_colour=row.sensor.get_tag_colour_display() if row.sensor.tag_colour else "",
        rom=row.sensor.rom,
        position_code=row.position.code,
        position_name=row.position.name,
        placed_from=row.placed_from.astimezone(zone),
        placed_until=local(row.placed_until, zone),
        terminal=then.terminal if then else None,
        offset=offset_note(then.offset, zone) if then and then.offset else None,
    )


def move_row(event: Event, zone: ZoneInfo) -> records.MoveRow:
    why = event.why
    if event.what == "time corrected":
        was, now = (
            when(datetime.fromisoformat(event.details[key]).astimezone(zone)) for key in ("was", "is")
        )
        why = f"{why} (was {was}, is {now})"
    return records.MoveRow(at=event.happened_at.astimezone(zone), what=event.summary, why=why, by=event.doer)


def readings_of(
    stay: Deployment, occasion: Occasion, books: Books, zone: ZoneInfo
) -> list[records.ReadingRow]:
    rows: Iterable[ReferenceReading] = stay.reference_readings.filter(occasion=occasion).select_related(
        "sensor", "position"
    )
    found = []
    for row in rows:
        then = books.sensor(row.sensor, row.read_at)
        offset = then.offset if then else None
        raw = float(row.raw_celsius)
        added = offset.correction_at(raw) if offset else None
        found.append(
            records.ReadingRow(
                tag=row.sensor.tag,
                position_code=row.position.code,
                position_name=row.position.name,
                raw_celsius=raw,
                offset_kelvin=added,
                corrected_celsius=None if added is None else raw + added,
                reference_celsius=None if row.reference_celsius is None else float(row.reference_celsius),
                taken_at=row.read_at.astimezone(zone),
            )
        )
    return found


def split_read(stay: Deployment, occasion: Occasion, books: Books) -> str:
    """Return minus supply as read then, corrected, and how well that is known; nothing when one of them was not read.

    Of one sitting, what the two checks have in common counts once: `sites.splits`.
    """
    rows = stay.reference_readings.filter(occasion=occasion, position__code__in=("SA", "RA"))
    read = {row.position.code: row for row in rows.select_related("sensor", "position")}
    if len(read) < 2:
        return ""
    celsius: dict[str, float] = {}
    offsets: dict[str, Offset | None] = {}
    for code, row in read.items():
        then = books.sensor(row.sensor, row.read_at)
        offset = then.offset if then else None
        raw = float(row.raw_celsius)
        celsius[code], offsets[code] = raw + (offset.correction_at(raw) if offset else 0.0), offset
    unit: Unit = "F" if Shop.current().temperature_unit == "F" else "C"
    split = difference_text(celsius["RA"] - celsius["SA"], unit, 1)
    return f"Return minus supply: {split} {split_of(offsets['RA'], offsets['SA']).sentence(unit)}"


def yes_no(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


def checklist_of(stay: Deployment) -> list[records.CheckRow]:
    """What was asked at the door and at the unit, and what was answered."""
    rows = []
    if hasattr(stay, "installation"):
        done = stay.installation
        dead, after = done.volts_dead, done.volts_after
        agreed = f"{done.consent_by}, {done.consent_part}".strip(", ")
        rows += [
            records.CheckRow(question="Who agreed to the watch", answer=agreed),
            records.CheckRow(
                question="Volts read when locked out", answer="" if dead is None else f"{dead:g} V"
            ),
            records.CheckRow(
                question="Volts with the kit running", answer="" if after is None else f"{after:g} V"
            ),
            records.CheckRow(question="Wi-Fi", answer=done.get_wifi_display()),
            records.CheckRow(question="Where the box hangs", answer=done.box_place),
        ]
    if hasattr(stay, "removal"):
        out = stay.removal
        rows += [
            records.CheckRow(
                question="Wires at the hook-up put back",
                answer=yes_no(out.wire_restored),
                attention=not out.wire_restored,
            ),
            records.CheckRow(
                question="System ran afterwards", answer=yes_no(out.system_ran), attention=not out.system_ran
            ),
        ]
    return rows


def power_of(stay: Deployment) -> records.PowerTap:
    if not hasattr(stay, "installation"):
        return records.PowerTap(power_input=stay.kit.get_power_input_display())
    done = stay.installation
    aux = "not used"
    if done.aux_switches:
        aux = f"{done.aux_switches}, {done.aux_when}; agreed by {done.aux_agreed_by}"
    return records.PowerTap(
        power_input=stay.kit.get_power_input_display(),
        terminals=done.hookup_terminals,
        float_switch=stay.unit.get_float_switch_display(),
        tap_relative_to_float=done.get_tap_place_display().lower(),
        volts="" if done.volts_after is None else f"{done.volts_after:g} V AC with the kit running",
        aux_contact=aux,
    )


def counted_of(stay: Deployment) -> list[records.CountRow]:
    loose = [part for part in stay.kit.parts.all() if part.returns]
    back = stay.hand_back if hasattr(stay, "hand_back") else None
    wired = stay.kit.wirings.filter(wired_until=None).count()
    rows = [
        records.CountRow(
            part="Sensors on leads",
            expected=back.sensors_expected if back else wired,
            counted=back.sensors_counted if back else None,
        )
    ]
    for part in loose:
        lost = back is not None and any(part.name in text for text in back.missing)
        counted = None if back is None or lost else part.quantity
        rows.append(
            records.CountRow(
                part=part.name,
                expected=part.quantity,
                counted=counted,
                note="missing, see below" if lost else "",
            )
        )
    return rows


def left_behind_of(stay: Deployment) -> records.LeftBehind:
    put_in = stay.installation if hasattr(stay, "installation") else None
    out = stay.removal if hasattr(stay, "removal") else None
    back = stay.hand_back if hasattr(stay, "hand_back") else None
    used = None if put_in is None else put_in.wifi != WifiUse.NONE
    return records.LeftBehind(
        holes_drilled=put_in.ports_drilled if put_in else None,
        holes_plugged=out.ports_closed if out else None,
        wires_restored=out.wire_restored if out else None,
        system_ran=out.system_ran if out else None,
        account_wiped=back.account_wiped if back else None,
        wifi_wiped=back.wifi_wiped if back and used else None,
        home_wifi_used=used,
    )


def notes_of(stay: Deployment) -> tuple[str, ...]:
    found = [getattr(stay, part).notes for part in ("installation", "removal") if hasattr(stay, part)]
    if stay.ended_why:
        found.append(f"Ended: {stay.ended_why}")
    return tuple(note for note in found if note)


def unfinished_of(stay: Deployment) -> list[str]:
    """What is still open about the stay, so that no copy passes for a finished one."""
    match stay.stage:
        case Stage.PLANNED:
            return ["The kit has not left the shop."]
        case Stage.LOADED:
            return ["The kit is on the truck and not installed yet."]
        case Stage.INSTALLED:
            return ["The kit is still at the unit."]
        case Stage.REMOVED:
            return ["The kit is out of the house and not counted yet."]
    if stay.removed_at and not stay.removed_at_is_known:
        return ["Nobody wrote down when it was taken out; the time given is when it was found."]
    return []


def leave_behind_card(stay: Deployment, *, printed_at: datetime) -> records.LeaveBehindCard:
    """The card that stays by the box."""
    zone = stay.unit.site.zone
    done = stay.installation if hasattr(stay, "installation") else None
    places = [
        plain_position(row.position.code, row.position.name.lower())
        for row in placements_of(stay)
        if row.placed_until is None
    ]
    return records.LeaveBehindCard(
        shop=shop_record(),
        printed_at=printed_at.astimezone(zone),
        kit_code=stay.kit.code,
        kit_name=stay.kit.name,
        customer_name=customer_of(stay),
        site_address=tuple(stay.unit.site.address_lines()),
        box_place=(done.box_place if done else "") or stay.unit.location,
        positions=tuple(places),
        installed_on=day_of(stay.installed_at, zone) if stay.installed_at else None,
        take_out_by=stay.take_out_by,
        home_wifi_used=bool(done and done.wifi != WifiUse.NONE),
        guest_network=bool(done and done.wifi == WifiUse.GUEST),
        aux_contact=done.aux_switches if done else "",
        battery_inside=stay.kit.has_battery,
        technician_name=str(stay.technician or ""),
    )


def leaving_slip(stay: Deployment, *, printed_at: datetime) -> records.LeavingSlip:
    """The slip signed at the door."""
    zone = stay.unit.site.zone
    return records.LeavingSlip(
        shop=shop_record(),
        printed_at=printed_at.astimezone(zone),
        stay_number=str(stay.pk),
        kit_code=stay.kit.code,
        kit_name=stay.kit.name,
        customer_name=customer_of(stay),
        site_address=tuple(stay.unit.site.address_lines()),
        unit_description=stay.unit.describe(),
        removed_at=local(stay.removed_at, zone),
        removed_by=stay.removal.pulled_by if hasattr(stay, "removal") else "",
        left_behind=left_behind_of(stay),
    )
