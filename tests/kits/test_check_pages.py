"""Checks on the page: begun, looked at, closed, withdrawn, dropped; what the page says at each stage and to whom."""

import csv
import io
from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.utils import timezone

from kits.actions.closing import close_check, withdraw_check
from kits.models import CalibrationCheck, DueNow, Method, Offset, Place, Shape
from kits.models.thermometers import ReferenceKind, ReferenceThermometer
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def the_shop(db):
    return make.shop()


def begin(client, **typed):
    return client.post("/checks/new/", {"method": "ice", "reference": make.ice().pk, "shape": "one", **typed})


def newest() -> CalibrationCheck:
    return CalibrationCheck.objects.latest("pk")


# -- Begun ---------------------------------------------------------------------------------------------------------------


def test_one_tick_takes_all_sensors_of_a_kit_into_one_sitting(technician_client):
    kit = make.kit(sensors=3, place=Place.BENCH, name="Heron")
    page = words(technician_client.get(f"/checks/new/?kit={kit.code}"))
    assert "All 3 of Heron" in page
    answer = begin(technician_client, kits=[kit.code])
    check = newest()
    assert answer["Location"] == f"/checks/{check.pk}/points/1/"
    assert [row.terminal for row in check.sensors.all()] == [1, 2, 3]


def test_sensors_of_several_kits_and_loose_ones_are_ticked_typed_and_scanned(technician_client):
    one, two = make.kit(sensors=2, place=Place.BENCH), make.kit(sensors=2)
    ticked = one.wirings.get(terminal=2).sensor
    loose, spare = make.sensor(tag="L7"), make.sensor(tag="L8")
    lines = f"HTTPS://EXAMPLE.COM/K/{two.code}\n{loose.rom}\n{spare.tail}"
    begin(technician_client, sensors=[ticked.pk], others=lines)
    taking_part = {row.sensor for row in newest().sensors.all()}
    assert taking_part == {ticked, loose, spare, *(wiring.sensor for wiring in two.wirings.all())}


def test_each_method_is_explained_with_its_cautions_and_usual_allowances(technician_client):
    said = words(technician_client.get("/checks/new/"))
    for sentence in (
        "Boiling water and its steam scald",
        "Keep the kit's box, its adapter and everything on mains power away from the water",
        "Crushed ice with just enough clean water",
        "differences between places",
        "The figure of a weather report is reduced to sea level",
        "Your local code",
    ):
        assert sentence in said


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param({}, "Choose at least one sensor", id="no sensor"),
        pytest.param({"others": "nothing like it"}, "No sensor has the tag nothing like it", id="a sensor nobody has"),
        pytest.param({"others": "L7\nL7"}, "is there twice. Each takes part once.", id="a sensor twice"),
        pytest.param({"others": "L7", "points": "warm"}, "“warm” is no temperature", id="a point in words"),
        pytest.param({"others": "L7", "points": "900"}, "beyond what these sensors measure", id="a point too hot"),
        pytest.param({"others": "L7", "uniformity": "-1"}, "It cannot be less than 0", id="a bath better than perfect"),
        pytest.param({"others": "L7", "method": "boiling"}, "is a reference for “ice bath” only", id="ice in boiling water"),
        pytest.param({"others": "L7", "shape": "line"}, "needs at least 3 points", id="a line through one point"),
    ],
)  # fmt: skip
def test_a_check_that_makes_no_sense_is_not_begun_and_what_was_typed_stays(
    technician_client, typed, sentence
):
    make.sensor(tag="L7")
    answer = begin(technician_client, **typed, conditions="In the back room")
    page = unescape(answer.content.decode())
    assert answer.status_code in {409, 422} and sentence in page
    assert 'value="In the back room"' in page and not CalibrationCheck.objects.exists()
    assert all(str(value).splitlines()[0] in page for name, value in typed.items() if name != "shape")


def test_a_sensor_in_another_open_check_is_refused_with_the_way_out(technician_client):
    sensor = make.sensor(tag="L7")
    make.check([sensor], closed=False)
    page = unescape(begin(technician_client, others="L7").content.decode())
    assert "still open. Finish that one or drop it first." in page


def test_an_instrument_out_of_date_is_the_managers_word_and_that_word_is_shown(
    technician_client, manager_client
):
    make.sensor(tag="L7")
    old = make.reference(name="Old one", certificate={"due_on": timezone.localdate() - timedelta(days=5)})
    typed = {"method": "stirred", "reference": old.pk, "others": "L7"}
    refused = unescape(begin(technician_client, **typed, out_of_date_why="It is fine").content.decode())
    assert "ran out on" in refused and "have a manager begin the check with a reason" in refused
    asked = unescape(begin(manager_client, **typed).content.decode())
    assert "Say why it is used all the same" in asked
    assert begin(manager_client, **typed, out_of_date_why="The new one is in the mail").status_code == 302
    said = words(technician_client.get(newest().get_absolute_url()))
    assert "The reference was out of date." in said and "The new one is in the mail" in said


def test_points_are_typed_in_the_unit_the_shop_reads(technician_client):
    make.sensor(tag="L7")
    beside = make.reference()
    begin(
        technician_client,
        method="stirred",
        reference=beside.pk,
        others="L7",
        points="41 77 113",
        shape="line",
    )
    assert [point.aimed_celsius for point in newest().points.all()] == [5, 25, 45]


def test_a_point_beyond_the_table_of_the_reference_is_refused_before_the_water_is_hot(technician_client):
    make.sensor(tag="L7")
    beside = make.reference(certificate={"corrections": [[0, 0.0], [40, 0.0]]})
    answer = begin(technician_client, method="stirred", reference=beside.pk, others="L7", points="41 180")
    assert answer.status_code == 409 and "lies beyond" in unescape(answer.content.decode())


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        pytest.param({"pressure": "28.86", "pressure_unit": "inHg"}, 97731, id="inches of mercury"),
        pytest.param({"pressure": "977.3", "pressure_unit": "hPa"}, 97730, id="hectopascals"),
    ],
)
def test_the_pressure_of_the_place_is_kept_in_pascals(technician_client, typed, kept):
    # 1 inHg = 3386.389 Pa (NIST SP 811, table B.8, conventional, 0 °C).
    make.sensor(tag="L7")
    steam = ReferenceThermometer.objects.get(kind=ReferenceKind.BOILING)
    answer = begin(
        technician_client, method="boiling", reference=steam.pk, others="L7", altitude="1000", **typed
    )
    assert answer.status_code == 302
    assert newest().station_pressure_pascal == kept
    assert newest().altitude_m == Decimal("304.8")


def test_a_sea_level_figure_is_refused_high_up_and_asked_about_where_the_altitude_is_not_known(
    technician_client,
):
    make.sensor(tag="L7")
    steam = ReferenceThermometer.objects.get(kind=ReferenceKind.BOILING)
    typed = {
        "method": "boiling",
        "reference": steam.pk,
        "others": "L7",
        "pressure": "1013",
        "pressure_unit": "hPa",
    }
    high_up = begin(technician_client, **typed, altitude="5280")
    assert "looks like the sea-level figure of a weather report" in unescape(high_up.content.decode())
    assert begin(technician_client, **typed).status_code == 302
    assert "Add the altitude, so that it can be checked." in words(
        technician_client.get(newest().get_absolute_url())
    )


def test_a_shop_without_any_reference_is_led_to_crushed_ice(technician_client):
    ReferenceThermometer.objects.update(out_of_use_since=timezone.localdate())
    answer = technician_client.get("/checks/new/")
    assert "Crushed ice does, and needs no certificate." in words(answer)
    assert "/references/new/?kind=ice" in answer.content.decode()


# -- Looked at -----------------------------------------------------------------------------------------------------------


def test_an_open_check_says_what_it_waits_for_and_where_to_type_it(technician_client, office_client):
    sensors = [make.sensor(tag="A"), make.sensor(tag="B")]
    check = make.check(
        sensors, closed=False, reference=make.reference(), method=Method.STIRRED, aimed_celsius=[5, 25]
    )
    check.points.get(number=2).readings.filter(sensor=sensors[1]).delete()
    answer = technician_client.get(check.get_absolute_url())
    said = words(answer)
    assert "Point 2 waits for readings" in said and "2 of 3 read" in said
    assert f"/checks/{check.pk}/points/2/" in answer.content.decode() and "Close the check" not in said
    looking = words(office_client.get(check.get_absolute_url()))
    assert "Point 2 waits for readings" in looking and "Type the readings" not in looking


def test_the_result_is_read_in_large_words_in_the_unit_of_the_shop(technician_client):
    good, off, broken = make.sensor(tag="A"), make.sensor(tag="B"), make.sensor(tag="C")
    check = make.check([good, off, broken], errors=(0.1, 0.7, 1.6), closed=False)
    said = words(technician_client.get(check.get_absolute_url()))
    assert "1 good, 1 use offset, 1 replace, if you close it now" in said
    assert "Offset (added) −1.26 °F" in said.replace("\u202f", " ")
    assert "Offset it would need −2.88 °F" in said.replace("\u202f", " ")
    assert "off by +1.26 °F fail , without an offset" in said.replace("\u202f", " ")
    assert "Chance of being out, as found" in said
    assert "2 offsets are in force from the moment you close it." in said
    assert f"{broken} gets no new offset" in said
    assert "2 sensors were out of limit as found" in said


def test_the_arithmetic_is_shown_term_by_term(technician_client):
    check = make.check([make.sensor()], closed=False)
    said = words(technician_client.get(check.get_absolute_url()))
    for heading in ("Term", "Value", "Divided by", "Degrees of freedom", "Share"):
        assert heading in said
    assert "Sensor: scatter of its readings scatter of 5 readings" in said
    assert "Ice: how well the bath was made" in said and "shared by the sitting" in said
    assert "1.732" in said and "endless" in said and "100 %" in said


def test_a_line_shows_its_slope_and_the_correlation_of_its_two_figures(technician_client):
    how = {
        "reference": make.reference(),
        "method": Method.STIRRED,
        "aimed_celsius": [5, 25, 45],
        "shape": Shape.LINE,
    }
    check = make.check([make.sensor()], closed=False, **how)
    said = words(technician_client.get(check.get_absolute_url()))
    assert "The straight line" in said and "Correlation r of the two" in said and "for each degree, u" in said


def test_one_reading_only_is_said_and_not_taken_for_nothing(technician_client):
    sensor = make.sensor(tag="A")
    check = make.check([sensor], closed=False)
    check.points.get().readings.filter(number__gt=1).delete()
    said = words(technician_client.get(check.get_absolute_url()))
    assert "One reading of the sensor only: its scatter cannot be known and was assumed." in said
    point = words(technician_client.get(f"/checks/{check.pk}/points/1/"))
    assert "One reading only: how much it scatters cannot be known" in point


def test_the_shape_can_be_chosen_while_it_is_open_and_only_as_far_as_points_allow(technician_client):
    how = {"reference": make.reference(), "method": Method.STIRRED, "aimed_celsius": [5, 25]}
    check = make.check([make.sensor()], closed=False, **how)
    refused = technician_client.post(f"/checks/{check.pk}/shape/", {"shape": "line"})
    assert refused.status_code == 409 and "needs at least 3 points" in words(refused)
    added = technician_client.post(f"/checks/{check.pk}/points/", {"about": "113"})
    assert added["Location"] == f"/checks/{check.pk}/points/3/"
    assert check.points.get(number=3).aimed_celsius == 45
    technician_client.post(f"/checks/{check.pk}/shape/", {"shape": "line"})
    assert newest().shape == "line"


# -- Closed --------------------------------------------------------------------------------------------------------------


def close(client, check, **typed):
    page = client.get(check.get_absolute_url())
    form = page.context["close_form"]
    given = {name: form[name].value() for name in ("request_id", "based_on", "seen")}
    return client.post(f"/checks/{check.pk}/close/", {**given, **typed})


def test_closing_puts_the_offsets_in_force_and_the_page_says_who_and_when(technician_client, technician):
    sensor = make.sensor()
    check = make.check([sensor], errors=(0.6,), closed=False)
    assert close(technician_client, check)["Location"] == check.get_absolute_url()
    assert sensor.offset_at(timezone.now()).offset_kelvin == Decimal("-0.600")
    answer = technician_client.get(check.get_absolute_url())
    said = words(answer)
    assert "Bench · Checks 1 use offset Ice bath" in said and f"by {technician.name}" in said
    assert f"/checks/{check.pk}/record.pdf" in answer.content.decode()
    assert "Close the check" not in said and "Withdraw it" not in said


def test_two_people_close_one_check_and_the_second_is_told_who_was_first(
    technician_client, manager_client, technician
):
    check = make.check([make.sensor()], closed=False)
    form = manager_client.get(check.get_absolute_url()).context["close_form"]
    late = {name: form[name].value() for name in ("request_id", "based_on", "seen")}
    assert close(technician_client, check).status_code == 302
    answer = manager_client.post(f"/checks/{check.pk}/close/", late)
    said = words(answer)
    assert answer.status_code == 409 and f"was closed by {technician.name} on" in said
    assert "1 good" in said and Offset.objects.filter(source="check").count() == 1


def test_the_same_tap_twice_closes_it_once(technician_client):
    check = make.check([make.sensor()], closed=False)
    form = technician_client.get(check.get_absolute_url()).context["close_form"]
    given = {name: form[name].value() for name in ("request_id", "based_on", "seen")}
    answers = [technician_client.post(f"/checks/{check.pk}/close/", given) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Offset.objects.filter(source="check").count() == 1


def test_readings_changed_since_the_page_was_looked_at_are_not_closed_unseen(technician_client):
    sensor = make.sensor()
    check = make.check([sensor], closed=False)
    form = technician_client.get(check.get_absolute_url()).context["close_form"]
    given = {name: form[name].value() for name in ("request_id", "based_on", "seen")}
    technician_client.post(f"/checks/{check.pk}/points/1/", {f"s{sensor.pk}": ["33.8", "33.8", "33.9"]})
    answer = technician_client.post(f"/checks/{check.pk}/close/", given)
    assert answer.status_code == 409 and "changed after you looked at it" in words(answer)
    assert newest().closed_at is None
    assert close(technician_client, check).status_code == 302


def test_a_check_that_lacks_readings_is_not_closed_and_says_which(technician_client):
    lacking = make.sensor(tag="B")
    check = make.check([make.sensor(tag="A"), lacking], closed=False)
    check.points.get().readings.filter(sensor=lacking).delete()
    answer = technician_client.post(f"/checks/{check.pk}/close/", {})
    assert answer.status_code == 409 and f"Sensor {lacking}: It lacks readings of this sensor." in words(
        answer
    )


def test_a_manager_withdraws_a_check_with_a_reason_and_every_page_says_so(technician_client, manager_client):
    sensor = make.sensor()
    check = make.check([sensor], errors=(0.6,))
    assert technician_client.get(f"/checks/{check.pk}/withdraw/").status_code == 403
    bare = manager_client.post(f"/checks/{check.pk}/withdraw/", {"why": " "})
    assert bare.status_code == 422
    manager_client.post(f"/checks/{check.pk}/withdraw/", {"why": "Cubes, not crushed ice"})
    said = words(technician_client.get(check.get_absolute_url()))
    assert "This check was withdrawn" in said and "Cubes, not crushed ice" in said
    assert "withdrawn" in words(technician_client.get("/checks/"))
    story = words(technician_client.get(sensor.get_absolute_url()))
    assert "never checked" in story and "Its check was withdrawn" not in story.partition("Offsets")[0]


def test_an_open_check_is_dropped_with_a_reason(technician_client):
    check = make.check([make.sensor()], closed=False)
    technician_client.post(f"/checks/{check.pk}/drop/", {"why": "The ice ran out"})
    said = words(technician_client.get(check.get_absolute_url()))
    assert "This check was dropped" in said and "The ice ran out" in said and "Type the readings" not in said


def test_a_check_made_again_is_linked_both_ways(technician_client):
    sensor = make.sensor()
    first = make.check([sensor], at=timezone.now() - timedelta(days=1))
    page = technician_client.get(f"/checks/new/?supersedes={first.pk}")
    assert f'value="{sensor.pk}" checked' in page.content.decode()
    begin(technician_client, sensors=[sensor.pk], supersedes=first.pk)
    second = newest()
    assert second.supersedes == first
    assert "It is being checked again" in words(technician_client.get(first.get_absolute_url()))
    technician_client.post(f"/checks/{second.pk}/points/1/", {f"s{sensor.pk}": ["32.1", "32.2", "32.1"]})
    close(technician_client, second)
    assert "Superseded by the check of" in words(technician_client.get(first.get_absolute_url()))
    assert "Made in place of the check of" in words(technician_client.get(second.get_absolute_url()))


# -- The list and the sensor ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("question", "found"),
    [
        pytest.param("state=open", {"open"}, id="open"),
        pytest.param("state=closed", {"closed"}, id="closed"),
        pytest.param("state=withdrawn", {"withdrawn"}, id="withdrawn"),
        pytest.param("state=dropped", {"dropped"}, id="dropped"),
        pytest.param("q=heron", {"closed"}, id="by kit"),
        pytest.param("q=L7", {"open"}, id="by tag"),
        pytest.param("method=stirred", set(), id="by how"),
    ],
)
def test_the_list_is_narrowed(technician_client, manager, question, found):
    closed = make.check([make.kit(sensors=1, name="Heron").wirings.get().sensor])
    withdrawn = make.check([make.sensor()])
    withdraw_check(make.act(manager), check=withdrawn, why="Cubes")
    open_one = make.check([make.sensor(tag="L7")], closed=False)
    dropped = make.check([make.sensor()], closed=False)
    technician_client.post(f"/checks/{dropped.pk}/drop/", {"why": "No ice"})
    named = {closed.pk: "closed", withdrawn.pk: "withdrawn", open_one.pk: "open", dropped.pk: "dropped"}
    rows = technician_client.get(f"/checks/?{question}").context["table"].data
    assert {named[row.pk] for row in rows} == found


def test_the_list_goes_out_as_a_file(technician_client):
    make.check([make.kit(sensors=1, name="Heron").wirings.get().sensor], errors=(0.1,))
    file = technician_client.get("/checks/?_export=csv").content.decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(file))
    assert (row["State"], row["How"], row["Kits"], row["Sensors"], row["Found"]) == (
        *("closed", "Ice bath", "Heron", "1", "1 good"),
    )
    assert technician_client.get("/checks/?_export=xlsx").content[:2] == b"PK"


@pytest.mark.parametrize("address", ["/checks/", "a check", "a sensor"])
def test_more_checks_ask_the_database_no_more_often(
    technician_client, django_assert_max_num_queries, address
):
    kit = make.kit(sensors=2, place=Place.BENCH)
    sensors = [wiring.sensor for wiring in kit.wirings.all()]
    days = iter(range(60, 0, -1))

    def queries(taking_part) -> int:
        at = timezone.now() - timedelta(days=next(days))
        check = make.check(taking_part, at=at)
        path = {"a check": check.get_absolute_url(), "a sensor": sensors[0].get_absolute_url()}.get(
            address, address
        )
        technician_client.get(path)
        with django_assert_max_num_queries(40) as asked:
            technician_client.get(path)
        return len(asked)

    few = queries(sensors[:1])
    for _ in range(4):
        queries(sensors)
    assert queries([*sensors, *(make.sensor() for _ in range(6))]) <= few + (
        1 if address == "a sensor" else 0
    )


def test_a_sensor_tells_its_checks_its_drift_and_what_is_in_doubt(technician_client):
    sensor, now = make.sensor(tag="A"), timezone.now()
    make.check([sensor], errors=(0.1,), at=now - timedelta(days=40))
    make.check([sensor], errors=(1.0,), at=now - timedelta(days=2))
    answer = technician_client.get(sensor.get_absolute_url())
    said = words(answer)
    assert "2 checks" in said and "out of limit. What it measured since its check of" in said
    assert answer.content.decode().count("curve-mark") == 2 and "curve-limit" in answer.content.decode()


def test_a_dropped_sensor_is_due_at_once_and_its_page_says_why(technician_client):
    sensor = make.sensor(tag="A")
    make.check([sensor])
    assert "in date" in words(technician_client.get(sensor.get_absolute_url()))
    refused = technician_client.post(f"/sensors/{sensor.rom}/due-now/", {})
    assert refused.status_code == 422
    technician_client.post(
        f"/sensors/{sensor.rom}/due-now/", {"reason": "dropped", "note": "Down the attic hatch"}
    )
    assert DueNow.objects.get().note == "Down the attic hatch"
    said = words(technician_client.get(sensor.get_absolute_url()))
    assert "It was dropped on" in said and "Its check due" in said


def test_a_closed_check_can_be_closed_by_the_action_only_once(technician):
    # The page's own guard aside, the rule is the action's.
    check = make.check([make.sensor()])
    with pytest.raises(Exception, match="was closed by"):
        close_check(make.act(technician), check=check)
