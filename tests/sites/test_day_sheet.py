"""The day sheet: what has to move today, what is late, what is about to go wrong, asked at a given instant."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.utils import timezone

from kits.actions.custody import follow_up
from kits.models import Kit, Place
from sites.actions import custody, planning
from sites.actions.places import house_sold
from sites.day_lines import Line
from sites.day_sheet import DaySheet, day_sheet
from sites.models import Deployment, ServiceCall, Stage
from tests import make

pytestmark = pytest.mark.django_db

# Noon in New York, a Wednesday; the shop and the houses of tests.make lie there.
NOON = datetime(2026, 4, 15, 16, tzinfo=UTC)
TODAY = date(2026, 4, 15)


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


def body(answer) -> str:
    return answer.content.decode()


def due(stay: Deployment, *, out: int, back: int) -> Deployment:
    """The stay with its two days so many days from today."""
    stay.take_out_by, stay.back_in_shop_by = TODAY + timedelta(days=out), TODAY + timedelta(days=back)
    stay.save()
    return stay


def words(lines: list[Line]) -> list[str]:
    return [line.word for line in lines]


def leaving(sheet: DaySheet) -> list[Line]:
    return [line for _, lines in sheet.leaves for line in lines]


# -- An empty shop -------------------------------------------------------------------------------


def test_a_shop_without_kits_is_led_to_its_first(office_client):
    assert 'href="/kits/new/">build the first</a>' in body(office_client.get("/"))
    make.stay(Stage.INSTALLED)
    page = body(office_client.get("/"))
    assert "Now 1 in a house." in page and "build the first" not in page


def test_a_quiet_day_says_so_in_every_part(office_client):
    page = body(office_client.get("/"))
    assert "Nothing is late and nobody waits for a call" in page
    for sentence in (
        "Nobody has to be called.",
        "No kit leaves today or tomorrow.",
        "Nothing is due in the next three days.",
        "The bench is clear.",
    ):
        assert sentence in page


def test_the_parts_stand_in_the_order_in_which_they_are_read(office_client):
    page = body(office_client.get("/"))
    heads = [page.index(f"<h2>{head}</h2>") for head in ("Call someone now", "Leaves", "Comes home", "Bench")]
    assert heads == sorted(heads)
    assert page.count("button-main") == 1


def test_a_technician_starts_at_the_truck(technician_client):
    assert technician_client.get("/").url == "/truck/"


# -- Call someone now ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("out", "late"),
    [
        pytest.param(-4, True, id="four days ago"),
        pytest.param(-1, True, id="yesterday"),
        pytest.param(0, False, id="today is not late"),
    ],
)
def test_a_kit_is_late_from_the_day_after_it_should_be_out(out, late):
    stay = due(make.stay(Stage.INSTALLED), out=out, back=2)
    lines = day_sheet(NOON).call_now
    assert words(lines) == (["late"] if late else [])
    if late:
        assert lines[0].kit == stay.kit and lines[0].actions[0][1] == stay.get_absolute_url()


def test_the_day_of_the_house_decides_not_the_shops():
    """23:30 in New York is the next day in Halifax: there the kit is late already."""
    half_past_eleven = datetime(2026, 4, 16, 3, 30, tzinfo=UTC)
    east = make.call(unit=make.unit(site=make.site(time_zone="America/Halifax")))
    stay = due(make.stay(Stage.INSTALLED, call=east), out=0, back=2)
    stay.holds_until = stay.holds_from + timedelta(days=2)
    stay.save()
    due(make.stay(Stage.INSTALLED), out=0, back=2)
    assert [line.call for line in day_sheet(half_past_eleven).call_now if line.word == "late"] == [east]
    following = make.call(days_ahead=9)
    planning.plan(make.act(), call=following, kit=stay.kit, **make.dates(following))
    assert "kit not home" in words(day_sheet(half_past_eleven).call_now)


@pytest.mark.parametrize(
    ("stage", "says"),
    [
        (Stage.REMOVED, "It came out of the house; it is on"),
        (Stage.LOADED, "It was loaded and never installed; it is on"),
    ],
)
def test_a_kit_not_back_in_the_shop_is_late_and_its_technician_is_to_be_called(stage, says):
    ben = make.technician(name="Ben Ortiz", phone="201 555 0111")
    due(make.stay(stage, call=make.call(technician=ben)), out=-5, back=-2)
    line = next(line for line in day_sheet(NOON).call_now if line.word == "late")
    assert "should have been back in the shop on Mon 13 Apr 2026, 2 days ago" in line.what.replace(
        "Mon 13 Apr,", "Mon 13 Apr 2026,"
    )
    assert says in line.what
    assert [(who.name, who.phone) for who in line.contacts] == [("Ben Ortiz", "201 555 0111")]


def test_the_latest_kit_stands_first_and_the_headline_counts():
    due(make.stay(Stage.INSTALLED), out=-2, back=1)
    worst = due(make.stay(Stage.INSTALLED), out=-9, back=1)
    make.call(days_ahead=1)
    sheet = day_sheet(NOON)
    assert sheet.call_now[0].kit == worst.kit
    assert sheet.headline == "2 kits are late, 1 call needs a kit"


def test_a_line_names_the_people_at_the_house_of_today():
    stay = due(make.stay(Stage.INSTALLED), out=-1, back=1)
    site = stay.unit.site
    ago = TODAY - timedelta(days=300)
    site.parties.create(
        customer=make.customer("Gone", phone="201 555 0101"), part="lives_there", since=ago, until=ago
    )
    site.parties.create(customer=make.customer("Here", phone="201 555 0102"), part="owns", since=ago)
    assert "Here" in {who.name for who in day_sheet(NOON).call_now[0].contacts}
    site.contact_name, site.contact_phone = "Porter", "201 555 0103"
    site.save()
    names = {who.name for who in day_sheet(NOON).call_now[0].contacts}
    assert "Porter" in names and not {"Here", "Gone"} & names


@pytest.mark.parametrize(
    ("days_ahead", "wanted", "why", "shown"),
    [
        pytest.param(0, ("SA",), "", True, id="begins today"),
        pytest.param(7, ("SA",), "", True, id="begins in a week"),
        pytest.param(8, ("SA",), "", False, id="begins later"),
        pytest.param(8, ("SA",), "K7 went missing", True, id="lost its kit"),
        pytest.param(0, (), "", False, id="wants nothing watched"),
        pytest.param(8, (), "K7 went missing", True, id="lost its kit, no position named"),
    ],
)
def test_a_call_needs_a_kit(days_ahead, wanted, why, shown):
    call = make.call(days_ahead=days_ahead, wanted=wanted)
    ServiceCall.objects.filter(pk=call.pk).update(needs_kit_why=why)
    sheet = day_sheet(NOON)
    assert (words(sheet.call_now) == ["needs a kit"]) == shown
    assert sheet.later_calls == (1 if wanted and not shown else 0)


def test_a_call_that_lost_its_kit_to_another_truck_says_so():
    stay = make.stay(Stage.LOADED)
    thief = make.technician(name="Ana Teixeira")
    custody.take_onto_truck(make.act(thief), kit=stay.kit, technician=thief)
    line = next(line for line in day_sheet(NOON).call_now if line.word == "needs a kit")
    assert line.call == stay.call and "taken onto Ana Teixeira's truck" in line.what
    assert line.actions[0][1] == f"/calls/{stay.call.number}/assign/"


def test_a_promise_of_a_kit_that_is_late_elsewhere_is_a_conflict():
    late = make.stay(Stage.INSTALLED)
    following = make.call(days_ahead=20)
    planning.plan(make.act(), call=following, kit=late.kit, **make.dates(following))
    assert "kit not home" not in words(day_sheet(NOON).call_now)
    due(late, out=-3, back=1)
    line = next(line for line in day_sheet(NOON).call_now if line.word == "kit not home")
    assert line.call == following and str(late.unit.site) in line.what
    assert line.actions[0] == ("Choose another kit", f"/stays/{line.stay.pk}/call-off/?then=assign")


def test_a_promise_of_a_kit_that_needs_work_is_in_trouble():
    stay = make.stay(call=make.call(days_ahead=3))
    Kit.objects.filter(pk=stay.kit_id).update(condition="needs_work", condition_why="cracked lid")
    line = day_sheet(NOON).call_now[0]
    assert line.word == "kit needs work" and "cracked lid" in line.what


@pytest.mark.parametrize(
    ("sensors", "wanted", "said"),
    [
        pytest.param(2, ("SA", "RA"), "", id="just enough"),
        pytest.param(1, ("SA", "RA"), "carries 1 lead. Call {} begins on", id="one short"),
        pytest.param(0, ("SA", "RA"), "carries no lead. Call {} begins on", id="none left"),
        pytest.param(0, (), "carries no lead. Call {} begins on", id="none left, nothing named"),
    ],
)
def test_a_promise_of_a_kit_with_too_few_leads_is_in_trouble(sensors, wanted, said):
    """A kit came home short, or lost its leads at the bench, after it was promised."""
    stay = make.stay(call=make.call(days_ahead=3, wanted=wanted), kit=make.kit(sensors=max(len(wanted), 1)))
    for wiring in stay.kit.wirings.order_by("terminal")[sensors:]:
        wiring.wired_until = NOON
        wiring.save()
    lines = [line for line in day_sheet(NOON).call_now if line.word == "kit short"]
    assert [line.what.startswith(said.format(stay.call.number)) for line in lines] == ([True] if said else [])


def test_a_promised_kit_on_the_wrong_truck_says_so_before_it_should_leave():
    stay = make.stay(call=make.call(days_ahead=1, technician=make.technician()))
    ben = make.technician(name="Ben Example")
    custody.take_onto_truck(make.act(ben), kit=stay.kit, technician=ben)
    (line,) = leaving(day_sheet(NOON))
    assert "It rides on Ben Example's truck: call them." in line.what and line.tone == "attention"


@pytest.mark.parametrize(
    ("stage", "days_ahead", "word"),
    [
        pytest.param(Stage.PLANNED, 1, None, id="goes out tomorrow"),
        pytest.param(Stage.PLANNED, 0, "not loaded", id="goes out today, not loaded"),
        pytest.param(Stage.PLANNED, -3, "not loaded", id="window has passed"),
        pytest.param(Stage.LOADED, -2, None, id="loaded on the last day"),
        pytest.param(Stage.LOADED, -3, "not installed", id="loaded, window has passed"),
    ],
)
def test_a_kit_that_did_not_go_out_is_noticed(stage, days_ahead, word):
    make.stay(stage, call=make.call(days_ahead=days_ahead))
    assert words(day_sheet(NOON).call_now) == ([word] if word else [])


def test_a_sold_house_with_a_kit_inside_stands_there_until_it_is_done():
    stay = make.stay(Stage.INSTALLED)
    buyer = make.customer("Buyer", phone="201 555 0166")
    house_sold(make.act(), site=stay.unit.site, on=TODAY, new_owner=buyer)
    line = next(line for line in day_sheet(NOON).call_now if line.word == "house sold")
    assert line.kit == stay.kit and line.site == stay.unit.site
    assert "Buyer" in {who.name for who in line.contacts}
    stay.kit.follow_ups.update(done_at=NOON, done_by=make.office())
    assert "house sold" not in words(day_sheet(NOON).call_now)


@pytest.mark.parametrize(
    ("due_in", "now"),
    [
        pytest.param(-1, True, id="overdue"),
        pytest.param(0, True, id="due today"),
        pytest.param(1, False, id="due tomorrow"),
        pytest.param(None, False, id="no day"),
    ],
)
def test_what_is_still_to_do_is_called_for_when_it_is_due_and_waits_at_the_bench_before(due_in, now):
    due_on = None if due_in is None else TODAY + timedelta(days=due_in)
    follow_up(make.act(), make.kit(), "2 ports not seen closed: visit", due_on=due_on)
    sheet = day_sheet(NOON)
    assert words(sheet.call_now) == (["still to do"] if now else [])
    assert words(sheet.to_do) == ([] if now else ["still to do"])


def test_what_is_still_to_do_names_the_house_it_came_up_in():
    stay = make.stay(Stage.INSTALLED)
    stay.unit.site.contact_phone = "201 555 0123"
    stay.unit.site.save()
    follow_up(make.act(), stay.kit, "Port not closed: visit", due_on=TODAY)
    line = next(line for line in day_sheet(NOON).call_now if line.word == "still to do")
    assert line.site == stay.unit.site and "201 555 0123" in {who.phone for who in line.contacts}


# -- Leaves, comes home, bench -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days_ahead", "leaves"),
    [
        pytest.param(0, True, id="today"),
        pytest.param(1, True, id="tomorrow"),
        pytest.param(2, False, id="later"),
    ],
)
def test_a_planned_kit_leaves_today_or_tomorrow(days_ahead, leaves):
    make.stay(call=make.call(days_ahead=days_ahead))
    assert words(leaving(day_sheet(NOON))) == (["to load"] if leaves else [])


def test_what_leaves_stands_under_its_technician_with_where_the_kit_is():
    ana, ben = make.technician(name="Ana"), make.technician(name="Ben")
    make.stay(Stage.LOADED, call=make.call(technician=ben))
    make.stay(call=make.call(technician=ana, days_ahead=1))
    groups = day_sheet(NOON).leaves
    assert [(str(who), words(lines), lines[0].where) for who, lines in groups] == [
        ("Ana", ["to load"], "shelf"),
        ("Ben", ["loaded"], "Ben's truck"),
    ]


@pytest.mark.parametrize(
    ("stage", "out", "back", "word"),
    [
        pytest.param(Stage.INSTALLED, 0, 2, "take out", id="out today"),
        pytest.param(Stage.INSTALLED, 3, 5, "take out", id="out in three days"),
        pytest.param(Stage.INSTALLED, 4, 6, None, id="out in four days"),
        pytest.param(Stage.INSTALLED, -1, 1, None, id="late: stands further up"),
        pytest.param(Stage.REMOVED, -1, 0, "bring back", id="in the shop today"),
        pytest.param(Stage.REMOVED, 2, 4, None, id="in the shop in four days"),
    ],
)
def test_a_kit_comes_home_within_three_days(stage, out, back, word):
    due(make.stay(stage), out=out, back=back)
    assert words(day_sheet(NOON).comes_home) == ([word] if word else [])


def test_the_bench_shows_what_lies_there_and_what_needs_work_on_the_shelf():
    lying = make.kit(place=Place.BENCH, name="Lying")
    broken = make.kit(name="Broken")
    make.kit(name="Fine")
    Kit.objects.filter(pk=broken.pk).update(condition="needs_work", condition_why="cracked lid")
    lines = day_sheet(NOON).bench
    assert {(line.kit.pk, line.word) for line in lines} == {
        (lying.pk, "on the bench"),
        (broken.pk, "needs work"),
    }


# -- The page ------------------------------------------------------------------------------------


def test_the_page_says_who_where_which_kit_and_gives_the_number_to_call(office_client):
    stay = due(make.stay(Stage.INSTALLED), out=-4, back=1)
    stay.unit.site.contact_name, stay.unit.site.contact_phone = "Zoë Núñez", "(201) 555-0142"
    stay.unit.site.save()
    page = body(office_client.get("/"))
    for text in (
        stay.kit.name,
        str(stay.unit.site),
        stay.unit.name,
        "4 days ago",
        "Zoë Núñez",
        'href="tel:2015550142"',
    ):
        assert text in page


def test_the_page_changes_nothing(office_client):
    due(make.stay(Stage.INSTALLED), out=-4, back=1)
    before = Deployment.objects.values_list("version", flat=True)[0]
    office_client.get("/")
    assert Deployment.objects.values_list("version", flat=True)[0] == before


def fill(count: int) -> None:
    for _ in range(count):
        due(make.stay(Stage.INSTALLED), out=-2, back=1)
        make.stay(call=make.call(days_ahead=1))
        make.call()
        follow_up(make.act(), make.kit(sensors=1), "Something", due_on=TODAY)


def test_the_page_costs_the_same_queries_in_a_small_and_a_larger_shop(
    office_client, django_assert_max_num_queries
):
    fill(2)
    with django_assert_max_num_queries(18) as few:
        office_client.get("/")
    fill(6)
    with django_assert_max_num_queries(len(few)):
        office_client.get("/")


def test_the_builders_and_the_frozen_clock_agree():
    assert timezone.now() == NOON


def test_a_long_part_shows_the_most_pressing_and_every_line_on_demand(office_client, monkeypatch):
    monkeypatch.setattr("sites.views.day_sheet.LINES_AT_FIRST", 2)
    make.shop()
    calls = [make.call(days_ahead=-9 + number) for number in range(3)]
    page = office_client.get("/").content.decode()
    assert "These are the first 2 of 3." in page
    assert [f">Call {call.number}</a>" in page for call in calls] == [True, True, False]
    whole = office_client.get("/", {"all": "yes"}).content.decode()
    assert "These are the first" not in whole
    assert all(f">Call {call.number}</a>" in whole for call in calls)


@pytest.mark.parametrize("out", range(-2, 12))
def test_the_days_for_which_a_hanging_kit_is_told_are_counted_in_its_house(out):
    """A house may be a day ahead of the shop or behind it; no kit that is due is left unread."""
    for zone in ("Pacific/Kiritimati", "America/New_York", "Pacific/Pago_Pago"):
        house = make.unit(site=make.site(time_zone=zone, street=zone))
        stay = due(make.stay(Stage.INSTALLED, call=make.call(unit=house)), out=out, back=out + 20)
        house_day = NOON.astimezone(house.site.zone).date()
        left = (stay.take_out_by - house_day).days
        sheet = day_sheet(NOON)
        late = stay in [line.stay for line in sheet.call_now if line.word == "late"]
        home = stay in [line.stay for line in sheet.comes_home]
        assert (late, home) == (left < 0, 0 <= left <= 3), (zone, left)
