"""ROM IDs: the writings people use, what is said of a wrong one, and the tail by which a sensor is called."""

import itertools

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from kits.rom import (
    BadRom,
    crc8,
    is_rom,
    likely_slips,
    read_rom,
    read_rom_with_note,
    reversed_bytes,
    rom_tail,
)

ROM = "28FF641E0F000034"


def with_crc(serial: bytes) -> str:
    """The ROM ID of family 28 with this serial."""
    first_seven = b"\x28" + serial
    return (first_seven + bytes([crc8(first_seven)])).hex().upper()


roms = st.binary(min_size=6, max_size=6).map(with_crc)


@pytest.mark.parametrize(
    "typed",
    [
        "28FF641E0F000034",
        "28ff641e0f000034",
        "28 FF 64 1E 0F 00 00 34",
        "28:ff:64:1e:0f:00:00:34",
        "28-FF-64-1E-0F-00-00-34",
        "28.FF641E0F0000.34",
        "28 FF 64 1E F 0 0 34",  # sketches print bytes without their leading zero
        "{0x28, 0xFF, 0x64, 0x1E, 0x0F, 0x00, 0x00, 0x34}",
        "0x28,0xFF,0x64,0x1E,0xF,0x0,0x0,0x34;",
        "0x28FF641E0F000034",
        "urn:dev:ow:28ff641e0f000034",
        "urn:dev:ow:28ff641e0f000034:celsius",
        "28-00000f1e64ff",
        "/sys/bus/w1/devices/28-00000f1e64ff/w1_slave",
        "3400000F1E64FF28",
        "0x3400000f1e64ff28",
        "34 00 00 0F 1E 64 FF 28",
        "0x34, 0x00, 0x00, 0x0F, 0x1E, 0x64, 0xFF, 0x28",
        "  ２８ＦＦ６４１Ｅ０Ｆ００００３４\t",  # full width
    ],
)
def test_any_usual_writing_is_read(typed: str) -> None:
    assert read_rom(typed) == ROM


def test_the_typist_is_told_when_the_order_was_turned_or_nothing_could_be_checked() -> None:
    assert read_rom_with_note("28FF641E0F000034").note == ""
    assert "turned round" in read_rom_with_note("3400000F1E64FF28").note
    assert "carries no CRC" in read_rom_with_note("28-00000f1e64ff").note


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "sixteen digits of the sensor's ROM ID"),
        ("  - ", "sixteen digits of the sensor's ROM ID"),
        (
            "28FF641EOF000034",
            "Character 9, O, cannot be right: a ROM ID uses 0 to 9 and A to F. It may be 0.",
        ),
        (
            "28FF64lE0F000034",
            "Character 7, L, cannot be right: a ROM ID uses 0 to 9 and A to F. It may be 1.",
        ),
        ("28FF641E0F00003X", "Character 16, X, cannot be right"),
        ("28FF641E0F0000", "has 14, 2 too few. If the CRC (the last byte) was left out"),
        ("28FF641E0F00003", "has 15, 1 too few."),
        ("28FF641E0F00000034", "has 18, 2 too many."),
        ("0000000000000000", "all zeros is what a shorted data wire reads"),
        ("00-000000000000", "all zeros is what a shorted data wire reads"),
        ("FFFFFFFFFFFFFFFF", "no sensor answered"),
        (
            "10E2073A01080063",
            "Family 10 is a DS18S20 or DS1820 thermometer. The kit takes family 28 (DS18B20) only.",
        ),
        ("22-0000003c1f2a", "Family 22 is a DS1822"),
        ("3B-0000003c1f2a", "Family 3B is a DS1825 thermometer or MAX31850"),
        ("42-0000003c1f2a", "Family 42 is a DS28EA00"),
        ("01-0000003c1f2a", "Family 01 is a serial-number chip"),
        ("EE-0000003c1f2a", "Family EE is another kind of part"),
        ("28FF641E0F000035", "digit 16 should be 4, not 5"),
        ("28FF64E10F000034", "digits 7 and 8 exchanged (1E instead of E1)"),
        ("3400000F1E46FF28", "digits 11 and 12 exchanged (64 instead of 46)"),
        ("23FF641E0F000034", "digit 2 should be 8, not 3"),
        ("430000F0E146FF82", "Read back to front, digit by digit, it fits: 28FF641E0F000034"),
        ("10E2073A01080062", "It looks like family 10, a DS18S20 or DS1820 thermometer"),
        ("28C716691AABA1B8", "compare all sixteen digits"),
    ],
)
def test_a_wrong_rom_is_refused_in_a_sentence_that_names_what_is_wrong(typed: str, says: str) -> None:
    with pytest.raises(BadRom) as refusal:
        read_rom(typed)
    assert says in str(refusal.value)


@given(
    roms, st.sampled_from(["", " ", ":", "-", ".", ", ", "_"]), st.booleans(), st.booleans(), st.booleans()
)
@example(with_crc(bytes.fromhex("000000000000")), "-", True, False, False)
def test_every_writing_round_trips(
    rom: str, separator: str, turned: bool, prefixed: bool, lower: bool
) -> None:
    assume(not (turned and rom.endswith("28")))  # both orders begin like a sensor: read as typed
    pairs = ["".join(pair) for pair in zip(*[iter(reversed_bytes(rom) if turned else rom)] * 2, strict=True)]
    prefix = "0x" if prefixed else ""
    typed = separator.join(prefix + pair for pair in pairs) if separator else prefix + "".join(pairs)
    assert read_rom(typed.lower() if lower else typed) == rom


@given(roms)
def test_a_folder_name_gives_the_same_rom(rom: str) -> None:
    data = bytes.fromhex(rom)
    assert read_rom(f"28-{data[6:0:-1].hex()}") == rom


@given(roms, st.sets(st.integers(0, 63), min_size=1, max_size=2))
def test_any_error_of_one_or_two_bits_is_refused(rom: str, bits: set[int]) -> None:
    value = int(rom, 16)
    for bit in bits:
        value ^= 1 << bit
    wrong = f"{value:016X}"
    assert not is_rom(wrong)
    try:
        # Only the other order may fit, by chance, and only where the last byte has become 28.
        assert read_rom(wrong) == reversed_bytes(wrong)
        assert wrong.endswith("28")
    except BadRom:
        pass


@given(roms, st.integers(0, 15), st.sampled_from("0123456789ABCDEF"))
def test_a_single_wrong_digit_is_refused_and_is_among_the_slips(rom: str, place: int, digit: str) -> None:
    assume(rom[place] != digit)
    wrong = rom[:place] + digit + rom[place + 1 :]
    assert not is_rom(wrong)
    assert rom in [slip.rom for slip in likely_slips(wrong, at_most=99)]


@given(roms, st.integers(0, 14))
def test_two_neighbours_exchanged_are_refused_and_named_first(rom: str, place: int) -> None:
    assume(rom[place] != rom[place + 1])
    wrong = rom[:place] + rom[place + 1] + rom[place] + rom[place + 2 :]
    assert not is_rom(wrong)
    slips = likely_slips(wrong, at_most=99)
    exchanges = list(itertools.takewhile(lambda slip: "exchanged" in slip.sentence, slips))
    assert rom in [slip.rom for slip in exchanges]


@given(st.text(), st.text(alphabet="0123456789ABCDEFx:-., {}"))
def test_anything_typed_is_read_or_refused_in_a_sentence(loose: str, close: str) -> None:
    for typed in (loose, close):
        try:
            assert is_rom(read_rom(typed))
        except BadRom as refusal:
            assert str(refusal).endswith(".")


def test_the_tail_is_the_last_four_digits_and_grows_until_it_tells_sensors_apart() -> None:
    assert rom_tail("28AA5B1C47140180") == "0180"
    assert rom_tail("28AA5B1C47140180", among=["28AA5B1C47140180", "28FF641E0F000034"]) == "0180"
    assert rom_tail("28AA5B1C47140180", among=["2812345678900180"]) == "140180"
    assert rom_tail("28AA5B1C47140180", among=["2812345647140180"]) == "1C47140180"


@given(st.sets(roms, min_size=2, max_size=5))
def test_tails_within_a_kit_differ(kit: set[str]) -> None:
    tails = [rom_tail(rom, among=kit) for rom in kit]
    assert len(set(tails)) == len(kit)
