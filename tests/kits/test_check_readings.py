"""Readings of a check on the page: typed in rounds, pasted, taken live; what is odd is said beside the box, nothing is lost."""

from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.utils import timezone

from kits.models import CheckReading, HowRead, LiveReading, Method, Place
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def the_shop(db):
    return make.shop()


class Sitting:
    """An open check of two sensors beside a reference at 41 °F (5 °C) and 77 °F, without readings."""

    def __init__(self, **how):
        given = {"reference": make.reference(), "method": Method.STIRRED, "aimed_celsius": [5, 25], **how}
        self.kit = make.kit(sensors=0, place=Place.BENCH)
        self.one, self.two = (make.sensor(kit=self.kit, tag=tag) for tag in ("A", "B"))
        self.check = make.check([self.one, self.two], closed=False, **given)
        CheckReading.objects.all().delete()
        self.url = f"/checks/{self.check.pk}/points/1/"

    def kept(self, sensor):
        rows = CheckReading.objects.filter(point__sitting=self.check, point__number=1, sensor=sensor)
        return [row.celsius for row in rows.order_by("number")]

    def names(self):
        return f"s{self.one.pk}", f"s{self.two.pk}"


@pytest.fixture
def sitting(the_shop):
    return Sitting()


def test_readings_are_typed_in_the_unit_of_the_shop_and_kept_in_celsius(technician_client, sitting):
    one, two = sitting.names()
    typed = {"reference": ["41.0", "41,0", ""], one: ["41.5", "41.6", ""], two: ["", "", ""]}
    answer = technician_client.post(sitting.url, typed)
    assert answer["Location"] == f"/checks/{sitting.check.pk}/points/2/"
    assert sitting.kept(None) == [5, 5]
    assert sitting.kept(sitting.one) == [Decimal("5.2778"), Decimal("5.3333")]
    page = technician_client.get(sitting.url).content.decode()
    for typed_value in ("41", "41.5", "41.6"):
        assert f'value="{typed_value}"' in page


def test_the_page_asks_in_rounds_and_one_more_round_keeps_what_is_typed(technician_client, sitting):
    one, _ = sitting.names()
    said = words(technician_client.get(sitting.url))
    assert "Round 3" in said and "Round 4" not in said and "What do they read at about 41.0" in said
    answer = technician_client.post(sitting.url, {one: ["41.5"], "more": "yes"})
    assert answer["Location"] == f"{sitting.url}?rounds=4#round-4"
    assert "Round 4" in words(technician_client.get(f"{sitting.url}?rounds=4"))
    assert sitting.kept(sitting.one) == [Decimal("5.2778")]


def test_two_people_at_one_point_do_not_wipe_each_other(technician_client, manager_client, sitting):
    one, two = sitting.names()
    technician_client.post(
        sitting.url, {one: ["41.5", "41.5"], f"was-{one}": "", two: [""], f"was-{two}": ""}
    )
    # The manager's page was drawn before that: its box of sensor one is empty still.
    manager_client.post(sitting.url, {one: [""], f"was-{one}": "", two: ["41.2"], f"was-{two}": ""})
    assert len(sitting.kept(sitting.one)) == 2 and len(sitting.kept(sitting.two)) == 1


def test_what_is_kept_while_typing_answers_with_what_is_odd_beside_the_box(technician_client, sitting):
    one, two = sitting.names()
    sent = {"reference": ["41.0", "41.0"], one: ["41.5", "185"], two: ["5.2"]}
    answer = technician_client.post(sitting.url, sent, headers={"Accept": "application/json"}).json()
    assert answer["ok"] and set(answer["kept"]) == {"reference", one, two}
    told = {(box["key"], box["index"]): box["sentence"] for box in answer["boxes"]}
    assert "what a sensor gives before it has measured" in told[one, 1]
    assert "looks like °C among °F: it would be 41.4" in told[two, 0]
    assert any("One reading only" in sentence for sentence in answer["general"])
    assert (one, 0) not in told


@pytest.mark.parametrize(
    ("unit", "typed", "sentence"),
    [
        pytest.param("C", "85.0", "what a sensor gives before it has measured", id="85.0 °C"),
        pytest.param("C", "-127", "what is shown for a sensor that did not answer", id="-127 °C"),
        pytest.param(
            "F", "-196.6", "what is shown for a sensor that did not answer", id="-127 °C typed in °F"
        ),
        pytest.param("C", "41.2", "looks like °F among °C", id="°F among °C"),
        pytest.param("C", "5.2", "", id="a reading like the others"),
    ],
)
def test_readings_that_cannot_be_are_said_on_the_page_and_keep_it_open(
    technician_client, unit, typed, sentence
):
    make.shop(temperature_unit=unit)
    sitting = Sitting()
    one, _ = sitting.names()
    near = "41.0" if unit == "F" else "5.0"
    answer = technician_client.post(sitting.url, {"reference": [near, near], one: [near, typed]})
    assert answer["Location"] == (sitting.url if sentence else f"/checks/{sitting.check.pk}/points/2/")
    page = unescape(technician_client.get(sitting.url).content.decode())
    assert sentence in page and f'value="{typed.removesuffix(".0")}"' in page


def test_a_reference_beyond_its_table_is_said_at_once(technician_client):
    beside = make.reference(certificate={"corrections": [[0, 0.0], [40, 0.0]]})
    sitting = Sitting(reference=beside)
    technician_client.post(sitting.url, {"reference": ["140", "140"]})
    assert "lies beyond" in words(technician_client.get(sitting.url))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param("41.5 wet", "“wet” is no number (A, reading 2)", id="a word"),
        pytest.param("99999", "99999 is no temperature", id="a number too large"),
        pytest.param("-9000", "is no temperature. Check the figure and its unit.", id="colder than anything"),
    ],
)
def test_what_is_no_reading_is_refused_beside_its_box_and_stays_typed(
    technician_client, sitting, typed, sentence
):
    one, two = sitting.names()
    answer = technician_client.post(sitting.url, {one: [typed], two: ["41.2"]})
    page = unescape(answer.content.decode())
    assert answer.status_code in {409, 422} and sentence in page
    assert f'value="{typed.split()[-1]}"' in page and 'value="41.2"' in page


def test_what_can_be_read_is_kept_while_typing_though_a_neighbour_cannot(technician_client, sitting):
    one, two = sitting.names()
    sent = {one: ["41.5x"], two: ["41.2"]}
    answer = technician_client.post(sitting.url, sent, headers={"Accept": "application/json"}).json()
    assert not answer["ok"] and answer["kept"] == [two]
    assert sitting.kept(sitting.two) == [Decimal("5.1111")] and sitting.kept(sitting.one) == []


def test_a_slip_while_typing_costs_none_of_the_good_readings_beside_it(technician_client, sitting):
    one, two = sitting.names()
    sent = {one: ["41.2", "41.5x", "41.2"], two: ["x"]}
    answer = technician_client.post(sitting.url, sent, headers={"Accept": "application/json"}).json()
    assert not answer["ok"] and answer["kept"] == []
    assert sitting.kept(sitting.one) == [Decimal("5.1111")] * 2 and sitting.kept(sitting.two) == []


def test_readings_of_a_check_closed_meanwhile_are_refused_and_stay_on_the_page(technician_client, sitting):
    one, _ = sitting.names()
    technician_client.post(f"/checks/{sitting.check.pk}/drop/", {"why": "No ice"})
    answer = technician_client.post(sitting.url, {one: ["41.5"]})
    assert (
        answer.status_code == 409
        and "was dropped on" in words(answer)
        and 'value="41.5"' in answer.content.decode()
    )
    kept = technician_client.post(sitting.url, {one: ["41.5"]}, headers={"Accept": "application/json"})
    assert kept.status_code == 409 and "was dropped on" in kept.json()["sentence"]
    assert technician_client.get(sitting.url)["Location"] == sitting.check.get_absolute_url()


def test_ice_needs_no_reading_of_the_reference(technician_client):
    sitting = Sitting(reference=make.ice(), method=Method.ICE, aimed_celsius=[0])
    page = technician_client.get(sitting.url).content.decode()
    assert 'name="reference"' not in page
    one, two = sitting.names()
    done = technician_client.post(sitting.url, {one: ["32.1", "32.1"], two: ["31.9", "31.8"]})
    assert done["Location"] == sitting.check.get_absolute_url()


# -- Pasted and live -----------------------------------------------------------------------------------------------------


def test_a_pasted_block_is_kept_only_once_it_was_seen_how_it_was_understood(technician_client, sitting):
    block = f"Time\tref\tA\t{sitting.two.tail}\n10:01\t41.0\t41.5\t41.2\n10:02\t41.0\t41.6\t41.3"
    answer = technician_client.post(f"{sitting.url}paste/", {"block": block})
    said = words(answer)
    assert "Is this how you meant it?" in said and "A (2 readings)" in said and "Left out: Time." in said
    assert not CheckReading.objects.exists()
    done = technician_client.post(f"{sitting.url}paste/", {"block": block, "understood": "yes"})
    assert done["Location"] == sitting.url
    assert sitting.kept(sitting.two) == [Decimal("5.1111"), Decimal("5.1667")]
    assert set(CheckReading.objects.values_list("how", flat=True)) == {HowRead.PASTED}


def test_a_block_that_is_not_understood_stays_in_its_box(technician_client, sitting):
    answer = technician_client.post(f"{sitting.url}paste/", {"block": "A\tA\n41.5\t41.6"})
    page = unescape(answer.content.decode())
    assert answer.status_code == 422 and "A stands there twice" in page and "41.5\t41.6</textarea>" in page


def test_many_readings_stand_in_one_field_for_each_instrument(technician_client, sitting):
    block = "A\n" + "\n".join(["41.5"] * 30)
    technician_client.post(f"{sitting.url}paste/", {"block": block, "understood": "yes"})
    page = technician_client.get(sitting.url).content.decode()
    assert "Too many readings for a box each" in page and page.count("<textarea") == 3
    one, _ = sitting.names()
    technician_client.post(
        sitting.url, {one: ["  ".join(["41.4"] * 12)], f"was-{one}": " ".join(["41.5"] * 30)}
    )
    assert len(sitting.kept(sitting.one)) == 12


def send_live(sitting, sensor, count, *, ago=timedelta(0), celsius="5.0625"):
    at = timezone.now() - ago
    LiveReading.objects.bulk_create(
        LiveReading(
            kit=sitting.kit,
            rom=sensor.rom,
            celsius=celsius,
            read_at=at - timedelta(seconds=2 * number),
            received_at=at,
        )
        for number in range(count)
    )


def test_the_newest_live_readings_are_taken_with_one_button_and_the_silent_are_named(
    technician_client, sitting
):
    send_live(sitting, sitting.one, 12)
    send_live(sitting, sitting.one, 5, ago=timedelta(minutes=1), celsius="9.0")
    assert "1 of these sensors sends readings right now." in words(technician_client.get(sitting.url))
    answer = technician_client.post(f"{sitting.url}live/", {"newest": "10"}, follow=True)
    assert "10 readings kept" in words(answer) and "Silent: B." in words(answer)
    assert sitting.kept(sitting.one) == [Decimal("5.0625")] * 10
    assert set(CheckReading.objects.values_list("how", flat=True)) == {HowRead.LIVE}


def test_live_readings_of_long_ago_are_not_of_this_bath(technician_client, sitting):
    send_live(sitting, sitting.one, 12, ago=timedelta(hours=2))
    assert "right now" not in words(technician_client.get(sitting.url))
    answer = technician_client.post(f"{sitting.url}live/", {"newest": "10"}, follow=True)
    assert "None of these sensors sent a live reading" in words(answer) and not CheckReading.objects.exists()


def test_more_sensors_and_readings_ask_the_database_no_more_often(
    technician_client, django_assert_max_num_queries
):
    def queries(count: int) -> int:
        check = make.check([make.sensor() for _ in range(count)], closed=False)
        with django_assert_max_num_queries(40) as asked:
            technician_client.get(f"/checks/{check.pk}/points/1/")
        return len(asked)

    few = queries(1)
    assert queries(9) == few
