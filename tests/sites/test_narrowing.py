"""The kits that the database picks for a call are those that the reasons in words pick, in the same order."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kits.models import Condition, Custody, Kit, Place, Sensor
from sites import narrowing
from sites.free import candidates
from sites.models import Stage
from tests import make

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def call():
    """A call for two positions and a lead of 3 m, in a shop with a kit for every reason."""
    make.shop()
    wanted = make.call(wanted=("SA", "RA"), lead_length_m=3)
    make.kit(name="fine")
    make.kit(name="on the bench", place=Place.BENCH)
    make.kit(name="too few sensors", sensors=1)
    make.kit(name="none at all", sensors=0)
    Kit.objects.filter(pk=make.kit(name="broken").pk).update(
        condition=Condition.NEEDS_WORK, condition_why="display"
    )
    for name, place in (("lost", Place.MISSING), ("retired", Place.RETIRED)):
        Custody.objects.filter(kit=make.kit(name=name), held_until=None).update(place=place)
    Custody.objects.filter(kit=make.kit(name="same truck"), held_until=None).update(
        place=Place.TRUCK, technician=wanted.technician
    )
    Custody.objects.filter(kit=make.kit(name="another truck"), held_until=None).update(
        place=Place.TRUCK, technician=make.technician()
    )
    make.stay(Stage.HANDED_BACK, kit=make.kit(name="worn"), began=timezone.now() - 2 * DAY)
    make.stay(Stage.PLANNED, kit=make.kit(name="promised"))
    Sensor.objects.update(lead_length_m=6)
    short = make.kit(name="short leads")
    Sensor.objects.filter(wirings__kit=short).update(lead_length_m=2)
    return wanted


def test_the_database_and_the_reasons_choose_the_same_kits_in_the_same_order(call):
    back, now = call.window_from + 16 * DAY, timezone.now()
    looked_at = candidates(call, back, now=now)
    by_reasons = [row.kit.name for row in looked_at if row.is_free]
    picked = narrowing.ranked(
        narrowing.may_go(
            narrowing.with_place(Kit.objects.all()).exclude(place_now=Place.RETIRED), call, back
        ),
        call,
        now,
    )
    assert [kit.name for kit in picked] == by_reasons
    assert by_reasons == ["same truck", "fine", "worn", "on the bench", "another truck"]
    found = narrowing.choice(call, back, now=now)
    assert (found.free_count, found.kept_count) == (5, len(looked_at) - 5)


def test_only_the_best_are_shown_and_all_are_counted(call, monkeypatch, office_client):
    monkeypatch.setattr(narrowing, "FREE_SHOWN", 2)
    monkeypatch.setattr(narrowing, "KEPT_SHOWN", 1)
    page = office_client.get(f"/calls/{call.number}/assign/").content.decode()
    assert "same truck suits call" in page
    assert "5 kits" in page and "The first 2 are shown." in page
    assert "on the bench</a>" not in page
