"""Kit codes and ROM IDs held by the database itself: plain CHECK conditions without triggers or stored functions.

Each is one expression that a migration names by its class and field, and that writes itself out as arithmetic both
SQLite and PostgreSQL know. The condition a database holds is the one written when its migration ran: to change a rule,
add a new class and a migration that puts it in place of the old one; never edit these.
"""

from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BooleanField, Func
from django.db.models.sql.compiler import SQLCompiler

from kits import codes, rom

# SQLite and PostgreSQL name "where in this text is that character (from 1; 0 if nowhere)" differently.
POSITION_FUNCTION = {"sqlite": "instr", "postgresql": "strpos"}


def kit_code_check(field: str) -> "KitCodeValid":
    """The condition of a CheckConstraint: `field` is a kit code, its check character included."""
    return KitCodeValid(field)


def rom_check(field: str) -> "RomValid":
    """The condition of a CheckConstraint: `field` is the ROM ID of a DS18B20 in wire order, its CRC included."""
    return RomValid(field)


class ValueCondition(Func):
    """A condition on the text of one field, written out by `condition` for the database at hand."""

    arity = 1
    output_field = BooleanField()

    def as_sql(  # type: ignore[override]
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper, **extra: Any
    ) -> tuple[str, list[Any]]:
        field, params = compiler.compile(self.get_source_expressions()[0])
        condition = self.condition(field, POSITION_FUNCTION[connection.vendor])
        # When a form is checked the field is a placeholder, and its value is needed once for each.
        return condition, list(params) * condition.count(field)

    def condition(self, field: str, position: str) -> str:
        """The condition in SQL on the column (or placeholder) `field`; a percent sign is doubled."""
        raise NotImplementedError


class KitCodeValid(ValueCondition):
    """Six characters of the alphabet of thirty, upper case, that satisfy ISO/IEC 7064 MOD 37-2."""

    def condition(self, field: str, position: str) -> str:
        return " AND ".join(
            [_only(field, codes.ALPHABET, codes.CODE_LENGTH), f"{_mod_37_2_sum(field, position)} %% 37 = 1"]
        )


class RomValid(ValueCondition):
    """Sixteen upper-case hexadecimal digits of family 28, not all zero, whose CRC-8 fits."""

    def condition(self, field: str, position: str) -> str:
        return " AND ".join(
            [
                _only(field, rom.HEX_DIGITS, rom.ROM_LENGTH),
                f"substr({field}, 1, 2) = '{rom.FAMILY}'",
                f"{field} <> '{'0' * rom.ROM_LENGTH}'",
                f"({_crc_sum(field, position)}) & {CRC_MASK} = 0",
            ]
        )


def _only(field: str, alphabet: str, length: int) -> str:
    """Text of this length in these characters. upper() also refuses a blob, which SQLite would let pass as text."""
    return f"length({field}) = {length} AND ltrim({field}, '{alphabet}') = '' AND {field} = upper({field})"


def _mod_37_2_sum(field: str, position: str) -> str:
    """The weighted sum of the standard: the values 0-9, A-Z as 0..35 times the powers of two from 32 down to 1."""
    values = "'0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ'"
    terms = [
        f"{2 ** (codes.CODE_LENGTH - place)} * ({position}({values}, substr({field}, {place}, 1)) - 1)"
        for place in range(1, codes.CODE_LENGTH + 1)
    ]
    return f"({' + '.join(terms)})"


# The CRC is linear: the CRC of a ROM ID is the exclusive or of the CRCs of its set bits, each taken alone, and is 0 when
# the ID is right. Neither database shares an exclusive or with the other, so its eight bits are added up side by side,
# each in seven bits of its own (64 bits cannot overflow them), and only the lowest bit of each sum counts in the end.
COUNTER_BITS = 7
# Counters begin at bit 3, so that a digit's bit of weight 8 can be multiplied to bit 0 of a counter without dividing.
FIRST_COUNTER = 3
CRC_MASK = sum(1 << FIRST_COUNTER + COUNTER_BITS * bit for bit in range(8))


def _crc_sum(field: str, position: str) -> str:
    """For each of the 64 bits: the digit's bit (its weight or 0) times the constant that adds to the right counters."""
    terms = []
    for place in range(1, rom.ROM_LENGTH + 1):
        # '1' stands first, so the position is the digit's value, and 0 is found nowhere. Products need 64 bits.
        digit = f"CAST({position}('{rom.HEX_DIGITS[1:]}', substr({field}, {place}, 1)) AS bigint)"
        for weight in (8, 4, 2, 1):
            terms.append(f"({digit} & {weight}) * {_spread_crc(place, weight) // weight}")
    return " + ".join(terms)


def _spread_crc(place: int, weight: int) -> int:
    """The CRC of a ROM ID in which only this bit is set, each of its bits moved to the foot of its own counter."""
    lone_bit = f"{weight:X}".rjust(place, "0").ljust(rom.ROM_LENGTH, "0")
    crc = rom.crc8(bytes.fromhex(lone_bit))
    return sum(1 << FIRST_COUNTER + COUNTER_BITS * bit for bit in range(8) if crc >> bit & 1)
