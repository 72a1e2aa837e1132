"""Which sensors are in date on a day, which kits are ready, and what the bench has to check next."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kits.actions import kits as kit_actions
from kits.models import Condition, DueNow, DueNowReason, KeptAt, Kit, Offset, OffsetSource, Shop, Wiring
from kits.readiness import dated, dated_wirings, not_in_date, readiness, sensors_due
from tests import make

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
NOW = make.utc(2026, 11, 2, 12)
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def shop():
    return make.shop(time_zone="UTC")


def offset(sensor, *, days_ago: float, due_in: int | None = 100, source=OffsetSource.BY_HAND) -> Offset:
    return Offset.objects.create(
        sensor=sensor,
        in_force_from=NOW - timedelta(days=days_ago),
        offset_kelvin=Decimal("0.1"),
        source=source,
        good_until=None if due_in is None else TODAY + due_in * DAY,
        recorded_at=NOW,
        recorded_by=make.office(),
    )


def bare_kit(name: str = "Heron", sensors: int = 1) -> Kit:
    return make.kit(name=name, sensors=sensors, checked=False, at=NOW - 300 * DAY)


def lead(kit: Kit):
    return kit.wirings.get(terminal=1).sensor


# Each case: what is known of the sensor, whether it is in date today, and what is said when not.
CASES = [
    pytest.param([], None, False, "was never checked", id="never checked"),
    pytest.param([(10, 100, "by_hand")], None, True, "", id="in date"),
    pytest.param([(10, 1, "by_hand")], None, True, "", id="its last day"),
    pytest.param([(10, 0, "by_hand")], None, False, "is due for a check on Mon 2 Nov 2026", id="due today"),
    pytest.param([(200, -10, "by_hand"), (5, 90, "by_hand")], None, True, "", id="checked again"),
    pytest.param(
        [(20, 90, "by_hand"), (5, None, "none")], None, False, "its check was withdrawn", id="withdrawn"
    ),
    pytest.param([(20, 90, "by_hand"), (5, 50, "restated")], None, True, "", id="in force again"),
    pytest.param([(183, None, "by_hand")], None, True, "", id="no date kept, six months less a day"),
    pytest.param(
        [(184, None, "by_hand")], None, False, "is due for a check on Mon 2 Nov", id="no date kept, due"
    ),
    pytest.param(
        [(20, 90, "by_hand")], (5, "dropped"), False, "was dropped on Wed 28 Oct 2026", id="dropped"
    ),
    pytest.param([(20, 90, "by_hand")], (5, "swapped"), False, "was swapped in on", id="swapped in"),
    pytest.param([(20, 90, "by_hand")], (30, "dropped"), True, "", id="dropped before its check"),
    pytest.param([(20, 90, "by_hand")], (5, "replace"), False, "is to be replaced", id="found bad"),
    pytest.param(
        [(20, 90, "by_hand"), (-1, 90, "by_hand")], (5, "dropped"), False, "was dropped", id="a later offset"
    ),
]


@pytest.mark.parametrize(("offsets", "happened", "in_date", "says"), CASES)
def test_a_sensor_is_in_date_or_says_why_not_and_the_database_agrees(offsets, happened, in_date, says):
    kit = bare_kit()
    sensor = lead(kit)
    for days_ago, due_in, source in offsets:
        offset(sensor, days_ago=days_ago, due_in=due_in, source=OffsetSource(source))
    if happened:
        since = NOW - timedelta(days=happened[0])
        DueNow.objects.create(sensor=sensor, since=since, reason=DueNowReason(happened[1]))
    rows = dated_wirings(Wiring.objects.filter(kit=kit).select_related("sensor"), NOW)
    one = dated(rows.get(), Shop.current())
    assert one.in_date(TODAY) == in_date
    assert says in one.against(TODAY) and bool(one.against(TODAY)) != in_date
    late = not_in_date("sensor", TODAY, now=NOW, shop=Shop.current())
    assert Wiring.objects.filter(late, kit=kit).exists() != in_date
    assert (not readiness([kit], now=NOW)[kit.pk].is_ready) != in_date


def test_a_kit_is_ready_when_in_service_in_date_and_nothing_is_left_to_do():
    kit = bare_kit(sensors=2)
    for wiring in kit.wirings.all():
        offset(wiring.sensor, days_ago=10)

    def sentence() -> str:
        return readiness([Kit.objects.get(pk=kit.pk)], now=NOW)[kit.pk].sentence

    assert sentence() == "Ready"
    kit.follow_ups.create(what="A strap is missing", opened_at=NOW, opened_by=make.office())
    assert sentence() == "Not ready: 1 still to do about it"
    kit_actions.set_condition(make.act(), kit=kit, condition=Condition.NEEDS_WORK, why="display dark")
    assert sentence() == "Not ready: it needs work: display dark; 1 still to do about it"
    assert readiness([(empty := bare_kit(sensors=0))], now=NOW)[empty.pk].against == ("it carries no sensor",)


def test_readiness_of_many_kits_asks_as_often_as_of_few():
    def queries(kits: list[Kit]) -> int:
        with CaptureQueriesContext(connection) as seen:
            readiness(kits, now=NOW)
        return len(seen)

    kits = [bare_kit(f"Kit {number}", sensors=2) for number in range(8)]
    assert queries(kits) == queries(kits[:2]) <= 4


def test_the_bench_checks_what_is_due_first_then_what_will_be_and_leaves_the_gone_alone():
    due, soon, late = bare_kit("due"), bare_kit("soon"), bare_kit("later")
    offset(lead(due), days_ago=200, due_in=-20)
    offset(lead(soon), days_ago=170, due_in=14)
    offset(lead(late), days_ago=10, due_in=15)
    never = bare_kit("never")
    spare = make.sensor(at=NOW - 300 * DAY)
    gone = make.sensor(at=NOW - 300 * DAY)
    gone.spare_places.update(place=KeptAt.SCRAPPED)
    bare_kit("retired").custodies.filter(held_until=None).update(place="retired")
    found = sensors_due(NOW)
    assert [one.sensor for one in found] == [lead(never), lead(due), spare, lead(soon)]
    assert [one.word(TODAY) for one in found] == ["never checked", "due", "never checked", "due soon"]
    assert found[1].kit == due and found[2].kit is None
