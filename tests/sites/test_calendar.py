"""A person's calendar: what stands in it for whom, the secret that opens it, and where that secret must not be found."""

import json
import logging
import re
from datetime import date, timedelta
from uuid import uuid4

import icalendar
import pytest
from django.contrib.sessions.models import Session
from django.db import IntegrityError, transaction
from django.test import Client
from django.utils import timezone

from config.logs import HideSecretAddresses
from kits.models import Event, EventAbout, Receipt, User
from kits.promises import Refused
from sites.actions import calendar as actions
from sites.actions import planning
from sites.calendar import calendar_of, token_sha256
from sites.models import CalendarAddress, Deployment, Stage
from tests import make
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db

ADDRESS = re.compile(r'value="(http://testserver/calendar/([^"/]+)\.ics)"')


def made(client: Client) -> str:
    """Press the button; the path of the address that the answer shows."""
    answer = client.post("/my-calendar/", {"request_id": str(uuid4())})
    assert answer.status_code == 200
    (found,) = ADDRESS.findall(answer.content.decode())
    return f"/calendar/{found[1]}.ics"


def events_of(user: User) -> list[icalendar.Event]:
    return icalendar.Calendar.from_ical(calendar_of(user)).walk("VEVENT")


def titles(user: User) -> list[str]:
    return sorted(str(event["SUMMARY"]) for event in events_of(user))


# -- What stands in it -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "stage, words",
    [
        (Stage.PLANNED, ["Back in shop by", "Put in", "Take out by"]),
        (Stage.LOADED, ["Back in shop by", "Put in", "Take out by"]),
        (Stage.INSTALLED, ["Back in shop by", "Take out by"]),
        (Stage.REMOVED, ["Back in shop by"]),
        (Stage.HANDED_BACK, []),
    ],
)
def test_what_is_still_to_be_done_stands_in_the_calendar(stage, words, office):
    make.stay(stage)
    assert [title.split(":")[0] for title in titles(office)] == words


def test_the_days_are_those_of_the_books(office):
    stay = make.stay(Stage.LOADED, call=make.call(days_ahead=1))
    days = {
        str(event["SUMMARY"]).split(":")[0]: (event.decoded("DTSTART"), event.decoded("DTEND"))
        for event in events_of(office)
    }
    one = timedelta(days=1)
    assert days == {
        "Put in": (stay.call.window_from, stay.call.window_until + one),
        "Take out by": (stay.take_out_by, stay.take_out_by + one),
        "Back in shop by": (stay.back_in_shop_by, stay.back_in_shop_by + one),
    }


def test_a_call_without_a_kit_stands_there_until_it_has_one(office):
    call = make.call(days_ahead=2)
    assert titles(office) == [f"Needs a kit: {call.unit.site}"]
    planning.plan(make.act(office), call=call, kit=make.kit(), **make.dates(call))
    assert not [title for title in titles(office) if title.startswith("Needs a kit")]


def test_what_was_called_off_is_gone(office):
    stay = make.stay()
    planning.call_off(make.act(office), stay=stay, why="The house is sold")
    planning.close_call(make.act(office), call=stay.call, why="Sold the house")
    assert titles(office) == []


def test_technicians_have_their_own_work_and_the_office_everybodys(office, manager):
    ben, tom = make.technician(name="Ben"), make.technician(name="Tom")
    for who in (ben, tom):
        make.stay(Stage.INSTALLED, call=make.call(technician=who))
        make.call(technician=who)
    assert len(titles(ben)) == len(titles(tom)) == 3
    assert not set(titles(ben)) & set(titles(tom))
    assert titles(office) == titles(manager) == sorted(titles(ben) + titles(tom))


def test_a_kit_that_rides_on_ones_truck_is_ones_own(technician):
    stay = make.stay(Stage.INSTALLED)
    assert titles(technician) == []
    from sites.actions import stays

    pull = stays.Pull(pulled_by=str(technician), ports_closed=2, wire_restored=True, system_ran=True)
    stays.remove(make.act(technician), kit=stay.kit, carrier=technician, pull=pull)
    assert titles(technician) == [f"Back in shop by: {stay.kit.name}"]


def test_no_customer_is_named_and_no_number_told(office):
    site = make.site(
        contact_name="Eleanor Vance",
        contact_phone="+1 201 555 0106",
        access_notes="The key is under the pot",
        latitude="40.90110",
        longitude="-74.20150",
    )
    make.stay(Stage.LOADED, call=make.call(unit=make.unit(site=site), told_us="It ices over"))
    feed = calendar_of(office).decode().replace("\r\n ", "")
    for private in ("Eleanor", "555 0106", "5550106", "under the pot", "ices over"):
        assert private not in feed
    assert site.street in feed
    assert "GEO:40.90110;-74.20150" in feed


def test_an_entry_keeps_its_name_and_counts_its_changes(office):
    stay = make.stay(Stage.INSTALLED)

    def told() -> dict[str, tuple[int, object, date]]:
        return {
            str(event["UID"]): (event["SEQUENCE"], event.decoded("DTSTAMP"), event.decoded("DTSTART"))
            for event in events_of(office)
        }

    before = told()
    assert told() == before  # asked again, nothing moves: the stamp is the books', not the clock's
    later = stay.take_out_by + timedelta(days=3)
    at = timezone.now() + timedelta(seconds=90)
    planning.extend(
        make.act(office, at=at),
        stay=Deployment.objects.get(pk=stay.pk),
        take_out_by=later,
        back_in_shop_by=later + timedelta(days=2),
        agreed_by="The owner",
        agreed_on=timezone.localdate(),
        how="phone",
    )
    after = told()
    assert set(after) == set(before) and len(before) == 2
    assert all(after[uid][0] > before[uid][0] and after[uid][1] > before[uid][1] for uid in before)
    assert later in {day for _, _, day in after.values()}


def test_entries_have_names_of_their_own_across_shops(office, monkeypatch):
    make.stay()
    here = {str(event["UID"]) for event in events_of(office)}
    monkeypatch.setattr("sites.calendar.Event.objects.order_by", lambda *_: Event.objects.filter(pk=0))
    elsewhere = {str(event["UID"]) for event in events_of(office)}
    assert len(here) == 3 and not here & elsewhere


def test_links_lead_to_the_host_of_the_shop(office, settings):
    make.shop(label_host="kits.example.com")
    stay = make.stay()
    settings.HTTPS = True
    assert {str(event["URL"]) for event in events_of(office)} == {
        f"https://kits.example.com/stays/{stay.pk}/"
    }


@pytest.mark.parametrize("role", ["office", "technician"])
def test_the_number_of_queries_does_not_grow(django_assert_max_num_queries, django_assert_num_queries, role):
    who = make.user(role=role)
    technician = who if who.is_technician else make.technician()

    def add(number: int) -> None:
        for _ in range(number):
            make.stay(
                Stage.INSTALLED, kit=make.kit(sensors=1), call=make.call(wanted=["SA"], technician=technician)
            )
            make.call(technician=technician)

    add(3)
    with django_assert_max_num_queries(5) as few:
        assert len(events_of(who)) == 9
    add(12)
    with django_assert_num_queries(len(few)):
        assert len(events_of(who)) == 45


# -- The address -----------------------------------------------------------------------------------


def test_the_address_is_shown_once_and_opens_the_calendar_signed_out(technician):
    client = signed_in(technician)
    stay = make.stay(Stage.INSTALLED, call=make.call(technician=technician))
    path = made(client)
    page = client.get("/my-calendar/").content.decode()
    assert path not in page and "Make a new address" in page
    answer = Client().get(path)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert "private" in answer.headers["Cache-Control"]
    assert stay.kit.name in answer.content.decode()
    assert not answer.cookies


def test_the_secret_has_128_bits_and_more(technician_client):
    token = made(technician_client).removeprefix("/calendar/").removesuffix(".ics")
    assert len(token) * 6 >= 256  # each character of base64 tells six bits
    assert made(technician_client) != f"/calendar/{token}.ics"


def test_asked_again_with_nothing_new_it_answers_in_a_word(technician_client):
    path = made(technician_client)
    tag = Client().get(path).headers["ETag"]
    assert Client().get(path, headers={"If-None-Match": tag}).status_code == 304


def test_unknown_and_revoked_addresses_are_answered_alike(technician_client):
    path = made(technician_client)
    assert Client().get(path).status_code == 200
    done = technician_client.post("/my-calendar/revoke/", {"request_id": str(uuid4())})
    assert (done.status_code, done.headers["Location"]) == (302, "/my-calendar/")
    answers = [Client().get(one) for one in (path, "/calendar/never-made.ics", "/nowhere/")]
    assert {answer.status_code for answer in answers} == {404}
    assert len({re.sub(rb'nonce="[^"]+"', b"", answer.content) for answer in answers}) == 1


def test_a_new_address_revokes_the_former_one(technician_client):
    first, second = made(technician_client), made(technician_client)
    assert [Client().get(path).status_code for path in (first, second)] == [404, 200]


def test_one_person_s_address_is_revoked_by_that_person_alone(office_client, technician_client):
    path = made(technician_client)
    answer = office_client.post("/my-calendar/revoke/", {"request_id": str(uuid4())})
    assert answer.status_code == 409
    assert "You have no calendar address now" in answer.content.decode()
    assert Client().get(path).status_code == 200


def test_who_may_no_longer_sign_in_has_no_calendar_any_more(technician, technician_client):
    path = made(technician_client)
    User.objects.filter(pk=technician.pk).update(is_active=False)
    assert Client().get(path).status_code == 404


def test_the_same_request_twice_makes_one_address_and_shows_it_once(technician, technician_client):
    sent = {"request_id": str(uuid4())}
    first = technician_client.post("/my-calendar/", sent)
    again = technician_client.post("/my-calendar/", sent)
    ((_, token),) = ADDRESS.findall(first.content.decode())
    assert (again.status_code, again.headers["Location"]) == (302, "/my-calendar/")
    assert CalendarAddress.objects.count() == 1
    assert Client().get(f"/calendar/{token}.ics").status_code == 200


def test_of_one_request_sent_twice_at_once_only_the_first_shows_an_address(technician_client, monkeypatch):
    """The second looked for an earlier answer before there was one."""
    sent = {"request_id": str(uuid4())}
    path = ADDRESS.findall(technician_client.post("/my-calendar/", sent).content.decode())[0][1]
    monkeypatch.setattr("kits.web.done_before", lambda request, form: None)
    again = technician_client.post("/my-calendar/", sent)
    assert (again.status_code, again.headers["Location"]) == (302, "/my-calendar/")
    assert Client().get(f"/calendar/{path}.ics").status_code == 200


def test_a_program_gets_the_address_in_its_answer_once(technician_client):
    sent = {"request_id": str(uuid4())}
    as_json = {"Accept": "application/json"}
    first = technician_client.post("/my-calendar/", sent, headers=as_json).json()
    again = technician_client.post("/my-calendar/", sent, headers=as_json).json()
    assert Client().get(first["address"].removeprefix("http://testserver")).status_code == 200
    assert again["again"] is True and "address" not in again


def test_the_secret_is_nowhere_but_in_the_one_answer(technician, technician_client, caplog):
    answer = technician_client.post("/my-calendar/", {"request_id": str(uuid4())})
    ((_, token),) = ADDRESS.findall(answer.content.decode())
    assert "no-store" in answer.headers["Cache-Control"]
    (row,) = CalendarAddress.objects.all()
    assert row.token_sha256 == token_sha256(token) != token
    kept = [
        json.dumps(list(model.objects.values()), default=str)
        for model in (CalendarAddress, Event, EventAbout, Receipt)
    ]
    kept += [json.dumps(session.get_decoded()) for session in Session.objects.all()]
    assert all(kept)
    assert [told for told in kept if token in told] == []
    # An event tells that an address was made, nothing by which it could be found.
    assert [told for told in kept[1:] if row.token_sha256 in told] == []
    assert Event.objects.get(what="calendar address made").summary == "Calendar address made"


@pytest.mark.parametrize(
    "message, arguments",
    [
        ("Not Found: %s", ("/calendar/{token}.ics",)),
        ('"%s" %s %s', ("GET /calendar/{token}.ics HTTP/1.1", "404", "12")),
        ("Service Unavailable: /calendar/{token}.ics", ()),
    ],
)
def test_the_log_hides_the_secret(message, arguments):
    token = "abc_DEF-0123456789"
    told = tuple(word.format(token=token) for word in arguments)
    record = logging.LogRecord("django", 30, "", 0, message.replace("{token}", token), told, None)
    assert HideSecretAddresses().filter(record)
    assert token not in record.getMessage()
    assert "/calendar/....ics" in record.getMessage()


def test_every_handler_of_the_log_hides_the_secret(settings):
    handlers = settings.LOGGING["handlers"]
    assert handlers and all(handler["filters"] == ["secrets"] for handler in handlers.values())
    used = {name for logger in settings.LOGGING["loggers"].values() for name in logger.get("handlers", [])}
    assert used <= set(handlers) and {"django", "django.server"} <= set(settings.LOGGING["loggers"])


# -- The promises ----------------------------------------------------------------------------------


def test_a_second_living_address_is_refused_by_the_database(technician):
    now = timezone.now()
    CalendarAddress.objects.create(user=technician, token_sha256="a" * 64, made_at=now)
    with pytest.raises(IntegrityError), transaction.atomic():
        CalendarAddress.objects.create(user=technician, token_sha256="b" * 64, made_at=now)
    CalendarAddress.objects.create(user=technician, token_sha256="b" * 64, made_at=now, revoked_at=now)


def test_nothing_to_revoke_is_told(office):
    with pytest.raises(Refused, match="nothing to revoke"):
        actions.revoke_calendar_address(make.act(office))
