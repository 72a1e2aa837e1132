"""One look at the leads: each way it can end, with its numbers and its sentence."""

import math

import pytest

from kits.which_lead import Kind, Sample, Series, Shown, judge
from tests.kits.which_lead.make import ROMS, held, ramp, series, still

A, B, C, D, E = ROMS


# -- Before the hold -------------------------------------------------------------------------------


def test_before_the_hold_it_says_when_all_are_quiet() -> None:
    leads = series([still(), still(22.5)])
    early, later = judge(leads, None, -50), judge(leads, None, -20)
    assert (early.kind, early.ready_to_hold) == (Kind.NOT_SURE_YET, False)
    assert "hang free" in early.what_to_do
    assert (later.kind, later.ready_to_hold) == (Kind.NOT_SURE_YET, True)


def test_a_lead_still_coming_back_keeps_the_next_hold_waiting() -> None:
    found = judge(series([ramp(-0.75), still()]), None, 0)
    assert found.kind is Kind.REFUSED_UNSTEADY_BASELINE and not found.ready_to_hold
    assert "…00A1 is still moving, −0.8\u202fK a minute" in found.sentence


@pytest.mark.parametrize(
    ("kelvin_per_minute", "kind"),
    [
        pytest.param(0.15, Kind.NOT_SURE_YET, id="a room that warms slowly"),
        pytest.param(0.4, Kind.REFUSED_UNSTEADY_BASELINE, id="twice the limit of 0.2 K a minute"),
    ],
)
def test_what_counts_as_quiet(kelvin_per_minute: float, kind: Kind) -> None:
    assert judge(series([ramp(kelvin_per_minute), still()]), None, 0).kind is kind


def test_a_hold_without_a_quiet_time_before_it_is_refused() -> None:
    found = judge(series([held(), still()], from_s=-10), 0, 40)
    assert found.kind is Kind.REFUSED_UNSTEADY_BASELINE and found.rom is None


# -- The decision ----------------------------------------------------------------------------------


def test_a_gripped_lead_is_named_after_half_a_minute_and_no_sooner() -> None:
    leads = series([still(), held(begins_s=1.0), still(21.5)])
    assert [judge(leads, 0, at_s).kind for at_s in (5, 15, 29)] == [Kind.NOT_SURE_YET] * 3
    found = judge(leads, 0, 36)
    assert (found.kind, found.rom, found.leader) == (Kind.DECIDED, B, B)
    assert found.change_kelvin == pytest.approx(9 * (1 - math.exp(-33 / 25)), abs=0.1)
    assert found.runner_up_kelvin == 0 and found.margin and found.margin > 20
    assert not found.by_elimination and not found.must_be_confirmed


def test_in_a_hot_attic_the_held_lead_cools() -> None:
    found = judge(series([held(ambient=50), still(50)]), 0, 40)
    assert found.rom == A and found.change_kelvin and found.change_kelvin < -10


def test_the_sentences_carry_the_numbers_in_the_shops_unit() -> None:
    leads = series([held(), still()])
    celsius = judge(leads, 0, 40)
    fahrenheit = judge(leads, 0, 40, shown=Shown.in_unit("F", ROMS))
    assert celsius.change_kelvin == fahrenheit.change_kelvin == 7.0625
    assert "…00A1 by +7.1\u202fK" in celsius.sentence
    # 7.0625 K is 12.7 °F of difference, never 44.7.
    assert "…00A1 by +12.7\u202f°F" in fahrenheit.sentence


def test_a_slow_mover_is_let_go_first_and_named_when_it_comes_back() -> None:
    leads = series([held(tau_s=80, ends_s=46), still()])
    asks = judge(leads, 0, 46)
    assert (asks.kind, asks.let_go, asks.rom, asks.leader) == (Kind.NOT_SURE_YET, True, None, A)
    waits = judge(leads, 0, 66, released_at_s=46)
    assert waits.kind is Kind.NOT_SURE_YET and "come back by" in waits.sentence
    found = judge(leads, 0, 110, released_at_s=46)
    assert found.rom == A and found.returned_share and found.returned_share >= 0.2


def test_a_lead_that_does_not_come_back_is_not_named() -> None:
    leads = series([held(tau_s=80), still()])
    assert judge(leads, 0, 100, released_at_s=46).kind is Kind.NOT_SURE_YET
    found = judge(leads, 0, 170, released_at_s=46)
    assert (found.kind, found.rom, found.is_refused) == (Kind.RELEASED_NOT_RETURNING, None, True)


def test_looking_again_long_after_the_release_changes_nothing() -> None:
    leads = series([held(ends_s=46), still()], until_s=600)
    assert judge(leads, 0, 110, released_at_s=46).rom == judge(leads, 0, 590, released_at_s=46).rom == A


def test_letting_go_too_early_is_said() -> None:
    found = judge(series([held(ends_s=12), still()]), 0, 60, released_at_s=12)
    assert found.kind is Kind.NOT_SURE_YET and "too early" in found.sentence


# -- Refusals --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ambient", "kind"),
    [
        pytest.param(26.9, Kind.NOT_SURE_YET, id="just below four kelvin"),
        pytest.param(27.1, Kind.REFUSED_NEAR_SKIN, id="just within"),
        pytest.param(31.0, Kind.REFUSED_NEAR_SKIN, id="as warm as the hand"),
        pytest.param(34.9, Kind.REFUSED_NEAR_SKIN, id="just within, above"),
        pytest.param(35.1, Kind.NOT_SURE_YET, id="just above four kelvin"),
    ],
)
def test_within_four_kelvin_of_the_skin_it_proposes_a_cold_can(ambient: float, kind: Kind) -> None:
    found = judge(series([held(ambient), still(ambient)]), 0, 10)
    assert found.kind is kind
    assert ("cold can or a wet cloth" in found.what_to_do) is (kind is Kind.REFUSED_NEAR_SKIN)


def test_a_cold_can_works_where_a_hand_does_not() -> None:
    leads = series([held(30, hand=6), still(30)])
    assert judge(leads, 0, 40).kind is Kind.REFUSED_NEAR_SKIN
    found = judge(leads, 0, 40, warm_or_cold="cold")
    assert found.rom == A and found.change_kelvin and found.change_kelvin < 0


def test_a_cold_can_is_refused_where_it_is_as_cold_already() -> None:
    found = judge(series([still(9), still(9)]), 0, 10, warm_or_cold="cold")
    assert found.kind is Kind.REFUSED_NEAR_SKIN and "hand" in found.what_to_do


def test_another_skin_temperature_moves_the_limit() -> None:
    leads = series([held(27.5, hand=34), still(27.5)])
    assert judge(leads, 0, 40).kind is Kind.REFUSED_NEAR_SKIN
    assert judge(leads, 0, 40, skin_celsius=34).rom == A


def test_when_all_move_together_equipment_has_started() -> None:
    found = judge(series([held(22, 40, 50), held(22, 38, 50), held(22, 39, 50)]), 0, 40)
    assert found.kind is Kind.REFUSED_ALL_MOVE and found.sentence.startswith("3 leads move together")


def test_two_leads_that_rise_are_not_told_apart() -> None:
    found = judge(series([held(), held(tau_s=40), still()]), 0, 40)
    assert (found.kind, found.rom) == (Kind.REFUSED_TWO_LEAD, None)
    assert found.margin and found.margin < 3


def test_a_second_lead_held_in_a_glove_stops_the_decision_although_the_first_moves_three_times_as_much() -> (
    None
):
    found = judge(series([held(15, tau_s=18), held(15, tau_s=110)]), 0, 31)
    assert found.margin and found.margin > 3
    assert found.kind is Kind.REFUSED_TWO_LEAD


def test_two_leads_that_move_opposite_ways_are_no_hand() -> None:
    found = judge(series([held(), held(22, 12, 50)]), 0, 40)
    assert found.kind is Kind.REFUSED_ALL_MOVE and "opposite ways" in found.sentence


@pytest.mark.parametrize(
    ("hand", "words"),
    [
        pytest.param(8.0, "would move it the other way", id="it cools in a cool room"),
        pytest.param(70.0, "well past a hand", id="it gets much warmer than a hand"),
    ],
)
def test_what_no_hand_can_do_is_not_named(hand: float, words: str) -> None:
    found = judge(series([held(22, hand), still()]), 0, 60)
    assert found.kind is Kind.REFUSED_ALL_MOVE and words in found.sentence


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(held(22, 31, 50), id="air of a duct, just when the hand closed"),
        pytest.param(held(22, 31, 25, begins_s=20), id="as fast as a grip, but twenty seconds late"),
        pytest.param(ramp(4, begins_s=0), id="a patch of sun"),
    ],
)
def test_what_could_be_something_else_is_never_named_while_held(other: object) -> None:
    leads = series([other, still()])  # type: ignore[list-item]
    looks = [judge(leads, 0, at_s) for at_s in range(10, 90, 3)]
    assert not any(look.is_decided for look in looks)
    assert any(look.let_go for look in looks)


def test_a_clamped_probe_moves_too_little_and_it_says_what_to_try() -> None:
    leads = series([held(22, 22.8), still()])
    assert judge(leads, 0, 60).what_to_do.startswith("Keep holding")
    found = judge(leads, 0, 95)
    assert found.kind is Kind.NOT_SURE_YET and found.what_to_do.startswith("Unclamp the probe")


# -- Readings that are none ------------------------------------------------------------------------


def test_without_readings_it_says_so() -> None:
    leads = {A: Series(A), B: Series(B, [Sample(0, 85.0), Sample(2, -127.0), Sample(4, 127.9375)])}
    found = judge(leads, None, 10)
    assert found.kind is Kind.NO_READINGS and "just woken" in found.sentence


def test_a_silent_lead_may_be_the_one_held_so_nothing_is_decided() -> None:
    leads = series([held(), still(), still()])
    leads[C] = Series(C, [one for one in leads[C].samples if one.at_s < 15])
    found = judge(leads, 0, 40)
    assert found.kind is Kind.NOT_SURE_YET and "…00C3 has sent nothing for 25 seconds" in found.sentence


def test_a_spike_of_a_sensor_that_just_woke_neither_leads_nor_hides() -> None:
    leads = series([held(), still()])
    spoiled = {
        rom: Series(
            rom, [Sample(t, 85.0) if t in (-20, 12, 36, 38, 40) else Sample(t, c) for t, c in one.samples]
        )
        for rom, one in leads.items()
    }
    assert judge(spoiled, 0, 40).rom == A


def test_a_box_that_repeats_its_readings_is_waited_for() -> None:
    """Measured every 20 s, asked every 2 s: three equal values in a row are one reading."""
    grip = held()
    leads = series([lambda at_s: grip(20 * (at_s // 20)), still()])
    found = judge(leads, 0, 44)
    assert found.kind is Kind.NOT_SURE_YET and "every 20 seconds" in found.what_to_do
    later = judge(leads, 0, 85)
    assert later.is_decided or later.let_go


def test_the_order_of_the_samples_does_not_matter() -> None:
    leads = series([held(), still()])
    mixed = {rom: Series(rom, one.samples[::-1]) for rom, one in leads.items()}
    assert judge(mixed, 0, 40) == judge(leads, 0, 40)


def test_readings_after_now_are_not_known_yet() -> None:
    assert judge(series([held(), still()]), 0, 40) == judge(series([held(), still()], until_s=40), 0, 40)


# -- Named leads and the last one ------------------------------------------------------------------


def test_a_lead_named_already_is_not_named_again() -> None:
    found = judge(series([held(), still(), still()]), 0, 40, unnamed=[B, C])
    assert (found.kind, found.rom) == (Kind.NOT_SURE_YET, None) and "named already" in found.sentence


def test_a_named_lead_on_its_way_back_does_not_disturb_the_next() -> None:
    found = judge(series([held(ends_s=-60, begins_s=-110), held(), still()]), 0, 40, unnamed=[B, C])
    assert found.rom == B


def test_the_last_lead_is_known_by_elimination_and_has_to_be_confirmed() -> None:
    found = judge({}, None, 0, unnamed=[B])
    assert (found.kind, found.rom, found.by_elimination) == (Kind.DECIDED, B, True)
    assert (
        found.must_be_confirmed and found.change_kelvin is None and "Nothing was measured" in found.sentence
    )


def test_the_last_lead_held_all_the_same_is_measured() -> None:
    found = judge(series([still(), held()]), 0, 40, unnamed=[B])
    assert (found.rom, found.by_elimination) == (B, False)


def test_the_last_lead_that_does_not_move_contradicts_the_elimination() -> None:
    found = judge(series([still(), still()]), 0, 60, unnamed=[B])
    assert (found.kind, found.rom) == (Kind.NOT_SURE_YET, None) and "named twice" in found.what_to_do


def test_nothing_left_to_name_is_said() -> None:
    assert judge(series([still()]), None, 0, unnamed=[]).sentence == "Every lead of this kit is named."


def test_only_hand_and_cold_are_known() -> None:
    with pytest.raises(ValueError, match="hand"):
        judge(series([held(), still()]), 0, 40, warm_or_cold="warm")
