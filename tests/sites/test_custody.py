"""Kits from hand to hand: taken, sent back, put away, missing, found, retired, given up; and who may."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from kits.actions import kits as kit_actions
from kits.models import Event, Kit, Place
from kits.promises import Refused
from sites.actions import custody, planning, stays
from sites.books import contradictions
from sites.models import Deployment, Stage
from tests import make
from tests.refusals import fresh, refused

pytestmark = pytest.mark.django_db


def missing_kit() -> Kit:
    kit = make.kit()
    custody.mark_missing(make.act(), kit=kit, why="not on any shelf")
    return fresh(kit)


# -- Onto a truck


def test_a_kit_taken_from_the_shelf_is_on_that_truck_without_a_stay():
    kit, ann = make.kit(), make.technician(name="Ann Ray")
    done = custody.take_onto_truck(make.act(ann), kit=kit, technician=ann)
    assert fresh(kit).whereabouts == "Ann Ray's truck"
    assert done.sentence == f"{kit} taken from the shelf onto Ann Ray's truck"


def test_taking_a_kit_never_asks_the_one_who_has_it_and_tells_which_call_loses_it():
    stay, ben = make.stay(Stage.LOADED), make.technician(name="Ben Ortiz")
    done = custody.take_onto_truck(make.act(ben), kit=stay.kit, technician=ben)
    assert f"{stay.call} needs a kit" in done.sentence
    assert "Ben Ortiz" in fresh(stay.call).needs_kit_why


def test_a_plan_outlives_its_kit_being_carried_around():
    stay, ben = make.stay(), make.technician()
    custody.take_onto_truck(make.act(ben), kit=stay.kit, technician=ben)
    assert fresh(stay).stage == Stage.PLANNED


def test_it_cannot_be_taken_twice():
    kit, ann = make.kit(), make.technician()
    custody.take_onto_truck(make.act(ann), kit=kit, technician=ann)
    assert "already" in refused(custody.take_onto_truck, make.act(ann), kit=kit, technician=ann)


@pytest.mark.parametrize(
    ("reached", "sentence"),
    [(Stage.INSTALLED, "settle that first"), (Stage.REMOVED, "Count it first")],
)
def test_a_kit_from_a_house_is_settled_or_counted_before_it_is_taken(reached, sentence):
    stay, ben = make.stay(reached), make.technician()
    assert sentence in refused(custody.take_onto_truck, make.act(ben), kit=stay.kit, technician=ben)


def test_a_take_before_the_kit_came_there_is_refused():
    kit, ann = make.kit(), make.technician()
    custody.take_onto_truck(make.act(ann), kit=kit, technician=ann)
    earlier = make.act(happened_at=timezone.now() - timedelta(hours=2))
    assert "later than that" in refused(custody.put_on_shelf, earlier, kit=kit)


@pytest.mark.parametrize("how", ["called off", "loaded for another call"])
def test_a_kit_is_not_moved_at_a_time_when_it_was_still_on_a_stay(how):
    """It stayed on the truck when its stay ended; custody alone would not tell."""
    stay, office = make.stay(Stage.LOADED, began=timezone.now() - timedelta(hours=9)), make.office()
    if how == "called off":
        planning.call_off(make.act(office), stay=stay, why="no access")
    else:
        other = make.call()
        given = {"kit": stay.kit, "call": other, "technician": stay.technician, **make.dates(other)}
        stays.load(make.act(stay.technician), **given)
    earlier = {"happened_at": timezone.now() - timedelta(hours=2)}
    for step in (custody.put_on_shelf, custody.send_to_bench):
        assert "until later than that" in refused(step, make.act(**earlier), kit=stay.kit)
    assert "until later" in refused(custody.mark_missing, make.act(**earlier), kit=stay.kit, why="gone")
    ann = make.technician()
    assert "until later" in refused(
        custody.take_onto_truck, make.act(ann, **earlier), kit=stay.kit, technician=ann
    )
    custody.put_on_shelf(make.act(), kit=stay.kit)
    assert contradictions(fresh(stay.kit)) == []


# -- Undo


def taken_from_ann():
    """A kit loaded on one truck and taken onto another: the stay it was loaded for, and the event."""
    stay, ben = make.stay(Stage.LOADED), make.technician()
    done = custody.take_onto_truck(make.act(ben), kit=stay.kit, technician=ben)
    return stay, Event.objects.get(pk=done.event_id)


def test_the_office_sends_a_kit_back_with_the_stay_it_was_loaded_for():
    stay, event = taken_from_ann()
    custody.undo_take(make.act(), event=event)
    again = stay.call.deployments.out().get()
    assert again != stay and again.take_out_by == stay.take_out_by
    assert fresh(stay.kit).custody.technician == stay.technician
    assert fresh(stay.call).needs_kit_why == ""
    assert contradictions(fresh(stay.kit)) == []


def test_a_call_that_found_another_kit_meanwhile_keeps_that_one():
    stay, event = taken_from_ann()
    planning.plan(make.act(), call=fresh(stay.call), kit=make.kit(), **make.dates(stay.call))
    custody.undo_take(make.act(), event=event)
    assert fresh(stay.kit).custody.technician == stay.technician
    assert not fresh(stay.kit).deployments.running().exists()
    assert contradictions(fresh(stay.kit)) == []


def test_a_take_is_undone_once_and_only_while_nothing_else_happened():
    _stay, event = taken_from_ann()
    custody.undo_take(make.act(), event=event)
    assert "no longer be undone" in refused(custody.undo_take, make.act(), event=event)


def test_only_a_take_from_a_truck_is_undone():
    kit, ann = make.kit(), make.technician()
    from_shelf = custody.take_onto_truck(make.act(ann), kit=kit, technician=ann)
    counted = kit_actions.count_shelf(make.act(), seen=[])
    for done in (from_shelf, counted):
        event = Event.objects.get(pk=done.event_id)
        assert "taken from another truck" in refused(custody.undo_take, make.act(), event=event)


# -- Put away


@pytest.mark.parametrize("put", [custody.put_on_shelf, custody.send_to_bench])
def test_a_kit_that_was_only_loaded_is_put_away_and_its_call_needs_a_kit(put):
    stay = make.stay(Stage.LOADED)
    put(make.act(), kit=stay.kit)
    assert fresh(stay).stage == Stage.CALLED_OFF and fresh(stay).let_go
    assert fresh(stay.call).needs_kit_why
    assert contradictions(fresh(stay.kit)) == []


@pytest.mark.parametrize("put", [custody.put_on_shelf, custody.send_to_bench])
@pytest.mark.parametrize(
    ("reached", "sentence"), [(Stage.INSTALLED, "settle"), (Stage.REMOVED, "Hand it back")]
)
def test_a_kit_from_a_house_is_not_simply_put_away(put, reached, sentence):
    assert sentence in refused(put, make.act(), kit=make.stay(reached).kit)


def test_what_is_wrong_with_it_is_said_on_the_bench():
    kit = make.kit()
    assert "what is wrong" in refused(custody.send_to_bench, make.act(), kit=kit, needs_work=True)
    custody.send_to_bench(make.act(), kit=kit, needs_work=True, why="dead terminal")
    assert fresh(kit).condition_why == "dead terminal"


# -- Missing, found, retired


def test_a_missing_kit_lets_all_its_calls_know():
    stay = make.stay(Stage.LOADED)
    following = make.call(days_ahead=30)
    planning.plan(make.act(), call=following, kit=stay.kit, **make.dates(following))
    custody.mark_missing(make.act(), kit=stay.kit, why="truck was broken into")
    assert fresh(stay.kit).custody.place == Place.MISSING
    for call in (stay.call, following):
        assert "is missing" in fresh(call).needs_kit_why
    assert contradictions(fresh(stay.kit)) == []


def test_missing_says_where_it_was_looked_for():
    assert "looked for" in refused(custody.mark_missing, make.act(), kit=make.kit(), why=" ")


def test_a_kit_missing_from_a_house_is_the_managers_to_give_up():
    stay = make.stay(Stage.INSTALLED)
    assert "manager" in refused(custody.mark_missing, make.act(), kit=stay.kit, why="not there")


def test_a_found_kit_goes_to_the_bench():
    kit = missing_kit()
    custody.found_again(make.act(), kit=kit)
    assert fresh(kit).custody.place == Place.BENCH


@pytest.mark.parametrize("act", [custody.put_on_shelf, custody.send_to_bench])
def test_a_missing_kit_is_found_first(act):
    assert "Found again" in refused(act, make.act(), kit=missing_kit())


def test_a_kit_that_is_not_missing_is_not_found():
    assert "not missing: shelf" in refused(custody.found_again, make.act(), kit=make.kit())


def test_a_manager_retires_a_kit_and_may_bring_it_back():
    stay, boss = make.stay(), make.manager()
    custody.retire(make.act(boss), kit=stay.kit, why="worn out")
    assert fresh(stay).let_go and fresh(stay.kit).custody.place == Place.RETIRED
    assert contradictions(fresh(stay.kit)) == []
    custody.bring_back(make.act(boss), kit=stay.kit, why="the new ones are late")
    assert fresh(stay.kit).custody.place == Place.BENCH


@pytest.mark.parametrize(
    ("action", "given"),
    [(custody.retire, {"why": "old"}), (custody.bring_back, {"why": "needed"})],
)
def test_only_a_manager_retires_or_brings_back(action, given):
    assert "by a manager" in refused(action, make.act(), kit=make.kit(), **given)


@pytest.mark.parametrize(
    ("reached", "word"), [(Stage.LOADED, "truck"), (Stage.INSTALLED, "site"), (Stage.REMOVED, "truck")]
)
def test_a_kit_that_is_out_is_not_retired(reached, word):
    stay = make.stay(reached)
    assert word in refused(custody.retire, make.act(make.manager()), kit=stay.kit, why="old")


def test_retiring_says_why_and_bringing_back_needs_a_retired_kit():
    boss = make.act(make.manager())
    assert "why" in refused(custody.retire, boss, kit=make.kit(), why="")
    assert "not retired" in refused(custody.bring_back, make.act(make.manager()), kit=make.kit(), why="x")


# -- Not recovered


@pytest.mark.parametrize("reached", [Stage.LOADED, Stage.INSTALLED, Stage.REMOVED])
def test_a_kit_given_up_is_missing_and_its_stay_has_ended(reached):
    stay = make.stay(reached)
    following = make.call(days_ahead=40)
    planning.plan(make.act(), call=following, kit=stay.kit, **make.dates(following))
    custody.not_recovered(make.act(make.manager()), stay=stay, why="house was cleared")
    assert fresh(stay).stage == Stage.NOT_RECOVERED and fresh(stay).ended_why == "house was cleared"
    assert fresh(stay.kit).custody.place == Place.MISSING
    assert "was not recovered" in fresh(following).needs_kit_why
    assert not stay.placements.filter(placed_until=None).exists()
    assert contradictions(fresh(stay.kit)) == []
    custody.found_again(make.act(), kit=stay.kit)
    assert fresh(stay.kit).custody.place == Place.BENCH


@pytest.mark.parametrize(
    ("reached", "by", "why", "sentence"),
    [
        (Stage.INSTALLED, "office", "x", "by a manager"),
        (Stage.INSTALLED, "manager", " ", "what was tried"),
        (Stage.PLANNED, "manager", "x", "no kit to give up"),
        (Stage.HANDED_BACK, "manager", "x", "no kit to give up"),
    ],
)
def test_giving_up_is_the_managers_with_a_reason_and_for_a_kit_that_is_out(reached, by, why, sentence):
    stay = make.stay(reached)
    assert sentence in refused(custody.not_recovered, make.act(make.user(by)), stay=stay, why=why)


def test_a_kit_is_not_given_up_before_it_came_out():
    stay = make.stay(Stage.REMOVED)
    earlier = make.act(make.manager(), happened_at=stay.installed_at)
    sentence = refused(custody.not_recovered, earlier, stay=stay, why="gone")
    assert "later than that" in sentence or "later time" in sentence


# -- Whom a step builds on


def test_two_steps_sent_late_build_on_each_other_by_request():
    stay, tech = make.stay(), make.technician()
    load = make.act(tech, request_id=uuid4(), based_on=fresh(stay.kit).version)
    stays.load(load, kit=stay.kit, call=stay.call, technician=tech)
    act = make.act(tech, based_on=load.request_id)
    custody.put_on_shelf(act, kit=stay.kit)
    assert fresh(stay.kit).custody.place == Place.SHELF


def test_a_step_whose_earlier_step_has_not_arrived_waits():
    with pytest.raises(Refused) as refusal:
        custody.put_on_shelf(make.act(based_on=uuid4()), kit=make.kit())
    assert refusal.value.code == "waiting"


def test_a_step_on_a_stay_may_build_on_a_step_on_its_kit():
    stay, office = make.stay(), make.office()
    load = make.act(office, request_id=uuid4())
    stays.load(load, kit=stay.kit, call=stay.call, technician=make.technician())
    planning.call_off(make.act(office, based_on=load.request_id), stay=stay, why="no access")
    assert fresh(stay).stage == Stage.CALLED_OFF


def test_a_step_cannot_build_on_one_about_something_else():
    office, other = make.office(), make.kit()
    act = make.act(office, request_id=uuid4())
    custody.send_to_bench(act, kit=other)
    with pytest.raises(Refused) as refusal:
        custody.put_on_shelf(make.act(office, based_on=act.request_id), kit=make.kit())
    assert refusal.value.code == "out_of_order"


def test_the_shelf_count_says_what_is_wanting_and_what_should_not_be_there():
    here, wanting, stray = make.kit(), make.kit(), make.kit(place=Place.BENCH)
    done = kit_actions.count_shelf(make.act(), seen=(kit for kit in [here, stray]))
    event = Event.objects.get(pk=done.event_id)
    assert "2 seen, 1 wanting, 1 that the books have elsewhere" in event.summary
    assert {about.subject_id for about in event.abouts.filter(kind="kit")} == {
        here.pk,
        wanting.pk,
        stray.pk,
    }
    assert Deployment.objects.count() == 0
