"""Labels as a person orders them: what stands on them, and what is refused in a sentence."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from reports.papers.fit import longest_host, takes_codes
from reports.papers.records import KitLabel, SensorFlag
from reports.papers.ruled import stock_test_pdf
from reports.papers.sheets import LETTER_30, STOCKS, TAPE_24, labels_pdf
from reports.papers.stock import LabelStock
from tests.reports.paper_samples import FLAGS, LID, LONG_STAY, kit_labels

LABEL = KitLabel(
    code="7M4Q2P", name="Attic kit", shop_phone="(720) 555-0134", text="HTTPS://KP.EXAMPLE/K/7M4Q2P"
)
FLAG = SensorFlag(tag="3", rom="28-FF641E8A1603-5C", kit_code="7M4Q2P", tag_colour="green")


def words(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


WITH_CODES = [stock for stock in STOCKS.values() if takes_codes(stock)]


def stock_key(stock: LabelStock) -> str:
    return stock.key


@pytest.mark.parametrize("stock", WITH_CODES, ids=stock_key)
def test_a_kit_label_says_code_name_and_phone(stock) -> None:
    text = words(labels_pdf([LABEL], stock))
    assert "7M4Q2P" in text.replace(" ", "")
    assert "Attic kit" in text
    small = stock.label_width_mm < 64
    assert ("(720) 555-0134" if small else "Found it? Call (720) 555-0134") in text


@pytest.mark.parametrize("stock", WITH_CODES, ids=stock_key)
def test_a_lid_label_says_what_is_on_each_terminal_and_the_power_it_takes(stock) -> None:
    text = " ".join(words(labels_pdf([LID], stock)).split())
    assert "7M4Q2P" in text.replace(" ", "")
    for sensor in LID.sensors:
        assert f"{sensor.terminal} …{sensor.tail} {sensor.tag[:3]}" in text
    assert "24 V AC through adapter, 8.5 VA" in text


def test_a_lid_label_says_that_no_sensor_is_wired_in() -> None:
    assert "No sensors yet" in words(labels_pdf([replace(LID, sensors=())], TAPE_24))


def test_a_label_without_a_phone_says_nothing_about_calling() -> None:
    assert "Call" not in words(labels_pdf([replace(LABEL, shop_phone="")], LETTER_30))


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_a_flag_says_tag_colour_rom_tail_and_kit_on_both_panels(stock) -> None:
    lines = words(labels_pdf([FLAG], stock)).split("\n")
    kit = "7M4Q2P" if stock.label_width_mm < 40 else "kit 7M4Q2P"
    for expected in ("3", "green", "…035C", kit):
        assert [line.strip() for line in lines].count(expected) == 2, expected


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_the_flag_of_a_spare_says_that_it_is_one(stock) -> None:
    text = words(labels_pdf([replace(FLAG, kit_code="")], stock))
    assert "kit" not in text
    assert text.count("spare") == 2


def test_a_flag_does_not_say_the_colour_twice() -> None:
    text = words(labels_pdf([replace(FLAG, tag="Green 3")], LETTER_30))
    assert text.casefold().count("green") == 2


def test_kits_and_flags_share_a_sheet_and_run_on_to_the_next() -> None:
    pdf = labels_pdf([*kit_labels(28), *FLAGS], LETTER_30)
    assert len(PdfReader(BytesIO(pdf)).pages) == 2
    assert len(PdfReader(BytesIO(labels_pdf(kit_labels(30), LETTER_30))).pages) == 1
    assert len(PdfReader(BytesIO(labels_pdf(kit_labels(30), LETTER_30, 2))).pages) == 2
    assert len(PdfReader(BytesIO(labels_pdf(kit_labels(3), TAPE_24))).pages) == 3


def test_a_long_name_is_cut_and_its_accents_are_kept() -> None:
    text = words(labels_pdf([replace(LABEL, name=LONG_STAY.kit_name)], TAPE_24))
    assert "Núñez-Wołkowski" in text
    assert "…" in text


@pytest.mark.parametrize(
    ("labels", "options", "said"),
    [
        pytest.param([], {}, "no label", id="nothing to print"),
        pytest.param([LABEL], {"start_position": 0}, "positions 1 to 30; 0", id="position before the first"),
        pytest.param([LABEL], {"start_position": 31}, "positions 1 to 30; 31", id="position after the last"),
        pytest.param([replace(LABEL, text="")], {}, "it is empty", id="no QR text"),
        pytest.param([replace(LABEL, text="https://kp.example/k/7M4Q2P")], {}, "'h'", id="small letters"),
        pytest.param(
            [replace(LABEL, text="HTTPS://A_B.EXAMPLE/K/7M4Q2P")], {}, "'_'", id="a sign outside the set"
        ),
        pytest.param(
            [replace(LABEL, text="HTTPS://" + "A" * 120)],
            {},
            "too small for this code",
            id="a symbol that would not scan",
        ),
        pytest.param([replace(LABEL, code="7M4Q2P" * 5)], {}, "too long", id="a code that does not fit"),
        pytest.param([replace(FLAG, tag=" ")], {}, "needs a tag", id="flag without a tag"),
        pytest.param(
            [replace(FLAG, tag="the one behind the second return grille of the upper floor, by the stairs")],
            {},
            "too long",
            id="tag too long for a flag",
        ),
    ],
)
def test_what_cannot_be_printed_is_refused_in_a_sentence(labels, options, said) -> None:
    with pytest.raises(ValueError, match=r"[.]$") as refusal:
        labels_pdf(labels, LETTER_30, **options)
    assert said in str(refusal.value)


@pytest.mark.parametrize(
    ("key", "dpi", "host"),
    [
        pytest.param("letter-30up", 300, 30, id="a sheet takes every host the shop may have"),
        pytest.param("a4-65up", 203, 30, id="the smallest label too"),
        pytest.param("tape-18", 180, 30, id="18 mm tape at 180 dpi: 3 dots, 0.42 mm"),
        pytest.param("tape-18", 203, 12, id="at 203 dpi version 3 would have 0.38 mm, version 2 has 0.50 mm"),
        pytest.param("tape-12", 360, 0, id="12 mm tape takes flags only"),
    ],
)
def test_the_longest_host_of_a_stock_fits_and_one_more_letter_does_not(key, dpi, host) -> None:
    stock = STOCKS[key]
    assert longest_host(stock, dpi) == host
    label = replace(LABEL, text=f"HTTPS://{'K' * (host or 12)}/K/7M4Q2P")
    if host:
        assert labels_pdf([label], stock, dpi=dpi).startswith(b"%PDF")
    else:
        with pytest.raises(ValueError, match="takes flags only") as refusal:
            labels_pdf([label], stock, dpi=dpi)
        assert "something wider" in str(refusal.value)
    if host == 12:
        longer = replace(LABEL, text=f"HTTPS://{'K' * 13}/K/7M4Q2P")
        with pytest.raises(ValueError, match="A host of 12 characters or fewer fits"):
            labels_pdf([longer], stock, dpi=dpi)


def test_a_lid_label_without_room_for_its_code_prints_its_words() -> None:
    tape = STOCKS["tape-18"]
    text = words(labels_pdf([LID], tape, dpi=203))
    assert "7M4Q2P" in text.replace(" ", "") and "…024F" in text
    with pytest.raises(ValueError, match="no room for what stands inside the lid of 7M4Q2P"):
        labels_pdf([LID], STOCKS["tape-12"])


def test_the_same_labels_give_the_same_bytes() -> None:
    assert labels_pdf(kit_labels(31), LETTER_30) == labels_pdf(kit_labels(31), LETTER_30)
    assert labels_pdf([LABEL], LETTER_30) != labels_pdf([LABEL], LETTER_30, shift_x_mm=0.5)


def test_three_hundred_labels_are_a_small_file() -> None:
    assert len(labels_pdf(kit_labels(300), LETTER_30)) <= 150_000


def test_the_paper_asks_to_be_printed_without_scaling() -> None:
    reader = PdfReader(BytesIO(labels_pdf([LABEL], LETTER_30)))
    assert reader.viewer_preferences is not None
    assert reader.viewer_preferences.print_scaling == "/None"
    assert reader.metadata is not None
    assert reader.metadata.title == "Labels, US Letter, 30 labels of 2 5/8 by 1 in"


@pytest.mark.parametrize(
    ("key", "rule_mm"),
    [("letter-30up", 50), ("letter-10up", 50), ("a4-21up", 50), ("a4-65up", 20), ("tape-12", 50)],
)
def test_a_test_page_numbers_every_label_and_gives_each_a_rule(key, rule_mm) -> None:
    stock = STOCKS[key]
    text = words(stock_test_pdf(stock))
    assert {str(n) for n in range(1, stock.count + 1)} <= set(text.split())
    assert text.count(f"{rule_mm} mm when printed at 100 %") == stock.count
    assert ("right (mm)" in text) == (stock.count > 1)
