"""Which sensor is which number, and what its offset is, has no say in who wins."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from kits.which_lead import Judgement, Sample, Series, judge
from tests.kits.which_lead.make import ROMS, held, ramp, series, still

ambients = st.one_of(st.integers(5, 24), st.integers(39, 50))


@st.composite
def leads(draw: st.DrawFn) -> dict[str, Series]:
    """Two to five leads, each gripped, blown on, drifting or still."""
    ambient = float(draw(ambients))
    kinds = st.one_of(
        st.just(still(ambient)),
        st.builds(
            ramp, st.sampled_from([-0.1, 0.1, 0.5, 3.0]), st.sampled_from([-60.0, 0.0]), st.just(ambient)
        ),
        st.builds(held, st.just(ambient), st.integers(27, 34), st.integers(15, 120), st.integers(-2, 20)),
        st.builds(held, st.just(ambient), st.sampled_from([10, 60]), st.just(50), st.integers(-30, 40)),
    )
    grip = held(ambient, 31.0, draw(st.integers(15, 60)), draw(st.integers(-2, 6)))
    others = draw(st.lists(st.one_of(st.just(still(ambient)), kinds), min_size=1, max_size=4))
    return series([grip, *others], every_s=draw(st.sampled_from([1, 2, 5, 10])), until_s=100)


def renamed(found: Judgement, names: dict[str, str]) -> Judgement:
    def name(rom: str | None) -> str | None:
        return None if rom is None else names[rom]

    return replace(
        found, rom=name(found.rom), leader=name(found.leader), runner_up=None, sentence="", what_to_do=""
    )


@settings(max_examples=150, deadline=None)
@given(leads(), st.permutations(ROMS), st.integers(10, 95))
def test_relabelling_the_sensors_relabels_the_answer_and_nothing_else(
    found: dict[str, Series], order: list[str], now_s: int
) -> None:
    names = dict(zip(ROMS, order, strict=True))
    other = {names[rom]: Series(names[rom], one.samples) for rom, one in reversed(found.items())}
    first, second = judge(found, 0, now_s), judge(other, 0, now_s)
    mine, theirs = renamed(first, names), renamed(second, {rom: rom for rom in ROMS})
    if first.change_kelvin == first.runner_up_kelvin:
        # Two leads that move alike: either may be called the leader, and neither is named.
        assert first.rom is second.rom is None
        mine, theirs = replace(mine, leader=None), replace(theirs, leader=None)
    assert mine == theirs


@settings(max_examples=150, deadline=None)
@given(leads(), st.lists(st.integers(-24, 24), min_size=5, max_size=5), st.integers(30, 95))
def test_an_offset_of_any_sensor_does_not_change_the_winner(
    found: dict[str, Series], steps: list[int], now_s: int
) -> None:
    """Up to 1.5 K either way, on every lead another; the air is far enough from the hand that none of it gets near."""
    shifted = {
        rom: Series(rom, [Sample(at_s, celsius + step / 16) for at_s, celsius in one.samples])
        for (rom, one), step in zip(found.items(), steps, strict=False)
    }
    first, second = judge(found, 0, now_s), judge(shifted, 0, now_s)
    assert first.rom == second.rom
    assert first.change_kelvin == second.change_kelvin
