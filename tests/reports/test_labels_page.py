"""The page that prints labels and flags, and the pages of the printers, as people use them."""

import io
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from pypdf import PdfReader

from kits.models import Event, LabelStock, Shop
from reports.models import LabelPrinter
from reports.models.printers import PrinterDots
from reports.papers.stock import STOCKS
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def pages_of(answer) -> list[str]:
    assert answer["Content-Type"] == "application/pdf", answer.content.decode()
    pages = PdfReader(io.BytesIO(answer.content)).pages
    return [" ".join(page.extract_text().split()) for page in pages]


def text_of(answer) -> str:
    return " ".join(pages_of(answer))


def refused(answer) -> str:
    assert answer.status_code == 422
    return answer.content.decode()


def printer(**fields) -> LabelPrinter:
    values = {"name": "Bench printer", "stock": LabelStock.TAPE_24, "dpi": PrinterDots.DPI_180, **fields}
    return LabelPrinter.objects.create(**values)


def test_every_stock_the_shop_can_choose_has_its_measures_and_the_other_way_round():
    assert set(LabelStock.values) == set(STOCKS)


# ---------------------------------------------------------------- which labels


def test_a_batch_prints_kit_by_kit_the_box_the_lid_and_the_flags(office_client):
    make.shop(label_host="kits.example.com")
    kits = [
        make.kit(sensors=2, name=name, power_draw_volt_ampere=Decimal("8.50")) for name in ("Heron", "Ibis")
    ]
    answer = office_client.get(
        reverse("labels"),
        {"kit": [kit.code for kit in kits], "what": ["kits", "lid", "flags"], "stock": "tape-24", "pdf": 1},
    )
    pages = pages_of(answer)
    assert len(pages) == 2 * (1 + 1 + 2)
    for kit, (box, lid, *flags) in zip(kits, (pages[:4], pages[4:]), strict=True):
        assert (
            kit.code in box.replace(" ", "") and kit.name in box and "Found it? Call +1 201 555 0100" in box
        )
        assert kit.code in lid.replace(" ", "") and "24 V AC through adapter, 8.5 VA" in lid
        wired = [row.sensor for row in kit.wirings.filter(wired_until=None).order_by("terminal")]
        for terminal, (sensor, flag) in enumerate(zip(wired, flags, strict=True), start=1):
            assert f"{terminal} …{sensor.tail}" in lid
            assert flag.count(f"…{sensor.tail}") == 2 and flag.count(f"kit {kit.code}") == 2


def test_a_code_may_be_typed_small_and_the_usual_answer_is_the_label_of_the_box(technician_client):
    kit = make.kit()
    answer = technician_client.get(reverse("labels"), {"kit": kit.code.lower(), "pdf": 1})
    assert pages_of(answer) == [text_of(answer)] and kit.code in text_of(answer).replace(" ", "")


def test_what_a_lid_label_does_not_know_it_says(office_client):
    kit = make.kit(sensors=0, power_draw_volt_ampere=None)
    text = text_of(
        office_client.get(
            reverse("labels"), {"kit": kit.code, "what": "lid", "stock": "letter-10up", "pdf": 1}
        )
    )
    assert "VA not recorded" in text and "No sensors yet" in text


def test_a_spare_gets_a_flag_of_its_own_that_says_spare(office_client):
    sensor = make.sensor(tag="Blue 7")
    rom = f"{sensor.rom[:2]}-{sensor.rom[2:]}".lower()
    pages = pages_of(office_client.get(reverse("labels"), {"sensor": rom, "stock": "tape-12", "pdf": 1}))
    assert len(pages) == 1
    assert pages[0].count("spare") == 2 and pages[0].count(f"…{sensor.tail}") == 2 and "Blue 7" in pages[0]


def test_the_flag_of_a_wired_sensor_asked_for_by_its_rom_names_its_kit(office_client):
    kit = make.kit(sensors=1)
    sensor = kit.wirings.get().sensor
    text = text_of(office_client.get(reverse("labels"), {"sensor": sensor.rom, "stock": "tape-24", "pdf": 1}))
    assert f"kit {kit.code}" in text and "spare" not in text


@pytest.mark.parametrize("stock", [key for key in LabelStock.values if key != "tape-12"])
def test_every_stock_prints_the_whole_batch_of_a_kit(stock, office_client):
    kit = make.kit(sensors=5)
    given = {"kit": kit.code, "what": ["kits", "lid", "flags"], "stock": stock, "start": 3, "pdf": 1}
    text = text_of(office_client.get(reverse("labels"), given))
    assert text.replace(" ", "").count(kit.code) == 2 + 2 * 5


# ---------------------------------------------------------------- refused in a sentence, nothing typed is lost


def test_labels_of_nothing_are_refused_but_only_when_asked_for(office_client):
    make.kit()
    assert "Tick at least one kit" not in office_client.get(reverse("labels")).content.decode()
    assert "Tick at least one kit" in refused(office_client.get(reverse("labels"), {"pdf": 1}))


def test_nothing_to_print_for_a_kit_is_refused(office_client):
    page = refused(office_client.get(reverse("labels"), {"kit": make.kit().code, "what": "", "pdf": 1}))
    assert "Tick what to print" in page or "Select a valid choice" in page


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        pytest.param({"kit": "ZZZZZZ"}, "There is no kit ZZZZZZ.", id="a kit nobody has"),
        pytest.param({"sensor": "28-00"}, "There is no sensor 28-00.", id="a ROM ID that is none"),
        pytest.param({"start": "31"}, "positions 1 to 30", id="first label beyond the sheet"),
        pytest.param({"start": "0"}, "Labels are counted from 1", id="first label before the first"),
        pytest.param({"start": "x"}, "Enter a whole number", id="first label no number"),
        pytest.param({"stock": "printer-99"}, "printer-99 is not one of the available", id="no such printer"),
        pytest.param({"stock": "papyrus"}, "papyrus is not one of the available", id="no such stock"),
    ],
)
def test_what_cannot_be_printed_is_said(given, sentence, office_client):
    kit = make.kit(name="Heron")
    page = refused(
        office_client.get(reverse("labels"), {"kit": kit.code, "stock": "letter-30up", "pdf": 1, **given})
    )
    assert sentence in page
    assert "Heron" in page


def test_a_sensor_without_a_tag_is_named_when_its_flag_is_asked_for(office_client):
    kit = make.kit(sensors=1)
    sensor = make.sensor(kit=kit, tag="")
    page = refused(office_client.get(reverse("labels"), {"kit": kit.code, "what": "flags", "pdf": 1}))
    assert f"…{sensor.tail}" in page and "has no tag" in page


def test_a_refusal_keeps_what_was_ticked(office_client):
    kit = make.kit()
    page = refused(
        office_client.get(
            reverse("labels"),
            {"kit": kit.code, "what": ["lid", "flags"], "stock": "tape-12", "start": 1, "pdf": 1},
        )
    )
    assert f'value="{kit.code}" id="id_kit_0" checked' in page
    assert '<option value="tape-12" selected>' in page
    assert page.count('name="what"') == 3 and page.count("no room for what stands inside the lid") == 1


# ---------------------------------------------------------------- said before printing


def test_a_stock_too_small_says_so_when_it_is_chosen_with_the_host_that_fits(office_client):
    make.shop(label_host="kits.example.com")
    made = printer(stock=LabelStock.TAPE_18, dpi=PrinterDots.DPI_203)
    page = office_client.get(reverse("labels"), {"kit": make.kit().code, "stock": f"printer-{made.pk}"})
    text = page.content.decode()
    assert page.status_code == 200 and "Kit labels do not fit here" in text
    assert "A host of 12 characters or fewer fits" in text and "kits.example.com, 16 characters" in text
    make.shop(label_host="kp.example")
    text = office_client.get(reverse("labels"), {"stock": f"printer-{made.pk}"}).content.decode()
    assert "Kit labels do not fit here" not in text and "each of its squares 0.50 mm" in text


def test_12_mm_tape_says_why_it_takes_flags_only(office_client):
    make.kit()
    page = office_client.get(reverse("labels"), {"stock": "tape-12"}).content.decode()
    assert "12 mm tape takes flags only" in page and "a phone needs 0.4 mm" in page


def test_the_sheet_is_pictured_label_by_label_with_the_first_free_one_marked(office_client):
    make.kit()
    page = office_client.get(reverse("labels"), {"stock": "a4-65up", "start": 7}).content.decode()
    assert page.count('type="radio" name="start"') == 65
    assert 'value="7" checked' in page and page.count(" checked>") >= 1
    tape = office_client.get(reverse("labels"), {"stock": "tape-24"}).content.decode()
    assert 'name="start"' not in tape and "no first label to choose" in tape


def test_a_start_beyond_another_sheet_falls_back_to_its_first_label(office_client):
    make.kit()
    page = office_client.get(reverse("labels"), {"stock": "letter-10up", "start": 25}).content.decode()
    assert 'value="1" checked' in page


# ---------------------------------------------------------------- printers


def test_a_printer_is_added_and_then_chosen_by_itself_for_the_shops_stock(office_client):
    make.shop(label_stock=LabelStock.TAPE_24)
    given = {
        "name": "Bench printer",
        "stock": "tape-24",
        "dpi": "360",
        "shift_x_mm": "0.4",
        "shift_y_mm": "-1.2",
        "in_use": "on",
    }
    assert office_client.post(reverse("label_printer_new"), given).status_code == 302
    made = LabelPrinter.objects.get()
    assert (made.shift_x_mm, made.shift_y_mm, made.dpi) == (Decimal("0.4"), Decimal("-1.2"), 360)
    assert Event.objects.last().abouts.get().kind == "labelprinter"
    make.kit()
    page = office_client.get(reverse("labels")).content.decode()
    assert f'<option value="printer-{made.pk}" selected>' in page
    assert "Nudge: 0.4 mm right, 1.2 mm up." in page


def test_a_printer_out_of_use_is_not_offered(office_client):
    printer(in_use=False)
    make.kit()
    assert "Bench printer" not in office_client.get(reverse("labels")).content.decode()
    assert "Bench printer" in office_client.get(reverse("label_printers")).content.decode()


def test_the_nudge_of_a_printer_moves_what_it_prints(office_client):
    kit = make.kit()
    straight = printer(name="Straight", stock=LabelStock.LETTER_30, dpi=300)
    askew = printer(name="Askew", stock=LabelStock.LETTER_30, dpi=300, shift_x_mm=2, shift_y_mm=-1)

    def corner(made: LabelPrinter) -> tuple[float, float]:
        given = {"kit": kit.code, "stock": f"printer-{made.pk}", "pdf": 1}
        content = office_client.get(reverse("labels"), given).content
        found = []
        PdfReader(io.BytesIO(content)).pages[0].extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                found.append((tm[4], tm[5])) if text.strip() == kit.name else None
            )
        )
        return found[0]

    (x, y), (moved_x, moved_y) = corner(straight), corner(askew)
    assert (moved_x - x, moved_y - y) == (
        pytest.approx(2 / 25.4 * 72, abs=0.01),
        pytest.approx(1 / 25.4 * 72, abs=0.01),
    )


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("shift_x_mm", "12", "less than 10 mm"),
        ("shift_x_mm", "10.0", "less than 10 mm"),
        ("shift_y_mm", "0.25", "tenths of a millimetre"),
        ("shift_y_mm", "a bit", "millimetres as a number"),
        ("name", "", "This is needed."),
        ("stock", "papyrus", "papyrus is not one of the available"),
        ("dpi", "72", "72 is not one of the available"),
    ],
)
def test_a_bad_printer_is_refused_and_what_was_typed_stays(field, value, sentence, office_client):
    given = {"name": "Bench printer", "stock": "tape-24", "dpi": "180", "shift_x_mm": "0", "shift_y_mm": "0"}
    page = office_client.post(reverse("label_printer_new"), {**given, field: value})
    assert page.status_code == 422 and sentence in page.content.decode()
    assert not LabelPrinter.objects.exists()
    if field not in ("stock", "dpi") and value:
        assert f'value="{value}"' in page.content.decode()


def test_two_printers_of_one_name_are_refused(office_client):
    printer()
    given = {"name": "Bench printer", "stock": "tape-24", "dpi": "180", "shift_x_mm": "0", "shift_y_mm": "0"}
    page = office_client.post(reverse("label_printer_new"), given)
    assert page.status_code == 422 and "already" in page.content.decode()


def test_a_printer_is_changed_and_a_stale_page_is_answered(office_client):
    made = printer()
    page = reverse("label_printer", args=[made.pk])
    given = {
        "name": made.name,
        "stock": "tape-18",
        "dpi": "180",
        "shift_x_mm": "0.5",
        "shift_y_mm": "0",
        "in_use": "on",
    }
    assert office_client.post(page, {**given, "based_on": "0"}).status_code == 302
    made.refresh_from_db()
    assert (made.stock, made.shift_x_mm, made.version) == ("tape-18", Decimal("0.5"), 1)
    late = office_client.post(page, {**given, "shift_x_mm": "0.9", "based_on": "0"})
    assert late.status_code == 409 and "Nothing of yours was saved" in late.content.decode()


@pytest.mark.parametrize(
    "fields",
    [{"shift_x_mm": 10}, {"shift_y_mm": -10}, {"dpi": 72}, {"stock": "papyrus"}, {"name": ""}],
    ids=str,
)
def test_the_database_refuses_a_printer_that_cannot_be(fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        printer(**fields)


@pytest.mark.parametrize("name", ["label_printers", "label_printer_new"])
def test_printers_are_the_offices(name, technician_client):
    assert technician_client.get(reverse(name)).status_code == 403
    assert reverse("label_printers") not in technician_client.get(reverse("labels")).content.decode()


@pytest.mark.parametrize("stock", LabelStock.values)
def test_each_stock_has_a_test_sheet(stock, technician_client):
    text = text_of(technician_client.get(reverse("label_test_sheet"), {"stock": stock}))
    assert "mm when printed at 100 %" in text


def test_a_test_sheet_of_nothing_is_not_there(office_client):
    assert office_client.get(reverse("label_test_sheet"), {"stock": "papyrus"}).status_code == 404
    assert office_client.get(reverse("label_test_sheet"), {"stock": "printer-²"}).status_code == 404


def test_the_stock_of_an_unopened_shop_is_the_sheet_of_thirty(office_client):
    assert Shop.current().label_stock == "letter-30up"
    assert "US Letter, 30 labels" in text_of(office_client.get(reverse("label_test_sheet")))


@pytest.mark.parametrize("count", [3, 30])
def test_the_pages_ask_the_database_as_often_for_thirty_kits_as_for_three(
    count, office_client, django_assert_max_num_queries
):
    kits = [make.kit(sensors=2) for _ in range(count)]
    for number in range(count):
        printer(name=f"Printer {number}")
    with django_assert_max_num_queries(20):
        office_client.get(reverse("labels"))
    with django_assert_max_num_queries(20):
        office_client.get(
            reverse("labels"),
            {
                "kit": [kit.code for kit in kits],
                "what": ["kits", "lid", "flags"],
                "stock": "letter-30up",
                "pdf": 1,
            },
        )


# ---------------------------------------------------------------- a large shop


def test_a_large_shop_is_offered_the_first_kits_and_finds_the_others_with_what_is_ticked_kept(
    office_client, monkeypatch
):
    monkeypatch.setattr("reports.forms.OFFERED_AT_ONCE", 2)
    make.shop()
    first, second, third, fourth = (make.kit(name=name) for name in ("Auk", "Bittern", "Coot", "Dunlin"))
    page = office_client.get(reverse("labels")).content.decode()
    assert "2 more kits" in page and "Find others by name, code or tag" in page
    assert [kit.name in page for kit in (first, second, third, fourth)] == [True, True, False, False]
    for typed in ("dunl", fourth.code.lower(), f"{fourth.code[:3]} {fourth.code[3:]}"):
        found = office_client.get(reverse("labels"), {"kit": third.code, "find": typed}).content.decode()
        shown = [kit.name in found for kit in (first, second, third, fourth)]
        assert shown == [False, False, True, True], typed
        assert f'value="{third.code}" id="id_kit_0" checked' in " ".join(found.split()).replace(
            "checked ", "checked"
        )
    sheet = office_client.get(reverse("labels"), {"kit": [third.code, second.code], "find": "dunl", "pdf": 1})
    assert third.name in text_of(sheet) and second.name in text_of(sheet)


def test_a_small_shop_sees_no_field_to_find_kits_by(office_client):
    make.kit()
    assert 'name="find"' not in office_client.get(reverse("labels")).content.decode()
