"""Kit codes: what is said of a wrong one, which of the shop's codes come near it, and what a label holds."""

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from kits import codes
from kits.codes import (
    BadCode,
    code_from_scan,
    draw_code,
    fold_code,
    label_text,
    near_codes,
    qr_version,
    read_code,
)

drawn_codes = st.randoms(use_true_random=False).map(draw_code)
printable = st.characters(codec="utf-8", categories=["L", "N", "P", "S"])


@pytest.mark.parametrize(
    ("typed", "position", "says"),
    [
        ("", None, "six characters on the kit's tag"),
        (" - ", None, "six characters on the kit's tag"),
        ("7M4O2P", 4, "Character 4, O, cannot be right: kit codes never use 0 O 1 I L U"),
        ("7M4O2P", 4, "It may be D or Q"),
        ("1M4Q2P", 1, "Character 1, 1, cannot be right"),
        ("1M4Q2P", 1, "It may be 7"),
        ("7M4Q2L", 6, "Character 6, L, cannot be right"),
        ("7m4u2p", 4, "It may be J or V"),
        ("7M4Q2*", 6, "only the digits 2 to 9 and plain letters"),
        ("7MÉQ2P", 3, "Character 3, É, cannot be right"),
        ("7M4Q\ud7ff2P", 5, "U+D7FF"),
        ("7M4Q2", None, "7M4Q2 has 5, so 1 is missing"),
        ("7M4", None, "7M4 has 3, so 3 are missing"),
        ("7M4Q22P", None, "7M4Q22P has 7, so 1 is too many"),
        ("7M4Q2PHVAC2DXYZ", None, "7M4Q2PHVAC2D… has 15, so 9 are too many"),
        ("7M4Q2X", None, "after 7M4Q2 character 6 would be P, not X"),
        ("M74Q2P", None, "One character is misread or two are exchanged"),
        ("23455V", None, "would be"),
        ("https://example.com/", None, "not that of a kit label"),
    ],
)
def test_a_wrong_code_is_refused_in_a_sentence_that_names_what_is_wrong(
    typed: str, position: int | None, says: str
) -> None:
    with pytest.raises(BadCode) as refusal:
        read_code(typed)
    assert says in str(refusal.value)
    assert refusal.value.position == position


def test_five_characters_no_kit_was_ever_given_are_called_so() -> None:
    # 2345D needs the check character *, which no code carries.
    payload = next(
        p for p in (f"2345{c}" for c in codes.ALPHABET) if codes.check_character(p) not in codes.ALPHABET
    )
    with pytest.raises(BadCode, match=f"No kit has a code that begins {payload}"):
        read_code(payload + "2")


@pytest.mark.parametrize(
    "typed",
    [
        "7M4Q2P",
        "7m4q2p",
        "7M4-Q2P",
        " 7M4 Q2P\n",
        "７Ｍ４Ｑ２Ｐ",  # full width
        "7M4\u2011Q2P",  # non-breaking hyphen
        "7M4\u2013Q2P",  # en dash, as word processors put it
        "7M4\u2212Q2P",  # minus sign
        "7M4\u00adQ2P",  # soft hyphen
        "7M4\u00a0Q2\u200bP\ufeff",  # no-break space, zero-width space, byte order mark
        "HTTPS://KITS.EXAMPLE.COM/K/7M4Q2P",
        "https://kits.example.com:8000/k/7m4q2p/",
        "kits.example.com/k/7m4q2p?from=label#top",
        "/k/7M4%2DQ2P",
    ],
)
def test_any_usual_writing_is_read(typed: str) -> None:
    assert read_code(typed) == "7M4Q2P"


def test_a_scan_gives_the_code_part_still_unchecked() -> None:
    assert code_from_scan("https://kits.example.com/k/7m4q2x") == "7M4Q2X"
    assert code_from_scan(" 7m4-q2x ") == "7M4Q2X"


@given(drawn_codes)
def test_a_drawn_code_is_read_back(code: str) -> None:
    assert read_code(code) == code
    assert read_code(label_text("kits.example.com", code)) == code
    assert read_code(f"{code[:3].lower()} - {code[3:]}") == code


@given(drawn_codes, st.integers(0, 5), printable)
def test_any_single_wrong_character_is_refused(code: str, place: int, character: str) -> None:
    wrong = code[:place] + character + code[place + 1 :]
    assume(fold_code(wrong) != code)
    with pytest.raises(BadCode):
        read_code(wrong)


@given(drawn_codes, st.integers(0, 5), st.integers(0, 5))
def test_any_exchange_of_two_characters_is_refused(code: str, one: int, other: int) -> None:
    assume(code[one] != code[other])
    exchanged = list(code)
    exchanged[one], exchanged[other] = code[other], code[one]
    with pytest.raises(BadCode):
        read_code("".join(exchanged))


@given(st.text())
@example("\x00")
@example("/k/%")
def test_anything_typed_is_read_or_refused_in_a_sentence(typed: str) -> None:
    try:
        assert codes.is_code(read_code(typed))
    except BadCode as refusal:
        assert str(refusal).endswith(".")


SHOP = ["7M4Q2P", "HVAC2D", "23456A", "XYZ23V", "99999Z", "22222P", "ZZZZZE", "ABCDEW"]


@pytest.mark.parametrize(
    ("typed", "near"),
    [
        ("7M4O2P", ["7M4Q2P"]),  # look-alike that is never issued
        ("7N4QZP", ["7M4Q2P"]),  # two look-alikes
        ("7M4Q2X", ["7M4Q2P"]),  # any one character
        ("M74Q2P", ["7M4Q2P"]),  # neighbours exchanged
        ("4M7Q2P", ["7M4Q2P"]),  # exchanged with one between
        ("7M4Q2", ["7M4Q2P"]),  # one missing at the end
        ("74Q2P", ["7M4Q2P"]),  # one missing inside
        ("7M4Q22P", ["7M4Q2P"]),  # one too many
        ("https://kits.example.com/k/hvac2o", ["HVAC2D"]),
        ("7M4", []),
        ("KKKKKK", []),
        ("", []),
        ("https://example.com/", []),
        ("7M4Q2P", []),  # it is that code, not near it
    ],
)
def test_codes_one_slip_away_are_offered(typed: str, near: list[str]) -> None:
    assert near_codes(typed, SHOP) == near


def test_likelier_slips_are_offered_first_and_three_at_most() -> None:
    any_character, exchanged, look_alike, one_more, another = (
        "AB2DE9",
        "BA2DEF",
        "ABZDEF",
        "AB2DEFG",
        "AB2DW5",
    )
    known = [any_character, one_more, another, look_alike, exchanged]
    assert near_codes("AB2DEF", known) == [look_alike, exchanged, any_character]


@pytest.mark.parametrize(
    ("host", "text", "version"),
    [
        ("kit.test:80", "HTTPS://KIT.TEST:80/K/7M4Q2P", 2),
        ("kits.test:80", "HTTPS://KITS.TEST:80/K/7M4Q2P", 2),  # exactly 29 characters
        ("kits1.test:80", "HTTPS://KITS1.TEST:80/K/7M4Q2P", 3),  # 30
        ("thirty-characters.example.test", "HTTPS://THIRTY-CHARACTERS.EXAMPLE.TEST/K/7M4Q2P", 3),  # 47
    ],
)
def test_a_label_holds_the_address_in_upper_case_in_the_smallest_symbol(
    host: str, text: str, version: int
) -> None:
    assert label_text(host, "7M4Q2P") == text
    assert qr_version(text) == version


def test_an_address_too_long_for_any_label_is_refused_with_the_room_there_is() -> None:
    with pytest.raises(ValueError, match="host and port may have 30 characters"):
        qr_version(label_text("x" * 31, "7M4Q2P"))
