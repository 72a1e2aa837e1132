"""The face of a kit: what a label opens, for the one who works here and for a stranger."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from kits.actions import kits as kit_actions
from kits.models import Condition, FollowUp, Kit, Place, User
from sites.actions import custody
from sites.actions.common import out_stay
from sites.models import Stage
from sites.next_step import next_step
from tests import make
from tests.conftest import signed_in
from tests.sites.payloads import said, send

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def step_of(kit: Kit, user: User):
    kit = Kit.objects.get(pk=kit.pk)
    leads = kit.wirings.filter(wired_until=None).exists()
    return next_step(kit, user, stay=out_stay(kit), now=timezone.now(), has_leads=leads)


def main_label(kit: Kit, user: User) -> str:
    main = step_of(kit, user).main
    return main.label if main else ""


@pytest.mark.parametrize(
    "address",
    ["/k/{code}", "/k/{code}/", "/K/{CODE}", "/K/{CODE}/", "/k/{lower}", "/K/{lower}/"],
)
def test_any_case_and_a_slash_open_the_same_face_without_a_redirect(address, technician_client, db):
    kit = make.kit()
    path = address.format(code=kit.code, CODE=kit.code.upper(), lower=kit.code.lower())
    response = technician_client.get(path)
    assert response.status_code == 200
    assert kit.name in said(response)


def test_a_step_may_be_posted_to_an_upper_cased_address(technician, technician_client):
    kit = make.kit()
    response = technician_client.post(f"/K/{kit.code}/TAKE/", {})
    assert response.status_code == 302
    assert Kit.objects.get(pk=kit.pk).custody.technician == technician


def test_a_stranger_sees_whose_kit_it_is_and_the_phone_and_nothing_of_any_customer(db):
    make.shop(name="Perch Heating", phone="+1 201 555 0100")
    stay = make.stay(Stage.INSTALLED)
    page = said(Client().get(f"/k/{stay.kit.code}"))
    assert "Perch Heating" in page
    assert 'href="tel:+12015550100"' in page
    for secret in (stay.kit.name, stay.unit.site.street, str(stay.call.number), "site", stay.unit.name):
        assert secret not in page.replace("sign-in", ""), secret


def test_a_stranger_cannot_tell_a_known_code_from_an_unknown_one(db):
    make.shop()
    kit = make.kit()

    def page(code: str) -> str:
        response = Client().get(f"/K/{code}")
        assert response.status_code == 200
        return said(response).replace(code, "CODE")

    assert page(kit.code) == page("ZZZZZZ") == page("nonsense")


def test_a_stranger_may_not_post(db):
    kit = make.kit()
    response = Client().post(f"/k/{kit.code}/take", {})
    assert response.status_code == 302 and "/sign-in/" in response["Location"]
    assert Kit.objects.get(pk=kit.pk).custody.place == Place.SHELF


def test_after_signing_in_the_scanned_kit_is_opened(technician):
    kit = make.kit()
    page = said(Client().get(f"/K/{kit.code}"))
    assert f"/sign-in/?next=/K/{kit.code}" in page


def test_a_wrong_code_names_the_character_and_offers_near_kits(technician_client):
    kit = make.kit()
    wrong = kit.code[:5] + "0"
    response = technician_client.get(f"/k/{wrong}")
    assert response.status_code == 404
    assert "Character 6, 0, cannot be right" in said(response)
    assert f"/k/{kit.code}" in said(response)
    assert f'value="{wrong}"' in said(response)


@pytest.mark.parametrize("role", ["technician", "office", "manager"])
@pytest.mark.parametrize("stage", [None, *list(Stage)[:5]])
def test_every_role_at_every_stage_gets_at_most_one_filled_button(stage, role, db):
    kit = make.stay(stage).kit if stage else make.kit()
    page = said(signed_in(make.user(role)).get(f"/k/{kit.code}"))
    assert page.count("button-main") == 1


def test_on_the_shelf_and_planned_for_me_loads_by_one_tap(technician):
    call = make.call(technician=technician)
    kit = make.stay(call=call).kit
    assert main_label(kit, technician) == f"Load it for call {call.number}"
    response = send(technician, kit, "load", {"call": call.number})
    assert response.status_code == 302
    assert Kit.objects.get(pk=kit.pk).custody.technician == technician


def test_on_the_shelf_while_a_call_of_mine_needs_a_kit(technician):
    call = make.call(technician=technician)
    step = step_of(make.kit(), technician)
    assert step.main.label == f"Load it for call {call.number}"
    assert step.main.url.endswith(f"/load?call={call.number}")


def test_on_the_shelf_and_no_call_of_mine_goes_onto_my_truck(technician):
    assert main_label(make.kit(), technician) == "Take it onto my truck"


def test_a_kit_without_a_lead_is_wired_first_and_not_loaded(technician):
    make.call(technician=technician)
    step = step_of(make.kit(sensors=0), technician)
    assert "It carries no lead" in step.sentence
    assert step.main.label == "Wire a sensor in" and step.others == []


def test_planned_for_somebody_else_says_for_whom(technician):
    ben = make.technician(name="Ben Ortiz")
    call = make.call(technician=ben)
    step = step_of(make.stay(call=call).kit, technician)
    assert f"Planned for Ben Ortiz's call {call.number}" in step.sentence
    assert step.main.label == "Take it onto my truck"


def test_what_is_left_to_do_is_done_with_the_kit_in_the_hand_and_leads_back_to_it(technician):
    make.shop()
    kit = make.kit()
    left = FollowUp.objects.create(
        kit=kit, what="Wi-Fi still to be wiped", opened_at=timezone.now(), opened_by=technician
    )
    client = signed_in(technician)
    way = f"/bench/follow-ups/{left.pk}/?back=/k/{kit.code}"
    assert f'href="{way}"' in said(client.get(f"/k/{kit.code}"))
    page = client.get(way)
    assert page.status_code == 200
    done = client.post(way, {"outcome": "wiped, booted without a network"}, follow=True)
    assert done.redirect_chain[-1][0] == f"/k/{kit.code}"
    assert "Wi-Fi still to be wiped" not in said(client.get(f"/k/{kit.code}"))


def test_on_my_truck_loaded_is_installed_next(technician):
    kit = make.stay(Stage.LOADED, call=make.call(technician=technician)).kit
    assert main_label(kit, technician) == "Install it"


def test_on_somebody_elses_truck_one_tap_takes_it_and_the_call_needs_a_kit(technician):
    ben = make.technician(name="Ben Ortiz")
    stay = make.stay(Stage.LOADED, call=make.call(technician=ben))
    step = step_of(stay.kit, technician)
    assert step.sentence.startswith(f"This kit is on Ben Ortiz's truck for call {stay.call.number}, ")
    assert step.main.label == "Take it onto my truck" and step.main.posts == {}
    send(technician, stay.kit, "take", {})
    stay.call.refresh_from_db()
    assert Kit.objects.get(pk=stay.kit_id).custody.technician == technician
    assert "was taken onto" in stay.call.needs_kit_why


def test_a_kit_on_anothers_truck_for_my_own_call_comes_over_with_its_stay(technician):
    ben = make.technician(name="Ben Ortiz")
    stay = make.stay(Stage.LOADED, call=make.call(technician=ben))
    stay.call.technician = technician
    stay.call.save()
    step = step_of(stay.kit, technician)
    assert step.main.label == "Take it onto my truck" and step.main.posts == {"call": stay.call.number}
    assert send(technician, stay.kit, "load", step.main.posts).status_code == 302
    assert Kit.objects.get(pk=stay.kit_id).custody.technician == technician
    stay.refresh_from_db()
    assert (stay.stage, stay.technician) == (Stage.LOADED, technician)


def test_at_a_site_it_is_taken_out_by_a_technician_and_settled_by_the_office(technician, office):
    kit = make.stay(Stage.INSTALLED).kit
    assert main_label(kit, technician) == "Take it out"
    assert main_label(kit, office) == "It is here, but nobody wrote down the pull"
    small = {way.label for way in step_of(kit, technician).others}
    assert {"Move a sensor", "Swap a lead"} <= small
    assert any("Nobody wrote down the pull" in label for label in small)


def test_out_of_a_house_it_is_handed_back(technician):
    assert main_label(make.stay(Stage.REMOVED).kit, technician) == "Hand it back"


def test_missing_is_found_again_and_goes_to_the_bench(technician):
    kit = make.kit()
    custody.mark_missing(make.act(), kit=kit, why="not on the shelf")
    assert main_label(kit, technician) == "I hold it: found again"
    send(technician, kit, "found", {})
    assert Kit.objects.get(pk=kit.pk).custody.place == Place.BENCH


def test_a_retired_kit_says_so_and_offers_nothing(technician):
    kit = make.kit()
    custody.retire(make.act(make.manager()), kit=kit, why="cracked")
    page = said(signed_in(technician).get(f"/k/{kit.code}"))
    assert "This kit is retired." in page
    assert "button-main" not in page


@pytest.mark.parametrize("step", ["take", "load", "shelf"])
def test_a_retired_kit_refuses_every_step_in_a_sentence(step, technician):
    kit, call = make.kit(), make.call()
    custody.retire(make.act(make.manager()), kit=kit, why="cracked")
    values = {"call": call.number, "take_out_by": "2099-01-01", "back_in_shop_by": "2099-01-02"}
    response = send(technician, kit, step, values)
    assert response.status_code == 409
    assert f"{kit} is retired" in said(response)


def test_a_kit_that_needs_work_stays_in_the_shop(technician):
    kit = make.kit()
    kit_actions.set_condition(make.act(), kit=kit, condition=Condition.NEEDS_WORK, why="lead 2 is chewed")
    step = step_of(kit, technician)
    assert "needs work: lead 2 is chewed" in step.sentence
    assert step.tone == "attention"
    assert "lead 2 is chewed" in said(signed_in(technician).get(f"/k/{kit.code}"))


def test_where_each_lead_sits_and_what_is_still_to_do_stand_on_the_face(technician):
    stay = make.stay(Stage.INSTALLED)
    make.go_on(stay, Stage.REMOVED, at=timezone.now())
    kit = Kit.objects.get(pk=stay.kit_id)
    kit.follow_ups.create(what="Hole unseen", opened_at=timezone.now(), opened_by=technician)
    page = said(signed_in(technician).get(f"/k/{kit.code}"))
    assert "Hole unseen" in page
    for row in kit.wirings.all():
        assert row.sensor.tail in page


def test_cautions_stand_on_the_face_of_a_kit_at_a_unit_and_of_a_box_not_made_for_an_attic(technician):
    kit = make.kit(rated_to_celsius=40)
    page = said(signed_in(technician).get(f"/k/{kit.code}"))
    assert "an attic can reach" not in page, "on the shelf no attic is near"
    make.stay(Stage.INSTALLED, kit=kit)
    page = said(signed_in(technician).get(f"/k/{kit.code}")).replace("\u202f", " ")
    assert "This box is rated to 104 °F and an attic can reach 140 °F" in page
    assert "Lock out and prove dead" in page


def test_looking_never_writes(technician, django_assert_num_queries):
    stay = make.stay(Stage.INSTALLED, began=timezone.now() - timedelta(days=2))
    version = Kit.objects.get(pk=stay.kit_id).version
    signed_in(technician).get(f"/k/{stay.kit.code}")
    assert Kit.objects.get(pk=stay.kit_id).version == version
