"""Labels as a person orders them: what stands on them, and what is refused in a sentence."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from reports.papers.records import KitLabel, SensorFlag
from reports.papers.sheets import LETTER_30, STOCKS, TAPE_24, labels_pdf, stock_test_pdf
from tests.reports.paper_samples import FLAGS, LONG_STAY, kit_labels

LABEL = KitLabel(
    code="7M4Q2P", name="Attic kit", shop_phone="(720) 555-0134", text="HTTPS://KP.EXAMPLE/K/7M4Q2P"
)
FLAG = SensorFlag(tag="3", rom="28-FF641E8A1603-5C", kit_code="7M4Q2P", tag_colour="green")


def words(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_a_kit_label_says_code_name_and_phone(stock) -> None:
    text = words(labels_pdf([LABEL], stock))
    assert "7M4Q2P" in text.replace(" ", "")
    assert "Attic kit" in text
    assert "Found it? Call (720) 555-0134" in text


def test_a_label_without_a_phone_says_nothing_about_calling() -> None:
    assert "Call" not in words(labels_pdf([replace(LABEL, shop_phone="")], LETTER_30))


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_a_flag_says_tag_colour_rom_tail_and_kit_on_both_panels(stock) -> None:
    lines = words(labels_pdf([FLAG], stock)).split("\n")
    for expected in ("3", "green", "…035C", "kit 7M4Q2P"):
        assert [line.strip() for line in lines].count(expected) == 2, expected


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
            [replace(LABEL, text="HTTPS://" + "A" * 120)], {}, "too long", id="a symbol that would not scan"
        ),
        pytest.param([replace(LABEL, code="7M4Q2P" * 3)], {}, "too long", id="a code that does not fit"),
        pytest.param([replace(FLAG, tag=" ")], {}, "needs a tag", id="flag without a tag"),
        pytest.param(
            [replace(FLAG, tag="the one behind the second return grille of the upper floor")],
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


def test_a_test_page_numbers_every_label() -> None:
    text = words(stock_test_pdf(LETTER_30))
    assert {str(n) for n in range(1, 31)} <= set(text.split())
    assert text.count("50 mm when printed at 100 %") == 30
