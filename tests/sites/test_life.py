"""One kit through one stay, from the shelf to the shelf, and the refusals on the way."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from kits.models import Event, Kit, Place, Receipt
from kits.promises import Refused
from sites.actions import custody, places, planning, stays
from sites.as_of import kit_as_of
from sites.books import contradictions
from sites.models import Deployment, Stage
from tests import make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("stage", "place"),
    [
        (Stage.PLANNED, Place.SHELF),
        (Stage.LOADED, Place.TRUCK),
        (Stage.INSTALLED, Place.SITE),
        (Stage.REMOVED, Place.TRUCK),
        (Stage.HANDED_BACK, Place.SHELF),
    ],
)
def test_each_step_moves_the_kit_and_the_books_tell_one_story(stage, place):
    stay = make.stay(stage)
    assert stay.stage == stage
    assert Kit.objects.get(pk=stay.kit_id).custody.place == place
    assert contradictions(stay.kit) == []


def test_the_same_request_sent_again_gets_the_first_answer_and_changes_nothing():
    kit, call = make.kit(), make.call()
    act = make.act(request_id=uuid4())
    first = planning.plan(act, call=call, kit=kit, **make.dates(call))
    events = Event.objects.count()
    again = planning.plan(act, call=call, kit=kit, **make.dates(call))
    assert again.again and not first.again
    assert again.row(Deployment) == first.row(Deployment)
    assert Event.objects.count() == events


def test_the_same_request_with_other_content_is_refused():
    kit, call = make.kit(), make.call()
    act = make.act(request_id=uuid4())
    planning.plan(act, call=call, kit=kit, **make.dates(call))
    with pytest.raises(Refused, match="already used"):
        planning.plan(act, call=make.call(), kit=make.kit(), **make.dates(call))


def test_a_refused_request_leaves_no_receipt_so_that_it_can_be_sent_again():
    kit = make.kit()
    act = make.act(make.technician())
    with pytest.raises(Refused):
        stays.hand_back(act, kit=kit, count=make.full_count(kit))
    assert not Receipt.objects.filter(request_id=act.request_id).exists()


def test_a_step_based_on_an_older_state_is_told_what_the_shop_holds():
    stay = make.stay(Stage.LOADED)
    ben = make.technician(name="Ben Ortiz")
    seen = Kit.objects.get(pk=stay.kit_id).version
    custody.take_onto_truck(make.act(ben), kit=stay.kit, technician=ben)
    with pytest.raises(Refused, match="Ben Ortiz's truck") as refused:
        custody.put_on_shelf(make.act(based_on=seen), kit=stay.kit)
    assert refused.value.code == "stale"


def test_taking_a_loaded_kit_makes_its_call_need_a_kit_and_the_office_can_undo_it():
    stay = make.stay(Stage.LOADED)
    ben = make.technician(name="Ben Ortiz")
    done = custody.take_onto_truck(make.act(ben), kit=stay.kit, technician=ben)
    stay.refresh_from_db()
    stay.call.refresh_from_db()
    assert stay.stage == Stage.CALLED_OFF and stay.let_go
    assert "Ben Ortiz" in stay.call.needs_kit_why
    custody.undo_take(make.act(), event=Event.objects.get(pk=done.event_id))
    assert stay.call.deployments.out().get().technician == stay.technician
    assert contradictions(Kit.objects.get(pk=stay.kit_id)) == []


def test_a_late_hand_back_is_never_refused_and_the_begun_plan_lets_the_kit_go():
    stay = make.stay(Stage.REMOVED, began=timezone.now() - timedelta(days=40), call=make.call(days_ahead=-40))
    following = make.call(days_ahead=-3)
    planning.plan(
        make.act(at=timezone.now() - timedelta(days=30)),
        call=following,
        kit=stay.kit,
        **make.dates(following),
    )
    stays.hand_back(make.act(), kit=stay.kit, count=make.full_count(stay.kit))
    following.refresh_from_db()
    assert "came home" in following.needs_kit_why
    assert not following.deployments.running().exists()


def test_as_of_tells_where_each_sensor_sat():
    stay = make.stay(Stage.HANDED_BACK)
    then = kit_as_of(stay.kit.code, stay.installed_at + timedelta(minutes=1))
    assert then.whereabouts == str(stay.unit.site)
    assert {row.position.code for row in then.sensors if row.position} == {"SA", "RA", "LL", "VL"}
    assert kit_as_of(stay.kit.code, stay.handed_back_at).whereabouts == "shelf"


def test_after_a_sale_nobody_is_told_to_call_the_old_owner():
    stay = make.stay(Stage.INSTALLED)
    site = stay.unit.site
    site.contact_name, site.contact_phone = "Ada Brook", "+1 201 555 0101"
    site.save()
    sold_on = timezone.now().date() - timedelta(days=1)
    new_owner = make.customer("Noor Lind", phone="+1 201 555 0102")
    places.house_sold(make.act(), site=site, on=sold_on, new_owner=new_owner)
    site.refresh_from_db()
    assert (site.contact_name, site.contact_phone) == ("Noor Lind", "+1 201 555 0102")
