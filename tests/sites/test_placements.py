"""Sensors that change places in a house, and leads that are replaced: wiring and placement follow, the offset does not."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions import sensors as sensor_actions
from kits.models import KeptAt, Kit
from sites.actions import placements, stays
from sites.as_of import kit_as_of
from sites.books import contradictions, sensor_contradictions
from sites.models import Position, Stage
from tests import make
from tests.refusals import refused

pytestmark = pytest.mark.django_db


def position(code: str) -> Position:
    return Position.objects.get(code=code)


@pytest.fixture
def stay(db):
    """A kit in a house with sensors at SA, RA, LL, VL on terminals 1 to 4, since an hour and a half."""
    return make.stay(Stage.INSTALLED, began=timezone.now() - timedelta(hours=3, minutes=30))


def lead(stay, terminal: int):
    return stay.kit.wirings.get(terminal=terminal, wired_until=None).sensor


def sits(stay) -> dict[str, int]:
    """Which terminal's sensor sits at each position now."""
    rows = stay.placements.filter(placed_until=None).select_related("position")
    return {row.position.code: row.sensor.wiring.terminal for row in rows}


# -- Moving


def test_a_sensor_moves_to_a_free_position_from_that_instant_on(stay):
    moved = timezone.now() - timedelta(minutes=20)
    placements.move_sensor(make.act(at=moved), kit=stay.kit, sensor=lead(stay, 3), position=position("OA"))
    assert sits(stay) == {"SA": 1, "RA": 2, "OA": 3, "VL": 4}
    then = kit_as_of(stay.kit.code, moved - timedelta(seconds=1))
    assert {row.position.code: row.terminal for row in then.sensors}["LL"] == 3
    assert contradictions(Kit.objects.get(pk=stay.kit_id)) == []


def test_two_swapped_leads_are_exchanged_in_one_step(stay):
    given = {"kit": stay.kit, "sensor": lead(stay, 1), "position": position("RA")}
    assert "exchange" in refused(placements.move_sensor, make.act(), **given)
    done = placements.move_sensor(make.act(), exchange=True, **given)
    assert sits(stay) == {"SA": 2, "RA": 1, "LL": 3, "VL": 4}
    assert "exchanged" in done.sentence


def test_a_sensor_that_fell_off_measures_nothing_and_can_be_placed_again(stay):
    off = {"kit": stay.kit, "sensor": lead(stay, 1)}
    placements.move_sensor(make.act(), position=None, **off)
    assert "SA" not in sits(stay)
    assert "measures nothing" in refused(placements.move_sensor, make.act(), position=None, **off)
    placements.move_sensor(make.act(), position=position("SA"), **off)
    assert sits(stay)["SA"] == 1


def test_two_moves_at_one_instant_leave_the_last_one(stay):
    at = timezone.now()
    for code in ("OA", "LL"):
        code_taken = code == "LL"
        placements.move_sensor(
            make.act(at=at),
            kit=stay.kit,
            sensor=lead(stay, 1),
            position=position(code),
            exchange=code_taken,
        )
    assert sits(stay)["LL"] == 1 and sits(stay)["OA"] == 3
    assert contradictions(Kit.objects.get(pk=stay.kit_id)) == []


@pytest.mark.parametrize(
    ("terminal", "code", "at", "sentence"),
    [
        (1, "SA", None, "sits at SA supply air already"),
        (1, "OA", timedelta(hours=2), "installed later than that"),
        (None, "OA", None, "is not in"),
    ],
)
def test_a_move_that_cannot_be_is_refused(stay, terminal, code, at, sentence):
    sensor = lead(stay, terminal) if terminal else make.sensor()
    act = make.act(at=timezone.now() - at) if at else make.act()
    given = {"kit": stay.kit, "sensor": sensor, "position": position(code)}
    assert sentence in refused(placements.move_sensor, act, **given)
    assert sits(stay) == {"SA": 1, "RA": 2, "LL": 3, "VL": 4}


def test_a_sensor_that_never_sat_anywhere_is_not_placed_before_the_kit_was_in_the_house():
    stay = make.stay(Stage.LOADED)
    leads = [lead(stay, number) for number in (1, 2)]
    stays.install(
        make.act(),
        kit=stay.kit,
        placements={"SA": leads[0]},
        take_out_by=stay.take_out_by,
        back_in_shop_by=stay.back_in_shop_by,
        facts={"hookup_terminals": "R and C", "tap_place": "upstream"},
    )
    early = make.act(happened_at=timezone.now() - timedelta(hours=1))
    given = {"kit": stay.kit, "sensor": leads[1], "position": position("RA")}
    assert "installed later" in refused(placements.move_sensor, early, **given)


def test_a_move_before_an_earlier_one_is_refused(stay):
    placements.move_sensor(make.act(), kit=stay.kit, sensor=lead(stay, 1), position=position("OA"))
    earlier = make.act(happened_at=timezone.now() - timedelta(minutes=10))
    given = {"kit": stay.kit, "sensor": lead(stay, 1), "position": position("SA")}
    assert "later than that" in refused(placements.move_sensor, earlier, **given)


@pytest.mark.parametrize("reached", [Stage.LOADED, Stage.REMOVED, Stage.HANDED_BACK])
def test_sensors_move_only_in_a_house(reached):
    out = make.stay(reached)
    given = {"kit": out.kit, "sensor": lead(out, 1), "position": position("OA")}
    assert "installed for this" in refused(placements.move_sensor, make.act(), **given)


def test_a_kit_is_not_taken_out_before_its_last_move(stay):
    placements.move_sensor(make.act(), kit=stay.kit, sensor=lead(stay, 1), position=None)
    tech = make.technician()
    earlier = make.act(tech, happened_at=timezone.now() - timedelta(minutes=30))
    pull = stays.Pull(pulled_by="Ben")
    assert "moved later" in refused(stays.remove, earlier, kit=stay.kit, carrier=tech, pull=pull)


# -- Swapping a lead


def offset(sensor, kelvin: str) -> None:
    sensor_actions.give_offset(
        make.act(),
        sensor=sensor,
        offset_kelvin=Decimal(kelvin),
        in_force_from=timezone.now() - timedelta(days=30),
    )


def swap(stay, old, new, act=None, **changes):
    given = {"why": "chewed through", "technician": make.technician(), **changes}
    return placements.swap_lead(act or make.act(), kit=stay.kit, old=old, new=new, **given)


def test_a_replaced_lead_takes_over_terminal_and_position_but_never_the_offset(stay):
    old, new, ben = lead(stay, 2), make.sensor(), make.technician()
    offset(old, "0.25")
    swap(stay, old, new, technician=ben)
    assert new.wiring.terminal == 2 and sits(stay)["RA"] == 2
    assert old.spare_place.technician == ben and old.wiring is None
    then = {row.terminal: row for row in kit_as_of(stay.kit.code, timezone.now()).sensors}
    assert then[2].sensor == new and then[2].offset is None
    before = {row.terminal: row for row in kit_as_of(stay.kit.code, stay.installed_at).sensors}
    assert before[2].sensor == old and before[2].offset.offset_kelvin == Decimal("0.250")
    assert contradictions(Kit.objects.get(pk=stay.kit_id)) == []
    assert sensor_contradictions(old) == sensor_contradictions(new) == []


def test_a_replaced_lead_brings_its_own_offset(stay):
    new = make.sensor()
    offset(new, "-0.10")
    offset(lead(stay, 1), "0.40")
    swap(stay, lead(stay, 1), new)
    then = {row.terminal: row for row in kit_as_of(stay.kit.code, timezone.now()).sensors}
    assert then[1].offset.offset_kelvin == Decimal("-0.100")


def test_a_lead_can_be_replaced_on_the_bench_too():
    kit, new = make.kit(), make.sensor()
    old = kit.wirings.get(terminal=1).sensor
    placements.swap_lead(make.act(), kit=kit, old=old, new=new, why="brittle", old_goes_to=KeptAt.SCRAPPED)
    assert new.wiring.terminal == 1 and old.spare_place.place == KeptAt.SCRAPPED


@pytest.mark.parametrize("case", ["stranger", "taken", "why", "early"])
def test_a_swap_that_cannot_be_is_refused(stay, case):
    old, new, act, why = lead(stay, 1), make.sensor(), make.act(), "cut"
    sentence = {
        "stranger": "is not in",
        "taken": "Choose a spare one",
        "why": "why the lead",
        "early": "Give a time after it",
    }[case]
    if case == "stranger":
        old = make.sensor()
    elif case == "taken":
        new = lead(stay, 2)
    elif case == "why":
        why = " "
    else:
        act = make.act(happened_at=stay.installed_at - timedelta(minutes=1))
    assert sentence in refused(swap, stay, old, new, act, why=why)
    assert sits(stay) == {"SA": 1, "RA": 2, "LL": 3, "VL": 4}


# -- Wiring, spares, offsets


def test_a_measuring_sensor_is_not_wired_out_but_swapped(stay):
    assert "swap the lead" in refused(sensor_actions.wire_out, make.act(), kit=stay.kit, sensor=lead(stay, 1))


@pytest.mark.parametrize(
    ("terminal", "sentence"), [(1, "carries sensor"), (6, "no terminal 6"), (0, "no terminal 0")]
)
def test_a_terminal_that_is_taken_or_not_there_is_refused(terminal, sentence):
    kit, spare = make.kit(), make.sensor()
    assert sentence in refused(sensor_actions.wire_in, make.act(), kit=kit, sensor=spare, terminal=terminal)


def test_a_full_kit_takes_no_sixth_sensor():
    kit, spare = make.kit(sensors=5), make.sensor()
    assert "All 5 terminals" in refused(sensor_actions.wire_in, make.act(), kit=kit, sensor=spare)


def test_a_sensor_is_not_wired_into_a_kit_before_the_kit_was_built():
    kit = make.kit(at=timezone.now() - timedelta(days=2))
    spare = make.sensor(at=timezone.now() - timedelta(days=20))
    earlier = make.act(happened_at=timezone.now() - timedelta(days=10))
    assert "built later" in refused(sensor_actions.wire_in, earlier, kit=kit, sensor=spare)


def test_a_sensor_of_one_kit_is_not_wired_into_another(stay):
    other = make.kit(sensors=0)
    assert "is wired into" in refused(sensor_actions.wire_in, make.act(), kit=other, sensor=lead(stay, 1))


def test_a_spare_on_a_truck_says_whose():
    spare = make.sensor()
    assert "whose truck" in refused(sensor_actions.keep_spare, make.act(), sensor=spare, place=KeptAt.TRUCK)
    ben = make.technician()
    sensor_actions.keep_spare(make.act(), sensor=spare, place=KeptAt.TRUCK, technician=ben)
    assert spare.spare_place.technician == ben
    sensor_actions.keep_spare(make.act(), sensor=spare, place=KeptAt.SHELF, technician=ben)
    assert spare.spare_place.technician is None


@pytest.mark.parametrize(
    ("kelvin", "from_now", "sentence"),
    [
        ("21", -timedelta(days=1), "broken"),
        ("0.1", timedelta(days=1), "still to come"),
        ("0.12345", -timedelta(days=1), "no more than 3 decimal places"),
    ],
)
def test_an_offset_nobody_could_have_found_is_refused(kelvin, from_now, sentence):
    given = {"offset_kelvin": Decimal(kelvin), "in_force_from": timezone.now() + from_now}
    assert sentence in refused(sensor_actions.give_offset, make.act(), sensor=make.sensor(), **given)


def test_a_second_offset_from_the_same_instant_is_refused():
    sensor, instant = make.sensor(), timezone.now() - timedelta(days=1)
    given = {"sensor": sensor, "offset_kelvin": Decimal("0.1"), "in_force_from": instant}
    sensor_actions.give_offset(make.act(), **given)
    assert "very instant" in refused(sensor_actions.give_offset, make.act(), **given)
