"""Register values against the DS18B20 datasheet's tables; fault values against the software that makes them.

Values and their sources: registers.json beside this file.
"""

import json
from pathlib import Path

import pytest
from crccheck.crc import Crc8MaximDow

from kits import registers

pytestmark = pytest.mark.outside

VECTORS = json.loads((Path(__file__).parent / "registers.json").read_text(encoding="utf-8"))
NOT_AN_ANSWER = {"0000000000000000": "shorted low", "FFFFFFFFFFFFFFFF": "CRC"}


@pytest.mark.parametrize("row", VECTORS["temperatures"], ids=lambda row: f"{row['register']}h")
def test_temperature_of_the_datasheets_table(row: dict) -> None:
    assert registers.celsius_from_register(int(row["register"], 16)) == row["celsius"]


def test_the_datasheets_misprint_is_not_followed() -> None:
    misprint = VECTORS["misprint"]
    assert registers.celsius_from_register(int(misprint["right"], 16)) == misprint["celsius"]
    assert registers.celsius_from_register(int(misprint["printed"], 16)) != misprint["celsius"]


@pytest.mark.parametrize("row", VECTORS["resolutions"], ids=lambda row: f"{row['bits']} bits")
def test_undefined_bits_do_not_count(row: dict) -> None:
    undefined = (1 << row["undefined_low_bits"]) - 1
    for register in (0x0190, 0x0550, 0xFE60, 0xFC90 & ~undefined):
        clean = registers.celsius_from_register(register, row["bits"])
        assert registers.celsius_from_register(register | undefined, row["bits"]) == clean
        next_up = registers.celsius_from_register(register + undefined + 1, row["bits"])
        assert next_up - clean == row["step_celsius"]


@pytest.mark.parametrize("row", VECTORS["resolutions"], ids=lambda row: f"{row['bits']} bits")
def test_the_resolution_is_read_from_the_configuration_register(row: dict) -> None:
    first_eight = bytes.fromhex(f"91014B46{row['config_register']}FF0F10")
    reading = registers.read_scratchpad(first_eight + bytes([Crc8MaximDow.calc(first_eight)]))
    assert reading.resolution_bits == row["bits"]
    assert reading.celsius == 25.0625 // row["step_celsius"] * row["step_celsius"]


@pytest.mark.parametrize("row", VECTORS["scratchpads"], ids=lambda row: row["meaning"])
def test_scratchpad(row: dict) -> None:
    first_eight = bytes.fromhex(row["first_eight"])
    assert Crc8MaximDow.calc(first_eight) == int(row["crc"], 16)
    if row["first_eight"] not in NOT_AN_ANSWER:
        assert registers.read_scratchpad(first_eight + bytes.fromhex(row["crc"])).celsius == row["celsius"]


def test_a_bus_shorted_low_or_left_open_is_no_reading() -> None:
    with pytest.raises(registers.BadScratchpad, match="shorted low"):
        registers.read_scratchpad(bytes(9))
    with pytest.raises(registers.BadScratchpad, match="no sensor answered"):
        registers.read_scratchpad(b"\xff" * 9)


@pytest.mark.parametrize("bit", range(72))
def test_a_garbled_answer_is_no_reading(bit: int) -> None:
    answer = bytearray.fromhex("91014B467FFF0F1025")
    answer[bit // 8] ^= 1 << bit % 8
    with pytest.raises(registers.BadScratchpad, match="CRC"):
        registers.read_scratchpad(bytes(answer))


@pytest.mark.parametrize("row", VECTORS["faults"], ids=lambda row: f"{row['celsius']} °C")
def test_fault_value_is_doubted(row: dict) -> None:
    assert row["says"] in registers.doubt_of(row["celsius"])
    fahrenheit_to_a_tenth = round(row["celsius"] * 9 / 5 + 32, 1)
    assert row["says"] in registers.doubt_of((fahrenheit_to_a_tenth - 32) * 5 / 9)


@pytest.mark.parametrize("celsius", [-54.9, -10.125, 0.1, 0.5, 12.8, 24.4, 48.9, 84.9, 85.1, 93.0, 125.0])
def test_an_ordinary_reading_is_not_doubted(celsius: float) -> None:
    assert registers.doubt_of(celsius) == ""


def test_exactly_freezing_is_doubted_unless_ice_is_expected() -> None:
    assert "shorted data wire" in registers.doubt_of(0.0)
    assert registers.doubt_of(0.0, ice_expected=True) == ""
