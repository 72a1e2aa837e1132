"""A pasted block of readings: whose each column or row is, what is refused, and how it is told."""

from decimal import Decimal

import pytest

from kits.pasted import BadBlock, read_block, read_pairs

NAMES = {
    "reference": ("Bench thermometer", "reference", "ref"),
    "s1": ("1", "1", "A1F3", "28FF0000000000A1F3"),
    "s2": ("2", "2", "00C6", "28FF000000000000C6"),
}


def read(block, **changes):
    given = {"unit": "F", "reference": "reference", **changes}
    heard = read_block(block, given.pop("names", NAMES), **given)
    return {key: [str(value) for value in values] for key, values in heard.values.items()}


@pytest.mark.parametrize(
    ("block", "found"),
    [
        pytest.param(
            "ref\t1\t2\n32.0\t32.1\t32.2\n32.1\t32.3\t32.4",
            {"reference": ["32.0", "32.1"], "s1": ["32.1", "32.3"], "s2": ["32.2", "32.4"]},
            id="names above the columns",
        ),
        pytest.param(
            "ref,32.0,32.1\n…A1F3,32.1,32.3\n00c6,32.2,32.4",
            {"reference": ["32.0", "32.1"], "s1": ["32.1", "32.3"], "s2": ["32.2", "32.4"]},
            id="names before the rows, tails as people write them",
        ),
        pytest.param(
            "32.0 32.1 32.2\n32.1 32.3 32.4",
            {"reference": ["32.0", "32.1"], "s1": ["32.1", "32.3"], "s2": ["32.2", "32.4"]},
            id="no names: the order of the page",
        ),
        pytest.param(
            "32,10;32,20\n32,30;32,40\n32,50;32,60",
            {"s1": ["32.10", "32.30", "32.50"], "s2": ["32.20", "32.40", "32.60"]},
            id="no names, sensors only, decimal commas",
        ),
        pytest.param(
            "Time\tlead 2\tpump\n10:01\t32.2\t7\n10:02\t32.4\t8",
            {"s2": ["32.2", "32.4"]},
            id="one column known, a time and a stranger left out",
        ),
        pytest.param("10:01\t32.1\t32.2\n10:02\t32.3\t32.4", {"s1": ["32.1", "32.3"], "s2": ["32.2", "32.4"]}, id="times in front"),
        pytest.param("1\t2\n32.1\t\n32.3\t32.4", {"s1": ["32.1", "32.3"], "s2": ["32.4"]}, id="an empty cell"),
        pytest.param("1\t2\n−0.1\t0.2", {"s1": ["-0.1"], "s2": ["0.2"]}, id="a true minus sign"),
        pytest.param("5 24 31", {"reference": ["5"], "s1": ["24"], "s2": ["31"]}, id="one row of numbers is no heading"),
    ],
)  # fmt: skip
def test_a_block_is_understood(block, found):
    assert read(block) == found


@pytest.mark.parametrize(
    ("block", "sentence"),
    [
        pytest.param(" \n\n", "There is nothing to read", id="nothing"),
        pytest.param("5 6 7 8\n5 6 7 8\n5 6 7 8\n5 6 7 8", "This block has 4 columns and 4 rows, and the check has 2 sensors and the reference", id="too many columns"),
        pytest.param("1\t1\n32.1\t32.2", "1 stands there twice", id="a sensor twice"),
        pytest.param("1\t2\n32.1\twet", "“wet” is no number (2, reading 1)", id="a word among readings"),
        pytest.param("1\t2\n32.1 °F\t0.1 °C", "Some of these cells say °F and some °C", id="two units"),
        pytest.param("1\n" + "\n".join(["32.1"] * 201), "201 readings of 1", id="too many readings"),
    ],
)  # fmt: skip
def test_what_cannot_be_understood_says_how_to_lay_it_out(block, sentence):
    with pytest.raises(BadBlock, match=sentence.replace("(", r"\(").replace(")", r"\)")):
        read(block)


def test_a_tag_of_two_kits_is_refused_until_it_is_clear():
    names = {"s1": ("1", "A1F3"), "s2": ("1", "00C6")}
    with pytest.raises(BadBlock, match="is the name of 2 sensors in this check"):
        read("1\t00C6\n32.1\t32.2", names=names, reference="")
    assert read("A1F3\t00C6\n32.1\t32.2", names=names, reference="") == {"s1": ["32.1"], "s2": ["32.2"]}


@pytest.mark.parametrize(
    ("block", "page", "taken"),
    [
        pytest.param("1\t2\n32\t33", "F", "F", id="the page's when nothing is said"),
        pytest.param("1\t2\n0.1 °C\t0.2 °C", "F", "C", id="behind the numbers"),
        pytest.param("1 (°F)\t2 (°F)\n32.1\t32.2", "C", "F", id="in the headings"),
    ],
)
def test_the_unit_of_a_block_is_what_it_says_itself(block, page, taken):
    heard = read_block(block, NAMES, unit=page, reference="reference")
    assert heard.unit == taken and f"Taken as °{taken}." in heard.sentence


def test_it_is_told_how_a_block_was_understood():
    heard = read_block("2\tpump\n32.2\t7\n32.4\t8", NAMES, unit="F")
    assert heard.sentence == (
        "Each column was taken as one instrument, by the names written there: 2 (2 readings). Taken as °F. Left out: pump."
    )


def test_pairs_of_a_certificate_skip_a_heading_and_refuse_a_third_number():
    assert read_pairs("reading  correction\n0 -0,02\n\n25; 0.01") == [
        (Decimal("0"), Decimal("-0.02")),
        (Decimal("25"), Decimal("0.01")),
    ]
    with pytest.raises(BadBlock, match=r"Line 2 holds “25 0\.01 7”"):
        read_pairs("0 -0.02\n25 0.01 7")
