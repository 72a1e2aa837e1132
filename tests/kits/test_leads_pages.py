"""Which lead is which, on the pages: plugged in one at a time, warmed one at a time, typed; named, taken back, refused."""

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from config.demo.leads import Leads, simulated_rom
from kits import live
from kits.actions import leads as actions
from kits.models import Event, KeptAt, Kit, LiveReading, Sensor
from kits.promises import Refused
from kits.telling_leads import Hold, Telling
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture
def kit() -> Kit:
    """Three leads without a name on the bench."""
    made = make.kit(sensors=0)
    for _ in range(3):
        make.sensor(kit=made, tag="")
    return made


def roms_of(kit: Kit) -> list[str]:
    return [row.sensor.rom for row in live.wired(kit)]


def tell(kit: Kit, leads: Leads, seconds: int, *, until: datetime) -> None:
    """What the leads read during `seconds` up to an instant, every two seconds."""
    rows = []
    for left in range(seconds, 0, -2):
        leads.advance(2)
        at = until - timedelta(seconds=left - 2)
        rows += [
            LiveReading(kit=kit, rom=rom, celsius=value, read_at=at, received_at=at)
            for rom, value in leads.read().items()
        ]
    LiveReading.objects.bulk_create(rows)


def held(
    kit: Kit, number: int = 0, *, room: float = 21.0, seconds: int = 50, cold: bool = False
) -> dict[str, str]:
    """A quiet minute, then one lead held for a while that ends now; what the page's address holds then."""
    now = timezone.now()
    leads = Leads(roms_of(kit), room_celsius=room, seed=5)
    began = now - timedelta(seconds=seconds)
    tell(kit, leads, 70, until=began)
    leads.hold(leads.roms[number], cold=cold)
    tell(kit, leads, seconds, until=now)
    return {"began": f"{began.timestamp():.2f}", **({"with": "cold"} if cold else {})}


def name(client, kit: Kit, hold: dict[str, str], **more: str):
    at = f"{timezone.now().timestamp():.2f}"
    return client.post(f"/kits/{kit.code}/leads/", {**hold, "at": at, "tag": "2", **more}, follow=True)


def text(answer) -> str:
    """What the page says, without the joiners that keep a lead's digits on one line."""
    return answer.content.decode().replace("\u2060", "")


# -- Warmed one at a time ------------------------------------------------------------------------------------------------


def test_before_a_lead_is_held_the_page_waits_for_quiet_and_then_asks_for_it(technician_client, kit):
    page = technician_client.get(f"/kits/{kit.code}/leads/")
    assert "This kit sends nothing now" in text(page) and "I hold one now" not in text(page)
    tell(kit, Leads(roms_of(kit)), 70, until=timezone.now())
    page = technician_client.get(f"/kits/{kit.code}/leads/")
    assert "All leads are quiet." in text(page) and "I hold one now" in text(page)
    began = technician_client.get(f"/kits/{kit.code}/leads/", {"hold": "yes"})
    assert began.status_code == 302 and "began=" in began.headers["Location"]


def test_the_lead_that_is_held_is_told_with_its_margin_and_named_in_one_step(technician_client, kit):
    hold = held(kit, 1)
    page = technician_client.get(f"/kits/{kit.code}/leads/", {**hold, "part": "1"})
    rom = roms_of(kit)[1]
    assert f"It is …{rom[-4:]}" in text(page) and "as far as the next" in text(page)
    assert "data-stop" in text(page)  # nothing is asked any more
    answer = name(technician_client, kit, hold, tag_colour="red")
    assert "2 leads of" in text(answer) and f"/labels/?sensor={rom}" in text(answer)
    sensor = Sensor.objects.get(rom=rom)
    assert (sensor.tag, sensor.tag_colour) == ("2", "red")
    event = Event.objects.get(what="lead named")
    assert event.details["margin"] > 3 and event.details["way"] == "hand" and "It is" in event.why


def test_too_early_it_says_keep_holding_and_will_not_name(technician_client, kit):
    hold = held(kit, seconds=12)
    page = technician_client.get(f"/kits/{kit.code}/leads/", hold)
    assert "Not sure yet" in text(page) and "Name it" not in text(page)
    answer = name(technician_client, kit, hold)
    assert answer.status_code == 409 and "Not sure yet" in text(answer)
    assert not Sensor.objects.exclude(tag="").filter(rom__in=roms_of(kit)).exists()


def test_as_warm_as_a_hand_it_refuses_and_proposes_something_cold(technician_client, kit):
    page = technician_client.get(f"/kits/{kit.code}/leads/", held(kit, room=31.0))
    assert "Too near to tell" in text(page) and "Use a cold can or a wet cloth" in text(page)
    LiveReading.objects.all().delete()
    hold = held(kit, room=31.0, cold=True)
    assert f"It is …{roms_of(kit)[0][-4:]}" in text(technician_client.get(f"/kits/{kit.code}/leads/", hold))
    assert "Cool one lead at a time" in text(name(technician_client, kit, hold))
    assert Event.objects.get(what="lead named").details["way"] == "cold"


def test_when_all_move_or_two_lead_it_refuses_and_says_what_to_do(technician_client, kit):
    now = timezone.now()
    for moving, says in ((3, "leads move together"), (2, "Two leads move")):
        LiveReading.objects.all().delete()
        leads = Leads(roms_of(kit), seed=3)
        began = now - timedelta(seconds=50)
        tell(kit, leads, 70, until=began)
        for left in range(50, 0, -2):
            leads.present = {
                rom: celsius + (0.25 if place < moving else 0)
                for place, (rom, celsius) in enumerate(leads.present.items())
            }
            at = now - timedelta(seconds=left - 2)
            for rom, value in leads.read().items():
                LiveReading.objects.create(kit=kit, rom=rom, celsius=value, read_at=at, received_at=at)
        page = technician_client.get(f"/kits/{kit.code}/leads/", {"began": f"{began.timestamp():.2f}"})
        assert says in text(page) and "begin again" in text(page).lower()


def test_the_last_lead_is_known_by_elimination_and_still_confirmed(technician_client, kit):
    for rom, tag in zip(roms_of(kit)[:2], ("1", "3"), strict=True):
        Sensor.objects.filter(rom=rom).update(tag=tag)
    page = technician_client.get(f"/kits/{kit.code}/leads/")
    assert "Nothing was measured" in text(page) and 'value="1"' not in text(page)
    assert "confirm" in text(name(technician_client, kit, {}))
    assert "Every lead of" in text(name(technician_client, kit, {}, confirmed="on"))
    assert Event.objects.get(what="lead named").details["way"] == "elimination"


def test_a_tape_that_another_lead_has_is_not_given_again(technician_client, kit):
    Sensor.objects.filter(rom=roms_of(kit)[2]).update(tag="2a")
    answer = name(technician_client, kit, held(kit), tag="other", tag_other="2A")
    assert answer.status_code == 409 and "is on another lead of this kit" in text(answer)
    assert "Type what stands on the tape" in text(name(technician_client, kit, held_again(kit), tag="other"))


def held_again(kit: Kit) -> dict[str, str]:
    LiveReading.objects.all().delete()
    return held(kit)


def test_the_name_given_last_is_taken_back_and_only_that(technician_client, kit):
    name(technician_client, kit, held(kit), tag="2")
    first = Sensor.objects.get(rom=roms_of(kit)[0])
    assert "3 leads of" in text(technician_client.post(f"/kits/{kit.code}/leads/undo/", {}, follow=True))
    first.refresh_from_db()
    assert first.tag == ""
    again = technician_client.post(f"/kits/{kit.code}/leads/undo/", {})
    assert again.status_code == 409 and "nothing to take back" in text(again)
    with pytest.raises(Refused, match="Only the name given last"):
        actions.undo_name(make.act(), sensor=first)


def test_a_name_changed_meanwhile_is_not_taken_back(technician_client, kit):
    name(technician_client, kit, held(kit), tag="2")
    Sensor.objects.filter(rom=roms_of(kit)[0]).update(tag="4")
    answer = technician_client.post(f"/kits/{kit.code}/leads/undo/", {})
    assert answer.status_code == 409 and "changed meanwhile, to 4" in text(answer)


@pytest.mark.parametrize("nonsense", ["nan", "inf", "-1e400", "soon", "1", "99999999999"])
def test_a_hold_that_cannot_be_was_never_begun(technician_client, kit, nonsense):
    tell(kit, Leads(roms_of(kit)), 70, until=timezone.now())
    page = technician_client.get(f"/kits/{kit.code}/leads/", {"began": nonsense, "released": nonsense})
    assert page.status_code == 200 and "I hold one now" in text(page)


# -- Typed ---------------------------------------------------------------------------------------------------------------


def typed(kit: Kit, before: list[str], after: list[str], **more: str) -> dict[str, str]:
    found = {}
    for rom, first, second in zip(roms_of(kit), before, after, strict=True):
        found |= {f"before-{rom}": first, f"after-{rom}": second}
    return {**found, **more}


def test_typed_values_tell_the_lead_and_name_it(technician_client, kit):
    make.shop(temperature_unit="F")
    values = typed(kit, ["70.5", "70,2", "71"], ["70.6", "79.5", "70.9"])
    page = technician_client.post(f"/kits/{kit.code}/leads/typed/", values)
    assert f"It is …{roms_of(kit)[1][-4:]}" in text(page) and 'value="79.5"' in text(page)
    answer = technician_client.post(
        f"/kits/{kit.code}/leads/typed/", {**values, "name": "yes", "tag": "5"}, follow=True
    )
    assert "2 leads" in text(answer) or "named 5" in text(answer)
    assert Sensor.objects.get(rom=roms_of(kit)[1]).tag == "5"
    assert Event.objects.get(what="lead named").details["way"] == "typed"


def test_the_last_lead_needs_no_values(technician_client, kit):
    Sensor.objects.filter(rom__in=roms_of(kit)[:2]).update(tag="x")
    answer = technician_client.get(f"/kits/{kit.code}/leads/typed/", follow=True)
    assert "One lead is left" in text(answer) and "I have looked" in text(answer)


def test_what_is_no_number_is_told_beside_its_box_and_nothing_typed_is_lost(technician_client, kit):
    page = technician_client.post(
        f"/kits/{kit.code}/leads/typed/", typed(kit, ["warm", "21", "21"], ["21", "29", "21"])
    )
    assert page.status_code == 422 and "“warm” is no number" in text(page) and 'value="29"' in text(page)


def test_a_value_that_is_missing_keeps_the_lead_from_being_ruled_out(technician_client, kit):
    page = technician_client.post(
        f"/kits/{kit.code}/leads/typed/", typed(kit, ["21", "21", ""], ["21", "29", "21"])
    )
    assert "cannot be ruled out" in text(page)


# -- Plugged in one at a time --------------------------------------------------------------------------------------------


def test_each_lead_that_appears_is_asked_for_and_all_go_into_the_books_in_one_step(technician_client):
    kit, spare = make.kit(sensors=0), make.sensor(tag="")
    roms = [simulated_rom(1), spare.rom]
    now = timezone.now()
    began = now - timedelta(seconds=60)
    for number, rom in enumerate(roms):
        for second in range(20 * (number + 1), 60, 2):
            at = began + timedelta(seconds=second)
            LiveReading.objects.create(kit=kit, rom=rom, celsius=21, read_at=at, received_at=at)
    address = f"/kits/{kit.code}/leads/plug/"
    watch = {"began": f"{began.timestamp():.2f}"}
    page = technician_client.get(address, watch)
    assert f"New: …{roms[0][-4:]}. Which tape?" in text(page) and "new to the shop" in text(page)
    part = technician_client.get(address, {**watch, "part": "1", "rom": roms, f"tag-{roms[0]}": "1"})
    assert f"New: …{roms[1][-4:]}. Which tape?" in text(part) and "a spare, kept: bench" in text(part)
    before = Event.objects.count()
    sent = {**watch, "rom": roms, f"tag-{roms[0]}": "1", f"tag-{roms[1]}": "2", f"colour-{roms[1]}": "blue"}
    technician_client.post(address, sent)
    assert Event.objects.count() == before + 1
    assert [(row.terminal, row.sensor.rom, row.sensor.tag) for row in live.wired(kit)] == [
        (1, roms[0], "1"),
        (2, roms[1], "2"),
    ]
    spare.refresh_from_db()
    assert spare.tag_colour == "blue" and spare.spare_place is None


def test_two_that_appear_at_once_are_not_told_apart_by_luck(technician_client):
    kit = make.kit(sensors=0)
    at = timezone.now()
    for rom in (simulated_rom(1), simulated_rom(2)):
        LiveReading.objects.create(kit=kit, rom=rom, celsius=21, read_at=at, received_at=at)
    page = technician_client.get(f"/kits/{kit.code}/leads/plug/", {"began": f"{at.timestamp() - 5:.2f}"})
    assert "Two new at once" in text(page) and "data-row=" not in text(page)


def test_without_live_readings_a_list_from_a_console_does(technician_client):
    kit = make.kit(sensors=0)
    one, two = simulated_rom(3), simulated_rom(4)
    spaced = " ".join(two[place : place + 2] for place in range(0, 16, 2))
    address = f"/kits/{kit.code}/leads/plug/"
    page = technician_client.get(address, {"list": f"ROM {one.lower()}\n{spaced}\n28FF641E0F000035"})
    assert (
        f'data-row="{one}"' in text(page)
        and f'data-row="{two}"' in text(page)
        and "The CRC does not fit" in text(page)
    )
    technician_client.post(address, {"rom": [one, two], f"tag-{one}": "1", f"out-{two}": "on"})
    assert [row.sensor.rom for row in live.wired(kit)] == [one]


@pytest.mark.parametrize(
    ("found", "says"),
    [
        (lambda kit, there: [], "No sensor was found yet"),
        (lambda kit, there: [actions.Found("28FF")], "sixteen digits"),
        (lambda kit, there: [actions.Found(simulated_rom(1))] * 2, "in the list twice"),
        (
            lambda kit, there: [actions.Found(simulated_rom(n), tag="1") for n in (1, 2)],
            "Tape 1 is chosen for",
        ),
        (
            lambda kit, there: [actions.Found(simulated_rom(n), terminal=2) for n in (1, 2)],
            "Terminal 2 is chosen twice",
        ),
        (
            lambda kit, there: [actions.Found(simulated_rom(n)) for n in range(6)],
            "5 free terminals, and 6 new",
        ),
        (lambda kit, there: [actions.Found(there.rom)], "by the books. Take it out there first"),
    ],
    ids=["nothing", "no ROM ID", "twice", "a tape twice", "a terminal twice", "too many", "in another kit"],
)
def test_found_sensors_that_cannot_go_in_are_told_why_and_none_goes_in(found, says):
    kit, there = make.kit(sensors=0), make.sensor(kit=make.kit(sensors=0))
    with pytest.raises(Refused, match=says):
        actions.add_found_sensors(make.act(), kit=kit, found=found(kit, there))
    assert live.wired(kit) == []


def test_a_bare_lead_of_this_kit_is_named_and_a_taped_one_is_not(kit):
    rom = roms_of(kit)[0]
    actions.add_found_sensors(make.act(), kit=kit, found=[actions.Found(rom, tag="1")])
    assert Sensor.objects.get(rom=rom).tag == "1"
    with pytest.raises(Refused, match="already, with tape 1"):
        actions.add_found_sensors(make.act(), kit=kit, found=[actions.Found(rom, tag="2")])


def test_a_scrapped_sensor_does_not_come_back_by_the_wire():
    from kits.actions.sensors import keep_spare

    spare = make.sensor()
    keep_spare(make.act(), sensor=spare, place=KeptAt.SCRAPPED, why="Cut")
    with pytest.raises(Refused, match="was scrapped: Cut"):
        actions.add_found_sensors(make.act(), kit=make.kit(sensors=0), found=[actions.Found(spare.rom)])


def test_what_was_watched_for_longer_than_readings_are_kept_still_opens(technician_client, kit):
    long_ago = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    page = technician_client.get(
        f"/kits/{kit.code}/leads/plug/", {"began": str(long_ago), "rom": simulated_rom(9)}
    )
    assert page.status_code == 200 and f'data-row="{simulated_rom(9)}"' in text(page)


def test_what_goes_slowly_is_let_go_first_and_has_to_come_back(technician_client, kit, monkeypatch):
    monkeypatch.setattr("config.demo.leads.TAU_HAND_S", 75.0)  # through a glove
    now = timezone.now()
    began, released = now - timedelta(seconds=150), now - timedelta(seconds=60)
    leads = Leads(roms_of(kit), seed=5)
    tell(kit, leads, 70, until=began)
    leads.hold(leads.roms[0])
    tell(kit, leads, 90, until=released)
    address = f"/kits/{kit.code}/leads/"
    hold = {"began": f"{began.timestamp():.2f}"}
    # At the instant of letting go the readings end there.
    page = technician_client.get(address, {**hold, "let_go": "yes"})
    assert page.status_code == 302 and "released=" in page.headers["Location"]
    at_release = Telling(kit, Hold(began.timestamp()), released.timestamp(), "C")
    assert at_release.judgement.let_go and not at_release.judgement.is_decided
    leads.hold(None)
    tell(kit, leads, 60, until=now)
    hold["released"] = f"{released.timestamp():.2f}"
    page = technician_client.get(address, hold)
    assert "let go, it came back by" in text(page)
    assert name(technician_client, kit, hold).status_code == 200
    assert Sensor.objects.get(rom=roms_of(kit)[0]).tag == "2"


def test_while_it_should_be_let_go_the_page_has_the_button_for_it(technician_client, kit, monkeypatch):
    monkeypatch.setattr("config.demo.leads.TAU_HAND_S", 75.0)
    page = technician_client.get(f"/kits/{kit.code}/leads/", held(kit, seconds=80))
    assert "Let go now" in text(page) and "I have let go" in text(page)
