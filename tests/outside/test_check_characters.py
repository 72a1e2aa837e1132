"""Kit codes against ISO/IEC 7064 MOD 37-2: published examples, the definition of the standard, and python-stdnum.

Values and their sources: check_characters.json beside this file.
"""

import itertools
import json
from pathlib import Path
from random import Random

import pytest
from stdnum.iso7064 import mod_37_2

from kits import codes

pytestmark = pytest.mark.outside

VECTORS = json.loads((Path(__file__).parent / "check_characters.json").read_text(encoding="utf-8"))
VALUES = VECTORS["character_values"]["characters"]


def weighted_sum(payload: str) -> int:
    """The published rule, step by step: each value times two to the power of its place from the right, from 1."""
    return sum(VALUES.index(c) * 2**place for place, c in enumerate(reversed(payload), start=1))


@pytest.mark.parametrize("row", VECTORS["published"], ids=lambda row: row["payload"])
def test_published_example(row: dict) -> None:
    assert codes.check_character(row["payload"]) == row["check"]
    if row["weighted_sum"]:
        assert weighted_sum(row["payload"]) == row["weighted_sum"]


@pytest.mark.parametrize("row", VECTORS["payloads"], ids=lambda row: row["payload"])
def test_payload_gets_its_check_character_and_is_given_out_only_if_that_is_in_the_alphabet(row: dict) -> None:
    assert codes.check_character(row["payload"]) == row["check"]
    assert (row["check"] in codes.ALPHABET) is row["issuable"]
    code = row["payload"] + row["check"]
    assert codes.is_code(code) is (row["issuable"] and len(code) == 6)


@pytest.mark.parametrize("row", VECTORS["must_refuse"], ids=lambda row: f"{row['typed']}: {row['why']}")
def test_wrong_code_is_refused(row: dict) -> None:
    assert not mod_37_2.is_valid(row["typed"])
    with pytest.raises(codes.BadCode):
        codes.read_code(row["typed"])


@pytest.mark.parametrize("row", VECTORS["same_code"], ids=lambda row: repr(row["typed"]))
def test_other_writings_of_a_code_are_read_as_it(row: dict) -> None:
    assert codes.read_code(row["typed"]) == row["code"]


@pytest.mark.parametrize(
    "row", VECTORS["issuable_counts"][:1], ids=lambda row: f"{row['payload_length']} characters"
)
def test_how_many_codes_there_are_to_give_out(row: dict) -> None:
    payloads = ["".join(p) for p in itertools.product(codes.ALPHABET, repeat=row["payload_length"])]
    assert len(payloads) == row["payloads"]
    assert sum(codes.check_character(p) in codes.ALPHABET for p in payloads) == row["issuable"]


def test_drawn_codes_are_valid_by_the_definition_and_by_python_stdnum() -> None:
    random_source = Random(20)
    for _ in range(500):
        code = codes.draw_code(random_source)
        assert len(code) == 6
        assert set(code) <= set("23456789ABCDEFGHJKMNPQRSTVWXYZ")
        assert mod_37_2.is_valid(code)
        assert (weighted_sum(code[:5]) + VALUES.index(code[5])) % 37 == 1
        assert codes.read_code(code) == code


def test_the_alphabet_is_the_standards_characters_without_those_easily_mistaken() -> None:
    assert "".join(c for c in VALUES if c not in "01ILOU*") == codes.ALPHABET
    assert len(codes.ALPHABET) == 30
