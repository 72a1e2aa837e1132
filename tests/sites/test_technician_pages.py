"""The truck list and the scan page: what a technician sees before touching a kit."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions import sensors as sensor_actions
from kits.models import KeptAt
from sites.actions import custody
from sites.models import Stage
from sites.trucks import truck_of
from tests import make
from tests.conftest import signed_in
from tests.sites.payloads import said

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def truck(technician):
    return truck_of(technician, today=timezone.localdate(), now=timezone.now())


def call_at(street, technician, **fields):
    site = make.site(
        street=street,
        contact_name="Pat Example",
        contact_phone="+1 201 555 0142",
        access_notes="Gate behind the shed.",
        latitude=Decimal("37.54"),
        longitude=Decimal("-77.43"),
    )
    return make.call(unit=make.unit(site=site), technician=technician, **fields)


def test_what_goes_where_stands_by_day_with_ways_to_drive_and_call(technician, technician_client):
    make.shop()
    call = call_at("12 Elm Street", technician)
    stay = make.stay(Stage.LOADED, call=call)
    page = said(technician_client.get("/truck/"))
    assert "1 stop today, 1 kit aboard" in page
    assert "Put in · 12 Elm Street, Faketown" in page
    assert 'href="geo:37.54' in page and 'href="tel:+12015550142"' in page
    assert "Gate behind the shed." in page
    assert f'href="/k/{stay.kit.code}"' in page


def test_stops_are_driven_late_ones_first_then_by_day(technician):
    make.shop()
    late = make.stay(
        Stage.INSTALLED, call=make.call(technician=technician), began=timezone.now() - timedelta(days=9)
    )
    type(late).objects.filter(pk=late.pk).update(take_out_by=timezone.localdate() - timedelta(days=1))
    tomorrow = make.stay(call=make.call(technician=technician, days_ahead=1))
    today = make.stay(Stage.LOADED, call=make.call(technician=technician))
    far = make.stay(call=make.call(technician=technician, days_ahead=30))
    found = truck(technician)
    assert [stop.call for stop in found.stops] == [late.call, today.call, tomorrow.call]
    assert found.days[0][0] == "Today"
    assert found.stops_today == 2
    assert "was due" in found.stops[0].words and found.stops[0].tone == "late"
    assert far.call not in [stop.call for stop in found.stops]


def test_a_planned_kit_on_the_shelf_is_still_to_be_loaded(technician, technician_client):
    make.shop()
    make.stay(call=make.call(technician=technician))
    page = said(technician_client.get("/truck/"))
    assert "kit still to be loaded" in page
    assert "1 kit still to be loaded" in page


def test_a_call_without_a_kit_stands_on_the_list(technician, technician_client):
    make.shop()
    call_at("7 Oak Court", technician)
    assert "Needs a kit · 7 Oak Court, Faketown" in said(technician_client.get("/truck/"))


def test_a_kit_out_of_a_house_is_to_be_handed_back(technician, technician_client):
    make.shop()
    stay = make.stay(Stage.REMOVED, call=make.call(technician=technician))
    page = said(technician_client.get("/truck/"))
    assert "1 to hand back" in page and "back in shop by" in page
    type(stay).objects.filter(pk=stay.pk).update(
        take_out_by=timezone.localdate() - timedelta(days=3),
        back_in_shop_by=timezone.localdate() - timedelta(days=2),
    )
    assert "was due back" in said(technician_client.get("/truck/"))


def test_a_kit_somebody_took_is_told_with_the_call_that_needs_one_now(technician, technician_client):
    make.shop()
    stay = make.stay(Stage.LOADED, call=make.call(technician=technician))
    ana = make.technician(name="Ana Lindqvist")
    custody.take_onto_truck(make.act(ana), kit=stay.kit, technician=ana)
    page = said(technician_client.get("/truck/"))
    assert "Ana Lindqvist took" in page and stay.kit.code in page
    assert f"Call {stay.call.number} needs a kit." in page
    make.stay(call=stay.call)
    page = said(technician_client.get("/truck/"))
    assert f"Call {stay.call.number} is seen to." in page
    assert "took" not in said(signed_in(ana).get("/truck/")), "who took it knows"


def test_a_call_served_after_all_needs_no_kit_any_more(technician):
    make.shop()
    call = make.call(technician=technician)
    lost = make.stay(Stage.LOADED, call=call).kit
    custody.take_onto_truck(make.act(), kit=lost, technician=make.user(role="technician"))
    assert [loss.needs_a_kit for loss in truck(technician).losses] == [True]
    make.stay(Stage.HANDED_BACK, call=call)
    assert [loss.needs_a_kit for loss in truck(technician).losses] == [False]


def test_a_kit_put_on_the_shelf_was_not_taken_by_anybody(technician):
    make.shop()
    stay = make.stay(Stage.LOADED, call=make.call(technician=technician))
    custody.put_on_shelf(make.act(), kit=stay.kit)
    assert truck(technician).losses == []


def test_spare_leads_on_the_truck_are_listed(technician, technician_client):
    make.shop()
    spare = make.sensor(tag="spare 7", tag_colour="red")
    sensor_actions.keep_spare(make.act(), sensor=spare, place=KeptAt.TRUCK, technician=technician)
    page = said(technician_client.get("/truck/"))
    assert "spare 7" in page and spare.tail in page


def test_a_call_is_a_way_on_only_for_those_whom_its_page_lets_in(
    technician, technician_client, office_client
):
    make.shop()
    call = make.call(technician=technician)
    way_on = f'href="/calls/{call.number}/"'
    page = technician_client.get("/truck/")
    assert f"Call {call.number}" in said(page) and way_on not in page.content.decode()
    assert way_on in office_client.get(f"/truck/?technician={technician.pk}").content.decode()


def test_an_empty_truck_says_what_to_do(technician_client):
    make.shop()
    page = said(technician_client.get("/truck/"))
    assert "No stop today, 0 kits aboard" in page
    assert "Scan a kit's tag to load it." in page


def test_a_technician_sees_only_the_own_truck_and_the_office_anybodys(
    technician, technician_client, office_client
):
    make.shop()
    ben = make.technician(name="Ben Ortiz")
    stay = make.stay(Stage.LOADED, call=make.call(technician=ben))
    assert stay.kit.code not in said(technician_client.get(f"/truck/?technician={ben.pk}"))
    assert "Ben Ortiz" in said(office_client.get("/truck/"))
    page = said(office_client.get(f"/truck/?technician={ben.pk}"))
    assert "Ben Ortiz's truck" in page and stay.kit.code.replace(" ", "")[:3] in page
    assert office_client.get("/truck/?technician=nobody").status_code == 404


def test_a_truck_with_thirty_stops_asks_no_more_often_than_one_with_three(
    technician, technician_client, django_assert_max_num_queries
):
    make.shop()

    def fill(count: int) -> None:
        for _ in range(count):
            make.stay(Stage.LOADED, call=make.call(technician=technician))

    def queries() -> int:
        with django_assert_max_num_queries(40) as seen:
            technician_client.get("/truck/")
        return len(seen)

    make.stay(Stage.REMOVED, call=make.call(technician=technician))
    fill(3)
    few = queries()
    fill(27)
    assert queries() == few


# -- Scan ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "writing", ["{code}", " {lower} ", "{code:.3}-{tail}", "HTTPS://SHOP.EXAMPLE/K/{code}", "/k/{code}/"]
)
def test_a_code_in_any_usual_writing_opens_its_kit(writing, technician_client):
    kit = make.kit()
    typed = writing.format(code=kit.code, lower=kit.code.lower(), tail=kit.code[3:])
    response = technician_client.get("/scan/", {"code": typed})
    assert response.status_code == 302 and response["Location"] == f"/k/{kit.code}"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("7M4Q2O", "Character 6, O, cannot be right"),
        ("7M4", "3 are missing"),
        ("https://shop.example/menu", "not that of a kit label"),
        ("7M4Q2?", "Character 6, ?, cannot be right"),
    ],
)
def test_a_wrong_code_says_what_is_wrong_and_stays_in_the_box(typed, sentence, technician_client):
    response = technician_client.get("/scan/", {"code": typed})
    assert response.status_code == 404
    assert sentence in said(response)
    assert f'value="{typed}"' in said(response)


def test_a_well_formed_code_of_no_kit_offers_near_ones(technician_client):
    kit = make.kit()
    typed = kit.code[:5]
    page = said(technician_client.get("/scan/", {"code": typed}))
    assert "1 is missing" in page
    assert f'href="/k/{kit.code}"' in page
