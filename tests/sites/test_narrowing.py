"""The kits that the database picks for a call are those that the reasons in words pick, in the same order."""

from datetime import date, datetime, timedelta

import pytest
from django.db.models import Exists
from django.utils import timezone

from kits.models import Condition, Custody, DueNow, Kit, Offset, OffsetSource, Place, Sensor, Shop
from sites import narrowing
from sites.free import candidates
from sites.models import Stage
from tests import make

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def aging(kit: Kit, *, days_left: int | None) -> None:
    """Newer offsets for all its sensors, in date so many days more; None: as they were before they kept a date."""
    at = timezone.now() - DAY
    for wiring in kit.wirings.all():
        newer = make.in_date(wiring.sensor, at=at)
        until = None if days_left is None else date.today() + days_left * DAY
        copied(newer, good_until=until)


def taken_back(kit: Kit) -> None:
    """The only check of one of its sensors was withdrawn."""
    newer = make.in_date(kit.wirings.first().sensor, at=timezone.now() - DAY)
    copied(newer, source=OffsetSource.NONE)


def due_now(sensor: Sensor, reason: str, since: datetime | None = None) -> None:
    DueNow.objects.create(sensor=sensor, reason=reason, since=since or timezone.now() - DAY)


def copied(offset: Offset, **values) -> None:
    """A copy of an offset that differs: offsets themselves never change."""
    kept = {field.name: getattr(offset, field.name) for field in Offset._meta.fields if field.name != "id"}
    later = offset.in_force_from + timedelta(minutes=1)
    Offset.objects.create(**{**kept, "in_force_from": later, **values})


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
    make.kit(name="never checked", sensors=2, checked=False)
    aging(make.kit(name="due before take-out", sensors=2), days_left=10)
    aging(make.kit(name="due that day", sensors=2), days_left=14)
    aging(make.kit(name="holds just so", sensors=2), days_left=15)
    aging(make.kit(name="entered before dates were kept", sensors=2), days_left=None)
    taken_back(make.kit(name="check withdrawn", sensors=2))
    fallen = make.kit(name="dropped since", sensors=2)
    for reason in ("dropped", "repaired"):
        due_now(fallen.wirings.first().sensor, reason)
    for wiring in make.kit(name="checked since it was dropped", sensors=2).wirings.all():
        due_now(wiring.sensor, "dropped", since=timezone.now() - 3 * DAY)
        make.in_date(wiring.sensor, at=timezone.now() - 2 * DAY)
    found = make.kit(name="checked on the bench", sensors=2)
    make.check([wiring.sensor for wiring in found.wirings.all()])
    Sensor.objects.update(lead_length_m=6)
    short = make.kit(name="short leads")
    Sensor.objects.filter(wirings__kit=short).update(lead_length_m=2)
    return wanted


IN_DATE = [
    "same truck",
    "checked on the bench",
    "checked since it was dropped",
    "entered before dates were kept",
    "fine",
    "holds just so",
    "worn",
    "on the bench",
    "another truck",
]
NOT_IN_DATE = {
    "never checked",
    "due before take-out",
    "due that day",
    "check withdrawn",
    "dropped since",
}


@pytest.mark.parametrize("strict", [True, False])
def test_the_database_and_the_reasons_choose_the_same_kits_in_the_same_order(call, strict):
    make.shop(sensors_must_be_in_date=strict)
    out, now = call.window_from + 14 * DAY, timezone.now()
    days = {"take_out_by": out, "back_in_shop_by": out + 2 * DAY}
    looked_at = candidates(call, **days, now=now)
    by_reasons = [row.kit for row in looked_at if row.is_free]
    late = narrowing.out_of_date(out, now, Shop.current())
    kits = narrowing.with_place(Kit.objects.all()).exclude(place_now=Place.RETIRED)
    fits = narrowing.may_go(kits, call, days["back_in_shop_by"])
    if strict:
        fits = fits.filter(~Exists(late))
    assert list(narrowing.ranked(fits, call, now, late)) == by_reasons
    names = [kit.name for kit in by_reasons]
    if strict:
        # Alike in rank they stand by their code, which is drawn.
        assert {*names} == {*IN_DATE} and names[0] == "same truck" and names[1] == "checked on the bench"
        assert names[-3:] == ["worn", "on the bench", "another truck"]
    else:
        assert {*names} == {*IN_DATE, *NOT_IN_DATE}
        assert names.index("never checked") > names.index("worn")
    found = narrowing.choice(call, **days, now=now)
    assert (found.free_count, found.kept_count) == (len(names), len(looked_at) - len(names))
    assert [row.kit for row in found.free] == by_reasons


def test_every_kit_that_is_not_in_date_says_why(call):
    out = call.window_from + 14 * DAY
    looked_at = candidates(call, out + 2 * DAY, take_out_by=out, now=timezone.now())
    why = {row.kit.name: row.not_in_date for row in looked_at}
    assert {name for name, said in why.items() if said} == NOT_IN_DATE
    assert "were never checked" in why["never checked"]
    assert "are due for a check on" in why["due that day"]
    assert "its check was withdrawn" in why["check withdrawn"]
    assert "had its lead repaired" in why["dropped since"] or "was dropped on" in why["dropped since"]


def test_only_the_best_are_shown_and_all_are_counted(call, monkeypatch, office_client):
    monkeypatch.setattr(narrowing, "FREE_SHOWN", 2)
    monkeypatch.setattr(narrowing, "KEPT_SHOWN", 1)
    page = office_client.get(f"/calls/{call.number}/assign/").content.decode()
    assert "same truck suits call" in page
    assert "9 kits" in page and "The first 2 are shown." in page
    assert "another truck</a>" not in page
