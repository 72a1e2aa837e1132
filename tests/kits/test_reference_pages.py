"""References on the page: added, certified as the paper is printed, said to be due in words, drawn, given out."""

import csv
import io
from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.utils import timezone

from kits.models import Certificate, ReferenceThermometer
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def the_shop(db):
    return make.shop()


def paper(**changes):
    today = timezone.localdate()
    return {
        "number": "LM-118",
        "issuer": "Lakeside Metrology",
        "issued_on": (today - timedelta(days=10)).isoformat(),
        "due_on": (today + timedelta(days=355)).isoformat(),
        "unit": "C",
        "expanded_uncertainty_kelvin": "0.05",
        "coverage_factor": "2",
        "table_gives": "added",
        **changes,
    }


def bare(**fields) -> ReferenceThermometer:
    return ReferenceThermometer.objects.create(**{"name": "Bench one", "resolution_kelvin": "0.01", **fields})


# -- References ----------------------------------------------------------------------------------------------------------


def test_a_thermometer_is_added_in_the_unit_of_its_display_and_led_on_to_its_certificate(technician_client):
    typed = {
        "kind": "thermometer",
        "name": "Bench one",
        "serial": "K-1",
        "unit": "F",
        "resolution_kelvin": "0.1",
    }
    answer = technician_client.post("/references/new/", typed)
    added = ReferenceThermometer.objects.get(name="Bench one")
    assert answer["Location"] == f"/references/{added.pk}/certificate/"
    assert (added.resolution_kelvin, added.allowance_kelvin) == (Decimal("0.0556"), None)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param({"kind": "thermometer"}, "Say the smallest step it shows.", id="a thermometer without a step"),
        pytest.param({"kind": "ice", "resolution_kelvin": "0.1"}, "Say how far it may lie off", id="ice without an allowance"),
        pytest.param({"kind": "ice", "allowance_kelvin": "about a tenth"}, "Write it as a number", id="an allowance in words"),
    ],
)  # fmt: skip
def test_a_reference_that_says_too_little_is_refused_with_what_was_typed(technician_client, typed, sentence):
    answer = technician_client.post("/references/new/", {"name": "The jug", "unit": "C", **typed})
    page = unescape(answer.content.decode())
    assert answer.status_code == 422 and sentence in page and 'value="The jug"' in page


def test_the_office_looks_at_references_and_does_not_add_any(office_client):
    assert "Add a reference" not in words(office_client.get("/references/"))
    assert office_client.get("/references/new/").status_code == 403


# -- Certificates --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        pytest.param({"at": ["0", "25"], "add": ["-0.02", "0.01"]}, [[0.0, -0.02], [25.0, 0.01]], id="typed as rows"),
        pytest.param({"pasted": "reading\tcorrection\n25\t0.01\n0\t-0,02"}, [[0.0, -0.02], [25.0, 0.01]], id="pasted, in any order"),
        pytest.param({"pasted": "0 0.02\n25 -0.01", "table_gives": "errors"}, [[0.0, -0.02], [25.0, 0.01]], id="errors are turned round"),
        pytest.param({"pasted": "32 -0.036\n77 0.018", "unit": "F", "expanded_uncertainty_kelvin": "0.09"}, [[0.0, -0.02], [25.0, 0.01]], id="a paper in °F"),
        pytest.param({}, [], id="no table"),
    ],
)  # fmt: skip
def test_the_table_of_a_certificate_is_kept_as_corrections_in_celsius_and_kelvin(
    technician_client, typed, kept
):
    one = bare()
    assert technician_client.post(f"/references/{one.pk}/certificate/", paper(**typed)).status_code == 302
    certificate = Certificate.objects.get()
    assert certificate.corrections == kept
    assert certificate.expanded_uncertainty_kelvin == Decimal("0.05")


def test_a_confidence_becomes_the_k_it_stands_for(technician_client):
    # NIST TN 1297, 4.3: 95 % of a normal distribution lie within 1.960 standard uncertainties, 99 % within 2.576.
    one = bare()
    typed = paper(coverage_factor="", confidence_percent="99")
    technician_client.post(f"/references/{one.pk}/certificate/", typed)
    assert Certificate.objects.get().coverage_factor == Decimal("2.58")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param({"coverage_factor": ""}, "Give the k or the confidence, one of the two", id="neither k nor confidence"),
        pytest.param({"confidence_percent": "95"}, "Give the k or the confidence, one of the two", id="both"),
        pytest.param({"coverage_factor": "", "confidence_percent": "20"}, "a percentage from 50", id="a confidence of 20 %"),
        pytest.param({"due_on": "2020-01-01"}, "good until a day after it was issued", id="due before issue"),
        pytest.param({"issued_on": "2099-01-01", "due_on": "2099-06-01"}, "That day is still to come", id="issued tomorrow"),
        pytest.param({"at": ["0"], "add": ["cold"]}, "A line of the table reads “0”, “cold”", id="a word in the table"),
        pytest.param({"pasted": "0 0.1 7"}, "Line 1 holds “0 0.1 7”", id="three columns"),
        pytest.param({"pasted": "0 0.1\n0 0.2"}, "names one temperature twice", id="a temperature twice"),
        pytest.param({"pasted": "0 0.1", "at": ["0"], "add": ["0.1"]}, "Leave one of the two empty", id="typed and pasted"),
        pytest.param({"expanded_uncertainty_kelvin": "0"}, "It cannot be less than 0.0001", id="no uncertainty"),
    ],
)  # fmt: skip
def test_a_certificate_that_cannot_be_is_refused_and_stays_typed(technician_client, typed, sentence):
    one = bare()
    answer = technician_client.post(f"/references/{one.pk}/certificate/", paper(**typed))
    page = unescape(answer.content.decode())
    assert answer.status_code in {409, 422} and sentence in page
    assert 'value="LM-118"' in page and not Certificate.objects.exists()
    for name in ("at", "add"):
        for value in typed.get(name, ()):
            assert f'name="{name}" value="{value}"' in page


def test_a_second_certificate_takes_over_from_its_day_of_issue(technician_client):
    one = make.reference(name="Bench one")
    assert "LM-118" not in words(technician_client.get(f"/references/{one.pk}/"))
    technician_client.post(f"/references/{one.pk}/certificate/", paper())
    said = words(technician_client.get(f"/references/{one.pk}/"))
    assert "2 certificates" in said and "Number LM-118" in said and "The other ones" in said


# -- How each stands -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "answer", "word"),
    [
        pytest.param(200, "may be used", "in date", id="in date"),
        pytest.param(12, "runs out in 12 days", "due soon", id="soon"),
        pytest.param(0, "is out of date", "out of date", id="on the day itself"),
        pytest.param(-3, "ran out 3 days ago", "out of date", id="since some days"),
    ],
)
def test_due_and_out_of_date_are_said_in_words(technician_client, days, answer, word):
    one = make.reference(certificate={"due_on": timezone.localdate() + timedelta(days=days)})
    said = words(technician_client.get(f"/references/{one.pk}/"))
    assert answer in said and word in said
    assert ("Begin a check with it" in said) == (days > 0)
    assert word in words(technician_client.get("/references/"))


def test_the_list_answers_first_what_must_not_be_used(technician_client):
    make.reference(name="Old one", certificate={"due_on": timezone.localdate() - timedelta(days=1)})
    bare(name="Bare one")
    said = words(technician_client.get("/references/"))
    assert said.startswith("Bench 2 references are not to be used")
    assert "Old one: out of date." in said and "Bare one: no certificate." in said


def test_one_out_of_use_leaves_the_list_and_stays_in_the_books(technician_client):
    one = make.reference(name="Worn one")
    change = {"kind": "thermometer", "name": "Worn one", "unit": "C", "resolution_kelvin": "0.01"}
    change["out_of_use_since"] = timezone.localdate().isoformat()
    technician_client.post(f"/references/{one.pk}/change/", change)
    assert "Worn one" not in words(technician_client.get("/references/"))
    assert "Worn one" in words(technician_client.get("/references/?everything=on"))
    assert "Worn one is out of use" in words(technician_client.get(f"/references/{one.pk}/"))


def test_the_curve_has_a_point_for_each_line_of_the_table(technician_client):
    one = make.reference(certificate={"corrections": [[0, -0.02], [25, 0.01], [50, 0.03]]})
    page = technician_client.get(f"/references/{one.pk}/").content.decode()
    assert page.count("curve-mark") == 3 and 'role="img"' in page


def test_the_list_goes_out_as_a_file_in_kelvin(technician_client):
    make.reference(name="Bench one", certificate={"number": "LM-118"})
    file = technician_client.get("/references/?_export=csv").content.decode("utf-8-sig")
    found = next(row for row in csv.DictReader(io.StringIO(file)) if row["Reference"] == "Bench one")
    assert (found["Certificate"], found["Uncertainty U, K"], found["State"]) == (
        "LM-118",
        "0.0500",
        "in date",
    )


def test_more_references_ask_the_database_no_more_often(technician_client, django_assert_max_num_queries):
    def queries() -> int:
        with django_assert_max_num_queries(10) as asked:
            technician_client.get("/references/")
        return len(asked)

    make.reference()
    few = queries()
    for _ in range(8):
        make.reference()
    assert queries() == few
