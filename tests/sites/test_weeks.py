"""The picture of eight weeks: bars where the days say, and one page whatever the number of kits."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sites.models import Stage
from sites.week_bars import DAY_WIDTH, StaySpan, Strip
from tests import make

ZONE = ZoneInfo("America/New_York")
MONDAY = date(2026, 3, 2)  # a clock change falls into this strip, on 8 March
NOON = datetime(2026, 3, 18, 12, tzinfo=ZONE)


def strip(now=NOON):
    return Strip(first=MONDAY, days=56, zone=ZONE, now=now)


def at(day, hour=0):
    return datetime(2026, 3, day, hour, tzinfo=ZONE)


def span(**when):
    dull = {"holds_from": at(10), "home_from": at(24), "loaded_at": None, "ended_at": None}
    return StaySpan(url="/stays/1/", label="1001", **{**dull, **when})


@pytest.mark.parametrize(
    ("stay", "kinds"),
    [
        pytest.param(span(), [("promised", 10, 24)], id="a plan"),
        pytest.param(
            span(loaded_at=at(11)), [("away", 11, 18.5), ("agreed", 18.5, 24)], id="out, and in time"
        ),
        pytest.param(
            span(loaded_at=at(4), home_from=at(12)), [("away", 4, 12), ("late", 12, 18.5)], id="out, and late"
        ),
        pytest.param(span(loaded_at=at(11), ended_at=at(16)), [("away", 11, 16)], id="home early"),
        pytest.param(
            span(loaded_at=at(4), home_from=at(10), ended_at=at(13)),
            [("away", 4, 10), ("late", 10, 13)],
            id="home late",
        ),
        pytest.param(span(loaded_at=at(11), ended_at=at(11)), [], id="loaded and put back at once"),
    ],
)
def test_a_stay_is_drawn_on_its_days(stay, kinds):
    found = [(bar.kind, bar.x, bar.x + bar.width) for bar in strip().bars([stay])]
    assert found == [(kind, (start - 2) * DAY_WIDTH, (end - 2) * DAY_WIDTH) for kind, start, end in kinds]


def test_what_lies_outside_the_strip_is_cut_at_its_edge():
    stay = span(loaded_at=datetime(2026, 1, 1, tzinfo=UTC), ended_at=at(3))
    (bar,) = strip().bars([stay])
    assert (bar.x, bar.width) == (0, DAY_WIDTH)


@pytest.mark.django_db
def test_the_page_shows_each_kit_with_its_stays_and_costs_the_same_for_many(office_client):
    stay = make.stay(Stage.INSTALLED)
    page = reverse("weeks")
    with CaptureQueriesContext(
        connection,
    ) as few:
        answer = office_client.get(page).content.decode()
    assert stay.get_absolute_url() in answer and stay.kit.name in answer
    for _ in range(6):
        make.kit(sensors=0)
    with CaptureQueriesContext(connection) as many:
        office_client.get(page)
    assert len(many) == len(few) <= 10


@pytest.mark.django_db
@pytest.mark.parametrize("asked", ["2026-02-31", "yesterday", "", "2026-01-07"])
def test_any_day_asked_for_gives_a_page(asked, office_client):
    assert office_client.get(reverse("weeks"), {"from": asked}).status_code == 200


@pytest.mark.django_db
def test_a_late_kit_is_said_in_the_heading(office_client):
    call = make.call(days_ahead=-40)
    make.stay(Stage.INSTALLED, call=call, began=timezone.now() - timedelta(days=40))
    assert "1 kit is late" in office_client.get(reverse("weeks")).content.decode()
