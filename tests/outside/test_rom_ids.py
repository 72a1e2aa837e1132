"""ROM IDs and their CRC-8 against published examples (application note 27, RFC 8428) and crccheck.

Values and their sources: rom_ids.json beside this file.
"""

import itertools
import json
from pathlib import Path
from random import Random

import pytest
from crccheck.crc import Crc8MaximDow

from kits import rom

pytestmark = pytest.mark.outside

VECTORS = json.loads((Path(__file__).parent / "rom_ids.json").read_text(encoding="utf-8"))
DS18B20 = [row for row in VECTORS["valid"] if row["is_ds18b20"]]


def label(row: dict) -> str:
    return f"{row.get('wire_order', row.get('typed'))} {row.get('label', row.get('why'))}"


def test_the_crc_of_the_catalogues_nine_characters() -> None:
    assert rom.crc8(b"123456789") == int(VECTORS["crc8"]["check_123456789"], 16)


def test_the_crc_agrees_with_a_general_library_on_any_bytes() -> None:
    random_source = Random(8)
    for length in range(40):
        data = random_source.randbytes(length)
        assert rom.crc8(data) == Crc8MaximDow.calc(data)


@pytest.mark.parametrize("row", VECTORS["valid"], ids=label)
def test_the_last_byte_of_a_published_rom_is_the_crc_of_the_others(row: dict) -> None:
    data = bytes.fromhex(row["wire_order"])
    assert rom.crc8(data[:7]) == data[7] == Crc8MaximDow.calc(data[:7])
    assert rom.crc8(data) == 0


@pytest.mark.parametrize("row", DS18B20, ids=label)
@pytest.mark.parametrize("writing", ["wire_order", "most_significant_first", "folder_name"])
def test_a_ds18b20_is_read_in_each_writing(row: dict, writing: str) -> None:
    assert rom.read_rom(row[writing]) == row["wire_order"]


@pytest.mark.parametrize("row", [row for row in VECTORS["valid"] if not row["is_ds18b20"]], ids=label)
@pytest.mark.parametrize("writing", ["wire_order", "most_significant_first", "folder_name"])
def test_another_family_is_named_in_each_writing(row: dict, writing: str) -> None:
    with pytest.raises(rom.BadRom, match=f"Family {row['family']} is .* takes family 28"):
        rom.read_rom(row[writing])


@pytest.mark.parametrize("row", VECTORS["refused"], ids=label)
def test_refused(row: dict) -> None:
    with pytest.raises(rom.BadRom, match=row["says"]):
        rom.read_rom(row["typed"])


def test_the_name_of_rfc_9039_is_read() -> None:
    # RFC 9039, section 4.2: urn:dev:ow: and the 1-wire address in hexadecimal, its family first.
    assert rom.read_rom("urn:dev:ow:28aa5b1c47140180") == "28AA5B1C47140180"
    with pytest.raises(rom.BadRom, match="Family 10"):
        rom.read_rom("urn:dev:ow:10e2073a01080063:voltage")  # RFC 8428, section 5.1.1


def test_every_error_of_one_two_or_three_bits_is_found() -> None:
    """The distance of the CRC, by exhaustion: 64 + 2016 + 41664 errors in one ROM ID, judged by crccheck as well."""
    lone = [rom.crc8((1 << bit).to_bytes(8, "little")) for bit in range(64)]
    assert lone == [Crc8MaximDow.calc((1 << bit).to_bytes(8, "little")) for bit in range(64)]
    for count in (1, 2, 3):
        for bits in itertools.combinations(lone, count):
            syndrome = 0
            for crc in bits:
                syndrome ^= crc
            assert syndrome != 0
