"""A stay, step by step: order of times, backdating, taking over, letting go."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Event, Kit, Told
from kits.promises import Refused
from kits.templatetags.kitperch import when
from sites.actions import custody, planning, stays
from sites.books import contradictions
from sites.models import Deployment, Stage
from tests import make
from tests.refusals import fresh, refused

pytestmark = pytest.mark.django_db

FACTS = {"hookup_terminals": "R and C", "tap_place": "upstream", "ports_drilled": 2}


def install(stay, act=None, **changes):
    """Install a loaded kit with its planned days and one sensor at supply air."""
    lead = stay.kit.wirings.filter(wired_until=None).first().sensor
    given = {
        "kit": stay.kit,
        "placements": {"SA": lead},
        "take_out_by": stay.take_out_by,
        "back_in_shop_by": stay.back_in_shop_by,
        "facts": FACTS,
        **changes,
    }
    return stays.install(act or make.act(), **given)


# -- Times


def test_all_steps_may_happen_at_one_and_the_same_instant():
    began = timezone.now() - timedelta(hours=3)
    stay = make.stay(Stage.LOADED, began=began - timedelta(hours=1))
    for step in (Stage.INSTALLED, Stage.REMOVED, Stage.HANDED_BACK):
        make.go_on(stay, step, at=began)
    stay = fresh(stay)
    assert stay.loaded_at == stay.installed_at == stay.removed_at == stay.handed_back_at
    assert contradictions(stay.kit) == []


def test_done_at_three_typed_at_eight_shows_both_times():
    stay = make.stay(Stage.LOADED, began=timezone.now() - timedelta(hours=12))
    typed = timezone.now()
    done = typed - timedelta(hours=5)
    install(stay, make.act(make.technician(), happened_at=done, recorded_at=typed))
    event = Event.objects.get(what="installed")
    assert (event.happened_at, event.recorded_at) == (done, typed)
    assert event.typed_later
    assert fresh(stay).installed_at == done


@pytest.mark.parametrize(
    ("reached", "step", "sentence"),
    [
        (Stage.LOADED, Stage.INSTALLED, "loaded later than that"),
        (Stage.INSTALLED, Stage.REMOVED, "installed later than that"),
        (Stage.REMOVED, Stage.HANDED_BACK, "taken out later than that"),
    ],
)
def test_a_step_before_the_one_before_it_is_refused(reached, step, sentence):
    stay = make.stay(reached, began=timezone.now() - timedelta(hours=8))
    with pytest.raises(Refused, match=sentence):
        make.go_on(stay, step, at=timezone.now() - timedelta(days=1))
    assert fresh(stay).stage == reached


@pytest.mark.parametrize(
    ("reached", "step"),
    [
        (Stage.PLANNED, Stage.INSTALLED),
        (Stage.PLANNED, Stage.REMOVED),
        (Stage.PLANNED, Stage.HANDED_BACK),
        (Stage.LOADED, Stage.REMOVED),
        (Stage.LOADED, Stage.HANDED_BACK),
        (Stage.INSTALLED, Stage.INSTALLED),
        (Stage.INSTALLED, Stage.HANDED_BACK),
        (Stage.INSTALLED, Stage.LOADED),
        (Stage.REMOVED, Stage.LOADED),
        (Stage.REMOVED, Stage.REMOVED),
        (Stage.HANDED_BACK, Stage.REMOVED),
        (Stage.HANDED_BACK, Stage.HANDED_BACK),
    ],
)
def test_a_step_out_of_order_is_refused_and_says_where_the_kit_stands(reached, step):
    stay = make.stay(reached)
    with pytest.raises(Refused) as refusal:
        make.go_on(stay, step, at=timezone.now())
    assert stay.kit.code in " ".join(refusal.value.messages)
    assert fresh(stay).stage == reached


def test_what_is_still_to_come_cannot_be_recorded():
    stay = make.stay(Stage.LOADED)
    ahead = make.act(happened_at=timezone.now() + timedelta(hours=1))
    assert "still to come" in refused(install, stay, ahead)


def test_a_phone_a_minute_ahead_is_written_down_as_now():
    stay = make.stay(Stage.LOADED)
    now = timezone.now()
    install(stay, make.act(happened_at=now + timedelta(seconds=90), recorded_at=now))
    assert fresh(stay).installed_at == now


def test_more_than_a_year_ago_is_taken_for_a_slip():
    stay = make.stay(Stage.LOADED)
    assert "Check the year" in refused(
        install, stay, make.act(happened_at=timezone.now() - timedelta(days=400))
    )


# -- Loading


def test_a_kit_nobody_planned_can_be_loaded_for_a_call():
    kit, call, tech = make.kit(), make.call(), make.technician()
    done = stays.load(make.act(tech), kit=kit, call=call, technician=tech, **make.dates(call))
    assert done.row(Deployment).stage == Stage.LOADED
    assert fresh(kit).custody.technician == tech


def test_an_unplanned_load_asks_for_both_dates():
    kit, call, tech = make.kit(), make.call(), make.technician()
    with pytest.raises(Refused) as refusal:
        stays.load(make.act(tech), kit=kit, call=call, technician=tech)
    assert set(refusal.value.error_dict) == {"take_out_by", "back_in_shop_by"}


def test_a_kit_loaded_for_another_call_leaves_the_call_it_was_planned_for():
    stay, other = make.stay(), make.call()
    tech = make.technician()
    stays.load(make.act(tech), kit=stay.kit, call=other, technician=tech, **make.dates(other))
    stay = fresh(stay)
    assert stay.stage == Stage.CALLED_OFF and stay.let_go
    assert str(other) in stay.call.needs_kit_why
    assert contradictions(stay.kit) == []


def test_another_kit_really_taken_for_a_call_frees_the_one_that_was_only_planned():
    stay, taken, tech = make.stay(), make.kit(), make.technician()
    stays.load(make.act(tech), kit=taken, call=stay.call, technician=tech, **make.dates(stay.call))
    assert fresh(stay).stage == Stage.CALLED_OFF and fresh(stay).let_go
    assert fresh(stay.call).needs_kit_why == ""
    assert contradictions(fresh(stay.kit)) == contradictions(fresh(taken)) == []


def test_a_second_kit_for_a_call_that_has_one_out_is_refused():
    stay, second, tech = make.stay(Stage.INSTALLED), make.kit(), make.technician()
    sentence = refused(
        stays.load,
        make.act(tech),
        kit=second,
        call=stay.call,
        technician=tech,
        **make.dates(stay.call),
    )
    assert str(stay.kit) in sentence and "already" in sentence


def test_a_closed_call_takes_no_kit():
    call, kit, tech = make.call(), make.kit(), make.technician()
    planning.close_call(make.act(), call=call, why="mended meanwhile")
    assert "closed" in refused(
        stays.load, make.act(tech), kit=kit, call=call, technician=tech, **make.dates(call)
    )


def test_a_colleague_who_takes_a_loaded_kit_for_the_same_call_takes_the_stay_over():
    stay, ben = make.stay(Stage.LOADED), make.technician(name="Ben Ortiz")
    first = stay.technician
    done = stays.load(make.act(ben), kit=stay.kit, call=stay.call, technician=ben)
    stay = fresh(stay)
    assert stay.stage == Stage.LOADED and stay.technician == ben
    assert fresh(stay.kit).custody.technician == ben
    assert f"taken over from {first}'s truck" in done.sentence
    assert fresh(stay.call).needs_kit_why == ""
    assert contradictions(fresh(stay.kit)) == []


def test_the_same_technician_cannot_load_it_twice():
    stay = make.stay(Stage.LOADED)
    tech = stay.technician
    assert "already" in refused(stays.load, make.act(tech), kit=stay.kit, call=stay.call, technician=tech)


@pytest.mark.parametrize(("gone", "sentence"), [("missing", "Found again"), ("retired", "retired")])
def test_a_kit_that_is_gone_is_not_loaded(gone, sentence):
    kit, call, tech = make.kit(), make.call(), make.technician()
    if gone == "missing":
        custody.mark_missing(make.act(), kit=kit, why="not on any shelf")
    else:
        custody.retire(make.act(make.manager()), kit=kit, why="worn out")
    assert sentence in refused(
        stays.load, make.act(tech), kit=kit, call=call, technician=tech, **make.dates(call)
    )


def test_a_refusal_of_a_time_names_the_time_that_stands_against_it():
    stay = make.stay(Stage.INSTALLED)
    earlier = stay.installed_at - timedelta(minutes=20)
    pull = stays.Pull(pulled_by="Ben", ports_closed=2, wire_restored=True, system_ran=True)
    doer = make.act(make.technician(), happened_at=earlier, recorded_at=timezone.now())
    sentence = refused(stays.remove, doer, kit=stay.kit, carrier=make.technician(), pull=pull)
    assert f"installed later than that, on {when(stay.installed_at)}. It cannot come out" in sentence


def test_a_kit_is_not_loaded_from_a_truck_before_it_came_onto_it():
    kit, call, tech = make.kit(), make.call(), make.technician()
    custody.take_onto_truck(make.act(tech), kit=kit, technician=tech)
    earlier = make.act(tech, happened_at=timezone.now() - timedelta(hours=3))
    given = {"kit": kit, "call": call, "technician": tech, **make.dates(call)}
    assert "later than that" in refused(stays.load, earlier, **given)
    stays.load(make.act(tech), **given)
    assert contradictions(fresh(kit)) == []


# -- Installing


def test_a_kit_nobody_scanned_is_loaded_in_the_same_breath():
    stay, tech = make.stay(), make.technician()
    install(stay, make.act(tech), call=stay.call)
    stay = fresh(stay)
    assert stay.stage == Stage.INSTALLED and stay.loaded_at == stay.installed_at
    assert stay.technician == tech
    assert contradictions(stay.kit) == []


def test_an_install_for_another_call_than_it_is_loaded_for_is_refused():
    stay, other = make.stay(Stage.LOADED), make.call()
    sentence = refused(install, stay, call=other)
    assert str(stay.call) in sentence and str(other) in sentence


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"placements": {}}, "at least for one sensor"),
        ({"take_out_by": None}, "must be out of the house"),
        ({"back_in_shop_by": None}, "must be back in the shop"),
        ({"back_in_shop_by": date(2020, 1, 1)}, "past"),
        ({"take_out_by": date(2020, 1, 1)}, "before the stay begins"),
        ({"facts": {**FACTS, "hookup_terminals": ""}}, "cannot be blank"),
        ({"facts": {**FACTS, "tap_place": "somewhere"}}, "not a valid choice"),
        ({"facts": {**FACTS, "aux_switches": "pump"}}, "no auxiliary contact"),
        ({"readings": [stays.Reading(position="OA", raw_celsius=Decimal(21))]}, "No sensor sits at OA"),
        ({"readings": [stays.Reading(position="SA", raw_celsius=Decimal("123456.789"))]}, "no more than"),
        ({"readings": [stays.Reading(position="XX", raw_celsius=Decimal(21))]}, "no position XX"),
    ],
)
def test_an_install_that_lacks_something_says_what(changes, sentence):
    stay = make.stay(Stage.LOADED)
    assert sentence in refused(install, stay, **changes)
    assert fresh(stay).stage == Stage.LOADED


def test_a_position_is_found_however_its_code_is_typed():
    stay = make.stay(Stage.LOADED)
    lead = stay.kit.wirings.first().sensor
    reading = stays.Reading(position=" sa", raw_celsius=Decimal("13.5"))
    install(stay, placements={"sa ": lead}, readings=[reading])
    assert stay.placements.get().position.code == "SA"
    assert stay.reference_readings.get().sensor == lead


def test_new_days_that_run_into_the_next_plan_are_refused_naming_it():
    stay = make.stay(Stage.LOADED)
    following = make.call(days_ahead=20)
    planning.plan(make.act(), call=following, kit=stay.kit, **make.dates(following))
    late = stay.back_in_shop_by + timedelta(days=10)
    sentence = refused(install, stay, take_out_by=late, back_in_shop_by=late)
    assert str(following) in sentence


def test_an_auxiliary_contact_switches_only_what_somebody_agreed_to():
    stay = make.stay(Stage.LOADED, kit=make.kit(has_aux_contact=True))
    facts = {**FACTS, "aux_switches": "condensate pump"}
    assert "who agreed" in refused(install, stay, facts=facts)
    install(stay, facts={**facts, "aux_when": "when wet", "aux_agreed_by": "the owner"})
    assert fresh(stay).stage == Stage.INSTALLED


def test_a_kit_in_a_house_cannot_simply_be_put_on_the_shelf():
    stay = make.stay(Stage.INSTALLED)
    assert "settle when it was pulled" in refused(custody.put_on_shelf, make.act(), kit=stay.kit)


def test_an_action_takes_keywords_only():
    kit = Kit()
    with pytest.raises(TypeError, match="keywords"):
        custody.put_on_shelf(make.act(), kit)


def test_a_step_told_by_phone_names_who_did_it_and_who_wrote_it_down():
    stay, office, ben = make.stay(Stage.LOADED), make.office(), make.technician(name="Ben Ortiz")
    install(stay, make.act(office, did_by=ben, answers_for=ben, told=Told.PHONE))
    event = Event.objects.get(what="installed")
    assert (event.did_by, event.typed_by, event.told) == (ben, office, Told.PHONE)
    assert event.typed_later
