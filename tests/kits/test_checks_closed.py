"""A calibration check that is closed, withdrawn or dropped, and what follows for its sensors."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions import checks, closing
from kits.actions.sensors import give_offset
from kits.check_arithmetic import budget_from
from kits.models import (
    CalibrationCheck,
    CheckResult,
    Conformity,
    DueNow,
    DueNowReason,
    Event,
    EventAbout,
    FollowUp,
    Method,
    Offset,
    OffsetSource,
    Shape,
    Verdict,
)
from kits.promises import Refused
from kits.readiness import readiness, sensors_due
from tests import make

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
SIXTEENTH = 0.0625


@pytest.fixture
def kit():
    make.shop(temperature_unit="C", time_zone="UTC")
    return make.kit(sensors=2, checked=False)


@pytest.fixture
def sensors(kit):
    return [wiring.sensor for wiring in kit.wirings.order_by("terminal")]


def result_of(check, sensor) -> CheckResult:
    return check.results.get(sensor=sensor)


# Closing


def test_worked_example_a_comes_out_of_the_rows(sensors):
    """Example A of `gum.json`: one sensor in the ice bath, raw counts 5 5 6 5 5 4 5 5 6 5 of 1/16 °C."""
    make.ice().__class__.objects.filter(kind="ice").update(allowance_kelvin="0.005")
    begun = checks.begin_check(
        make.act(),
        method=Method.ICE,
        reference=make.ice(),
        sensors=sensors[:1],
        uniformity_kelvin=Decimal("0.02"),
        stability_kelvin=0,
    )
    check = begun.row(CalibrationCheck)
    raw = [count * SIXTEENTH for count in (5, 5, 6, 5, 5, 4, 5, 5, 6, 5)]
    checks.keep_readings(make.act(), check=check, point=check.points.get(), readings={sensors[0]: raw})
    closing.close_check(make.act(), check=check)
    found = result_of(check, sensors[0])
    assert found.offset_kelvin == Decimal("-0.319")
    assert float(found.standard_uncertainty_kelvin) == pytest.approx(0.024353, abs=1e-5)
    assert float(found.degrees_of_freedom) == pytest.approx(199.8, abs=0.1)
    assert float(found.coverage_factor) == pytest.approx(1.972, abs=1e-3)
    kept = budget_from(found.arithmetic["budget"])
    assert kept.expanded_k2_kelvin == pytest.approx(0.048705, abs=1e-6)
    assert found.sensor.offset_at(timezone.now()).uncertainty_kelvin == Decimal("0.049")


def test_closing_puts_the_offsets_in_force_from_that_instant(sensors):
    check = make.check(sensors, errors=(0.3, -0.2))
    for sensor, kelvin in zip(sensors, ("-0.300", "0.200"), strict=True):
        offset = sensor.offset_at(check.closed_at)
        assert (offset.offset_kelvin, offset.source, offset.in_force_from) == (
            Decimal(kelvin),
            OffsetSource.CHECK,
            check.closed_at,
        )
        found = result_of(check, sensor)
        assert offset.result == found and offset.good_until == found.due_on
        assert sensor.offset_at(check.closed_at - timedelta(seconds=1)) is None


def test_the_next_check_is_due_after_the_shops_interval(sensors):
    check = make.check(sensors, at=make.utc(2026, 8, 31, 12))
    assert {row.due_on for row in check.results.all()} == {date(2027, 2, 28)}


def test_closing_is_one_event_naming_check_sensors_and_kit(kit, sensors):
    check = make.check(sensors)
    event = Event.objects.get(what="check closed")
    about = set(EventAbout.objects.filter(event=event).values_list("kind", "subject_id"))
    named = {("calibrationcheck", check.pk), ("kit", kit.pk), *(("sensor", one.pk) for one in sensors)}
    assert about == named
    assert check.closed_by == event.did_by and check.closed_at == event.happened_at


def test_as_found_is_judged_with_the_offset_then_in_force(sensors):
    make.in_date(sensors[0], at=timezone.now() - 9 * DAY, offset_kelvin="-0.6")
    check = make.check(sensors, errors=(0.6,))
    corrected, bare = (result_of(check, sensor) for sensor in sensors)
    assert (corrected.as_found_offset_kelvin, corrected.as_found_error_kelvin) == (
        Decimal("-0.600"),
        Decimal("0"),
    )
    assert (corrected.verdict, corrected.conformity) == (Verdict.GOOD, Conformity.PASS)
    assert (bare.as_found_offset_kelvin, bare.as_found_error_kelvin) == (None, Decimal("0.6"))
    assert (bare.verdict, bare.conformity) == (Verdict.USE_OFFSET, Conformity.CONDITIONAL_FAIL)
    assert (bare.as_left_error_kelvin, bare.conformity_left) == (Decimal("0"), Conformity.PASS)


def test_a_sensor_to_be_replaced_gets_no_offset_and_its_kit_says_so(kit, sensors):
    check = make.check(sensors, errors=(0.1, 1.5))
    found = result_of(check, sensors[1])
    assert (found.verdict, found.conformity_left) == (Verdict.REPLACE, Conformity.FAIL)
    assert sensors[1].offset_at(timezone.now()) is None
    assert FollowUp.objects.get(kit=kit).what.startswith(f"Replace the lead of sensor {sensors[1]}")
    ready = readiness([kit], now=timezone.now())[kit.pk]
    assert not ready.is_ready and "is to be replaced" in ready.sentence


@pytest.mark.parametrize(
    ("shape", "at_10", "places"),
    [
        pytest.param(Shape.ONE, -0.2, 3, id="one offset: the mean"),
        pytest.param(Shape.POINTS, -0.15, 3, id="one a point, straight between"),
        pytest.param(Shape.LINE, -0.15, 3, id="a straight line"),
    ],
)
def test_several_points_give_the_offset_the_shape_asks_for(sensors, shape, at_10, places):
    begun = checks.begin_check(
        make.act(),
        method=Method.STIRRED,
        reference=make.reference(certificate={"corrections": [[0, 0.0], [50, 0.0]]}),
        sensors=sensors[:1],
        aimed_celsius=[0, 20, 40],
        shape=shape,
    )
    check = begun.row(CalibrationCheck)
    for point, error in zip(check.points.all(), (0.1, 0.2, 0.3), strict=True):
        at = float(point.aimed_celsius)
        readings = {None: [at] * 3, sensors[0]: [at + error - 0.01, at + error, at + error + 0.01]}
        checks.keep_readings(make.act(), check=check, point=point, readings=readings)
    closing.close_check(make.act(), check=check)
    offset = sensors[0].offset_at(timezone.now())
    assert offset.correction_at(10.15) == pytest.approx(at_10, abs=10**-places)
    if shape == Shape.LINE:
        assert result_of(check, sensors[0]).arithmetic["line"]["degrees_of_freedom"] == 1


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        pytest.param({}, "lacks readings of this sensor", id="nothing typed"),
        pytest.param({1: [0.1, 0.1]}, "lacks readings of this sensor", id="one sensor without"),
        pytest.param({0: [85.0], 1: [0.1]}, "before it has measured", id="a fault value"),
    ],
)
def test_an_incomplete_check_is_not_closed_and_says_what_is_missing(sensors, readings, says):
    check = make.check(sensors, closed=False)
    every = {sensor: readings.get(number, []) for number, sensor in enumerate(sensors)}
    checks.keep_readings(make.act(), check=check, point=check.points.get(), readings=every)
    with pytest.raises(Refused) as refused:
        closing.close_check(make.act(), check=check)
    said = " ".join(refused.value.messages)
    assert says in said and str(sensors[0]) in said
    assert not CheckResult.objects.exists() and not Offset.objects.exists()


def test_a_point_without_the_reference_is_named(sensors):
    begun = checks.begin_check(
        make.act(), method=Method.STIRRED, reference=make.reference(), sensors=sensors, aimed_celsius=[0, 20]
    )
    check = begun.row(CalibrationCheck)
    for point in check.points.all():
        every = {sensor: [float(point.aimed_celsius)] for sensor in sensors}
        reference = {None: [20.0]} if point.number == 2 else {}
        checks.keep_readings(make.act(), check=check, point=point, readings=every | reference)
    with pytest.raises(Refused, match="Point 1 lacks readings of the reference"):
        closing.close_check(make.act(), check=check)


def test_the_second_to_close_a_check_is_told_who_did_and_when(sensors):
    check = make.check(sensors, by=make.technician(name="Ana Reyes"))
    seen_open = CalibrationCheck.objects.get(pk=check.pk)
    seen_open.closed_at = None
    with pytest.raises(Refused, match=r"was closed by Ana Reyes on \w+ \d+ \w+ \d{4}, \d\d:\d\d") as refused:
        closing.close_check(make.act(), check=seen_open)
    assert refused.value.code == "closed"
    assert check.results.count() == len(sensors)


@pytest.mark.parametrize("step", ["readings", "sensors", "point", "bath", "drop"])
def test_nothing_of_a_closed_check_changes(sensors, step):
    check = make.check(sensors)
    steps = {
        "readings": lambda act: checks.keep_readings(
            act, check=check, point=check.points.get(), readings={sensors[0]: [1.0]}
        ),
        "sensors": lambda act: checks.change_sensors(act, check=check, add=[make.sensor()]),
        "point": lambda act: checks.add_point(act, check=check, aimed_celsius=20),
        "bath": lambda act: checks.change_check(act, check=check, changes={"conditions": "warm"}),
        "drop": lambda act: closing.drop_check(act, check=check, why="mistake"),
    }
    with pytest.raises(Refused, match="was closed by"):
        steps[step](make.act())


def test_a_check_is_not_closed_before_it_was_begun_nor_under_a_later_offset(sensors):
    check = make.check(sensors, closed=False, at=timezone.now() - 2 * DAY)
    with pytest.raises(Refused, match="was begun later than that"):
        closing.close_check(make.act(at=timezone.now() - 3 * DAY), check=check)
    make.in_date(sensors[1], at=timezone.now() - DAY)
    with pytest.raises(Refused, match="has an offset from"):
        closing.close_check(make.act(at=timezone.now() - timedelta(hours=30)), check=check)
    closing.close_check(make.act(), check=check)


def test_the_same_request_closes_once(sensors):
    check = make.check(sensors, closed=False)
    act = make.act()
    first, second = (closing.close_check(act, check=check) for _ in range(2))
    assert not first.again and second.again and first.sentence == second.sentence
    assert Offset.objects.count() == len(sensors)


def test_drift_past_half_the_limit_halves_the_interval(sensors):
    make.check(sensors, errors=(0.1, 0.1), at=timezone.now() - 60 * DAY)
    check = make.check(sensors, errors=(0.15, 0.45))
    steady, moved = (result_of(check, sensor) for sensor in sensors)
    whole = (steady.due_on - check.closed_at.date()).days
    assert (moved.due_on - check.closed_at.date()).days == whole // 2
    assert "moved by more than 50% of the limit" in moved.due_why


# Withdrawing


def withdraw(check, **how):
    act = make.act(how.pop("by", None) or make.manager())
    return closing.withdraw_check(act, check=check, why="The ice had melted", **how)


def test_withdrawing_puts_the_earlier_offset_in_force_again_from_then(sensors):
    make.in_date(sensors[0], at=timezone.now() - 30 * DAY, offset_kelvin="-0.45")
    check = make.check(sensors, errors=(0.1,))
    done = withdraw(check)
    assert "in force again" in done.sentence
    now = timezone.now()
    again, none = (sensor.offset_at(now) for sensor in sensors)
    assert (again.offset_kelvin, again.source) == (Decimal("-0.450"), OffsetSource.RESTATED)
    assert none is None
    # What was in force meanwhile stays what it was: papers of that time used it.
    assert sensors[0].offset_at(check.closed_at).offset_kelvin == Decimal("-0.100")
    assert CalibrationCheck.objects.get(pk=check.pk).is_withdrawn


def test_withdrawing_twice_in_a_row_goes_back_to_the_offset_before_both(sensors):
    now = timezone.now()
    first = make.check(sensors[:1], errors=(0.1,), at=now - 20 * DAY)
    second = make.check(sensors[:1], errors=(0.2,), at=now - 10 * DAY)
    kept = withdraw(first)
    assert "keeps the later offset" in kept.sentence
    assert sensors[0].offset_at(timezone.now()).offset_kelvin == Decimal("-0.200")
    withdraw(second)
    assert sensors[0].offset_at(timezone.now()) is None


def test_only_a_manager_withdraws_with_a_reason_and_once(sensors):
    check = make.check(sensors)
    with pytest.raises(Refused, match="by a manager"):
        withdraw(check, by=make.technician())
    with pytest.raises(Refused, match="Say why"):
        closing.withdraw_check(make.act(make.manager()), check=check, why=" ")
    withdraw(check)
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw(check)


def test_a_lead_that_only_a_withdrawn_check_wanted_replaced_is_good_again(kit, sensors):
    for sensor in sensors:
        make.in_date(sensor, at=timezone.now() - 30 * DAY)
    check = make.check(sensors, errors=(0.2, 1.7))
    withdraw(check)
    ready = readiness([kit], now=timezone.now())[kit.pk]
    assert ready.is_ready, ready.sentence
    assert FollowUp.objects.get(kit=kit).outcome == f"Check {check.pk} was withdrawn"


def test_a_sensor_without_any_offset_is_not_to_be_replaced_after_the_check_was_withdrawn(kit, sensors):
    check = make.check(sensors, errors=(0.2, 1.7))
    withdraw(check)
    said = readiness([kit], now=timezone.now())[kit.pk].sentence
    assert "to be replaced" not in said and "its check was withdrawn" in said


def test_what_only_the_withdrawn_check_had_answered_is_due_again(sensors):
    make.in_date(sensors[0], at=timezone.now() - 30 * DAY)
    closing.mark_due_now(
        make.act(at=timezone.now() - DAY), sensor=sensors[0], reason=DueNowReason.DROPPED, note="off a ladder"
    )
    check = make.check(sensors)
    due = {one.sensor.pk for one in sensors_due(timezone.now())}
    assert sensors[0].pk not in due
    withdraw(check)
    due = {one.sensor.pk: one for one in sensors_due(timezone.now())}
    assert due[sensors[0].pk].happened == DueNowReason.DROPPED


# Dropping, and due at once


def test_a_dropped_check_leaves_its_sensors_free_and_nothing_follows(sensors):
    check = make.check(sensors, closed=False)
    with pytest.raises(Refused, match="Say why"):
        closing.drop_check(make.act(), check=check, why="")
    closing.drop_check(make.act(), check=check, why="No ice left")
    assert not Offset.objects.exists()
    with pytest.raises(Refused, match="was dropped"):
        closing.close_check(make.act(), check=check)
    assert make.check(sensors).closed_at


def test_a_sensor_that_was_dropped_is_due_until_it_is_checked(kit, sensors):
    make.check(sensors, at=timezone.now() - 5 * DAY)
    closing.mark_due_now(make.act(), sensor=sensors[0], reason=DueNowReason.DROPPED, note="off the truck")
    assert "was dropped on" in readiness([kit], now=timezone.now())[kit.pk].sentence
    assert DueNow.objects.get().note == "off the truck"
    check = make.check(sensors, closed=False)
    closing.close_check(make.act(), check=check)
    assert readiness([kit], now=timezone.now())[kit.pk].is_ready


def test_an_offset_entered_by_hand_is_in_date_for_the_shops_interval(sensors):
    make.shop(check_interval_months=3, time_zone="UTC")
    instant = make.utc(2026, 8, 31, 12)
    given = {"offset_kelvin": Decimal("0.1"), "in_force_from": instant}
    give_offset(make.act(at=instant), sensor=sensors[0], **given)
    assert sensors[0].offsets.get().good_until == date(2026, 11, 30)


def test_the_baths_wander_drops_out_only_between_sensors_that_one_kit_reads_at_once() -> None:
    kit = make.kit(sensors=2, checked=False)
    mates = [wiring.sensor for wiring in kit.wirings.all()]
    alone = make.check(mates)
    mixed = make.check([*mates, make.sensor(checked=False)])

    def wander(check: CalibrationCheck) -> bool:
        terms = check.results.first().arithmetic["budget"]["terms"]  # type: ignore[union-attr]
        return next(term["shared"] for term in terms if "wandering" in term["name"])

    assert wander(alone)
    assert not wander(mixed)


def test_an_offset_says_that_its_reference_was_out_of_date_and_who_allowed_it(sensors):
    """So every paper that quotes the offset says it too."""
    old = make.reference(certificate={"due_on": timezone.localdate() - DAY})
    manager = make.manager(name="Mira Sol")
    make.check(
        sensors,
        reference=old,
        by=manager,
        method=Method.STIRRED,
        out_of_date_why="the new one is in the post",
    )
    told = sensors[0].offset_at(timezone.now()).how
    assert "reference out of date, allowed by Mira Sol: the new one is in the post" in told
