"""Looking up backwards, and looking the books through: what `kit_as_of` answers and what `check_books` finds."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from kits.models import Custody, EventAbout, Kit, Place, Sensor
from sites.actions import planning
from sites.as_of import kit_as_of
from sites.books import calls_with_two_kits, contradictions, sensor_contradictions
from sites.models import Deployment, Stage
from tests import make

pytestmark = pytest.mark.django_db

SECOND = timedelta(seconds=1)


# -- kit_as_of


def test_a_kit_is_looked_up_at_each_instant_of_its_stay():
    stay = make.stay(Stage.HANDED_BACK)
    code, carrier = stay.kit.code, f"{stay.technician}'s truck"
    for instant, word in (
        (stay.loaded_at - SECOND, "shelf"),
        (stay.loaded_at, carrier),
        (stay.installed_at - SECOND, carrier),
        (stay.installed_at, str(stay.unit.site)),
        (stay.removed_at - SECOND, str(stay.unit.site)),
        (stay.removed_at, carrier),
        (stay.handed_back_at - SECOND, carrier),
        (stay.handed_back_at, "shelf"),
    ):
        assert kit_as_of(code, instant).whereabouts == word, instant
    assert kit_as_of(code, stay.handed_back_at).deployment is None
    assert kit_as_of(code, stay.handed_back_at - SECOND).deployment == stay


def test_before_it_was_built_a_kit_is_nowhere_and_carries_nothing():
    kit = make.kit()
    then = kit_as_of(kit.code, timezone.now() - timedelta(days=1000))
    assert then.whereabouts == "not built yet" and then.custody is None and then.sensors == ()


def test_an_unknown_code_is_no_kit():
    with pytest.raises(Kit.DoesNotExist):
        kit_as_of("AAAAAA", timezone.now())


def test_of_two_moves_at_one_instant_the_last_holds():
    kit = make.kit()  # built, then shelved, at the same instant
    assert kit.custodies.count() == 2
    assert kit_as_of(kit.code, kit.custodies.last().held_from).whereabouts == "shelf"


def test_looking_up_costs_the_same_for_one_sensor_and_for_five(django_assert_num_queries):
    now = timezone.now()
    for sensors in (1, 5):
        code = make.kit(sensors=sensors).code
        with django_assert_num_queries(5):
            assert len(kit_as_of(code, now).sensors) == sensors


# -- contradictions


def a_stay() -> Deployment:
    return make.stay(Stage.HANDED_BACK)


def break_custody_gap(stay):
    row = stay.kit.custodies.order_by("held_from", "pk").last()
    Custody.objects.filter(pk=row.pk).update(held_from=row.held_from + timedelta(minutes=5))


def break_place(stay):
    stay.kit.custodies.filter(place=Place.SITE).update(place=Place.BENCH)


def break_open(stay):
    stay.kit.custodies.filter(held_until=None).update(held_until=timezone.now())


def break_placement(stay):
    stay.placements.update(placed_until=stay.removed_at + timedelta(minutes=1))


def break_version(stay):
    Kit.objects.filter(pk=stay.kit_id).update(version=99)


def break_need(stay):
    call = make.call(days_ahead=20)
    planning.plan(make.act(), call=call, kit=stay.kit, **make.dates(call))
    type(call).objects.filter(pk=call.pk).update(needs_kit_why="nobody knows why")


def break_gone(stay):
    call = make.call(days_ahead=20)
    planning.plan(make.act(), call=call, kit=stay.kit, **make.dates(call))
    stay.kit.custodies.filter(held_until=None).update(place=Place.MISSING)


BREAKS = {
    break_custody_gap: "nobody held it",
    break_place: "only one of custody and stays",
    break_open: "0 open custody rows",
    break_placement: "outside the time in the house",
    break_version: "was changed 99 times",
    break_need: "says it needs a kit",
    break_gone: "is gone, but promised",
}


@pytest.mark.parametrize("spoil", BREAKS, ids=lambda spoil: spoil.__name__)
def test_each_kind_of_contradiction_is_found(spoil):
    stay = a_stay()
    assert contradictions(stay.kit) == []
    spoil(stay)
    assert any(BREAKS[spoil] in line for line in contradictions(Kit.objects.get(pk=stay.kit_id)))


def test_a_stage_without_its_custody_is_found():
    stay = make.stay(Stage.LOADED)
    stay.kit.custodies.filter(held_until=None).update(place=Place.SHELF, technician=None)
    assert any("but loaded on" in line for line in contradictions(stay.kit))


def test_a_sensor_in_no_place_is_found():
    sensor = make.sensor()
    assert sensor_contradictions(sensor) == []
    sensor.spare_places.update(kept_until=timezone.now())
    assert sensor_contradictions(sensor) == [f"sensor {sensor} is in 0 places now"]


def test_two_kits_for_one_call_are_found():
    stay, other = make.stay(), make.stay()
    assert calls_with_two_kits() == []
    Deployment.objects.filter(pk=other.pk).update(call=stay.call)
    assert calls_with_two_kits() == [f"{stay.call} has 2 kits at once"]


# -- The command


def run() -> tuple[int, str]:
    out = StringIO()
    try:
        call_command("check_books", stdout=out, no_color=True)
    except SystemExit as ended:
        return int(ended.code or 0), out.getvalue()
    return 0, out.getvalue()


def test_the_command_says_that_all_is_well_and_what_it_looked_at():
    make.kit(sensors=2)
    make.stay(Stage.INSTALLED)
    code, text = run()
    assert code == 0
    assert text.startswith("The books tell one story. Looked at: 2 kits, 6 sensors, 1 stay, ")


def test_the_command_names_each_contradiction_and_ends_with_one():
    stay = a_stay()
    break_place(stay)
    Sensor.objects.filter(pk=stay.kit.wirings.first().sensor_id).update(version=50)
    code, text = run()
    assert code == 1
    assert "only one of custody and stays" in text and "was changed 50 times" in text
    assert text.rstrip().splitlines()[-1].startswith("Contradictions: ")


def test_every_change_is_in_the_history():
    stay = a_stay()
    versions = EventAbout.objects.filter(kind="kit", subject_id=stay.kit_id).values_list("version", flat=True)
    assert sorted(versions) == list(range(1, Kit.objects.get(pk=stay.kit_id).version + 1))
