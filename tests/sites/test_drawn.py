"""Histories drawn along time: where bars, marks, words and lines of time stand, and what kits and stays draw."""

import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kits.actions import sensors as sensor_actions
from kits.models import Custody, Kit, Offset, OffsetSource, Place
from sites.actions import placements, planning
from sites.drawn import CHARACTER_PX, WIDTHS_PX, Drawing, Lane, Mark, Piece, joined
from sites.kit_drawing import draw_kit
from sites.models import Deployment, Extension, Position, Stage
from sites.stay_drawing import draw_stay
from tests import make

ZONE = ZoneInfo("America/New_York")
UTC = ZoneInfo("UTC")


def at(day, hour=0, month=3):
    return datetime(2026, month, day, hour, tzinfo=ZONE)


def drawing(days=10, now=None):
    first = date(2026, 3, 2)
    return Drawing(first=first, end=first + timedelta(days=days), zone=ZONE, now=now or at(7))


def piece(start, until, label="", **more):
    return Piece(kind="shelf", start=start, until=until, label=label, **more)


def shares(bars):
    return [(float(bar.x[:-1]), float(bar.width[:-1])) for bar in bars]


# -- The geometry --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "until", "drawn"),
    [
        pytest.param(at(3), at(5), [(10, 20)], id="inside"),
        pytest.param(at(3, 12), at(5), [(15, 15)], id="from noon"),
        pytest.param(datetime(2025, 1, 1, tzinfo=UTC), at(4), [(0, 20)], id="began before"),
        pytest.param(at(11), at(30), [(90, 10)], id="goes on behind"),
        pytest.param(at(6), None, [(40, 10)], id="still so: until now"),
        pytest.param(at(20), at(30), [], id="all of it behind"),
        pytest.param(at(4), at(4), [], id="no time at all"),
        pytest.param(at(7), at(9), [(50, 20)], id="over a clock change (8 March): days are alike"),
    ],
)
def test_a_bar_stands_on_its_days(start, until, drawn):
    whole = drawing()
    whole.add(Lane(name="Shelf", pieces=[piece(start, until)]))
    assert shares(whole.lanes[0].bars) == drawn


def test_a_gap_stays_a_gap():
    whole = drawing()
    whole.add(Lane(name="Site", pieces=[piece(at(8), at(9)), piece(at(3), at(4))]))
    assert shares(whole.lanes[0].bars) == [(10, 10), (60, 10)]


def test_what_follows_without_a_gap_and_says_the_same_is_one_bar():
    found = joined(
        [piece(at(4), at(5)), piece(at(3), at(4)), piece(at(5), at(6), "other"), piece(at(7), None)]
    )
    assert [(one.start, one.until) for one in found] == [(at(3), at(5)), (at(5), at(6)), (at(7), None)]


def test_a_mark_outside_the_days_is_not_drawn():
    whole = drawing()
    marks = [Mark(kind="offset", at=moment, says="") for moment in (at(1), at(7), at(12))]
    whole.add(Lane(name="Terminal 1", marks=marks))
    assert [dot.x for dot in whole.lanes[0].dots] == ["50%"]


@pytest.mark.parametrize(
    ("days", "first_words"),
    [
        pytest.param(8, "Mon 2", id="days"),
        pytest.param(60, "2 Mar", id="weeks"),
        pytest.param(400, "Apr", id="months"),
        pytest.param(2000, "Jul", id="half years"),
    ],
)
def test_lines_of_time_suit_the_length_and_their_words_never_touch(days, first_words):
    ticks = drawing(days).ticks()
    for where, width in WIDTHS_PX.items():
        spans = [
            (left := float(tick.x[:-1]) / 100 * width, left + CHARACTER_PX * len(label.text))
            for tick in ticks
            for label in tick.labels
            if label.only == "" or where in label.only.split()
        ]
        assert len(spans) >= 2
        assert all(one[1] < other[0] for one, other in pairwise(spans)), where
        assert all(right <= width for _, right in spans), where
    assert next(label.text for tick in ticks for label in tick.labels) == first_words


def test_years_go_before_months():
    words = [
        label.text for tick in drawing(1000).ticks() for label in tick.labels if "if-wide" not in label.only
    ]
    assert {"2027", "2028"} <= set(words)


@pytest.mark.parametrize(
    ("label", "short", "until", "words"),
    [
        pytest.param("long words here", "", at(12), [("long words here", "", False)], id="fits everywhere"),
        pytest.param("eighteen letters..", "18", at(4), [("18", "", False)], id="the short ones"),
        pytest.param(
            "nine let.",
            "",
            at(4),
            [("nine let.", "if-wide if-broad", False), ("nine let.", "if-narrow", True)],
            id="behind on a phone",
        ),
    ],
)
def test_words_of_a_bar_stand_where_they_have_room(label, short, until, words):
    whole = drawing()
    whole.add(Lane(name="Shelf", pieces=[piece(at(2), until, label, short=short)]))
    (bar,) = whole.lanes[0].bars
    assert [(one.text, one.only, one.beside) for one in bar.labels] == words


def test_words_without_room_are_left_out_and_never_run_into_a_mark():
    whole = drawing(100)
    whole.add(
        Lane(name="Shelf", pieces=[piece(at(3), at(4), "long words"), piece(at(4), at(5), "long words")])
    )
    first, last = whole.lanes[0].bars
    assert (first.labels, [one.beside for one in last.labels]) == ([], [True])
    marked = drawing()
    marked.add(
        Lane(
            name="Agreed",
            pieces=[piece(at(2), at(12), "take out by Sat 5 Dec")],
            marks=[Mark(kind="agreed", at=at(4), says="")],
        )
    )
    assert marked.lanes[0].bars[0].labels == []


# -- What a kit draws ------------------------------------------------------------------------------


def drawn(kit, asked="", now=None):
    stays = list(kit.deployments.with_places())
    custodies = list(kit.custodies.select_related("technician").order_by("held_from", "pk"))
    return draw_kit(
        kit, custodies=custodies, stays=stays, unit="C", zone=ZONE, now=now or timezone.now(), asked=asked
    )


def lanes(drawing):
    return {lane.name: lane for lane in drawing.lanes}


@pytest.mark.django_db
def test_a_kit_draws_who_held_it_its_stay_and_its_terminals():
    ben = make.technician(name="Ben")
    call = make.call(technician=ben)
    began = timezone.now() - timedelta(days=9)
    stay = make.stay(Stage.INSTALLED, kit=make.kit(sensors=2), call=call, began=began)
    found = drawn(stay.kit, "all").drawing
    assert list(lanes(found)) == ["Shelf", "Ben’s truck", "At a site", "Stays", "Terminal 1", "Terminal 2"]
    assert [bar.kind for bar in lanes(found)["Stays"].bars] == ["loaded", "installed", "agreed"]
    site = lanes(found)["At a site"].bars[0]
    assert stay.unit.site.street in site.says and site.says.endswith("to now")
    assert {bar.kind for bar in lanes(found)["Terminal 1"].bars} == {"corrected"}


@pytest.mark.django_db
def test_a_kit_that_is_late_says_so_in_its_bar_and_its_next_promise_has_a_lane_of_its_own():
    began = timezone.now() - timedelta(days=40)
    stay = make.stay(Stage.INSTALLED, call=make.call(days_ahead=-40), began=began)
    later = make.call(days_ahead=3)
    planning.plan(make.act(), call=later, kit=Kit.objects.get(pk=stay.kit_id), **make.dates(later))
    found = lanes(drawn(stay.kit).drawing)
    assert [bar.kind for bar in found["Stays"].bars] == ["loaded", "installed", "late"]
    assert [bar.kind for bar in found["Promised"].bars] == ["promised"]


@pytest.mark.django_db
def test_a_new_offset_and_another_lead_are_marks_on_the_terminal():
    now = timezone.now()
    kit = make.kit(sensors=0, at=now - timedelta(days=80))
    old = make.sensor(kit=kit, at=now - timedelta(days=79), checked=False)
    for days, value in ((60, "0.30"), (30, "-0.10")):
        since = now - timedelta(days=days)
        sensor_actions.give_offset(
            make.act(at=since), sensor=old, offset_kelvin=Decimal(value), in_force_from=since
        )
    sensor_actions.wire_out(make.act(at=now - timedelta(days=10)), kit=Kit.objects.get(pk=kit.pk), sensor=old)
    new = make.sensor(at=now - timedelta(days=50), tag="9")
    sensor_actions.wire_in(
        make.act(at=now - timedelta(days=9)), sensor=new, kit=Kit.objects.get(pk=kit.pk), terminal=1
    )
    terminal = lanes(drawn(kit).drawing)["Terminal 1"]
    assert [bar.kind for bar in terminal.bars] == ["bare", "corrected", "corrected", "bare"]
    assert [dot.kind for dot in terminal.dots] == ["offset", "offset", "swap"]
    assert "+0.30\N{NARROW NO-BREAK SPACE}K added" in terminal.bars[1].says


@pytest.mark.django_db
def test_a_note_that_no_offset_is_in_force_any_more_draws_a_bare_bar():
    now = timezone.now()
    kit = make.kit(sensors=0, at=now - timedelta(days=80))
    sensor = make.sensor(kit=kit, at=now - timedelta(days=79), checked=False)
    for days, source, kelvin in ((60, OffsetSource.BY_HAND, "0.30"), (30, OffsetSource.NONE, "0")):
        since = now - timedelta(days=days)
        Offset.objects.create(
            sensor=sensor,
            in_force_from=since,
            offset_kelvin=Decimal(kelvin),
            source=source,
            recorded_at=since,
            recorded_by=make.office(),
        )
    terminal = lanes(drawn(kit).drawing)["Terminal 1"]
    assert [bar.kind for bar in terminal.bars] == ["bare", "corrected", "bare"]
    assert "entered by hand" in terminal.dots[0].says and "no offset any more" in terminal.dots[1].says


@pytest.mark.django_db
def test_a_kit_fresh_from_the_bench_draws_a_week_with_its_bench():
    kit = make.kit(sensors=0, place=Place.BENCH, at=timezone.now() - timedelta(minutes=5))
    found = drawn(kit)
    assert found.drawing.days == 8 and found.choices == []
    assert list(lanes(found.drawing)) == ["Bench"]


@pytest.fixture
def long_life():
    """A kit held 300 times within four years, by five trucks in turn."""
    now = timezone.now().replace(microsecond=0)
    kit = make.kit(at=now - timedelta(days=1460))
    crew = [make.technician(name=f"Technician {number}") for number in range(5)]
    begins = [now - timedelta(days=1450 - 4.8 * number) for number in range(301)]
    Custody.objects.filter(kit=kit, held_until=None).update(held_until=begins[0])
    for number, (start, until) in enumerate(pairwise(begins)):
        truck = number % 2 == 1
        Custody.objects.create(
            kit=kit,
            place=Place.TRUCK if truck else Place.SHELF,
            technician=crew[number % 5] if truck else None,
            held_from=start,
            held_until=None if until == begins[-1] else until,
        )
    return kit


@pytest.mark.django_db
@pytest.mark.one_database
def test_a_long_life_shows_a_year_and_all_of_it_on_asking(long_life, office_client):
    year, whole = drawn(long_life), drawn(long_life, "all")
    assert (year.drawing.days, whole.drawing.days) > (364, 1450)
    assert [choice.key for choice in year.choices if choice.is_shown] == ["year"]
    assert "On a truck" in lanes(whole.drawing)
    assert len(lanes(whole.drawing)["On a truck"].bars) == 150
    page = office_client.get(f"/kits/{long_life.code}/?span=all").content.decode()
    assert 'style="' not in page
    assert page.count("<rect") >= 300
    assert 'role="img"' in page and "The lists below say the same." in page


@pytest.mark.django_db
@pytest.mark.one_database
def test_drawing_asks_the_database_as_often_for_a_long_life_as_for_a_short_one(long_life):
    def queries(kit):
        stays, custodies = (
            list(kit.deployments.with_places()),
            list(kit.custodies.select_related("technician")),
        )
        with CaptureQueriesContext(connection) as asked:
            draw_kit(kit, custodies=custodies, stays=stays, unit="C", zone=ZONE, now=timezone.now())
        return len(asked)

    assert queries(long_life) == queries(make.kit()) == 2


# -- What a stay draws -----------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_stay_draws_its_stages_the_days_agreed_and_which_lead_sat_where():
    began = timezone.now() - timedelta(days=5)
    stay = make.stay(Stage.INSTALLED, kit=make.kit(sensors=2), began=began)
    moved = stay.placements.get(position__code="SA").sensor
    placements.move_sensor(
        make.act(at=began + timedelta(days=2)),
        kit=Kit.objects.get(pk=stay.kit_id),
        sensor=moved,
        position=Position.objects.get(code="OA"),
    )
    rows = list(stay.placements.select_related("sensor", "position"))
    found, says = draw_stay(Deployment.objects.get(pk=stay.pk), rows, unit="C", zone=ZONE, now=timezone.now())
    assert [lane.code for lane in found.lanes] == ["", "", "SA", "RA", "OA"]
    assert [bar.kind for bar in found.lanes[0].bars] == ["loaded", "installed", "agreed"]
    assert [bar.kind for bar in found.lanes[1].bars] == ["agreed", "promised"]
    sa, ra, oa = (shares(lane.bars)[0] for lane in found.lanes[2:])
    assert sa[0] + sa[1] == pytest.approx(oa[0], abs=0.01)
    assert ra[1] == pytest.approx(sa[1] + oa[1], abs=0.01)
    assert "3 positions" in says


@pytest.mark.django_db
@pytest.mark.one_database
@pytest.mark.parametrize(
    "stage", [Stage.PLANNED, Stage.LOADED, Stage.INSTALLED, Stage.REMOVED, Stage.HANDED_BACK]
)
def test_a_stay_is_drawn_on_its_page_at_every_stage(stage, office_client):
    stay = make.stay(stage)
    page = office_client.get(stay.get_absolute_url()).content.decode()
    assert re.search(r'<div class="drawn-body" role="img" aria-label="From [^"]+', page)
    assert page.count('<svg class="drawn-lane"') == (2 if stage in {Stage.PLANNED, Stage.LOADED} else 6)
    assert not Extension.objects.exists()
