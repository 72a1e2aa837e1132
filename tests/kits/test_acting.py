"""How every step is made: once, with one event, based on what was seen, refused in a sentence."""

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from io import StringIO
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.utils import timezone

from kits.actions import kits as kit_actions
from kits.actions import sensors as sensor_actions
from kits.actions.acting import Act, Done, action, in_our_words, kind_of, model_of, plain, record
from kits.actions.records import change_record
from kits.models import Event, EventAbout, Kit, Place, Receipt, Sensor
from kits.promises import Refused
from sites.actions import custody, stays
from sites.models import Deployment, ServiceCall
from tests import make

pytestmark = pytest.mark.django_db


def test_a_generator_is_read_once_and_seen_by_the_action():
    kit = make.kit()
    parts = ({"name": name, "unit_cost_cents": 100} for name in ("box", "adapter"))
    act = make.act()
    kit_actions.change_parts(act, kit=kit, parts=parts)
    assert [part.name for part in kit.parts.all()] == ["box", "adapter"]
    again = [{"name": name, "unit_cost_cents": 100} for name in ("box", "adapter")]
    assert kit_actions.change_parts(act, kit=kit, parts=again).again


def test_a_count_is_the_same_request_in_whatever_order_its_sensors_come_and_whatever_their_tags_say():
    stay = make.stay("removed")
    count = make.full_count(stay.kit)
    before = plain(count)
    for sensor in count.sensors:
        change_record(make.act(), row=sensor, changes={"tag": f"new {sensor.pk}"})
    assert plain(make.full_count(stay.kit)) == before


@dataclass
class Odd:
    """Something of each kind that a request may hold."""

    amount: Decimal
    places: tuple[Place, ...]


def test_what_a_request_holds_becomes_plain_text():
    assert plain(Odd(Decimal("1.50"), (Place.SHELF,))) == {"amount": "1.50", "places": ["shelf"]}
    assert plain({1: {3, 2}}) == {"1": [2, 3]}


def test_a_version_is_counted_in_the_database_however_old_the_row_in_hand_is():
    kit = make.kit(sensors=1)
    old = Sensor.objects.get(pk=kit.wirings.get().sensor_id)
    for number in range(3):
        change_record(make.act(), row=Sensor.objects.get(pk=old.pk), changes={"notes": str(number)})
    record(make.act(), "looked at", "Looked at", about=[old])
    assert old.version == Sensor.objects.get(pk=old.pk).version == 5
    versions = EventAbout.objects.filter(kind="sensor", subject_id=old.pk).values_list("version", flat=True)
    assert list(versions) == [1, 2, 3, 4, 5]


def test_the_same_request_of_two_people_is_two_requests():
    kit, request_id = make.kit(), uuid4()
    for _ in range(2):
        done = custody.send_to_bench(make.act(make.office(), request_id=request_id), kit=kit)
        assert not done.again
    assert Receipt.objects.filter(request_id=request_id).count() == 2


def test_a_refusal_leaves_no_trace():
    kit, before = make.kit(), Event.objects.count()

    @action
    def half_done(act: Act, *, kit: Kit) -> Done:
        """Moves the kit, then finds that it may not."""
        kit.custodies.update(place=Place.MISSING)
        raise Refused("No.")

    act = make.act()
    with pytest.raises(Refused):
        half_done(act, kit=kit)
    assert kit.custodies.get(held_until=None).place == Place.SHELF
    assert Event.objects.count() == before
    assert not Receipt.objects.filter(request_id=act.request_id).exists()


def test_a_rule_named_by_a_check_is_told_in_its_sentence():
    error = ValidationError(
        {"__all__": ["Constraint “kit_sensor_limit” is violated."], "name": ["Too long."]}
    )
    told = in_our_words(error)
    assert told.message_dict == {
        "__all__": ["A kit has between one and five terminals."],
        "name": ["Too long."],
    }
    plain_list = in_our_words(ValidationError(["Constraint “kit_sensor_limit” is violated."]))
    assert plain_list.messages == ["A kit has between one and five terminals."]
    other = ValidationError("Too long.")
    assert in_our_words(other) is other


@pytest.mark.parametrize("limit", [0, 6])
def test_a_kit_of_six_terminals_is_refused_in_words(limit):
    fields = {"name": "K", "built_on": timezone.now().date(), "sensor_limit": limit}
    with pytest.raises(ValidationError) as refusal:
        kit_actions.add_kits(make.act(), fields=fields)
    assert "between one and five" in " ".join(refusal.value.messages)


@pytest.mark.parametrize("count", [0, 61])
def test_a_batch_has_bounds(count):
    fields = {"name": "K", "built_on": timezone.now().date()}
    with pytest.raises(Refused, match="Between 1 and 60"):
        kit_actions.add_kits(make.act(), fields=fields, count=count)


def test_a_batch_is_numbered_and_each_kit_begins_on_the_bench():
    fields = {"name": "Attic", "built_on": timezone.now().date()}
    parts = [{"name": "box", "quantity": 2, "unit_cost_cents": 350}]
    done = kit_actions.add_kits(make.act(), fields=fields, count=3, parts=parts)
    kits = done.rows(Kit)
    assert [kit.name for kit in kits] == ["Attic 1", "Attic 2", "Attic 3"]
    assert {kit.whereabouts for kit in kits} == {"bench"}
    assert {kit.build_cost_cents() for kit in kits} == {700}
    assert len({kit.code for kit in kits}) == 3


def test_a_sensor_the_shop_has_already_is_named_with_its_place():
    kit = make.kit(sensors=1)
    known = kit.wirings.get().sensor
    with pytest.raises(Refused) as refusal:
        sensor_actions.add_sensor(make.act(), rom=known.rom.lower(), fields={})
    assert f"in {kit}, terminal 1" in refusal.value.message_dict["rom"][0]


def test_a_wrong_rom_is_refused_at_its_field():
    good = make.rom()
    bad = good[:-1] + ("0" if good[-1] != "0" else "1")
    with pytest.raises(Refused) as refusal:
        sensor_actions.add_sensor(make.act(), rom=bad, fields={})
    assert refusal.value.message_dict["rom"]


def test_a_follow_up_is_done_once_and_says_how_it_ended():
    stay = make.stay("removed")

    stays.hand_back(make.act(), kit=stay.kit, count=make.full_count(stay.kit, account_wiped=False))
    todo = stay.kit.follow_ups.get()
    with pytest.raises(Refused, match="how it ended"):
        kit_actions.finish_follow_up(make.act(), follow_up=todo, outcome=" ")
    kit_actions.finish_follow_up(make.act(), follow_up=todo, outcome="wiped")
    with pytest.raises(Refused, match="done already: wiped"):
        kit_actions.finish_follow_up(make.act(), follow_up=todo, outcome="again")


def test_a_kit_in_service_again_needs_no_reason_and_one_that_needs_work_does():
    kit = make.kit()
    with pytest.raises(Refused, match="what is wrong"):
        kit_actions.set_condition(make.act(), kit=kit, condition="needs_work")
    kit_actions.set_condition(make.act(), kit=kit, condition="needs_work", why="loose lid")
    kit_actions.set_condition(make.act(), kit=kit, condition="in_service")
    assert Kit.objects.get(pk=kit.pk).condition_why == ""


def test_words_of_events_find_their_models():
    assert {kind_of(model): model for model in (Deployment, ServiceCall, Kit)} == {
        "stay": model_of("stay"),
        "call": model_of("call"),
        "kit": model_of("kit"),
    }
    assert model_of("teapot") is None


def test_an_answer_gives_its_rows_and_says_when_it_has_none():
    done = custody.send_to_bench(make.act(), kit=make.kit())
    with pytest.raises(LookupError):
        done.row(Deployment)
    assert done.rows(Deployment) == []


def test_a_clock_two_minutes_ahead_is_let_pass_and_three_are_not():
    now = timezone.now()
    kit = make.kit()
    custody.send_to_bench(make.act(happened_at=now + timedelta(minutes=2), recorded_at=now), kit=kit)
    assert Event.objects.last().happened_at == now
    with pytest.raises(Refused, match="still to come"):
        custody.put_on_shelf(make.act(happened_at=now + timedelta(minutes=3), recorded_at=now), kit=kit)


def test_receipts_are_kept_ninety_days_and_what_happened_for_good():
    kit = make.kit()
    custody.send_to_bench(make.act(), kit=kit)
    events, receipts = Event.objects.count(), Receipt.objects.count()
    Receipt.objects.update(made_at=timezone.now() - timedelta(days=91))
    custody.put_on_shelf(make.act(), kit=kit)
    out = StringIO()
    call_command("forget_receipts", "--dry-run", stdout=out)
    assert Receipt.objects.count() == receipts + 1
    call_command("forget_receipts", stdout=out)
    assert Receipt.objects.count() == 1 and Event.objects.count() == events + 1
    assert out.getvalue().splitlines() == [
        f"Receipts older than 90 days would be taken away: {receipts}.",
        f"Receipts older than 90 days taken away: {receipts}.",
    ]
