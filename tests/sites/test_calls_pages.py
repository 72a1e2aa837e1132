"""The office's pages of calls: booking, choosing a kit, closing, and the steps about a stay."""

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from kits.models import Condition, Event, FollowUp, Kit
from sites.actions import planning
from sites.forms.calls import PlanForm
from sites.models import Agreement, Deployment, Position, ServiceCall, Stage, Unit
from tests import make

pytestmark = pytest.mark.django_db

TODAY = timezone.now().astimezone(ZoneInfo("America/New_York")).date()


def body(answer) -> str:
    return answer.content.decode()


def booking(machine: Unit, **changes) -> dict:
    form = {
        "unit": machine.pk,
        "reason": "intermittent",
        "told_us": "It stops at night.",
        "window_from": TODAY + timedelta(days=1),
        "window_until": TODAY + timedelta(days=3),
        "technician": make.technician().pk,
        "wanted_positions": [row.pk for row in Position.objects.filter(code__in=["SA", "RA"])],
    }
    return {**form, **changes}


def days(**changes) -> dict:
    form = {"take_out_by": TODAY + timedelta(days=14), "back_in_shop_by": TODAY + timedelta(days=16)}
    return {name: str(value) for name, value in {**form, **changes}.items()}


# -- Booking -------------------------------------------------------------------------------------


def test_a_call_is_booked_for_a_unit_and_gets_the_next_number(office_client):
    unit = make.unit()
    first = office_client.post("/calls/new/", booking(unit))
    call = ServiceCall.objects.get()
    assert first.url == f"/calls/{call.number}/"
    assert {row.code for row in call.wanted_positions.all()} == {"SA", "RA"}
    page = body(office_client.get(first.url))
    assert "It stops at night." in page and "Needs a kit" in page and f"/calls/{call.number}/assign/" in page
    office_client.post("/calls/new/", booking(make.unit()))
    assert ServiceCall.objects.latest("number").number == call.number + 1


def test_without_a_unit_the_page_finds_one_by_address_or_customer(office_client):
    unit = make.unit(site=make.site(street="9 Élan Street"), name="loft system")
    make.site(street="1 Other Street")
    unit.site.parties.create(customer=make.customer("Zoë Núñez"), part="owns", since=TODAY)
    for word in ("elan", "nunez"):
        page = body(office_client.get("/calls/new/", {"q": word}))
        assert f"/calls/new/?unit={unit.pk}" in page and "1 Other Street" not in page
    assert "loft system" in body(office_client.get("/calls/new/", {"unit": unit.pk})).lower()


def test_a_new_house_and_its_unit_lead_back_to_the_call(office_client):
    form = {"street": "9 New Lane", "city": "Faketown", "time_zone": "America/New_York"}
    to_unit = office_client.post("/sites/new/?then=call", form).url
    to_call = office_client.post(to_unit, {"name": "main", "kind": "furnace", "float_switch": "none"}).url
    assert re.fullmatch(r"/calls/new/\?unit=\d+", to_call)
    assert office_client.get(to_call).status_code == 200


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        pytest.param(
            {"window_until": TODAY}, "must end on or after the day it begins", id="end before start"
        ),
        pytest.param(
            {"window_from": TODAY - timedelta(days=9), "window_until": TODAY - timedelta(days=8)},
            "is past",
            id="past",
        ),
        pytest.param({"unit": ""}, "Choose the unit first", id="no unit"),
        pytest.param({"window_from": "soon"}, "Enter a valid date", id="no date"),
    ],
)
def test_a_booking_that_cannot_be_is_refused_and_keeps_what_was_typed(office_client, changes, sentence):
    answer = office_client.post("/calls/new/", booking(make.unit(), **changes))
    assert answer.status_code == 422
    assert sentence in body(answer) and "It stops at night." in body(answer)
    assert not ServiceCall.objects.exists()


@pytest.mark.parametrize(
    ("first_day", "refused"),
    [
        pytest.param(0, True, id="same days"),
        pytest.param(2, True, id="begins on the other's last day"),
        pytest.param(3, False, id="begins the day after"),
    ],
)
def test_two_windows_of_one_unit_may_not_meet(office_client, first_day, refused):
    call = make.call()
    start = call.window_from + timedelta(days=first_day)
    form = booking(call.unit, window_from=start, window_until=start + timedelta(days=2))
    answer = office_client.post("/calls/new/", form)
    assert (f"Call {call.number} is booked for this unit" in body(answer)) == refused
    assert ServiceCall.objects.count() == (1 if refused else 2)


def test_only_agreements_for_that_site_are_offered(office_client):
    unit, customer = make.unit(), make.customer("Payer")
    covered = Agreement.objects.create(customer=customer, since=TODAY, terms="A")
    covered.sites.add(unit.site)
    Agreement.objects.create(customer=make.customer("Stranger"), since=TODAY, terms="B")
    page = body(office_client.get("/calls/new/", {"unit": unit.pk}))
    assert "Payer, from" in page and "Stranger" not in page


# -- Changing and closing ------------------------------------------------------------------------


def edited(call: ServiceCall, **changes) -> dict:
    form = booking(call.unit, window_from=call.window_from, window_until=call.window_until)
    return {**form, "technician": call.technician_id, **changes}


def test_a_call_is_changed_and_a_stale_form_is_answered(office_client):
    call = make.call()
    url = reverse("call_edit", args=[call.number])
    form = edited(call, notes="Ring twice", based_on=str(call.version))
    assert office_client.post(url, form).status_code == 302
    call.refresh_from_db()
    assert call.notes == "Ring twice"
    again = office_client.post(url, {**form, "notes": "Ring thrice"})
    assert again.status_code == 409 and "Meanwhile" in body(again) and "Ring thrice" in body(again)


def test_the_first_day_cannot_move_away_under_a_promised_kit(office_client):
    stay = make.stay(call=make.call(days_ahead=5))
    call = stay.call
    form = edited(call, window_from=call.window_from + timedelta(days=1))
    answer = office_client.post(reverse("call_edit", args=[call.number]), form)
    assert answer.status_code == 422 and "Call that stay off, move the window" in body(answer)


def test_a_call_with_a_kit_out_is_not_closed_and_one_without_is(office_client):
    stay = make.stay(Stage.LOADED)
    url = reverse("call_close", args=[stay.call.number])
    answer = office_client.post(url, {"why": "Nothing found"})
    assert answer.status_code == 409 and "Bring that stay to its end first" in body(answer)
    call = make.call()
    office_client.post(reverse("call_close", args=[call.number]), {"why": "Customer repaired it"})
    call.refresh_from_db()
    assert call.closed_on and "Customer repaired it" in body(office_client.get(call.get_absolute_url()))


# -- The list ------------------------------------------------------------------------------------


def test_the_list_filters_by_what_the_office_asks(office_client):
    lost = make.call(unit=make.unit(site=make.site(street="1 Lost Lane")))
    stay = make.stay(Stage.PLANNED)
    closed = make.call(reason="other")
    planning.close_call(make.act(), call=closed, why="Done")

    def numbers(**wanted) -> set[int]:
        page = body(office_client.get("/calls/", wanted))
        return {int(number) for number in re.findall(r'<th scope="row"><a href="/calls/(\d+)/"', page)}

    assert numbers() == {lost.number, stay.call.number}
    assert numbers(state="needs_kit") == {lost.number}
    assert numbers(state="closed") == {closed.number}
    assert numbers(state="all", reason="other") == {closed.number}
    assert numbers(technician=lost.technician_id) == {lost.number}
    assert numbers(q="lost lane") == {lost.number}
    assert numbers(q=str(stay.call.number)) == {stay.call.number}
    assert numbers(window_from=TODAY + timedelta(days=30)) == set()


def test_a_call_without_positions_says_that_it_asks_for_no_kit(office_client):
    bare, wanting = make.call(wanted=()), make.call()
    assert "asks for no kit" in body(office_client.get(f"/calls/{bare.number}/"))
    assert "asks for no kit" not in body(office_client.get(f"/calls/{wanting.number}/"))


def test_a_call_that_lost_its_kit_says_why(office_client):
    call = make.call()
    call.needs_kit_why = "K7 came home four days late"
    call.save()
    assert "Needs a kit: K7 came home four days late." in body(office_client.get(call.get_absolute_url()))


def test_the_list_costs_the_same_queries_at_3_and_30_calls(office_client, django_assert_max_num_queries):
    for _ in range(3):
        make.call()
    with django_assert_max_num_queries(15) as few:
        office_client.get("/calls/")
    for _ in range(27):
        make.call()
    with django_assert_max_num_queries(len(few)):
        office_client.get("/calls/")


# -- Choosing a kit ------------------------------------------------------------------------------


def test_the_page_proposes_a_usual_stay_and_follows_other_days(office_client):
    make.shop(usual_stay_days=10, turnaround_days=3)
    make.kit()
    call = make.call(days_ahead=2)
    url = reverse("assign", args=[call.number])
    usual = office_client.get(url).context["chosen"]
    assert usual["take_out_by"] == call.window_from + timedelta(days=10)
    assert usual["back_in_shop_by"] == call.window_from + timedelta(days=13)
    page = body(office_client.get(url, days()))
    assert f'name="take_out_by" value="{days()["take_out_by"]}"' in page


def test_free_kits_stand_in_order_with_one_filled_button_and_the_others_say_why_not(office_client):
    call = make.call(wanted=("SA", "RA"))
    on_truck, shelf = make.kit(name="On his truck"), make.kit(name="On the shelf")
    few = make.kit(name="Few leads", sensors=1)
    broken = make.kit(name="Broken")
    Kit.objects.filter(pk=broken.pk).update(condition=Condition.NEEDS_WORK, condition_why="cracked lid")
    promised = make.stay(kit=make.kit(name="Promised"))
    from sites.actions.custody import take_onto_truck

    take_onto_truck(make.act(call.technician), kit=on_truck, technician=call.technician)
    page = body(office_client.get(reverse("assign", args=[call.number])))
    free, others = page.split("Not these, and why")
    assert free.index("On his truck") < free.index("On the shelf")
    assert "already on" in free and page.count("button-main") == 1
    assert "it carries 1 sensor and the call wants 2 positions" in others and few.name in others
    assert "cracked lid" in others and f"promised to call {promised.call.number}" in others
    assert shelf.name in free


def test_the_page_costs_the_same_queries_at_3_and_20_kits(office_client, django_assert_max_num_queries):
    call = make.call()
    url = reverse("assign", args=[call.number])

    def grow(count: int) -> None:
        for _ in range(count):
            make.kit(sensors=2)

    grow(3)
    with django_assert_max_num_queries(20) as few:
        office_client.get(url)
    grow(17)
    with django_assert_max_num_queries(len(few)):
        office_client.get(url)


def test_what_is_left_to_do_about_a_kit_stands_beside_it(office_client, office):
    call, kit = make.call(), make.kit()
    FollowUp.objects.create(kit=kit, what="Wipe the Wi-Fi", opened_at=timezone.now(), opened_by=office)
    page = body(office_client.get(reverse("assign", args=[call.number])))
    assert page.count("1 still to do about it") == 1


def test_one_tap_plans_the_kit(office_client):
    call, kit = make.call(), make.kit()
    form = {"kit": kit.code, "based_on": str(kit.version), **days()}
    answer = office_client.post(reverse("assign", args=[call.number]), form)
    stay = Deployment.objects.get()
    assert answer.status_code == 302 and answer.url in {stay.get_absolute_url(), call.get_absolute_url()}
    assert (stay.kit, stay.call, stay.stage) == (kit, call, Stage.PLANNED)
    assert str(stay.take_out_by) == days()["take_out_by"]


def test_the_same_tap_sent_twice_plans_once_and_answers_json(office_client):
    call, kit = make.call(), make.kit()
    form = {"kit": kit.code, "request_id": "5a2f1c1e-7e1b-4a53-9c55-2f3f8d6f0a12", **days()}
    url = reverse("assign", args=[call.number])
    answers = [
        office_client.post(url, form, content_type="application/json", headers={"accept": "application/json"})
        for _ in range(2)
    ]
    assert [answer.json()["again"] for answer in answers] == [False, True]
    assert Deployment.objects.count() == 1


def test_who_was_slower_is_told_and_sees_what_is_free_now(office_client):
    slow, fast = make.call(), make.call()
    kit, other = make.kit(name="Wanted"), make.kit(name="Still free")
    form = {"kit": kit.code, "based_on": str(kit.version), **days()}
    planning.plan(make.act(), call=fast, kit=kit, **make.dates(fast))
    answer = office_client.post(reverse("assign", args=[slow.number]), form)
    page = body(answer)
    assert answer.status_code == 409 and "Meanwhile" in page and f"call {fast.number}" in page
    assert other.name in page.split("Not these, and why")[0]
    without_version = office_client.post(reverse("assign", args=[slow.number]), {"kit": kit.code, **days()})
    assert "promised to call" in body(without_version) and "Choose another kit" in body(without_version)
    assert Deployment.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        pytest.param(
            {"back_in_shop_by": TODAY - timedelta(days=1)}, "is past. Give a day from today on", id="past"
        ),
        pytest.param(
            {"take_out_by": TODAY - timedelta(days=1)}, "before the stay begins", id="out before in"
        ),
        pytest.param(
            {"take_out_by": TODAY + timedelta(days=17)}, "before it is taken out", id="home before out"
        ),
        pytest.param({"take_out_by": ""}, "the day the kit must be out of the house", id="no day"),
    ],
)
def test_days_that_cannot_be_are_refused_when_looked_at_and_when_sent(office_client, changes, sentence):
    call, kit = make.call(), make.kit()
    url = reverse("assign", args=[call.number])
    assert sentence in body(office_client.get(url, days(**changes)))
    answer = office_client.post(url, {"kit": kit.code, **days(**changes)})
    assert answer.status_code in {409, 422} and sentence in body(answer)
    assert not Deployment.objects.exists()


def test_a_long_stay_needs_the_manager(office_client, manager_client):
    call, kit = make.call(), make.kit()
    form = days(take_out_by=TODAY + timedelta(days=80), back_in_shop_by=TODAY + timedelta(days=82))
    url = reverse("assign", args=[call.number])
    refused = office_client.post(url, {"kit": kit.code, **form})
    assert refused.status_code == 409 and "needs the manager" in body(refused)
    assert manager_client.post(url, {"kit": kit.code, **form}).status_code == 302


def test_a_code_that_is_no_kits_is_refused(office_client):
    call = make.call()
    answer = office_client.post(reverse("assign", args=[call.number]), {"kit": "ZZZZZZ", **days()})
    assert answer.status_code == 422 and "There is no kit with that code" in body(answer)


def test_a_code_is_read_in_any_case():
    kit = make.kit()
    form = PlanForm({"kit": f" {kit.code.lower()} ", **days()})
    assert form.is_valid() and form.cleaned_data["kit"] == kit


# -- Steps about a stay --------------------------------------------------------------------------


def test_a_later_day_is_agreed(office_client):
    stay = make.stay(Stage.INSTALLED)
    form = {
        "agreed_by": "Ana",
        "agreed_on": TODAY,
        "how": "phone",
        "take_out_by": stay.take_out_by + timedelta(days=7),
        "back_in_shop_by": stay.back_in_shop_by + timedelta(days=7),
        "based_on": str(stay.version),
    }
    url = reverse("extend", args=[stay.pk])
    assert office_client.post(url, form).status_code == 302
    row = stay.extensions.get()
    assert (row.agreed_by, row.take_out_by_before) == ("Ana", stay.take_out_by)
    late = office_client.post(url, {**form, "based_on": ""})
    assert late.status_code == 409 and "already. Give a later day" in body(late)
    assert "Agreed before" in body(office_client.get(url))


def test_a_later_day_that_runs_into_the_next_plan_is_refused_by_name(office_client):
    stay = make.stay(Stage.INSTALLED)
    following = make.call(days_ahead=20)
    planning.plan(make.act(), call=following, kit=stay.kit, **make.dates(following))
    form = {
        "agreed_by": "Ana",
        "agreed_on": TODAY,
        "how": "phone",
        "take_out_by": TODAY + timedelta(days=25),
        "back_in_shop_by": TODAY + timedelta(days=27),
    }
    answer = office_client.post(reverse("extend", args=[stay.pk]), form)
    assert answer.status_code == 409
    assert f"is promised to call {following.number}" in body(answer) and 'value="Ana"' in body(answer)


def test_a_stay_is_called_off_with_a_reason_and_the_call_can_choose_again(office_client):
    stay = make.stay(Stage.PLANNED)
    url = reverse("call_off", args=[stay.pk])
    assert office_client.post(url, {"why": ""}).status_code == 422
    answer = office_client.post(f"{url}?then=assign", {"why": "Customer moved the date"})
    stay.refresh_from_db()
    assert stay.stage == Stage.CALLED_OFF
    assert answer.url == reverse("assign", args=[stay.call.number])
    again = office_client.post(url, {"why": "Once more"})
    assert again.status_code == 409 and "cannot be called off" in body(again)


def test_only_a_manager_gives_a_kit_up(office_client, manager_client):
    stay = make.stay(Stage.INSTALLED)
    url = reverse("not_recovered", args=[stay.pk])
    assert office_client.get(url).status_code == 403
    manager_client.post(url, {"why": "House empty, owner does not answer"})
    stay.refresh_from_db()
    assert stay.stage == Stage.NOT_RECOVERED
    assert Kit.objects.get(pk=stay.kit_id).whereabouts == "missing"


def test_the_day_the_customer_asked_is_kept_and_stands_on_the_day_sheet(office_client):
    stay = make.stay(Stage.INSTALLED)
    url = reverse("customer_asked", args=[stay.pk])
    tomorrow = timezone.now().astimezone(stay.unit.site.zone).date() + timedelta(days=1)
    early = office_client.post(url, {"asked_on": tomorrow})
    assert early.status_code == 409 and "still to come" in body(early)
    today = timezone.now().astimezone(stay.unit.site.zone).date()
    assert office_client.post(url, {"asked_on": today}).status_code == 302
    page = body(office_client.get("/"))
    assert "customer asked" in page and "The customer asked for it today." in page


def test_a_manager_corrects_a_time_in_the_sites_zone_and_both_stay_visible(office_client, manager_client):
    zone = ZoneInfo("America/Los_Angeles")
    call = make.call(unit=make.unit(site=make.site(time_zone=zone.key)))
    stay = make.stay(Stage.INSTALLED, call=call)
    url = reverse("correct_time", args=[stay.pk])
    assert office_client.get(url).status_code == 403
    assert zone.key in body(manager_client.get(url))
    right = (stay.installed_at + timedelta(minutes=20)).astimezone(zone)
    form = {"stage": "installed", "to": right.strftime("%Y-%m-%dT%H:%M"), "why": "Typed from memory"}
    assert manager_client.post(url, form).status_code == 302
    was, stay = stay.installed_at, Deployment.objects.get(pk=stay.pk)
    assert stay.installed_at == right.replace(second=0, microsecond=0)
    event = Event.objects.get(what="time corrected")
    assert event.why == "Typed from memory"
    assert (event.details["was"], event.details["is"]) == (was.isoformat(), stay.installed_at.isoformat())
    future = (timezone.now() + timedelta(days=1)).astimezone(zone).strftime("%Y-%m-%dT%H:%M")
    bad = manager_client.post(url, {**form, "to": future})
    assert bad.status_code == 409 and "still to come" in body(bad) and "Typed from memory" in body(bad)


@pytest.mark.parametrize(
    ("query", "opened"),
    [
        pytest.param("", False, id="all calls"),
        pytest.param("?q=elm&state=closed", False, id="what is in sight"),
        pytest.param("?reason=other", True, id="a reason"),
        pytest.param("?window_from=2026-03-02", True, id="a day"),
    ],
)
def test_what_narrows_the_calls_further_is_folded_away_until_it_is_used(query, opened, office_client):
    make.call()
    page = body(office_client.get(f"/calls/{query}"))
    assert ('<details class="filters-more" open>' in page) is opened
    assert ('<details class="filters-more">' in page) is not opened
    assert 'name="window_until"' in page


@pytest.mark.parametrize(
    "path", ["/calls/", "/calls/new/", "/calls/1001/", "/calls/1001/assign/", "/stays/1/extend/"]
)
def test_these_pages_are_not_a_technicians(technician_client, path):
    assert technician_client.get(path).status_code == 403
