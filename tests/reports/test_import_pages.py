"""The pages of a spreadsheet that comes in: sending it, looking at its rows, doing it, its columns, its refused rows."""

from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from reports.importing.grid import LARGEST_FILE_BYTES
from reports.models import ImportFile
from sites.models import Customer
from tests import make
from tests.reports.spreadsheets import book_of, sent
from tests.seen import words

pytestmark = pytest.mark.django_db

PEOPLE = b"Name,Phone,E-mail\nAna Diaz,201 555 0101,ana@example.com\nBob Lee,201 555 0102,nonsense\n"


def send(client, content: bytes, kind: str = "customers", name: str = "people.csv", **more):
    data = {"kind": kind, "file": SimpleUploadedFile(name, content), "request_id": str(uuid4())}
    return client.post("/import/", data, **more)


def values(answer, form: str) -> dict[str, str]:
    """What a form of the page would send."""
    found = answer.context[form]
    return {name: "" if found[name].value() is None else str(found[name].value()) for name in found.fields}


def test_a_spreadsheet_from_sending_to_the_books(office_client):
    answer = send(office_client, PEOPLE, follow=True)
    said = words(answer)
    assert "1 row would go in" in said
    assert "1 new, 0 changed, 0 left alone, 1 refused. Nothing is saved yet." in said
    assert "E-mail: “nonsense” is no e-mail address." in said
    assert Customer.objects.count() == 0
    path = answer.request["PATH_INFO"]
    done = office_client.post(path, values(answer, "do_form"), follow=True)
    assert "Customers are in: 1 new, 0 changed" in words(done)
    assert Customer.objects.get().name == "Ana Diaz"
    refused = office_client.get(f"{path}refused.csv").content.decode("utf-8-sig")
    assert refused.splitlines()[0] == "Name,Phone,E-mail,Why refused"
    assert refused.splitlines()[1].startswith("Bob Lee,201 555 0102,nonsense,E-mail:")


def test_the_same_file_sent_again_has_nothing_new(office_client):
    for _ in range(2):
        answer = send(office_client, b"Name\nAna\n", follow=True)
        office_client.post(answer.request["PATH_INFO"], values(answer, "do_form"))
    assert "Nothing in this file is new" in words(send(office_client, b"Name\nAna\n", follow=True))
    assert Customer.objects.count() == 1


def test_rows_can_be_looked_at_by_what_would_become_of_them(office_client):
    path = send(office_client, PEOPLE).headers["Location"]
    assert [plan.what for plan in office_client.get(path, {"show": "new"}).context["page"]] == ["Ana Diaz"]
    refused = office_client.get(path, {"show": "refused"}).context["page"]
    assert [plan.line for plan in refused] == [3]
    assert len(office_client.get(path, {"show": "nonsense"}).context["page"].object_list) == 2


def test_columns_are_corrected_on_the_page(office_client):
    answer = send(office_client, b"Wer,Wo\nAna,201 555 0101\n", follow=True)
    assert "Which column holds what?" in words(answer)
    assert "Holds Ana" in words(answer)
    path = answer.request["PATH_INFO"]
    told = {**values(answer, "columns_form"), "column_0": "name", "column_1": "phone"}
    answer = office_client.post(f"{path}columns/", told, follow=True)
    assert "1 row would go in" in words(answer)


def test_a_refusal_about_columns_keeps_what_was_chosen(office_client):
    answer = send(office_client, b"Wer,Wo\nAna,201 555 0101\n", follow=True)
    path = answer.request["PATH_INFO"]
    told = {**values(answer, "columns_form"), "column_0": "name", "column_1": "name"}
    answer = office_client.post(f"{path}columns/", told)
    assert answer.status_code == 409
    assert "Two columns are told to hold “Name”" in words(answer)
    assert answer.context["columns_form"]["column_1"].value() == "name"


def test_rows_that_would_now_do_something_else_are_not_put_in(office_client):
    answer = send(office_client, PEOPLE, follow=True)
    make.customer("Ana Diaz", phone="201 555 0101")
    answer = office_client.post(answer.request["PATH_INFO"], values(answer, "do_form"))
    assert answer.status_code == 409
    assert "The books changed since this page was opened" in words(answer)
    # The page now shows the rows as they are, and its button does just that.
    done = office_client.post(answer.request["PATH_INFO"], values(answer, "do_form"), follow=True)
    assert "0 new, 1 changed" in words(done)


def test_the_sheet_of_a_workbook_can_be_chosen(office_client):
    data = book_of(Kits=[["Kit code", "Name"], ["", "Heron"]], Old=[["Name", "Board"], ["Wren", "B1"]])
    answer = send(office_client, data, kind="kits", name="kits.xlsx", follow=True)
    assert "sheet Kits" in words(answer)
    told = {**values(answer, "columns_form"), "sheet": "Old", "header_line": "1"}
    answer = office_client.post(f"{answer.request['PATH_INFO']}columns/", told, follow=True)
    assert "sheet Old" in words(answer) and "Wren" in words(answer)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        pytest.param(b"", "This file is empty", id="empty"),
        pytest.param(b"%PDF-1.7", "This is a PDF, not a spreadsheet", id="a PDF named csv"),
        pytest.param(b"x" * (5 * LARGEST_FILE_BYTES), "This file has 50 MB; the most that is taken is 10 MB", id="50 MB"),
        pytest.param(b"Name\n" + b"Ana\n" * 100_000, "more than 20,000 rows", id="100,000 rows"),
        pytest.param(b"Name,Phone\n", "no rows beneath", id="headings alone"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_told_beside_the_field_and_nothing_is_kept(
    office_client, content, sentence
):
    answer = send(office_client, content)
    assert answer.status_code in {409, 422}
    assert sentence in str(answer.context["form"].errors["file"])
    assert answer.context["form"]["kind"].value() == "customers"
    assert not ImportFile.objects.exists()


def test_without_a_file_or_a_kind_the_page_says_what_is_missing(office_client):
    answer = office_client.post("/import/", {})
    assert answer.status_code == 422
    assert "Choose a file." in words(answer) and "Choose what the rows of the file are." in words(answer)


def test_what_stands_in_a_file_is_shown_as_text(office_client):
    hostile = b"<script>alert(1)</script>,Phone\n<img src=x onerror=alert(1)>,201 555 0101\n"
    answer = send(office_client, b"Name," + hostile, name="<b>x</b>.csv", follow=True)
    text = answer.content.decode()
    assert "<script>alert" not in text and "<img src=x" not in text and "<b>x</b>" not in text


def test_a_technician_brings_nothing_in(technician_client):
    assert technician_client.get("/import/").status_code == 403
    assert send(technician_client, PEOPLE).status_code == 403
    for path in ("/kits/", "/sensors/"):
        assert "/import/" not in technician_client.get(path).content.decode()


@pytest.mark.parametrize("path", ["/customers/", "/sites/", "/kits/", "/sensors/"])
def test_each_list_leads_to_bringing_in_a_spreadsheet_of_it(office_client, path):
    assert f"/import/?kind={path.strip('/')}" in office_client.get(path).content.decode()
    start = office_client.get("/import/", {"kind": path.strip("/")})
    assert start.context["form"]["kind"].value() == path.strip("/")


def test_a_longer_file_asks_the_database_no_more_often(office_client, django_assert_max_num_queries):
    def queries(rows: int) -> int:
        text = "Street,City,Customer,Customer phone\n" + "".join(
            f"{number} Elm,Faketown,Customer {number},201 555 01{number:02}\n" for number in range(rows)
        )
        file = sent("sites", text.encode())
        with django_assert_max_num_queries(14) as asked:
            assert office_client.get(file.get_absolute_url()).status_code == 200
        return len(asked)

    make.customer("Customer 1", phone="201 555 0101")
    assert queries(3) == queries(30)


def test_other_rows_of_the_same_file_are_read_without_sending_it_again(office_client):
    jobs = b"Homeowner,Tel.,Notes,Job Address,Town,Zip,System,Type\nAna,201 555 0101,,9 Elm,Faketown,07001,Upstairs,AHU\n"
    answer = send(office_client, jobs, kind="sites", name="jobs.csv", follow=True)
    done = office_client.post(answer.request["PATH_INFO"], values(answer, "do_form"), follow=True)
    assert "Read its units" in words(done) and "Read its kits" not in words(done)
    kind, form = next(pair for pair in done.context["other_kinds"] if pair[0].key == "units")
    told = {name: form[name].value() or "" for name in form.fields}
    looked = office_client.post(f"{answer.request['PATH_INFO']}as/{kind.key}/", told, follow=True)
    assert "1 row would go in" in words(looked) and "jobs.csv" in words(looked)
    assert looked.context["reading"].unread == ["Homeowner", "Tel."]


def test_a_word_that_is_not_known_is_asked_about_on_the_page(office_client):
    make.site(street="9 Elm", postal_code="")
    answer = send(office_client, b"Street,Unit,Type\n9 Elm,Up,Split A/C\n", kind="units", follow=True)
    assert "Words to explain" in words(answer)
    told = {**values(answer, "columns_form"), "word_0": "air_handler"}
    looked = office_client.post(f"{answer.request['PATH_INFO']}columns/", told, follow=True)
    assert "1 row would go in" in words(looked)
