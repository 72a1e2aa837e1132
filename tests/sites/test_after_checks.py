"""What follows from checks for stays: which kit may go, what a swap makes due, which papers are in doubt, how well a split is known."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions.sensors import give_offset
from kits.models import CalibrationCheck, DueNow, Event, Offset, OffsetSource
from kits.promises import Refused
from sites.actions import placements, planning, stays
from sites.bench_books import check_contradictions
from sites.bench_lines import in_doubt, to_check
from sites.day_lines import Clock
from sites.doubts import doubts_of_check, doubts_of_stay
from sites.free import shop_zone
from sites.models import Stage
from sites.splits import split_between
from tests import make

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def shop():
    return make.shop(temperature_unit="C", time_zone="UTC")


# Which kit may go


def plan(kit, by=None, **how):
    call = make.call()
    act = make.act(by or make.office())
    return planning.plan(act, call=call, kit=kit, **make.dates(call), **how)


def test_a_kit_whose_sensors_are_not_in_date_is_not_promised():
    kit = make.kit(sensors=2, checked=False)
    with pytest.raises(Refused, match="were never checked") as refused:
        plan(kit)
    assert refused.value.code == "not_in_date"
    with pytest.raises(Refused, match="were never checked"):
        plan(kit, not_in_date_why="It is urgent")  # the office cannot


def test_a_manager_lets_it_go_with_a_reason_and_the_story_says_so():
    kit, manager = make.kit(sensors=2, checked=False), make.manager()
    with pytest.raises(Refused, match="Say why it goes all the same") as refused:
        plan(kit, by=manager)
    assert "not_in_date_why" in refused.value.message_dict
    done = plan(kit, by=manager, not_in_date_why="No other kit until Friday")
    event = Event.objects.get(pk=done.event_id)
    assert event.why == "No other kit until Friday" and "were never checked" in event.summary


def test_a_manager_cannot_promise_a_kit_that_lacks_more_than_a_check():
    kit = make.kit(sensors=1, checked=False)
    with pytest.raises(Refused, match="it carries 1 sensor"):
        plan(kit, by=make.manager(), not_in_date_why="It is urgent")


def test_a_shop_may_choose_to_be_told_only():
    make.shop(sensors_must_be_in_date=False)
    assert plan(make.kit(sensors=2, checked=False))


def test_a_kit_that_is_not_in_date_is_loaded_and_installed_all_the_same():
    """A physical fact is never refused because of a date."""
    call, technician = make.call(), make.technician()
    kit = make.kit(sensors=2, checked=False)
    done = stays.load(make.act(technician), kit=kit, call=call, technician=technician, **make.dates(call))
    assert "were never checked" in done.sentence
    make.go_on(kit.deployments.get(), Stage.INSTALLED, at=timezone.now())
    assert kit.deployments.get().stage == Stage.INSTALLED


def test_a_spare_swapped_in_is_due_at_once_and_brings_its_own_offset():
    stay = make.stay(Stage.INSTALLED)
    spare, old = make.sensor(checked=True), stay.placements.get(position__code="SA").sensor
    swap = {"kit": stay.kit, "old": old, "new": spare, "why": "cut"}
    placements.swap_lead(make.act(make.technician()), **swap)
    assert (DueNow.objects.get().sensor, DueNow.objects.get().reason) == (spare, "swapped")
    assert spare.offset_at(timezone.now()) is not None


# Papers in doubt


def installed_between_checks():
    """A kit checked 30 days ago, in a house from 20 to 10 days ago; its first sensor drifted by 0.8 K since."""
    now = timezone.now()
    kit = make.kit(sensors=2, checked=False)
    sensors = [wiring.sensor for wiring in kit.wirings.order_by("terminal")]
    make.check(sensors, errors=(0.1, 0.1), at=now - 30 * DAY)
    stay = make.stay(Stage.INSTALLED, kit=kit, began=now - 20 * DAY)
    make.go_on(stay, Stage.REMOVED, at=now - 10 * DAY)
    make.go_on(stay, Stage.HANDED_BACK, at=now - 9 * DAY)
    return stay, sensors


def test_an_as_found_failure_puts_the_stays_since_the_last_good_check_in_doubt():
    stay, sensors = installed_between_checks()
    check = make.check(sensors, errors=(0.9, 0.1))
    found = doubts_of_check(check.pk)
    assert [(one.sensor, one.stay, one.placement.position.code) for one in found] == [
        (sensors[0], stay, "SA")
    ]
    assert found[0].size.most_kelvin == pytest.approx(0.8 + 0.1276, abs=0.01)
    assert "too high" in found[0].sentence("C") and "SA supply air" in found[0].sentence("C")
    assert [one.result for one in doubts_of_stay(stay)] == [found[0].result]
    lines = in_doubt(Clock(timezone.now(), shop_zone()), "C")
    assert [(line.word, line.stay) for line in lines] == [("in doubt", stay)]


def test_a_stay_before_the_last_good_check_is_not_in_doubt():
    stay, sensors = installed_between_checks()
    make.check(sensors, errors=(0.15, 0.1), at=timezone.now() - 8 * DAY)
    check = make.check(sensors, errors=(0.9, 0.1))
    assert doubts_of_check(check.pk) == [] and doubts_of_stay(stay) == []


def test_a_comparison_by_hand_counts_as_the_last_good_one():
    stay, sensors = installed_between_checks()
    make.in_date(sensors[0], at=timezone.now() - 8 * DAY, offset_kelvin="-0.1")
    check = make.check(sensors, errors=(0.9, 0.1))
    assert doubts_of_check(check.pk) == [] and doubts_of_stay(stay) == []


def test_a_good_check_doubts_nothing():
    stay, sensors = installed_between_checks()
    assert doubts_of_check(make.check(sensors, errors=(0.2, 0.1)).pk) == []
    assert doubts_of_stay(stay) == []


# The day sheet's bench


def test_the_bench_section_names_kits_in_the_shop_with_a_sensor_due():
    fine, late = make.kit(sensors=2), make.kit(sensors=2, checked=False)
    make.stay(Stage.INSTALLED, kit=fine)
    lines = to_check(Clock(timezone.now(), shop_zone()))
    assert [(line.kit, line.word) for line in lines] == [(late, "check due")]
    assert "were never checked." in lines[0].what
    assert lines[0].actions == (("See the kit", f"/kits/{late.code}/"),)


# How well a split is known


def test_two_sensors_of_one_sitting_share_the_reference_and_a_split_is_known_better():
    kit = make.kit(sensors=2, checked=False)
    sensors = [wiring.sensor for wiring in kit.wirings.all()]
    make.check(sensors)
    now = timezone.now()
    together = split_between(*sensors, now)
    assert together.same_sitting and together.why == "both sensors checked in one sitting"
    apart = [make.kit(sensors=1, checked=False).wirings.get().sensor for _ in range(2)]
    for sensor in apart:
        make.check([sensor])
    two = split_between(*apart, timezone.now())
    assert not two.same_sitting and two.expanded_kelvin > 1.5 * together.expanded_kelvin


def test_without_offsets_a_split_is_known_as_well_as_the_maker_says():
    """Reference values, example C: ± 0.5 °C each and no offset is U = 0.816 °C with k = 2, but for the reading's step."""
    sensors = [make.sensor(), make.sensor()]
    split = split_between(*sensors, timezone.now())
    assert split.difference.expanded_k2_kelvin == pytest.approx(0.816, abs=0.003)
    assert split.why == "neither sensor has an offset"


def test_an_offset_by_hand_and_one_withdrawn_count_as_what_they_are():
    by_hand, withdrawn = make.sensor(), make.sensor()
    now = timezone.now()
    given = {
        "offset_kelvin": Decimal("0.1"),
        "uncertainty_kelvin": Decimal("0.2"),
        "in_force_from": now - DAY,
    }
    for sensor in (by_hand, withdrawn):
        give_offset(make.act(), sensor=sensor, **given)
    assert split_between(by_hand, withdrawn, now).why == "offsets entered by hand"
    Offset.objects.create(
        sensor=withdrawn,
        in_force_from=now - timedelta(hours=1),
        offset_kelvin=0,
        source=OffsetSource.NONE,
        recorded_at=now,
        recorded_by=make.office(),
    )
    assert split_between(by_hand, withdrawn, now).why == "one sensor has no offset"


# Read through afterwards


def test_a_check_that_was_closed_behind_the_actions_is_found():
    kit = make.kit(sensors=2, checked=False)
    sensors = [wiring.sensor for wiring in kit.wirings.all()]
    make.check(sensors, errors=(0.3, 1.6))
    assert check_contradictions() == []
    check = make.check(sensors, closed=False)
    CalibrationCheck.objects.filter(pk=check.pk).update(closed_at=timezone.now(), closed_by=check.begun_by)
    found = check_contradictions()
    assert f"check {check.pk} is closed and no event tells of it" in found
    assert sum("without a result for one of its sensors" in line for line in found) == 2


def test_an_offset_that_is_not_the_one_found_is_found():
    sensor = make.kit(sensors=1, checked=False).wirings.get().sensor
    result = make.check([sensor]).results.get()
    later = Offset.objects.get(result=result)
    later.pk, later.offset_kelvin = None, Decimal("0.7")
    later.in_force_from = timezone.now()
    later.save(force_insert=True)
    assert any("no offset of" in line for line in check_contradictions())
