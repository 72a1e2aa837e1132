"""What a pack of a kit's box may hold, and what is said about one that cannot be taken."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from kits.replaying import played_from, read_file
from kits.rom_list import roms_in
from kits.senml import BadPack, read_pack, temperatures
from tests import make

NOW = datetime(2026, 3, 15, 14, 0, tzinfo=UTC)
ROM = make.rom(77)
NAME = f"urn:dev:ow:{ROM.lower()}"


def taken(text: str):
    return temperatures(read_pack(text, now=NOW))


def test_base_fields_and_relative_times_give_each_reading_its_sensor_and_instant():
    other = make.rom(78)
    found = taken(
        f'[{{"bn":"urn:dev:ow:","bu":"Cel","bt":-4,"n":"{ROM.lower()}","v":21.0625}},'
        f'{{"n":"{other.lower()}","t":2,"v":22}},{{"n":"{ROM}","t":4,"v":-127}}]'
    )
    assert [(one.rom, one.celsius, (NOW - one.read_at).total_seconds()) for one in found] == [
        (ROM, Decimal("21.0625"), 4),
        (other, Decimal(22), 2),
        (ROM, Decimal(-127), 0),
    ]


def test_an_absolute_time_is_kept_to_the_microsecond():
    (one,) = taken(f'[{{"n":"{NAME}","u":"Cel","t":1773583200.123456,"v":21}}]')
    assert one.read_at == datetime(2026, 3, 15, 14, 0, 0, 123456, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no JSON"),
        ("{", "no JSON"),
        ("[" * 100_000, "no JSON"),
        (b"\xff\xfe\x00", "no JSON"),
        ('[{"n":"a","v":NaN}]', "no JSON"),
        ("{}", "array of records"),
        ("[1]", "array of records"),
        ("[]", "empty"),
        ('[{"n":"a","v":"21"}]', "v is a number"),
        ('[{"n":"a","v":true}]', "v is a number"),
        ('[{"n":5,"v":1}]', "n is a text"),
        ('[{"n":"a","v":null}]', "v is a number"),
        ('[{"n":"a","v":1e400}]', "larger or smaller"),
        ('[{"n":"a","v":1,"t":-2e9}]', "none that can be"),
        ('[{"n":"a","v":1,"t":1e15}]', "none that can be"),
        ('[{"n":"a","v":1,"bver":9},{"n":"a","v":1,"bver":10}]', "one version"),
        ('[{"n":"a","v":1},{"n":"b"}]', "Record 2"),
    ],
)
def test_what_is_no_pack_is_told_why(text, says):
    with pytest.raises(BadPack, match=says):
        read_pack(text, now=NOW)


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (f'{{"n":"{NAME}","v":21}}', "without a unit"),
        (f'{{"n":"{NAME}","u":"K","v":294}}', "in 'K'"),
        (f'{{"n":"{NAME}","u":"Cel","vs":"warm"}}', "no temperature"),
        (f'{{"n":"{NAME}","u":"Cel","v":900}}', "says 900"),
        ('{"n":"supply","u":"Cel","v":21}', "supply is no sensor"),
        # The RFC's own example names another family of sensor.
        ('{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}', "DS18S20"),
        (f'{{"n":"{NAME[:-1]}{"0" if NAME[-1] != "0" else "1"}","u":"Cel","v":21}}', "CRC does not fit"),
        (
            f'{{"n":"urn:dev:ow:{bytes.fromhex(ROM)[::-1].hex()}","u":"Cel","v":21}}',
            f"order of the wire, {NAME}",
        ),
        (f'{{"n":"{NAME}:temperature","u":"Cel","v":21}}', "is no sensor"),
    ],
)
def test_what_is_no_temperature_of_a_sensor_is_refused_by_name(record, says):
    with pytest.raises(BadPack, match=says):
        taken(f"[{record}]")


# -- Files ---------------------------------------------------------------------------------------------------------------


def test_a_file_is_read_in_any_usual_writing_and_played_from_now():
    rows = f"\ufeffCelsius;ROM;Time\n21,5;28-{bytes.fromhex(ROM)[6:0:-1].hex()};2020-01-01T00:00:00Z\n\n22;{ROM};2020-01-01 00:00:02\n"
    found = played_from(read_file(rows.encode(), now=NOW), NOW)
    assert [(one.rom, one.celsius, one.read_at) for one in found] == [
        (ROM, Decimal("21.5"), NOW),
        (ROM, Decimal(22), NOW + timedelta(seconds=2)),
    ]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"\xff\xfe\x00\x01", "no text"),
        (b"a,b\n1,2", "Missing: time, rom, celsius"),
        (b"time,rom,celsius\n", "no reading"),
        (b"time,rom,celsius\n1,2", "Line 2: a column"),
        (f"time,rom,celsius\n1,{ROM},warm".encode(), "Line 2: 'warm'"),
        (f"time,rom,celsius\n1,{ROM},nan".encode(), "Line 2: 'nan'"),
        (f"time,rom,celsius\nnoon,{ROM},21".encode(), "'noon' is no time"),
        (b"time,rom,celsius\n1,1234,21", "Line 2: A ROM ID has sixteen"),
        (b'[{"n":"a","v":1}]', "is no sensor"),
    ],
)
def test_a_file_that_cannot_be_played_is_told_why(content, says):
    with pytest.raises(BadPack, match=says):
        read_file(content, now=NOW)


def test_a_file_of_hours_is_not_played():
    rows = f"time,rom,celsius\n0,{ROM},21\n7200,{ROM},21\n"
    with pytest.raises(BadPack, match="more than 50 minutes"):
        played_from(read_file(rows.encode(), now=NOW), NOW)


# -- Lists from a console ------------------------------------------------------------------------------------------------


def test_every_usual_writing_in_a_console_is_found_in_its_order():
    one, two, three, four = (make.rom(number) for number in (81, 82, 83, 84))
    folder = f"28-{bytes.fromhex(four)[6:0:-1].hex()}"
    spaced = " ".join(f"0x{two[place : place + 2]}" for place in range(0, 16, 2))
    colons = ":".join(three[place : place + 2] for place in range(0, 16, 2))
    text = (
        f"Found 4 devices\n1: ROM = {one.lower()} 22.50 C\nROM {spaced}\n{colons}, 21\n{folder}\nagain {one}"
    )
    assert roms_in(text) == ((one, two, three, four), ())


def test_a_slip_in_a_list_is_told_with_its_line():
    bad = ROM[:-1] + ("0" if ROM[-1] != "0" else "1")
    found = roms_in(f"ok\n{bad}\n")
    assert found.roms == () and found.refused[0].startswith(f"Line 2, {bad}: The CRC does not fit")
