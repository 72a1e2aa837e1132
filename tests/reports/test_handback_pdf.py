"""The hand-back report in both copies, the card and the slip: what they say, to whom, and that nothing breaks them."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from reports.papers.card import card_pdf
from reports.papers.customers_copy import customer_copy_pdf
from reports.papers.handback import shop_copy_pdf
from reports.papers.records import LeftBehind, Shop, StayPaper
from reports.papers.slip import slip_pdf
from tests.reports import paper_samples as samples

PAPERS = [
    *(pytest.param(shop_copy_pdf, stay, id=f"shop's copy, {name}") for name, stay in samples.STAYS.items()),
    *(
        pytest.param(customer_copy_pdf, stay, id=f"customer's copy, {name}")
        for name, stay in samples.STAYS.items()
    ),
    *(
        pytest.param(card_pdf, card, id=f"card, {name}")
        for name, card in (("common", samples.CARD), ("long", samples.LONG_CARD), ("bare", samples.BARE_CARD))
    ),
    *(
        pytest.param(slip_pdf, slip, id=f"slip, {name}")
        for name, slip in (("common", samples.SLIP), ("long", samples.LONG_SLIP), ("bare", samples.BARE_SLIP))
    ),
]


def reader(pdf: bytes) -> PdfReader:
    return PdfReader(BytesIO(pdf))


def words(pdf: bytes) -> str:
    """All the words of a paper on one line, every kind of blank alike."""
    return " ".join(" ".join(page.extract_text() for page in reader(pdf).pages).split())


def scanned(pdf: bytes, folder: Path, dpi: int = 200) -> set[str]:
    (folder / "paper.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", folder / "paper.pdf", folder / "page"], check=True)
    pages = [Image.open(page) for page in folder.glob("page*.pgm")]
    return {code.text for page in pages for code in zxingcpp.read_barcodes(page)}


# ---------------------------------------------------------------- every paper


@pytest.mark.parametrize(("draw", "record"), PAPERS)
def test_a_paper_is_us_letter_with_title_author_and_language(draw: Callable, record) -> None:
    paper = reader(draw(record))
    assert {(float(page.mediabox.width), float(page.mediabox.height)) for page in paper.pages} == {(612, 792)}
    assert paper.metadata is not None
    assert paper.metadata.title
    assert paper.metadata.author == record.shop.name
    assert paper.trailer["/Root"]["/Lang"] == "en-US"


@pytest.mark.parametrize(("draw", "record"), PAPERS)
def test_a_paper_has_every_font_it_uses_inside_it(draw: Callable, record) -> None:
    fonts = [
        font.get_object()
        for page in reader(draw(record)).pages
        for font in page["/Resources"]["/Font"].values()
    ]
    assert fonts
    for font in fonts:
        assert "/FontFile2" in font["/FontDescriptor"], font["/BaseFont"]


@pytest.mark.parametrize(("draw", "record"), PAPERS)
def test_the_same_record_gives_the_same_bytes(draw: Callable, record) -> None:
    assert draw(record) == draw(record)


@pytest.mark.parametrize(("draw", "record"), PAPERS)
def test_a_paper_says_which_kit_whose_house_and_whose_shop(draw: Callable, record) -> None:
    text = words(draw(record))
    assert record.kit_code in text
    assert record.shop.name in text
    assert record.customer_name in text or draw is card_pdf


@pytest.mark.parametrize(("draw", "record"), [row for row in PAPERS if row.values[0] is not shop_copy_pdf])
def test_what_a_customer_holds_is_one_page(draw: Callable, record) -> None:
    assert len(reader(draw(record)).pages) == 1


@pytest.mark.parametrize("stay", samples.STAYS.values(), ids=samples.STAYS)
def test_every_page_of_the_shops_copy_is_numbered(stay: StayPaper) -> None:
    pages = reader(shop_copy_pdf(stay)).pages
    for number, page in enumerate(pages, 1):
        text = " ".join(page.extract_text().split())
        assert f"page {number} of {len(pages)}" in text


# ---------------------------------------------------------------- the shop's copy


def test_the_shops_copy_tells_the_whole_stay() -> None:
    text = words(shop_copy_pdf(samples.STAY))
    for expected in (
        "Maria Delgado",
        "2207 Juniper Court",
        "2041, intermittent fault",
        "14 days 3 hours in the house",
        "Tue 14 Apr 2026, 3:20 pm",
        "Tue 28 Apr 2026, 6:25 pm",
        "Priya Raman",
        "America/Denver",
        *samples.ROMS,
        "supply air",
        "outdoor air",
        "+0.56 °F",  # 0.3125 K x 1.8: a difference has no 32
        "−0.79 °F",
        "since Mon 2 Mar 2026, calibration check 12, ice bath",
        "53.4 °F",  # 11.9 °C
        "54.0 °F",  # 11.9 + 0.3125 °C
        "Sensor 4 pushed further up the vapor line",
        "read like the attic air",
        "1 short",
        "One magnet of 10",
        "not answered",
        "27.1 V AC",
        "before the float switch",
        "2 holes drilled, 2 plugged (2 photos)",
        "System called for and ran before we left",
        "Contractor license HVAC-20417",
        "locked out and proved dead",
        "Local codes come first",
        "Seen by the manager, name and date",
        "Attic stairs stick",
    ):
        assert expected in text, expected


def test_the_symbol_of_the_shops_copy_opens_the_stay(tmp_path: Path) -> None:
    assert scanned(shop_copy_pdf(samples.STAY), tmp_path) == {samples.STAY.stay_url}
    assert samples.STAY.stay_url == "https://kits.example.com/stays/31/"


def test_a_shop_that_reads_celsius_gets_celsius_and_kelvin() -> None:
    text = words(shop_copy_pdf(replace(samples.STAY, shop=replace(samples.SHOP, unit="C"))))
    assert "11.9 °C" in text
    assert "+0.31 K" in text
    assert "°F" not in text


def test_an_unfinished_stay_says_so_at_the_head_and_leaves_open_what_is_open() -> None:
    first = " ".join(reader(shop_copy_pdf(samples.UNFINISHED_STAY)).pages[0].extract_text().split())
    assert "This stay is not finished" in first
    assert "The kit is still in the house" in first
    assert "still there" in first
    text = words(shop_copy_pdf(samples.UNFINISHED_STAY))
    assert "Nobody has counted yet." in text
    assert "2 holes drilled, all plugged: nobody has said" in text
    assert "Taken out by, name and date" in text


def test_a_finished_stay_does_not_say_unfinished() -> None:
    assert "not finished" not in words(shop_copy_pdf(samples.STAY))


def test_sensors_without_an_offset_are_named_with_what_that_means() -> None:
    assert "No sensor had an offset in force: readings stand as the sensor gave them" in words(
        shop_copy_pdf(samples.NO_OFFSETS_STAY)
    )
    first, *others = samples.STAY.mapping
    one = words(shop_copy_pdf(replace(samples.STAY, mapping=(replace(first, offset=None), *others))))
    assert "Sensor 1 had no offset in force" in one
    assert "± 0.9 °F" in one  # 0.5 K x 1.8
    assert "no offset in force" not in words(shop_copy_pdf(samples.STAY))


def test_an_offset_checked_afterwards_says_so_with_its_uncertainty() -> None:
    first, *others = samples.STAY.mapping
    assert first.offset is not None
    late = replace(first.offset, checked_afterwards=True, uncertainty_kelvin=0.1)
    text = words(shop_copy_pdf(replace(samples.STAY, mapping=(replace(first, offset=late), *others))))
    assert "checked afterwards" in text
    assert "+0.56 °F ± 0.18 °F" in text


@pytest.mark.parametrize(
    ("left", "said"),
    [
        pytest.param(
            LeftBehind(holes_drilled=3, holes_plugged=2),
            "3 holes drilled, 2 plugged: 1 STILL OPEN",
            id="hole open",
        ),
        pytest.param(LeftBehind(holes_drilled=0), "No holes were drilled", id="no holes"),
        pytest.param(
            LeftBehind(holes_drilled=1, holes_plugged=1), "1 hole drilled, 1 plugged", id="one hole"
        ),
        pytest.param(LeftBehind(wires_restored=False), "Wires are NOT back where they were", id="wires open"),
        pytest.param(LeftBehind(system_ran=False), "The system did NOT run", id="did not run"),
        pytest.param(LeftBehind(home_wifi_used=False), "The home’s Wi-Fi was not used", id="no Wi-Fi"),
        pytest.param(LeftBehind(wifi_wiped=False), "password are STILL on the kit", id="Wi-Fi still there"),
        pytest.param(
            LeftBehind(account_wiped=False), "readings are STILL on the kit", id="readings still there"
        ),
        pytest.param(
            LeftBehind(), "System called for and ran before we left: nobody has said", id="nobody has said"
        ),
    ],
)
def test_how_the_house_was_left_is_said_plainly(left: LeftBehind, said: str) -> None:
    assert said in words(shop_copy_pdf(replace(samples.STAY, left_behind=left)))


def test_thirty_moves_and_long_names_are_all_there() -> None:
    text = words(shop_copy_pdf(samples.LONG_STAY))
    assert text.count(" moved from ") == 30
    assert text.count("looked swapped") == 15
    joined = text.replace(" ", "")
    for name in (
        samples.LONG_NAME,
        samples.LONG_STAY.kit_name,
        samples.LONG_STAY.removed_by,
        *samples.LONG_STAY.site_address,
    ):
        assert name.replace(" ", "") in joined, name


def test_what_somebody_typed_is_never_read_as_marks() -> None:
    typed = "<b>78 & <font size=40>rising</b> & <para>"
    text = words(shop_copy_pdf(replace(samples.STAY, customer_told_us=typed, notes=("a < b && c > d",))))
    assert "<b>78 & <font size=40>rising</b> & <para>" in text
    assert "a < b && c > d" in text


def test_a_character_no_font_has_prints_as_its_number() -> None:
    assert "[U+5C71][U+7530] Heating" in words(
        shop_copy_pdf(replace(samples.STAY, customer_name="山田 Heating"))
    )


@pytest.mark.parametrize(
    "logo", [b"", b"no picture at all", b"\x89PNG\r\n\x1a\n broken"], ids=["none", "text", "broken"]
)
def test_a_logo_that_cannot_be_read_is_left_out(logo: bytes) -> None:
    paper = reader(shop_copy_pdf(replace(samples.STAY, shop=replace(samples.SHOP, logo=logo))))
    assert not list(paper.pages[0].images)


def test_a_logo_stands_at_the_head_and_stays_small() -> None:
    picture = BytesIO()
    Image.effect_noise((2400, 900), 80).convert("RGBA").save(picture, "PNG")
    shop = replace(samples.SHOP, logo=picture.getvalue())
    pdf = shop_copy_pdf(replace(samples.STAY, shop=shop))
    (image,) = reader(pdf).pages[0].images
    assert image.image is not None
    assert image.image.width <= 660
    assert len(pdf) < 500_000


# ---------------------------------------------------------------- what the customer gets


def test_the_customers_copy_is_plain_and_complete() -> None:
    text = words(customer_copy_pdf(samples.STAY))
    for expected in (
        "You told us “Upstairs never gets below 78 in the afternoon",
        "From Tue 14 Apr 2026 to Tue 28 Apr 2026 (14 days 3 hours) we watched",
        "the air blown into the rooms",
        "at your air handler in the attic.",
        "Between 2 and 6 in the afternoon it started 9 times an hour",
        "Let us look at the outdoor unit's pressure switch",
        "2 holes drilled and plugged (2 photos taken).",
        "The wires are back where they were.",
        "Your system ran before we left.",
        "Change your guest password",
        "This is not an alarm. Nobody watches it day and night.",
        "smoke, gas, carbon monoxide, freezing or water",
        "(720) 555-0134",
    ):
        assert expected in text, expected


@pytest.mark.parametrize("used", [True, False])
def test_wi_fi_is_promised_to_be_erased_only_where_it_was_used(used: bool) -> None:
    left = replace(samples.UNFINISHED_STAY.left_behind, home_wifi_used=used)
    text = words(customer_copy_pdf(replace(samples.UNFINISHED_STAY, left_behind=left)))
    assert "run your system before we leave." in text
    assert ("We erase your Wi-Fi from the box." in text) is used


def test_the_customers_copy_holds_nothing_meant_for_the_shop() -> None:
    text = words(customer_copy_pdf(samples.STAY))
    for inside in (
        *samples.ROMS,
        "offset",
        "Offset",
        "short",
        "magnet",
        "proved dead",
        "reference",
        "R-410A",
        "https://",
    ):
        assert inside not in text, inside


@pytest.mark.parametrize(
    "draw_record", [(customer_copy_pdf, samples.STAY), (card_pdf, samples.CARD)], ids=["copy", "card"]
)
def test_the_customers_symbol_dials_the_shop(draw_record, tmp_path: Path) -> None:
    draw, record = draw_record
    assert scanned(draw(record), tmp_path) == {"tel:+1-720-555-0134"}


def test_a_customer_is_told_when_something_was_not_left_right() -> None:
    left = LeftBehind(
        holes_drilled=2, holes_plugged=1, wires_restored=True, system_ran=None, wifi_wiped=False
    )
    text = words(customer_copy_pdf(replace(samples.STAY, left_behind=left)))
    assert "2 holes drilled, 1 plugged so far: not yet; we owe you a visit" in text
    assert "System ran before we left: not checked yet" in text
    assert "password erased from the box: not yet" in text


def test_findings_that_are_not_there_yet_are_promised_not_invented() -> None:
    assert "We are still looking at the readings and will call you." in words(
        customer_copy_pdf(replace(samples.STAY, saw=(), suggest=()))
    )
    unfinished = words(customer_copy_pdf(samples.UNFINISHED_STAY))
    assert "our box is still there; it comes out by Tue 28 Apr 2026" in unfinished
    assert "What we left" not in unfinished


def test_an_endless_story_is_cut_rather_than_run_over() -> None:
    endless = replace(
        samples.LONG_STAY,
        customer_told_us="It clicks. " * 900,
        saw=("word " * 1200,) * 3,
        suggest=("word " * 800,) * 4,
    )
    paper = reader(customer_copy_pdf(endless))
    assert len(paper.pages) == 1
    text = words(customer_copy_pdf(endless))
    assert 5 < text.count("It clicks.") < 90
    assert "It clicks. It …”" in text


def test_the_card_says_what_is_true_of_this_kit_only() -> None:
    with_wifi = words(card_pdf(samples.CARD))
    assert "We take it out by Tue 28 Apr 2026" in with_wifi
    assert "You type the password into the box; we never see or keep it." in with_wifi
    assert "guest network" in with_wifi
    assert "battery" not in with_wifi
    assert "also switches" not in with_wifi
    without = words(card_pdf(replace(samples.CARD, home_wifi_used=False)))
    assert "It does not use your Wi-Fi: we read the box when we pick it up." in without
    assert "password" not in without
    more = words(card_pdf(samples.LONG_CARD))
    assert "There is a battery in the box" in more
    assert "The dehumidifier in the crawl space" in more


def test_the_slip_is_there_twice_and_open_things_stand_out() -> None:
    text = words(slip_pdf(samples.LONG_SLIP))
    assert text.count("3 holes drilled, 2 plugged: 1 STILL OPEN") == 2
    assert text.count("The system did NOT run before we left") == 2
    assert text.count("For the house (owner): name, signature, date") == 2
    assert re.search("Copy for the house.*Copy for the shop", text)
    bare = words(slip_pdf(samples.BARE_SLIP))
    assert "____ holes drilled, ____ plugged" in bare
    assert "nobody has said" not in bare
    assert words(slip_pdf(samples.SLIP)).count("signed Tue 28 Apr 2026") == 2


def test_a_shop_without_a_phone_gets_no_symbol(tmp_path: Path) -> None:
    assert scanned(card_pdf(replace(samples.CARD, shop=Shop(name="Ridgeline"))), tmp_path) == set()


# 85.0 °C stands in a sensor's register when it has just got power: the maker's datasheet, power-on state of the temperature register.
def test_the_reading_of_a_sensor_that_has_not_measured_is_marked():
    stay = samples.STAYS[next(iter(samples.STAYS))]
    row = replace(samples_row(stay), raw_celsius=85.0)
    shop = replace(stay, readings_installed=(row, replace(row, raw_celsius=84.9)))
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(shop_copy_pdf(shop))).pages)
    assert text.count("power-on value") == 1


def samples_row(stay: StayPaper):
    return next(row for row in stay.readings_installed if row.raw_celsius is not None)
