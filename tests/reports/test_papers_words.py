"""Temperatures, times and characters as the papers write them."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from reports.papers.fonts import FACES, MONO, font_path, printable
from reports.papers.units import difference, half_width, temperature
from reports.papers.words import clock, count, day, dialled, listed, sentence, span, when


def plain(text: str) -> str:
    return text.replace("\u202f", " ").replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("celsius", "unit", "said"),
    [
        pytest.param(0.0, "F", "32.0 °F", id="ice"),
        pytest.param(-40.0, "F", "−40.0 °F", id="where the scales meet"),
        pytest.param(12.34, "C", "12.3 °C", id="Celsius"),
        pytest.param(-0.04, "C", "0.0 °C", id="no minus zero"),
        pytest.param(None, "F", "not read", id="nobody read it"),
    ],
)
def test_a_temperature(celsius, unit, said) -> None:
    assert plain(temperature(celsius, unit)) == said


@pytest.mark.parametrize(
    ("kelvin", "unit", "said"),
    [
        pytest.param(0.3125, "F", "+0.56 °F", id="a difference has no 32"),
        pytest.param(-0.5, "F", "−0.90 °F", id="below"),
        pytest.param(-0.5, "C", "−0.50 K", id="kelvin"),
        pytest.param(0.0, "F", "0.00 °F", id="none at all"),
        pytest.param(None, "F", "none", id="no offset"),
    ],
)
def test_a_difference(kelvin, unit, said) -> None:
    assert plain(difference(kelvin, unit)) == said


def test_an_uncertainty_has_no_sign_of_its_own() -> None:
    assert plain(half_width(-0.05, "F")) == "± 0.09 °F"


@pytest.mark.parametrize(
    ("hour", "said"), [(0, "12:05 am"), (9, "9:05 am"), (12, "12:05 pm"), (23, "11:05 pm")], ids=str
)
def test_the_clock_of_a_house(hour: int, said: str) -> None:
    assert clock(datetime(2026, 4, 14, hour, 5)) == said


def test_days_and_instants() -> None:
    assert day(date(2026, 4, 14)) == "Tue 14 Apr 2026"
    assert when(datetime(2026, 4, 14, 15, 20)) == "Tue 14 Apr 2026, 3:20 pm"
    assert when(None) == "not yet"


@pytest.mark.parametrize(
    ("lasted", "said"),
    [
        pytest.param(timedelta(minutes=1), "1 minute", id="one minute"),
        pytest.param(timedelta(minutes=59), "59 minutes", id="just under an hour"),
        pytest.param(timedelta(hours=5, minutes=20), "5 hours", id="hours are rounded"),
        pytest.param(timedelta(hours=23, minutes=50), "1 day", id="nearly a day"),
        pytest.param(timedelta(days=14, hours=3), "14 days 3 hours", id="days and hours"),
        pytest.param(timedelta(days=2), "2 days", id="whole days"),
        pytest.param(timedelta(seconds=-1), "", id="the wrong way round"),
    ],
)
def test_how_long(lasted: timedelta, said: str) -> None:
    begin = datetime(2026, 4, 14, 12)
    assert span(begin, begin + lasted) == said


def test_counts_lists_and_sentences() -> None:
    assert [count(n, "hole") for n in (0, 1, 2)] == ["no holes", "1 hole", "2 holes"]
    assert [listed(things) for things in ((), ("a",), ("a", "b"), ("a", "b", "c"))] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
    assert sentence(" ben came back") == "Ben came back."
    assert sentence("Is it hot?") == "Is it hot?"
    assert sentence(" ") == ""


@pytest.mark.parametrize(
    ("phone", "address"),
    [
        # RFC 3966 writes its own example so: tel:+1-201-555-0123
        pytest.param("(201) 555-0123", "tel:+1-201-555-0123", id="as written here"),
        pytest.param("1 201 555 0123", "tel:+1-201-555-0123", id="with the 1"),
        pytest.param("+44 20 7946 0958", "tel:+442079460958", id="from abroad"),
        pytest.param("555-0123", "", id="too short to dial from anywhere"),
        pytest.param("", "", id="none"),
    ],
)
def test_a_number_to_dial(phone: str, address: str) -> None:
    assert dialled(phone) == address


@pytest.mark.parametrize("name", FACES)
def test_every_face_is_a_truetype_file(name: str) -> None:
    path = font_path(name)
    assert isinstance(path, Path)
    assert path.read_bytes()[:4] == b"\x00\x01\x00\x00"


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        pytest.param("José Núñez-Wołkowski", "José Núñez-Wołkowski", id="Spanish and Polish"),
        pytest.param("Đặng Thị Hương", "Đặng Thị Hương", id="Vietnamese"),
        pytest.param("Γιώργος", "Γιώργος", id="Greek"),
        pytest.param("Jose\u0301", "José", id="an accent sent apart"),
        pytest.param("a\u202fb", "a\u00a0b", id="a narrow blank"),
        pytest.param("a\u200bb", "ab", id="a blank without width"),
        pytest.param("7㎜", "7mm", id="a square sign"),
        pytest.param("Ⅻ", "XII", id="a letter the font lacks, spelled out"),
        pytest.param("山", "[U+5C71]", id="another script"),
        pytest.param("a\nb", "a\nb", id="lines are kept"),
        pytest.param("a\r\nb", "a\nb", id="lines from another system"),
    ],
)
def test_text_prints_with_what_the_font_has(typed: str, printed: str) -> None:
    assert printable(typed) == printed


def test_a_code_prints_in_the_monospace_face_unchanged() -> None:
    assert printable("7M4Q2P", MONO) == "7M4Q2P"
