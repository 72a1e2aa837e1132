"""Which lead is which, written down: leads found by plugging in, a lead named, a name taken back."""

from collections.abc import Sequence
from dataclasses import dataclass

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.sensors import free_terminal, whereabouts_of, wire
from kits.models import Event, KeptAt, Kit, Sensor, Wiring
from kits.promises import Refused
from kits.rom import BadRom, read_rom
from kits.which_lead import Judgement, Naming, NamingError
from kits.which_lead.names import Named

NAMED, NAME_TAKEN_BACK, FOUND = "lead named", "lead's name taken back", "leads found"


@dataclass(frozen=True)
class Found:
    """A sensor seen on the wire of a kit: its ROM ID in any usual writing, its tape, and its terminal (None: a free one)."""

    rom: str
    tag: str = ""
    tag_colour: str = ""
    terminal: int | None = None


@dataclass(frozen=True)
class How:
    """How a lead was told from the others: by a hand, by something cold, from typed values; and what was measured."""

    way: str
    judgement: Judgement
    confirmed: bool = False


WAYS = {"hand": "warmed in the hand", "cold": "held to something cold", "typed": "told from typed values"}


# -- Plugged in one at a time --------------------------------------------------------------------------------------------


@action
def add_found_sensors(act: Act, *, kit: Kit, found: Sequence[Found]) -> Done:
    """All sensors found on a kit's wire go into the books at once: new ones added, spares wired in, bare ones named."""
    kit = hold(kit, based_on=act.based_on, act=act)
    if not found:
        raise Refused("No sensor was found yet. Plug the first lead in.")
    read = [read_found(one) for one in found]
    refuse_twice(kit, read)
    sensors = [put_in(act, kit, one) for one in read]
    tapes = ", ".join(f"{sensor.tag or 'no tape'} (…{sensor.tail})" for sensor in sensors)
    count = "1 sensor" if len(sensors) == 1 else f"{len(sensors)} sensors"
    sentence = f"{count} found on the leads of {kit}: {tapes}"
    return record(act, FOUND, sentence, about=[kit, *sensors])


def read_found(one: Found) -> Found:
    try:
        return Found(read_rom(one.rom), one.tag.strip(), one.tag_colour, one.terminal)
    except BadRom as bad:
        raise Refused(f"{one.rom[:40]}: {bad}") from bad


def refuse_twice(kit: Kit, found: Sequence[Found]) -> None:
    """No sensor, no tape and no terminal twice, among those found and with those the kit has."""
    ours = {row.sensor.rom for row in open_wirings(kit)}
    tapes = {
        row.sensor.tag.casefold(): row.sensor
        for row in open_wirings(kit)
        if row.sensor.tag and row.sensor.rom not in {one.rom for one in found}
    }
    roms: set[str] = set()
    terminals: set[int] = set()
    new_tapes: dict[str, str] = {}
    for one in found:
        tail = f"…{one.rom[-4:]}"
        tape = one.tag.casefold()
        if one.rom in roms:
            raise Refused(f"Sensor {tail} is in the list twice. Take one of the two out.")
        if tape and tape in tapes:
            raise Refused(
                f"Tape {one.tag} is on another lead of this kit, {tapes[tape]}. Choose another for {tail}."
            )
        if tape and tape in new_tapes:
            raise Refused(
                f"Tape {one.tag} is chosen for {new_tapes[tape]} and for {tail}. Give each lead its own."
            )
        if one.terminal is not None and one.terminal in terminals:
            raise Refused(f"Terminal {one.terminal} is chosen twice. One lead goes to a terminal.")
        roms.add(one.rom)
        if tape:
            new_tapes[tape] = tail
        if one.terminal is not None:
            terminals.add(one.terminal)
    free = kit.sensor_limit - len(ours)
    if len(new := roms - ours) > free:
        raise Refused(f"{kit} has {free} free terminals, and {len(new)} new sensors were found.")


def open_wirings(kit: Kit) -> list[Wiring]:
    return list(kit.wirings.filter(wired_until=None).select_related("sensor").order_by("terminal"))


def put_in(act: Act, kit: Kit, one: Found) -> Sensor:
    """One sensor that was found: new to the shop, a spare, or in this kit without a name so far."""
    sensor = Sensor.objects.filter(rom=one.rom).first()
    if sensor is None:
        sensor = Sensor(rom=one.rom)
        give_tape(sensor, one.tag, one.tag_colour)
    else:
        sensor = hold(sensor)
        wiring, spare = sensor.wiring, sensor.spare_place
        if wiring is not None and wiring.kit_id != kit.pk:
            raise Refused(
                f"Sensor {sensor} is {whereabouts_of(sensor)}, by the books. Take it out there first, or unplug it here."
            )
        if wiring is not None and sensor.tag:
            raise Refused(
                f"Sensor {sensor} is in this kit already, with tape {sensor.tag}. Take it off the list."
            )
        if spare is not None and spare.place == KeptAt.SCRAPPED:
            raise Refused(f"Sensor {sensor} was scrapped: {spare.why or 'no reason given'}. Unplug it.")
        if one.tag or not sensor.tag:
            give_tape(sensor, one.tag, one.tag_colour)
        if wiring is not None:
            return sensor
    wire(kit, sensor, free_terminal(kit) if one.terminal is None else one.terminal, at=act.happened_at)
    return sensor


def give_tape(sensor: Sensor, tag: str, colour: str) -> None:
    sensor.tag = tag
    sensor.tag_colour = colour or sensor.tag_colour
    sensor.full_clean()
    sensor.save()


# -- Named one at a time -------------------------------------------------------------------------------------------------


def naming_of(kit: Kit) -> Naming:
    """Who of a kit's leads has a name and who has none."""
    sensors = [row.sensor for row in open_wirings(kit)]
    return Naming(
        tuple(one.rom for one in sensors if not one.tag),
        tuple(Named(one.rom, one.tag) for one in sensors if one.tag),
    )


@action
def name_lead(act: Act, *, sensor: Sensor, tag: str, how: How, tag_colour: str = "") -> Done:
    """A lead was told from the others and got its tape. The event keeps what was measured."""
    wiring = sensor.wiring
    if wiring is None:
        raise Refused(f"Sensor {sensor} is in no kit; it is {whereabouts_of(sensor)}.")
    kit, sensor = hold(wiring.kit), hold(sensor)
    judgement = how.judgement
    if judgement.rom != sensor.rom:
        raise Refused(f"Not sure yet that it is this lead. {judgement.sentence} {judgement.what_to_do}")
    naming = naming_of(kit)
    try:
        # A kit with one lead only has nothing to tell it from, and still somebody has to look.
        measured = not judgement.by_elimination or (not naming.named and how.confirmed)
        naming.name(sensor.rom, tag, measured=measured, confirmed=how.confirmed)
    except NamingError as bad:
        raise Refused({"tag": [str(bad)]}) from bad
    colour_before = sensor.tag_colour
    give_tape(sensor, tag.strip(), tag_colour)
    told = "the last one left" if judgement.by_elimination else WAYS[how.way]
    sentence = f"Lead of {kit} named {sensor.tag}: it is sensor …{sensor.tail}, {told}"
    details = {
        "kit": kit.pk,
        "sensor": sensor.pk,
        "tag": sensor.tag,
        "colour_before": colour_before,
        "way": "elimination" if judgement.by_elimination else how.way,
        "change_kelvin": judgement.change_kelvin,
        "runner_up_kelvin": judgement.runner_up_kelvin,
        "margin": judgement.margin,
        "returned_share": judgement.returned_share,
    }
    return record(act, NAMED, sentence, about=[sensor, kit], details=details, why=judgement.sentence)


@action
def undo_name(act: Act, *, sensor: Sensor) -> Done:
    """The last name given to a lead of a kit is taken back; the lead is one of those to be told apart again."""
    wiring = sensor.wiring
    kit = hold(wiring.kit) if wiring else None
    sensor = hold(sensor)
    last = last_named(kit) if kit else None
    if kit is None or last is None or last.details["sensor"] != sensor.pk or not sensor.tag:
        raise Refused(
            f"Only the name given last can be taken back, and that is not sensor {sensor}. Change its tag instead."
        )
    was = sensor.tag
    if was != last.details["tag"]:
        raise Refused(f"Its tag was changed meanwhile, to {was}. Change it on the sensor's page.")
    sensor.tag, sensor.tag_colour = "", last.details["colour_before"]
    sensor.save()
    return record(
        act,
        NAME_TAKEN_BACK,
        f"Name {was} of a lead of {kit} taken back: sensor …{sensor.tail}",
        about=[sensor, kit],
    )


def last_named(kit: Kit) -> Event | None:
    """The event that gave the last name of this kit's leads that still stands."""
    events = Event.objects.filter(
        abouts__kind="kit", abouts__subject_id=kit.pk, what__in=[NAMED, NAME_TAKEN_BACK]
    ).order_by("-pk")
    taken_back = 0
    for event in events[:40]:
        if event.what == NAME_TAKEN_BACK:
            taken_back += 1
        elif taken_back:
            taken_back -= 1
        else:
            return event
    return None
