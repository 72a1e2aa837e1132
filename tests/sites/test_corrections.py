"""A recorded time corrected by a manager: both times stay visible, and everything that met there moves along."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kits.models import Event, KeptAt, Kit, Place
from sites.actions import custody, placements, stays
from sites.actions.corrections import correct_time
from sites.as_of import kit_as_of
from sites.books import contradictions, sensor_contradictions
from sites.models import Deployment, Position, Stage
from tests import make
from tests.refusals import fresh, refused

pytestmark = pytest.mark.django_db

HALF = timedelta(minutes=30)


@pytest.fixture
def boss(db):
    return make.manager()


def correct(boss, stay, stage, to, why="the phone's clock was wrong"):
    return correct_time(make.act(boss), stay=stay, stage=stage, to=to, why=why)


def is_whole(stay) -> bool:
    return contradictions(Kit.objects.get(pk=stay.kit_id)) == []


@pytest.mark.parametrize("by", [HALF, -HALF])
@pytest.mark.parametrize(
    ("stage", "field", "before", "after"),
    [
        (Stage.LOADED, "loaded_at", Place.SHELF, Place.TRUCK),
        (Stage.INSTALLED, "installed_at", Place.TRUCK, Place.SITE),
        (Stage.REMOVED, "removed_at", Place.SITE, Place.TRUCK),
        (Stage.HANDED_BACK, "handed_back_at", Place.TRUCK, Place.SHELF),
    ],
)
def test_custody_moves_with_the_step(boss, by, stage, field, before, after):
    stay = make.stay(Stage.HANDED_BACK)
    was = getattr(stay, field)
    correct(boss, stay, stage, was + by)
    stay = fresh(stay)
    assert getattr(stay, field) == was + by
    for instant, place in ((was + by - timedelta(seconds=1), before), (was + by, after)):
        assert kit_as_of(stay.kit.code, instant).custody.place == place
    assert is_whole(stay)


def test_placements_and_readings_move_with_the_install_and_the_pull(boss):
    stay = make.stay(Stage.HANDED_BACK)
    correct(boss, stay, Stage.INSTALLED, stay.installed_at + HALF)
    correct(boss, stay, Stage.REMOVED, stay.removed_at - timedelta(minutes=10))
    stay = fresh(stay)
    edges = set(stay.placements.values_list("placed_from", "placed_until"))
    assert edges == {(stay.installed_at, stay.removed_at)}
    assert stay.reference_readings.get().read_at == stay.installed_at


def test_both_times_and_the_reason_stay_in_the_event(boss):
    stay = make.stay(Stage.INSTALLED)
    to = stay.installed_at + HALF
    correct(boss, stay, Stage.INSTALLED, to)
    event = Event.objects.get(what="time corrected")
    assert event.details == {
        "stage": "installed",
        "was": stay.installed_at.isoformat(),
        "is": to.isoformat(),
    }
    assert event.why == "the phone's clock was wrong" and event.typed_by == boss


def test_a_sensor_missing_at_hand_back_is_missing_from_the_corrected_time_on(boss):
    stay = make.stay(Stage.REMOVED)
    wired = [row.sensor for row in stay.kit.wirings.order_by("terminal")]
    count = make.full_count(stay.kit, sensors=frozenset(wired[1:]))
    stays.hand_back(make.act(at=stay.removed_at + timedelta(hours=2)), kit=stay.kit, count=count)
    stay = fresh(stay)
    for by in (-HALF, 2 * HALF):
        correct(boss, fresh(stay), Stage.HANDED_BACK, fresh(stay).handed_back_at + by)
        lost, when = wired[0], fresh(stay).handed_back_at
        assert lost.spare_places.get(kept_until=None, place=KeptAt.MISSING).kept_from == when
        assert lost.wirings.get().wired_until == when
        assert sensor_contradictions(lost) == []
    assert is_whole(stay)


def test_loading_and_install_at_one_instant_come_apart_again(boss):
    stay = make.stay()
    lead = stay.kit.wirings.first().sensor
    at = timezone.now() - timedelta(hours=2)
    stays.install(
        make.act(make.technician(), at=at),
        kit=stay.kit,
        call=stay.call,
        placements={"SA": lead},
        take_out_by=stay.take_out_by,
        back_in_shop_by=stay.back_in_shop_by,
        facts={"hookup_terminals": "R and C", "tap_place": "upstream"},
    )
    correct(boss, fresh(stay), Stage.INSTALLED, at + HALF)
    correct(boss, fresh(stay), Stage.LOADED, at - HALF)
    assert kit_as_of(stay.kit.code, at).custody.place == Place.TRUCK
    assert is_whole(stay)


def test_a_pull_of_unknown_time_becomes_known(boss):
    stay = make.stay(Stage.INSTALLED)
    stays.settle(make.act(), kit=stay.kit, pull=stays.Pull(pulled_by="Ben"), count=make.full_count(stay.kit))
    correct(boss, fresh(stay), Stage.REMOVED, fresh(stay).removed_at - HALF)
    assert fresh(stay).removed_at_is_known
    assert is_whole(stay)


def test_ends_can_be_corrected_too(boss):
    given_up, called_off = make.stay(Stage.INSTALLED), make.stay(Stage.LOADED)
    custody.not_recovered(make.act(boss), stay=given_up, why="house was cleared")
    custody.put_on_shelf(make.act(), kit=called_off.kit)
    for stay, stage in ((given_up, Stage.NOT_RECOVERED), (called_off, Stage.CALLED_OFF)):
        to = fresh(stay).ended_at - HALF
        correct(boss, fresh(stay), stage, to)
        assert fresh(stay).ended_at == to
        assert is_whole(stay)


def test_a_plan_that_was_only_called_off_has_no_custody_to_move(boss):
    stay = make.stay(began=timezone.now() - timedelta(hours=8))
    custody.mark_missing(make.act(), kit=stay.kit, why="gone")
    to = fresh(stay).called_off_at - HALF
    correct(boss, fresh(stay), Stage.CALLED_OFF, to)
    assert fresh(stay.kit).custody.held_from != to
    assert is_whole(stay)


# -- Refused


@pytest.mark.parametrize(
    ("stage", "hours", "sentence"),
    [
        (Stage.INSTALLED, -1.5, "loaded later than that"),
        (Stage.INSTALLED, 1.5, "removed before that"),
        (Stage.REMOVED, 1.5, "back in shop before that"),
        (Stage.HANDED_BACK, -1.5, "removed later than that"),
        (Stage.LOADED, 1.5, "installed before that"),
        (Stage.HANDED_BACK, 20, "still to come"),
        (Stage.LOADED, 0, "already recorded"),
        (Stage.CALLED_OFF, 1, "no time to correct"),
        (Stage.PLANNED, 1, "no time to correct"),
    ],
)
def test_a_time_stays_between_its_neighbours(boss, stage, hours, sentence):
    stay = make.stay(Stage.HANDED_BACK)
    recorded = {
        Stage.LOADED: stay.loaded_at,
        Stage.INSTALLED: stay.installed_at,
        Stage.REMOVED: stay.removed_at,
    }.get(stage, stay.handed_back_at)
    assert sentence in refused(correct, boss, stay, stage, recorded + timedelta(hours=hours)).lower()
    assert is_whole(stay)


def test_only_a_manager_with_a_reason_corrects(boss):
    stay = make.stay(Stage.INSTALLED)
    to = stay.installed_at + HALF
    assert "by a manager" in refused(correct, make.office(), stay, Stage.INSTALLED, to)
    assert "Say why" in refused(correct, boss, stay, Stage.INSTALLED, to, why=" ")


def test_a_time_does_not_jump_over_something_else_recorded(boss):
    stay = make.stay(Stage.INSTALLED, began=timezone.now() - timedelta(hours=8))
    lead = stay.kit.wirings.get(terminal=1).sensor
    moved = stay.installed_at + timedelta(hours=1)
    placements.move_sensor(
        make.act(at=moved), kit=stay.kit, sensor=lead, position=Position.objects.get(code="OA")
    )
    assert "in between" in refused(correct, boss, fresh(stay), Stage.INSTALLED, moved + HALF)
    assert is_whole(stay)


def test_a_time_that_would_make_two_stories_is_refused(boss):
    """The kit came onto the truck before it was loaded for the call; it cannot have been loaded before that."""
    kit, call, tech = make.kit(), make.call(), make.technician()
    now = timezone.now()
    custody.take_onto_truck(make.act(tech, at=now - timedelta(hours=3)), kit=kit, technician=tech)
    act = make.act(tech, at=now - timedelta(hours=2))
    done = stays.load(act, kit=kit, call=call, technician=tech, **make.dates(call))
    stay = done.row(Deployment)
    sentence = refused(correct, boss, stay, Stage.LOADED, now - timedelta(hours=4))
    assert "two stories" in sentence
    correct(boss, fresh(stay), Stage.LOADED, now - timedelta(hours=2, minutes=30))
    assert is_whole(stay)


def test_a_time_does_not_run_into_the_stay_before(boss):
    stay = make.stay(Stage.HANDED_BACK, began=timezone.now() - timedelta(hours=20))
    following = make.call(days_ahead=20)
    loaded = timezone.now() - timedelta(hours=1)
    tech = make.technician()
    act = make.act(tech, at=loaded)
    done = stays.load(act, kit=stay.kit, call=following, technician=tech, **make.dates(following))
    second = done.row(Deployment)
    early = stay.installed_at
    sentence = refused(correct, boss, second, Stage.LOADED, early)
    assert "in between" in sentence or "out on" in sentence
    assert is_whole(stay)
