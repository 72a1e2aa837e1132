"""The books going out as files and coming back in unchanged; nothing in them that a spreadsheet would run."""

import csv
import io
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st

from kits.actions.sensors import give_offset
from kits.exporting import as_it_was, harmless
from kits.models import Kit
from reports.books_out import ALL, TABLES
from reports.importing.reading import read_sheets
from sites.actions.places import add_party
from sites.models import Agreement, Customer, PartyRole, Stage
from tests import make
from tests.reports.spreadsheets import brought_in, counted

HOSTILE = (
    '=HYPERLINK("https://example.com";"x")',
    "+1 201 555 0100",
    "-2+3",
    "@SUM(1)",
    "'=1+1",
    "'tis Ana",
    'Ana "the boss", Ltd; a|b',
    "José Núñez-Wołkowski",
    "two\nlines",
    "NULL",
    "00123",
    "1E5",
    "2024-05-20",
    "yes",
)


def full_shop() -> None:
    """A shop with something of everything, in words that are hard on files."""
    make.shop()
    boss = make.manager(name="Ruth")
    for number, text in enumerate(HOSTILE):
        flat = " ".join(text.split())
        who = make.customer(flat, phone=f"+1 201 555 01{number:02}", email="x@example.com", notes=text)
        site = make.site(
            street=flat, city=flat[:80], region="NJ", postal_code=f"070{number:02}", access_notes=text,
            contact_name=flat, latitude=Decimal("40.12345"), longitude=Decimal("-74.5"),
        )  # fmt: skip
        for part in (PartyRole.LIVES_THERE, PartyRole.MAY_SAY_YES):
            add_party(make.act(boss), site=site, customer=who, part=part, since=date(2026, 1, 1))
        add_party(make.act(boss), site=site, customer=make.customer(f"Owner {number}"), part=PartyRole.OWNS, since=date(2026, 1, 1))  # fmt: skip
        make.unit(
            site=site, name=flat[:60], make=flat[:60], model="00123", serial="1E5", capacity_tons=Decimal("2.5"),
            transformer_volt_ampere=40, float_switch="breaks_y", kind="heat_pump", notes=text,
        )  # fmt: skip
        kit = make.kit(
            sensors=2, name=flat[:60], controller=flat[:80], notes=text, power_draw_watt=Decimal("1.5"),
            rated_to_celsius=Decimal("-20.5"), has_battery=True, replacement_value_cents=18_505, adapter_isolated="no",
        )  # fmt: skip
        sensor = make.sensor(
            kit=kit, tag=flat[:20], tag_colour="red", lead_length_m=Decimal("3.66"), housing=flat[:60],
            bought_on=date(2024, 5, 20), notes=text,
        )  # fmt: skip
        give_offset(
            make.act(boss), sensor=sensor, offset_kelvin=Decimal("-0.3"), in_force_from=make.long_ago()
        )
    make.sensor(tag="spare")
    stay = make.stay(Stage.HANDED_BACK)
    make.stay(Stage.INSTALLED)
    agreement = Agreement.objects.create(customer=who, since=date(2026, 1, 1), terms="=1+1")
    agreement.sites.add(stay.unit.site)


@pytest.mark.django_db
@pytest.mark.parametrize("file_kind", ["csv", "xlsx"])
def test_what_goes_out_comes_back_in_and_every_row_is_left_alone(office_client, file_kind):
    full_shop()
    coming_back = [table.key for table in ALL if table.comes_back]
    assert coming_back == ["customers", "sites", "units", "kits", "sensors"]
    for key in coming_back:
        content = office_client.get(f"/export/{key}.{file_kind}").content
        assert counted(key, content) == {"same": len(list(TABLES[key].rows()))}, key


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/customers/", "/sites/", "/kits/", "/sensors/", "/calls/", "/agreements/"])
def test_a_list_gives_out_the_same_columns_as_the_whole_table(office_client, path):
    make.stay(Stage.INSTALLED)
    key = path.strip("/")
    assert headings(office_client.get(path, {"_export": "csv"}).content) == headings(
        office_client.get(f"/export/{key}.csv").content
    )


def headings(content: bytes) -> list[str]:
    return rows_of(content)[0]


def rows_of(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.django_db
@pytest.mark.parametrize("file_kind", ["csv", "xlsx"])
def test_books_that_went_out_fill_an_empty_shop(office_client, office, file_kind):
    """Every table out, the shop emptied, every table in: the same tables go out again."""

    def gone_out() -> dict[str, list[list[str]]]:
        return {key: facts(rows_of(office_client.get(f"/export/{key}.csv").content)) for key in keys}

    keys = [table.key for table in ALL if table.comes_back]
    with transaction.atomic():
        full_shop()
        before = gone_out()
        files = {key: office_client.get(f"/export/{key}.{file_kind}").content for key in keys}
        transaction.set_rollback(True)
    assert not Customer.objects.exists() and not Kit.objects.exists()
    make.shop()
    for key in keys:
        brought_in(key, files[key], by=office)
    assert gone_out() == before


# What is worked out from what a kit or a sensor went through, which its row does not bring back.
GONE_THROUGH = {
    "Whereabouts",
    "Where exactly",
    "Back in shop by",
    "Still to do",
    "Stays so far",
    "Kits there now",
} | {
    *("Where now", "Offset (added), K", "In force from"),
}


def facts(rows: list[list[str]]) -> list[list[str]]:
    """Heading and rows, without what a thing went through, in an order of their own."""
    kept = [index for index, heading in enumerate(rows[0]) if heading not in GONE_THROUGH]
    return sorted([row[index] for index in kept] for row in rows)


@pytest.mark.django_db
def test_a_list_goes_out_filtered_and_sorted_as_it_is_shown(office_client):
    for name in ("Zoe Fox", "Ana Fox", "Bob Lee"):
        make.customer(name)
    content = office_client.get("/customers/", {"q": "fox", "sort": "-name", "_export": "xlsx"}).content
    sheet = openpyxl.load_workbook(io.BytesIO(content)).active
    assert [row[0] for row in sheet.iter_rows(min_row=2, values_only=True)] == ["Zoe Fox", "Ana Fox"]


@pytest.mark.django_db
def test_numbers_are_numbers_and_dates_are_dates(office_client, office):
    sensor = make.sensor(tag="7", bought_on=date(2024, 5, 20), lead_length_m=Decimal("3.66"))
    give_offset(
        make.act(office), sensor=sensor, offset_kelvin=Decimal("-0.3"), in_force_from=make.utc(2026, 9, 1, 12)
    )
    make.kit(sensors=0, replacement_value_cents=18_550, built_on=date(2026, 3, 4))
    book = openpyxl.load_workbook(io.BytesIO(office_client.get("/export/sensors.xlsx").content))
    row = dict(zip(*book.active.iter_rows(values_only=True), strict=True))
    assert (row["Lead length (m)"], row["Offset (added), K"]) == (3.66, -0.3)
    assert row["Bought on"] == datetime(2024, 5, 20)
    assert row["In force from"] == datetime(2026, 9, 1, 8)  # the shop's clock, four hours behind
    kits = rows_of(office_client.get("/export/kits.csv").content)
    kit = dict(zip(*kits, strict=True))
    assert (kit["Built on"], kit["Replacement value"], kit["Battery inside"]) == (
        "2026-03-04",
        "185.50",
        "no",
    )
    text = office_client.get("/export/sensors.csv").content.decode("utf-8-sig")
    assert ",-0.300,2026-09-01T08:00:00-04:00," in text


# OWASP Application Security Verification Standard 5.0, requirement 1.2.10: = + - @ tab and null first in a field.
@pytest.mark.django_db
@pytest.mark.parametrize("file_kind", ["csv", "xlsx"])
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])  # no database of ours holds a null
def test_no_text_begins_like_a_formula(office_client, file_kind, start):
    make.customer(f"{start}cmd", notes=f"{start}1+1")
    content = office_client.get(f"/export/customers.{file_kind}").content
    if file_kind == "csv":
        cells = rows_of(content)[1]
    else:
        sheet = openpyxl.load_workbook(io.BytesIO(content)).active
        cells = [cell.value for cell in sheet[2]]
        assert {cell.data_type for cell in sheet[2]} <= {"s", "n", "inlineStr"}  # "f" would be a formula
    assert [cell for cell in cells if cell and cell[0] in "=+-@\t\r\0"] == []
    assert cells[0].lstrip("'").removeprefix(start).strip() == "cmd"


@given(st.text(max_size=12))
def test_the_apostrophe_comes_off_again(text):
    assert as_it_was(harmless(text)) == text


@given(st.sampled_from("=+-@\t\r\n\0"), st.text(max_size=5))
def test_harmless_text_begins_with_no_sign_of_a_formula(sign, rest):
    assert harmless(sign + rest)[0] == "'"


def test_a_negative_number_stays_a_number():
    from kits.exporting import csv_bytes

    assert csv_bytes(["K"], [[Decimal("-0.300")], [-2]]).decode("utf-8-sig") == "K\r\n-0.300\r\n-2\r\n"


def test_what_xml_cannot_hold_is_left_out_of_a_workbook():
    from kits.exporting import xlsx_bytes

    grid = read_sheets(xlsx_bytes("x", ["Name"], [["Ana\x07 \x1bDiaz"]]))[0]
    assert grid.lines[1].cells == ("Ana Diaz",)


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/export/nothing.csv", "/export/kits.pdf"])
def test_a_table_or_kind_of_file_that_is_not_there(office_client, path):
    assert office_client.get(path).status_code == 404


@pytest.mark.django_db
def test_a_longer_table_asks_the_database_no_more_often(manager_client, django_assert_max_num_queries):
    def queries(key: str) -> int:
        with django_assert_max_num_queries(20) as asked:
            assert manager_client.get(f"/export/{key}.csv").status_code == 200
        return len(asked)

    make.stay(Stage.INSTALLED)
    few = {key: queries(key) for key in TABLES}
    for _ in range(8):
        make.stay(Stage.INSTALLED)
        make.sensor()
    assert {key: queries(key) for key in TABLES} == few


@pytest.mark.django_db
def test_what_a_kit_went_through_goes_out_too(office_client, manager_client, office):
    make.shop()
    make.stay(Stage.HANDED_BACK)
    sensor = make.sensor(tag="spare")
    give_offset(make.act(office), sensor=sensor, offset_kelvin=Decimal("-0.3"), in_force_from=make.long_ago())
    filled = {
        key: len(rows_of(office_client.get(f"/export/{key}.csv").content)) - 1
        for key in ("placements", "whereabouts", "wirings", "spares", "offsets", "positions")
    }
    assert min(filled.values()) >= 1, filled
    people = manager_client.get("/export/people.csv").content.decode()
    assert office.username in people and "pbkdf2" not in people and "password" not in people.lower()
    # The page of people is the managers', so its file is too.
    assert office_client.get("/export/people.csv").status_code == 403
    assert "/export/people.csv" not in office_client.get("/export/").content.decode()
