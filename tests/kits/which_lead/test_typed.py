"""The same judgement from values on paper, and what it cannot see."""

import pytest

from kits.which_lead import Kind, Shown, TypedValues, judge_typed
from tests.kits.which_lead.make import ROMS

A, B, C, _, _ = ROMS


def rows(*pairs: tuple[float | None, ...]) -> list[TypedValues]:
    return [TypedValues(rom, *pair) for rom, pair in zip(ROMS, pairs, strict=False)]


@pytest.mark.parametrize(
    ("pairs", "kind", "rom"),
    [
        pytest.param([(22, 27), (22, 22.1)], Kind.DECIDED, A, id="one rose"),
        pytest.param([(50, 49.8), (50, 41)], Kind.DECIDED, B, id="one fell in a hot attic"),
        pytest.param([(22, 23.9), (22, 22)], Kind.NOT_SURE_YET, None, id="less than two kelvin"),
        pytest.param([(22, 24.0), (22, 22)], Kind.DECIDED, A, id="just two kelvin"),
        pytest.param([(22, 27), (22, 24)], Kind.REFUSED_TWO_LEAD, None, id="two rose"),
        pytest.param([(22, 27), (22, 26), (22, 28)], Kind.REFUSED_ALL_MOVE, None, id="all rose"),
        pytest.param([(22, 27), (22, 17)], Kind.REFUSED_ALL_MOVE, None, id="one rose, one fell"),
        pytest.param([(30, 33), (30, 30)], Kind.REFUSED_NEAR_SKIN, None, id="as warm as a hand"),
        pytest.param(
            [(22, 14), (22, 22)], Kind.REFUSED_ALL_MOVE, None, id="a hand does not cool a cool lead"
        ),
        pytest.param([(22, 45), (22, 22)], Kind.REFUSED_ALL_MOVE, None, id="hotter than a hand"),
        pytest.param([(22, 27), (22, None)], Kind.NOT_SURE_YET, None, id="one value is missing"),
        pytest.param(
            [(22, 27), (22, 85.0)], Kind.NOT_SURE_YET, None, id="a sensor that just woke is no value"
        ),
        pytest.param([(22, 27), (-127, 22)], Kind.NOT_SURE_YET, None, id="no answer is no value"),
        pytest.param([(85.0, 85.0), (None, None)], Kind.NO_READINGS, None, id="nothing usable"),
        pytest.param([], Kind.NO_READINGS, None, id="nothing at all"),
        pytest.param([(22, 27)], Kind.DECIDED, A, id="the only one left, by elimination"),
    ],
)
def test_what_paper_says(pairs, kind, rom) -> None:
    found = judge_typed(rows(*pairs))
    assert (found.kind, found.rom) == (kind, rom)


def test_it_says_what_it_cannot_see() -> None:
    found = judge_typed(rows((22, 27), (22, 22)))
    assert "whether it began when the hand closed" in found.cannot_see
    assert "whether it came back when let go" in found.cannot_see


@pytest.mark.parametrize(
    ("later", "kind"),
    [
        pytest.param(26.0, Kind.DECIDED, id="back by a fifth"),
        pytest.param(26.5, Kind.RELEASED_NOT_RETURNING, id="back by a tenth"),
        pytest.param(29.0, Kind.RELEASED_NOT_RETURNING, id="gone on rising"),
    ],
)
def test_with_a_third_value_it_must_have_come_back(later, kind) -> None:
    found = judge_typed(rows((22, 27, later), (22, 22, 22)))
    assert found.kind is kind
    assert "whether it came back when let go" not in found.cannot_see


def test_a_cold_can_on_paper() -> None:
    assert judge_typed(rows((30, 22), (30, 30)), warm_or_cold="cold").rom == A


def test_fahrenheit_in_the_sentence() -> None:
    found = judge_typed(rows((22, 27), (22, 22)), shown=Shown.in_unit("F", ROMS))
    assert "by +9.0\u202f°F" in found.sentence


def test_a_named_lead_is_not_named_again() -> None:
    found = judge_typed(rows((22, 27), (22, 22), (22, 22)), unnamed=[B, C])
    assert found.rom is None and "named already" in found.sentence
