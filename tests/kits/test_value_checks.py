"""The database refuses a wrong kit code or ROM ID by itself: raw SQL on the real tables, going round Django.

Run on SQLite and, with DATABASE_URL, on PostgreSQL. What the two conditions take and refuse is held against python: the
pure modules and, apart from them, python-stdnum and crccheck.
"""

from collections.abc import Callable
from datetime import date
from random import Random

import pytest
from crccheck.crc import Crc8MaximDow
from django.core.exceptions import ValidationError
from django.db import DataError, IntegrityError, connection, models, transaction
from django.db.migrations.writer import MigrationWriter
from stdnum.iso7064 import mod_37_2

from kits import codes, rom
from kits.models import Kit, Sensor
from kits.promises.values import kit_code_check, rom_check

LETTERS_AND_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
Attempt = Callable[[str | bytes], bool]


def attempt_on(row: models.Model, field: str) -> Attempt:
    """A function that puts a copy of `row` with another value into its table by raw SQL: True if the database took it."""
    table = connection.ops.quote_name(row._meta.db_table)
    columns = [f.column for f in row._meta.concrete_fields if not f.primary_key and f.column != field]
    names = ", ".join(connection.ops.quote_name(column) for column in columns)
    insert = f"INSERT INTO {table} ({names}, {field}) SELECT {names}, %s FROM {table} WHERE id = %s"
    update = f"UPDATE {table} SET {field} = %s WHERE id = %s"

    def taken_by(statement: str, value: str | bytes) -> bool:
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(statement, [value, row.pk])
                assert cursor.rowcount == 1
                transaction.set_rollback(True)
        except IntegrityError as refusal:
            assert "_valid" in str(refusal), f"refused by another rule: {refusal}"
            return False
        except DataError:  # PostgreSQL: too long for the column
            return False
        return True

    def taken(value: str | bytes) -> bool:
        by_insert, by_update = taken_by(insert, value), taken_by(update, value)
        assert by_insert is by_update
        return by_insert

    return taken


@pytest.fixture
def code_taken(db: None) -> Attempt:
    return attempt_on(Kit.objects.create(code="7M4Q2P", name="Spare", built_on=date(2026, 1, 5)), "code")


@pytest.fixture
def rom_taken(db: None) -> Attempt:
    return attempt_on(Sensor.objects.create(rom="28AA5B1C47140180", tag="1"), "rom")


def some_rom(random_source: Random) -> str:
    """A good ROM ID with its CRC from crccheck, not from our own code."""
    first_seven = b"\x28" + random_source.randbytes(6)
    return (first_seven + bytes([Crc8MaximDow.calc(first_seven)])).hex().upper()


def test_150_good_codes_are_taken(code_taken: Attempt) -> None:
    random_source = Random(37)
    for _ in range(150):
        code = codes.draw_code(random_source)
        assert mod_37_2.is_valid(code)
        assert code_taken(code), code


def test_600_codes_with_one_slip_are_refused(code_taken: Attempt) -> None:
    random_source = Random(2)
    wrong: set[str] = set()
    while len(wrong) < 400:
        code, place = codes.draw_code(random_source), random_source.randrange(6)
        slipped = code[:place] + random_source.choice(LETTERS_AND_DIGITS) + code[place + 1 :]
        wrong |= {slipped} - {code}
    while len(wrong) < 600:
        code, place = codes.draw_code(random_source), random_source.randrange(5)
        exchanged = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
        wrong |= {exchanged} - {code}
    assert [code for code in sorted(wrong) if code_taken(code)] == []


def test_a_random_text_of_six_is_taken_exactly_when_it_is_a_code(code_taken: Attempt) -> None:
    random_source = Random(7)
    texts = ["".join(random_source.choices(codes.ALPHABET, k=6)) for _ in range(300)]
    taken = [text for text in texts if code_taken(text)]
    assert taken == [text for text in texts if mod_37_2.is_valid(text)]
    assert taken  # about one in 37


@pytest.mark.parametrize(
    "code",
    [
        "",
        " ",
        "7M4Q2",  # too short
        "7M4Q2PP",
        " 7M4Q2P",
        "7m4q2p",
        "7M4Q2p",
        "7M4-Q2P",
        "7M4Q2X",
        "000001",  # MOD 37-2 fits, but 0 and 1 are never used
        "7M4Q0" + mod_37_2.calc_check_digit("7M4Q0"),
        "OUIL0" + mod_37_2.calc_check_digit("OUIL0"),
        next(p + "*" for p in ("2222" + c for c in codes.ALPHABET) if mod_37_2.calc_check_digit(p) == "*"),
        "７Ｍ４Ｑ２Ｐ",
        "7M4Q2P\n",
        "%s%s%s",
        "''''''",
    ],
)
def test_no_other_text_is_taken_as_a_code(code_taken: Attempt, code: str) -> None:
    assert not code_taken(code)


def test_150_good_roms_are_taken(rom_taken: Attempt) -> None:
    random_source = Random(28)
    for _ in range(150):
        good = some_rom(random_source)
        assert rom_taken(good), good


def test_600_roms_with_one_slip_are_refused(rom_taken: Attempt) -> None:
    random_source = Random(8)
    wrong: set[str] = set()
    while len(wrong) < 400:
        good, place = some_rom(random_source), random_source.randrange(16)
        slipped = good[:place] + random_source.choice(rom.HEX_DIGITS) + good[place + 1 :]
        wrong |= {slipped} - {good}
    while len(wrong) < 600:
        good, place = some_rom(random_source), random_source.randrange(15)
        exchanged = good[:place] + good[place + 1] + good[place] + good[place + 2 :]
        wrong |= {exchanged} - {good}
    assert [text for text in sorted(wrong) if rom_taken(text)] == []


def test_of_all_last_bytes_only_the_crc_is_taken(rom_taken: Attempt) -> None:
    """Serials of all ones and all zeros are the extremes of the sums the condition is made of."""
    for serial in (b"\xff" * 6, b"\x00" * 6):
        first_seven = b"\x28" + serial
        taken = [crc for crc in range(256) if rom_taken(first_seven.hex().upper() + f"{crc:02X}")]
        assert taken == [Crc8MaximDow.calc(first_seven)]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "0000000000000000",  # its CRC fits
        "FFFFFFFFFFFFFFFF",
        "10E2073A01080063",  # RFC 8428: family 10, its CRC fits
        "021CB801000000A2",  # application note 27: family 02, its CRC fits
        "800114471C5BAA28",  # back to front
        "28aa5b1c47140180",
        "28AA5B1C471401",
        "28AA5B1C4714018",
        "28AA5B1C4714018000",
        " 8AA5B1C47140180",
        "28AA5B1C4714 180",
        "28GA5B1C47140180",
        "28-00000f1e64ff",
    ],
)
def test_no_other_text_is_taken_as_a_rom(rom_taken: Attempt, text: str) -> None:
    assert not rom_taken(text)


def test_bytes_and_hidden_tails_are_not_taken_as_text(code_taken: Attempt, rom_taken: Attempt) -> None:
    """SQLite would keep bytes, or text after a zero character, where it was asked for text."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL keeps neither in a text column")
    for taken, good in ((code_taken, "HVAC2D"), (rom_taken, "28FF641E0F000034")):
        assert taken(good)
        assert not taken(good.encode())
        assert not taken(good + "\0hidden")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("row", "constraint"),
    [(Kit(code="7M4Q2X"), "kit_code_valid"), (Sensor(rom="28AA5B1C47140181"), "sensor_rom_valid")],
    ids=["code", "rom"],
)
def test_django_checks_the_same_condition_before_saving(row: models.Model, constraint: str) -> None:
    (check,) = [c for c in row._meta.constraints if c.name == constraint]
    with pytest.raises(ValidationError):
        check.validate(type(row), row)
    good = Kit(code="7M4Q2P") if isinstance(row, Kit) else Sensor(rom="28AA5B1C47140180")
    check.validate(type(row), good)


@pytest.mark.parametrize(
    ("condition", "written"),
    [
        (kit_code_check("code"), "kits.promises.values.KitCodeValid('code')"),
        (rom_check("rom"), "kits.promises.values.RomValid('rom')"),
    ],
)
def test_a_migration_names_the_condition_in_one_short_line(condition: models.Func, written: str) -> None:
    text, imports = MigrationWriter.serialize(condition)
    assert text == written
    assert "import kits.promises.values" in imports
    assert condition == type(condition)(*condition.deconstruct()[1])
