"""A calibration check while it is open: how it is begun, what is kept of what is typed, what is refused."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions import checks, thermometers
from kits.actions.records import change_record
from kits.models import (
    CalibrationCheck,
    CheckReading,
    Event,
    HowRead,
    Method,
    ReferenceKind,
    ReferenceThermometer,
    Shape,
)
from kits.promises import Refused
from tests import make

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def kit():
    make.shop(temperature_unit="C")
    return make.kit(sensors=2, checked=False)


@pytest.fixture
def sensors(kit):
    return [wiring.sensor for wiring in kit.wirings.order_by("terminal")]


def begin(sensors, **how) -> CalibrationCheck:
    given = {"method": Method.ICE, "reference": make.ice(), **how}
    by = given.pop("by", None) or make.technician()
    return checks.begin_check(make.act(by), sensors=sensors, **given).row(CalibrationCheck)


def refusal(*args, **how) -> str:
    with pytest.raises(Refused) as refused:
        begin(*args, **how)
    return " ".join(refused.value.messages)


# Beginning


def test_every_shop_has_ice_and_boiling_water_to_compare_with():
    kinds = ReferenceThermometer.objects.values_list("kind", "allowance_kelvin")
    assert sorted(kinds) == [("boiling", Decimal("0.1")), ("ice", Decimal("0.1"))]


def test_the_allowance_for_ice_is_the_shops_to_change(sensors):
    change_record(make.act(), row=make.ice(), changes={"allowance_kelvin": Decimal("0.05")})
    assert begin(sensors).reference.allowance_kelvin == Decimal("0.05")


def test_a_check_takes_the_shops_rule_as_it_stands_and_notes_where_each_sensor_was(kit, sensors):
    loose = make.sensor()
    check = begin([*sensors, loose])
    make.shop(sensor_limit_kelvin="0.3")
    check.refresh_from_db()
    assert (check.limit_kelvin, check.rule, check.uniformity_kelvin) == (
        Decimal("0.500"),
        "guarded",
        Decimal("0.0200"),
    )
    noted = list(check.sensors.values_list("sensor", "kit", "terminal"))
    assert noted == [(sensors[0].pk, kit.pk, 1), (sensors[1].pk, kit.pk, 2), (loose.pk, None, None)]
    assert [point.aimed_celsius for point in check.points.all()] == [Decimal("0.00")]


def test_a_sensor_takes_part_once(sensors):
    assert "is there twice" in refusal([sensors[0], sensors[0]])


def test_a_sensor_takes_part_in_one_open_check(sensors):
    first = begin(sensors[:1])
    assert f"takes part in check {first.pk}, begun by" in refusal(sensors)
    checks_left = CalibrationCheck.objects.count()
    assert checks_left == 1


@pytest.mark.parametrize(
    ("kind", "method", "says"),
    [
        (ReferenceKind.ICE, Method.STIRRED, "“ice bath” only"),
        (ReferenceKind.BOILING, Method.ICE, "“boiling water” only"),
    ],
)
def test_ice_and_boiling_water_stay_in_their_pots(sensors, kind, method, says):
    reference = ReferenceThermometer.objects.get(kind=kind)
    assert says in refusal(sensors, reference=reference, method=method)


def test_a_reference_without_a_certificate_proves_nothing(sensors):
    bare = ReferenceThermometer.objects.create(name="New one")
    assert "has no certificate" in refusal(sensors, reference=bare, method=Method.STIRRED)


def test_an_instrument_out_of_date_needs_a_manager_and_a_reason(sensors):
    today = timezone.localdate()
    old = make.reference(certificate={"issued_on": today - 400 * DAY, "due_on": today})
    how = {"reference": old, "method": Method.STIRRED, "aimed_celsius": [20]}
    assert "have a manager begin the check with a reason" in refusal(sensors, **how)
    assert "have a manager" in refusal(sensors, out_of_date_why="It will do", **how)
    manager = make.manager()
    assert "Say why it is used all the same" in refusal(sensors, by=manager, **how)
    check = begin(sensors, by=manager, out_of_date_why="New one is in the post", **how)
    assert (check.out_of_date_why, check.out_of_date_allowed_by) == ("New one is in the post", manager)


def test_the_certificate_in_force_that_day_is_taken(sensors):
    today = timezone.localdate()
    reference = make.reference(certificate={"number": "OLD"})
    paper = {
        "number": "NEW",
        "issuer": "Test Laboratory",
        "issued_on": today - DAY,
        "due_on": today + 364 * DAY,
        "confidence_percent": 95,
        "expanded_uncertainty_kelvin": Decimal("0.04"),
    }
    thermometers.add_certificate(make.act(), thermometer=reference, fields=paper)
    how = {"reference": reference, "method": Method.STIRRED, "aimed_celsius": [20]}
    assert begin(sensors[:1], **how).certificate.number == "NEW"
    earlier = checks.begin_check(make.act(at=timezone.now() - 5 * DAY), sensors=sensors[1:], **how)
    assert earlier.row(CalibrationCheck).certificate.number == "OLD"


def test_a_rule_that_can_never_pass_is_refused_before_any_work(sensors):
    make.shop(sensor_limit_kelvin="0.1")
    assert "no sensor could ever pass" in refusal(sensors)
    make.shop(sensor_limit_kelvin="0.1", decision_rule="simple")
    assert begin(sensors)


def test_boiling_by_altitude_alone_is_told_to_be_too_rough(sensors):
    boiling = ReferenceThermometer.objects.get(kind=ReferenceKind.BOILING)
    how = {"reference": boiling, "method": Method.BOILING}
    assert "needs the air pressure" in refusal(sensors, **how)
    assert "no sensor could ever pass" in refusal(sensors, altitude_m=500, **how)
    check = begin(sensors, station_pressure_pascal=95461, altitude_m=500, **how)
    # ASHRAE standard air at 500 m, where CoolProp has water boil at 98.313 °C.
    assert abs(check.points.get().aimed_celsius - Decimal("98.31")) <= Decimal("0.01")


def test_the_sea_level_figure_of_a_weather_report_is_refused(sensors):
    boiling = ReferenceThermometer.objects.get(kind=ReferenceKind.BOILING)
    said = refusal(
        sensors,
        reference=boiling,
        method=Method.BOILING,
        station_pressure_pascal=101_325,
        altitude_m=500,
    )
    assert "the sea-level figure of a weather report" in said


def test_a_pressure_is_held_against_the_altitude_of_the_shop(sensors):
    make.shop(altitude_m=500, temperature_unit="C")
    boiling = ReferenceThermometer.objects.get(kind=ReferenceKind.BOILING)
    how = {"reference": boiling, "method": Method.BOILING, "station_pressure_pascal": 101_325}
    assert "the sea-level figure of a weather report" in refusal(sensors, **how)


def test_a_point_beyond_the_certificates_table_is_refused_at_once(sensors):
    reference = make.reference(certificate={"corrections": [[0, 0.0], [50, 0.0]]})
    said = refusal(sensors, reference=reference, method=Method.STIRRED, aimed_celsius=[20, 80])
    assert "lies beyond" in said


def test_a_line_needs_three_points(sensors):
    how = {"reference": make.reference(), "method": Method.STIRRED, "shape": Shape.LINE}
    assert "needs at least 3 points; there are 2" in refusal(sensors, aimed_celsius=[0, 40], **how)
    assert begin(sensors, aimed_celsius=[0, 20, 40], **how).points.count() == 3


def test_a_check_is_not_begun_tomorrow(sensors):
    tomorrow = make.act(happened_at=timezone.now() + DAY)
    with pytest.raises(Refused, match="still to come"):
        checks.begin_check(tomorrow, method=Method.ICE, reference=make.ice(), sensors=sensors)


# Certificates


@pytest.mark.parametrize(
    ("paper", "says"),
    [
        pytest.param({"corrections": [[0, 0.1], [0, 0.2]]}, "names one temperature twice", id="twice"),
        pytest.param(
            {"corrections": [["cold", 0.1]]}, "needs a temperature and a correction", id="no number"
        ),
        pytest.param({"issued_on": timezone.localdate() + 3 * DAY}, "still to come", id="tomorrow's"),
        pytest.param({"due_on": timezone.localdate() - 999 * DAY}, "good until a day after", id="ends first"),
        pytest.param({"expanded_uncertainty_kelvin": Decimal(0)}, "more than 0", id="no uncertainty"),
    ],
)
def test_a_certificate_that_makes_no_sense_is_refused(paper, says):
    with pytest.raises(Refused) as refused:
        make.reference(certificate=paper)
    assert says in " ".join(refused.value.messages)


def test_ice_has_no_certificate():
    with pytest.raises(Refused, match="has an allowance and no certificate"):
        thermometers.add_certificate(make.act(), thermometer=make.ice(), fields={"number": "1"})


# Typing


def keep(check, readings, **how):
    return checks.keep_readings(make.act(), check=check, point=check.points.get(), readings=readings, **how)


def test_what_is_typed_replaces_what_was_there_and_is_no_event(sensors):
    check = begin(sensors)
    events = Event.objects.count()
    keep(check, {sensors[0]: [0.3, 0.4], sensors[1]: [0.1]})
    keep(check, {sensors[0]: [0.3125]}, how=HowRead.LIVE)
    kept = CheckReading.objects.order_by("sensor", "number").values_list("sensor", "celsius", "how")
    assert list(kept) == [
        (sensors[0].pk, Decimal("0.3125"), "live"),
        (sensors[1].pk, Decimal("0.1000"), "typed"),
    ]
    assert Event.objects.count() == events


def test_the_same_again_leaves_the_rows_alone(sensors):
    check = begin(sensors)
    keep(check, {sensors[0]: [0.3, 0.4]})
    before = list(CheckReading.objects.values_list("pk", flat=True))
    keep(check, {sensors[0]: [Decimal("0.3"), Decimal("0.4")]})
    assert list(CheckReading.objects.values_list("pk", flat=True)) == before


@pytest.mark.parametrize(
    ("celsius", "says", "must_go"),
    [
        pytest.param([85.0, 0.3, 0.3, 0.3, 0.3], "before it has measured", True, id="power-on"),
        pytest.param([-127.0, 0.3, 0.3, 0.3, 0.3], "did not answer", True, id="no answer"),
        pytest.param([32.5, 0.3, 0.3, 0.3, 0.3], "looks like °F among °C", True, id="the other unit"),
        pytest.param([3.3, 0.3, 0.3, 0.3, 0.3], "far from the others", False, id="a stray"),
        pytest.param([0.3], "One reading only", False, id="one only"),
    ],
)
def test_odd_readings_are_kept_and_said(sensors, celsius, says, must_go):
    check = begin(sensors)
    doubt = keep(check, {sensors[0]: celsius}).doubts[0]
    assert says in doubt.sentence
    assert (doubt.sensor_id, doubt.must_go) == (sensors[0].pk, must_go)
    assert CheckReading.objects.count() == len(celsius)


def test_a_reference_read_beyond_its_table_is_said(sensors):
    reference = make.reference(certificate={"corrections": [[0, 0.0], [50, 0.0]]})
    check = begin(sensors, reference=reference, method=Method.STIRRED, aimed_celsius=[49])
    doubts = keep(check, {None: [52.0, 52.0], sensors[0]: [52.1, 52.1]}).doubts
    assert [(doubt.sensor_id, doubt.must_go) for doubt in doubts] == [(None, True)]
    assert "lies beyond" in doubts[0].sentence


@pytest.mark.parametrize("celsius", [float("nan"), float("inf"), -300, 1001])
def test_what_can_be_no_temperature_is_refused(sensors, celsius):
    check = begin(sensors)
    with pytest.raises(Refused, match="is no temperature"):
        keep(check, {sensors[0]: [celsius]})
    assert not CheckReading.objects.exists()


def test_readings_of_a_sensor_that_takes_no_part_are_refused(sensors):
    check = begin(sensors[:1])
    with pytest.raises(Refused, match="takes no part"):
        keep(check, {sensors[1]: [0.1]})


# Changing


def test_a_sensor_with_readings_leaves_only_when_they_may_go(sensors):
    check = begin(sensors)
    keep(check, {sensors[0]: [0.3]})
    with pytest.raises(Refused, match="has readings"):
        checks.change_sensors(make.act(), check=check, remove=sensors[:1])
    checks.change_sensors(make.act(), check=check, remove=sensors[:1], with_readings=True)
    assert [row.sensor for row in check.sensors.all()] == sensors[1:]
    assert not CheckReading.objects.exists()
    with pytest.raises(Refused, match="at least one sensor"):
        checks.change_sensors(make.act(), check=check, remove=sensors[1:])
    checks.change_sensors(make.act(), check=check, add=sensors[:1])
    assert check.sensors.count() == 2


def test_points_come_and_go_while_the_check_is_open(sensors):
    check = begin(sensors, reference=make.reference(), method=Method.STIRRED, aimed_celsius=[0])
    checks.add_point(make.act(), check=check, aimed_celsius=40)
    first, second = check.points.all()
    assert (second.number, second.aimed_celsius) == (2, Decimal("40.00"))
    checks.keep_readings(make.act(), check=check, point=first, readings={sensors[0]: [0.1]})
    with pytest.raises(Refused, match="has readings"):
        checks.remove_point(make.act(), check=check, point=first)
    checks.remove_point(make.act(), check=check, point=second)
    assert list(check.points.all()) == [first]


def test_ice_has_one_temperature(sensors):
    with pytest.raises(Refused, match="has one temperature"):
        checks.add_point(make.act(), check=begin(sensors), aimed_celsius=20)


def test_of_an_open_check_the_bath_may_change_and_the_limit_may_not(sensors):
    check = begin(sensors)
    checks.change_check(make.act(), check=check, changes={"uniformity_kelvin": Decimal("0.05")})
    check.refresh_from_db()
    assert check.uniformity_kelvin == Decimal("0.0500")
    with pytest.raises(Refused, match="stays as it was begun"):
        checks.change_check(make.act(), check=check, changes={"limit_kelvin": Decimal("2")})
