"""Promising kits to calls: which are free, what speaks against the others, extending, calling off, closing."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions import kits as kit_actions
from kits.models import Condition, Place
from kits.promises import Refused
from sites.actions import custody, planning
from sites.books import contradictions
from sites.free import candidates
from sites.models import Deployment, Extension, ServiceCall, Stage
from tests import make
from tests.refusals import fresh, refused

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def plan(call, kit, act=None, **dates):
    return planning.plan(act or make.act(), call=call, kit=kit, **{**make.dates(call), **dates})


# -- Planning


def test_a_plan_holds_the_kit_from_the_first_day_of_the_window_until_it_is_back():
    call, kit = make.call(days_ahead=3), make.kit()
    stay = plan(call, kit).row(Deployment)
    zone = make.shop().time_zone
    assert stay.stage == Stage.PLANNED and stay.technician == call.technician
    assert zone == "America/New_York"
    assert stay.holds_from.isoformat()[11:16] in {"04:00", "05:00"}  # midnight there
    assert fresh(kit).custody.place == Place.SHELF


def test_a_kit_may_go_out_again_on_the_day_it_is_back():
    kit, first = make.kit(), make.call()
    plan(first, kit)
    second = make.call(days_ahead=16)
    assert plan(second, kit).row(Deployment).stage == Stage.PLANNED


def test_a_kit_promised_in_those_days_is_refused_naming_the_other_call():
    kit, first = make.kit(), make.call()
    plan(first, kit)
    sentence = refused(plan, make.call(days_ahead=15), kit)
    assert f"promised to call {first.number}" in sentence and "another kit" in sentence


def test_an_overdue_kit_can_have_a_next_plan():
    stay = make.stay(
        Stage.INSTALLED, began=timezone.now() - timedelta(days=30), call=make.call(days_ahead=-30)
    )
    assert plan(make.call(days_ahead=2), stay.kit).row(Deployment).stage == Stage.PLANNED


def test_a_call_takes_one_kit_at_a_time():
    call, kit = make.call(), make.kit()
    plan(call, kit)
    assert str(kit) in refused(plan, call, make.kit())


@pytest.mark.parametrize(
    ("make_unfit", "sentence"),
    [
        (lambda kit: custody.mark_missing(make.act(), kit=kit, why="gone"), "nobody knows where it is"),
        (lambda kit: custody.retire(make.act(make.manager()), kit=kit, why="old"), "it is retired"),
        (
            lambda kit: kit_actions.set_condition(
                make.act(), kit=kit, condition=Condition.NEEDS_WORK, why="cracked lid"
            ),
            "it needs work: cracked lid",
        ),
    ],
)
def test_a_kit_that_is_not_fit_is_refused_with_the_reason(make_unfit, sentence):
    kit = make.kit()
    make_unfit(kit)
    assert sentence in refused(plan, make.call(), kit)


@pytest.mark.parametrize(
    ("sensors", "wanted", "sentence"),
    [(0, (), "carries no sensor"), (1, ("SA", "RA"), "carries 1 sensor and the call wants 2 positions")],
)
def test_a_kit_with_too_few_sensors_is_refused(sensors, wanted, sentence):
    assert sentence in refused(plan, make.call(wanted=wanted), make.kit(sensors=sensors))


def test_a_kit_with_short_leads_is_refused():
    call = make.call(lead_length_m=Decimal("6.0"))
    kit = make.kit(sensors=1)
    make.sensor(kit=kit, lead_length_m=Decimal("3.00"))
    assert "longest lead is 3.00 m" in refused(plan, call, kit)


@pytest.mark.parametrize(
    ("take_out", "back", "field", "sentence"),
    [
        (-1, 5, "take_out_by", "before the stay begins"),
        (5, 4, "back_in_shop_by", "before it is taken out"),
        (0, 0, "back_in_shop_by", "the day the stay begins"),
        (-20, -10, "back_in_shop_by", "is past"),
        (61, 70, "take_out_by", "needs the manager"),
    ],
)
def test_days_that_cannot_be_are_refused_at_their_field(take_out, back, field, sentence):
    call = make.call()
    days = {
        "take_out_by": call.window_from + take_out * DAY,
        "back_in_shop_by": call.window_from + back * DAY,
    }
    with pytest.raises(Refused) as refusal:
        plan(call, make.kit(), **days)
    assert sentence in " ".join(refusal.value.message_dict[field])


def test_a_long_stay_is_the_managers():
    call = make.call()
    days = {"take_out_by": call.window_from + 61 * DAY, "back_in_shop_by": call.window_from + 70 * DAY}
    assert plan(call, make.kit(), make.act(make.manager()), **days).row(Deployment).stage == Stage.PLANNED


def test_the_list_of_kits_puts_free_ones_first_and_says_why_the_others_are_not():
    call = make.call(days_ahead=5)
    shelf, busy, gone = make.kit(), make.kit(), make.kit()
    carried = make.kit()
    custody.take_onto_truck(make.act(call.technician), kit=carried, technician=call.technician)
    plan(make.call(days_ahead=6), busy)
    custody.mark_missing(make.act(), kit=gone, why="not found")
    found = candidates(call, call.window_from + 16 * DAY, now=timezone.now())
    by_kit = {candidate.kit: candidate for candidate in found}
    assert [candidate.kit for candidate in found][:2] == [carried, shelf]
    assert "already on" in by_kit[carried].remarks[0]
    assert by_kit[shelf].is_free and not by_kit[busy].is_free and not by_kit[gone].is_free
    assert "promised to call" in by_kit[busy].against[0]


def test_looking_for_a_kit_costs_no_query_a_kit(django_assert_max_num_queries):
    call = make.call()
    for _ in range(3):
        make.kit(sensors=2)
    with django_assert_max_num_queries(20):
        assert len(candidates(call, call.window_from + 16 * DAY, now=timezone.now())) == 3


# -- Extending


def extend(stay, days: int, act=None, **changes):
    given = {
        "agreed_by": "the tenant",
        "agreed_on": date.today(),
        "how": "phone",
        "take_out_by": stay.take_out_by + days * DAY,
        "back_in_shop_by": stay.back_in_shop_by + days * DAY,
        **changes,
    }
    return planning.extend(act or make.act(), stay=stay, **given)


def test_an_extension_keeps_who_agreed_and_both_old_days():
    stay = make.stay(Stage.INSTALLED)
    extend(stay, 7)
    kept = Extension.objects.get()
    assert (kept.agreed_by, kept.take_out_by_before) == ("the tenant", stay.take_out_by)
    assert fresh(stay).take_out_by == stay.take_out_by + 7 * DAY
    assert fresh(stay).holds_until > stay.holds_until


def test_an_extension_into_the_next_plan_is_refused_naming_it():
    stay = make.stay(Stage.INSTALLED)
    following = make.call(days_ahead=20)
    plan(following, stay.kit)
    sentence = refused(extend, stay, 10)
    assert str(following) in sentence and "another kit" in sentence
    extend(stay, 3)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"agreed_by": "  "}, "who agreed"),
        ({"agreed_on": date.today() + 2 * DAY}, "still to come"),
        ({"how": "pigeon"}, "not a valid choice"),
        ({"take_out_by": date(2020, 1, 1)}, "Give a later day"),
        ({"back_in_shop_by": date(2020, 1, 1)}, "past"),
    ],
)
def test_an_extension_nobody_could_rely_on_is_refused(changes, sentence):
    stay = make.stay(Stage.INSTALLED)
    assert sentence in refused(extend, stay, 7, **changes)
    assert fresh(stay).take_out_by == stay.take_out_by


def test_nothing_is_extended_once_the_kit_is_out_of_the_house():
    assert "nothing left to extend" in refused(extend, make.stay(Stage.REMOVED), 7)


# -- Calling off and closing


def test_a_loaded_kit_stays_on_the_truck_when_its_stay_is_called_off():
    stay = make.stay(Stage.LOADED)
    planning.call_off(make.act(), stay=stay, why="customer cancelled")
    stay = fresh(stay)
    assert stay.stage == Stage.CALLED_OFF and not stay.let_go
    assert fresh(stay.kit).custody.technician == stay.technician
    assert contradictions(stay.kit) == []


def test_an_installed_stay_is_not_called_off():
    assert "cannot be called off" in refused(
        planning.call_off, make.act(), stay=make.stay(Stage.INSTALLED), why="changed our minds"
    )


def test_calling_off_says_why():
    assert "why" in refused(planning.call_off, make.act(), stay=make.stay(), why=" ")


def test_a_call_with_a_kit_is_not_closed():
    stay = make.stay(Stage.INSTALLED)
    assert str(stay.kit) in refused(planning.close_call, make.act(), call=stay.call, why="done")


def test_a_closed_call_needs_no_kit_and_takes_none():
    stay = make.stay()
    custody.mark_missing(make.act(), kit=stay.kit, why="gone")
    call = fresh(stay.call)
    assert "is missing" in call.needs_kit_why
    planning.close_call(make.act(), call=call, why="mended meanwhile")
    assert fresh(call).needs_kit_why == "" and fresh(call).closed_on
    assert "closed" in refused(plan, fresh(call), make.kit())


def test_calls_are_numbered_one_after_the_other():
    first, second = make.call(), make.call()
    assert second.number == first.number + 1 >= 1002
    assert ServiceCall.objects.count() == 2


# -- The customer asks


def test_the_day_the_customer_asked_is_kept():
    stay = make.stay(Stage.INSTALLED)
    today = timezone.now().astimezone(stay.unit.site.zone).date()
    planning.note_customer_asked(make.act(), stay=stay, asked_on=today)
    assert fresh(stay).customer_asked_on == today


@pytest.mark.parametrize(
    ("reached", "ahead", "sentence"),
    [
        (Stage.INSTALLED, 2, "still to come"),
        (Stage.INSTALLED, -30, "not in the house"),
        (Stage.LOADED, 0, "not in the house"),
    ],
)
def test_a_day_on_which_nobody_can_have_asked_is_refused(reached, ahead, sentence):
    stay = make.stay(reached)
    day = timezone.now().astimezone(stay.unit.site.zone).date() + ahead * DAY
    assert sentence in refused(planning.note_customer_asked, make.act(), stay=stay, asked_on=day)
