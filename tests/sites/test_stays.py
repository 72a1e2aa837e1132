"""A stay, step by step: order of times, backdating, taking over, letting go, coming home, settling."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from kits.models import Condition, Event, FollowUp, KeptAt, Kit, Place, Told
from kits.promises import Refused
from sites.actions import custody, planning, stays
from sites.books import contradictions
from sites.models import Deployment, HandBackPlace, Removal, Stage
from tests import make

pytestmark = pytest.mark.django_db

FACTS = {"hookup_terminals": "R and C", "tap_place": "upstream", "ports_drilled": 2}


def fresh(row):
    return type(row).objects.get(pk=row.pk)


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


def refused(action, *args, **given) -> str:
    with pytest.raises(ValidationError) as refusal:
        action(*args, **given)
    return " ".join(refusal.value.messages)


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


# -- Taking out


def test_a_helper_without_a_login_can_have_pulled_it():
    stay, tech = make.stay(Stage.INSTALLED), make.technician()
    act = make.act(tech, did_by_name="Sam from the crew")
    stays.remove(act, kit=stay.kit, carrier=tech, pull=stays.Pull(pulled_by="Sam from the crew"))
    event = Event.objects.get(what="removed")
    assert event.doer == "Sam from the crew" and event.did_by is None
    assert event.typed_by == event.answers_for == tech
    assert Removal.objects.get().pulled_by == "Sam from the crew"


def test_a_step_told_by_phone_names_who_did_it_and_who_wrote_it_down():
    stay, office, ben = make.stay(Stage.LOADED), make.office(), make.technician(name="Ben Ortiz")
    install(stay, make.act(office, did_by=ben, answers_for=ben, told=Told.PHONE))
    event = Event.objects.get(what="installed")
    assert (event.did_by, event.typed_by, event.told) == (ben, office, Told.PHONE)
    assert event.typed_later


@pytest.mark.parametrize(
    ("pull", "left_open"),
    [
        ({"ports_closed": 2, "wire_restored": True, "system_ran": True}, []),
        ({"ports_closed": 1, "wire_restored": True, "system_ran": True}, ["Ports drilled: 2, closed: 1"]),
        ({"wire_restored": True, "system_ran": True}, ["nobody saw them closed"]),
        ({"ports_closed": 2}, ["24 V hook-up", "system run"]),
        ({}, ["nobody saw them closed", "24 V hook-up", "system run"]),
    ],
)
def test_what_nobody_saw_put_right_becomes_a_visit_within_two_days(pull, left_open):
    stay, tech = make.stay(Stage.INSTALLED), make.technician()
    stays.remove(make.act(tech), kit=stay.kit, carrier=tech, pull=stays.Pull(pulled_by="Sam", **pull))
    todo = list(FollowUp.objects.filter(kit=stay.kit).order_by("pk"))
    assert len(todo) == len(left_open)
    assert all(words in row.what for words, row in zip(left_open, todo, strict=True))
    assert all((row.due_on - timezone.now().date()).days <= 2 for row in todo)


def test_a_pull_says_who_did_it():
    stay, tech = make.stay(Stage.INSTALLED), make.technician()
    pull = stays.Pull(pulled_by="  ")
    assert "who pulled it" in refused(stays.remove, make.act(tech), kit=stay.kit, carrier=tech, pull=pull)


def test_a_kit_pulled_early_is_never_held_back_by_its_plan():
    stay = make.stay(Stage.INSTALLED, call=make.call(days_ahead=30))
    make.go_on(stay, Stage.REMOVED, at=timezone.now())
    make.go_on(stay, Stage.HANDED_BACK, at=timezone.now())
    assert fresh(stay).stage == Stage.HANDED_BACK


# -- Coming home


def test_what_is_missing_at_hand_back_is_followed_up_and_the_kit_goes_to_the_bench():
    stay = make.stay(Stage.REMOVED)
    wired = [row.sensor for row in stay.kit.wirings.all()]
    count = make.full_count(
        stay.kit, sensors=frozenset(wired[1:]), missing_parts=("power adapter",), wifi_wiped=False
    )
    done = stays.hand_back(make.act(), kit=stay.kit, count=count)
    todo = [row.what for row in FollowUp.objects.filter(kit=stay.kit).order_by("pk")]
    assert f"sensor {wired[0]}" in todo[0] and "power adapter" in todo[1] and "wiped" in todo[2]
    assert len(todo) == 3
    assert f"missing: sensor {wired[0]}, power adapter" in done.sentence
    assert fresh(stay.kit).custody.place == Place.BENCH
    assert wired[0].spare_place.place == KeptAt.MISSING
    assert fresh(stay).hand_back.sensors_counted == 3
    assert contradictions(fresh(stay.kit)) == []


def test_a_sensor_that_is_not_of_this_kit_is_told_too():
    stay, stray = make.stay(Stage.REMOVED), make.sensor()
    count = make.full_count(stay.kit)
    count = make.full_count(stay.kit, sensors=count.sensors | {stray})
    stays.hand_back(make.act(), kit=stay.kit, count=count)
    assert str(stray) in FollowUp.objects.get(kit=stay.kit).what


def test_a_kit_that_needs_work_goes_to_the_bench_and_says_why():
    stay = make.stay(Stage.REMOVED)
    stays.hand_back(make.act(), kit=stay.kit, count=make.full_count(stay.kit, needs_work="Cracked lid"))
    kit = fresh(stay.kit)
    assert (kit.condition, kit.condition_why) == (Condition.NEEDS_WORK, "Cracked lid")
    assert kit.custody.place == Place.BENCH


def test_checked_on_the_truck_it_stays_there_ready_for_the_next_house():
    stay = make.stay(Stage.REMOVED)
    carrier = stay.kit.custody.technician
    stays.hand_back(make.act(carrier), kit=stay.kit, count=make.full_count(stay.kit, HandBackPlace.TRUCK))
    assert fresh(stay).stage == Stage.HANDED_BACK
    assert fresh(stay.kit).custody.technician == carrier
    following = make.call(days_ahead=1)
    stays.load(make.act(carrier), kit=stay.kit, call=following, technician=carrier, **make.dates(following))
    assert contradictions(fresh(stay.kit)) == []


# -- Nobody wrote it down


def test_a_pull_of_unknown_time_is_put_at_the_finding_and_marked():
    stay = make.stay(Stage.INSTALLED)
    now = timezone.now()
    stays.settle(
        make.act(at=now),
        kit=stay.kit,
        pull=stays.Pull(pulled_by="not known"),
        count=make.full_count(stay.kit),
        customer_asked_on=now.astimezone(stay.unit.site.zone).date(),
    )
    stay = fresh(stay)
    assert stay.stage == Stage.HANDED_BACK and stay.removed_at == now
    assert not stay.removed_at_is_known and stay.customer_asked_on
    assert fresh(stay.kit).custody.place == Place.SHELF
    assert contradictions(stay.kit) == []


def test_a_pull_of_known_time_ends_the_time_in_the_house_then():
    stay = make.stay(Stage.INSTALLED)
    pulled_at = timezone.now() - timedelta(hours=2)
    stays.settle(
        make.act(),
        kit=stay.kit,
        pull=stays.Pull(pulled_by="Ben"),
        count=make.full_count(stay.kit),
        pulled_at=pulled_at,
    )
    stay = fresh(stay)
    assert stay.removed_at == pulled_at and stay.removed_at_is_known
    assert not stay.placements.exclude(placed_until=pulled_at).exists()
    assert contradictions(stay.kit) == []


@pytest.mark.parametrize("reached", [Stage.INSTALLED, Stage.REMOVED])
def test_a_kit_settled_on_a_truck_is_on_the_truck_of_the_one_who_found_it(reached):
    stay, ben = make.stay(reached), make.technician()
    count = make.full_count(stay.kit, HandBackPlace.TRUCK)
    stays.settle(make.act(ben), kit=stay.kit, pull=stays.Pull(pulled_by="not known"), count=count)
    assert fresh(stay.kit).custody.technician == ben
    assert contradictions(fresh(stay.kit)) == []


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"pulled_at": timedelta(hours=1)}, "here by then"),
        ({"pulled_at": -timedelta(days=3)}, "installed later than that"),
        ({"customer_asked_on": timedelta(days=3)}, "still to come"),
        ({"customer_asked_on": -timedelta(days=30)}, "not in the house on that day"),
    ],
)
def test_a_settling_that_cannot_have_been_is_refused(changes, sentence):
    stay, now = make.stay(Stage.INSTALLED), timezone.now()
    given = {name: now + ahead for name, ahead in changes.items()}
    if "customer_asked_on" in given:
        given["customer_asked_on"] = given["customer_asked_on"].date()
    pull, count = stays.Pull(pulled_by="Ben"), make.full_count(stay.kit)
    assert sentence in refused(stays.settle, make.act(at=now), kit=stay.kit, pull=pull, count=count, **given)
    assert fresh(stay).stage == Stage.INSTALLED


def test_a_kit_in_a_house_cannot_simply_be_put_on_the_shelf():
    stay = make.stay(Stage.INSTALLED)
    assert "settle when it was pulled" in refused(custody.put_on_shelf, make.act(), kit=stay.kit)


def test_an_action_takes_keywords_only():
    kit = Kit()
    with pytest.raises(TypeError, match="keywords"):
        custody.put_on_shelf(make.act(), kit)
