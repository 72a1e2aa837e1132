"""Plugging in one lead at a time."""

import pytest

from kits.rom import crc8
from kits.which_lead import newly_seen


def rom(number: int) -> str:
    seven = bytes([0x28, number, 0x64, 0x1E, 0x0F, 0, 0])
    return (seven + bytes([crc8(seven)])).hex().upper()


A, B, C = rom(1), rom(2), rom(3)


@pytest.mark.parametrize(
    ("looks", "in_order", "at_once", "sentence"),
    [
        pytest.param([], (), (), "Plug in the first lead.", id="nothing yet"),
        pytest.param([[], [A]], (A,), (), "New: …", id="the first"),
        pytest.param([[A], [A, B], [C, A, B]], (A, B, C), (), "New: …", id="one after another"),
        pytest.param([[A], [], [A]], (A,), (), "New: …", id="out and in again is not new"),
        pytest.param([[A], [], [B], [A, B]], (A, B), (), "New: …", id="the order is that of first sight"),
        pytest.param([[A, B]], (), (A, B), "Two new at once: ", id="two at once"),
        pytest.param([[A, B], [A], [A]], (A,), (B,), "New: …", id="one of two unplugged tells them apart"),
        pytest.param(
            [[A, B], [A], [A, B]], (), (A, B), "Two new", id="missed at one look only tells nothing"
        ),
        pytest.param([[A, B], [], []], (), (A, B), "Plug them in again", id="both out again"),
        pytest.param([[A, B], [A], [A], [A, B], [A, B]], (A, B), (), "New: …", id="and the other comes back"),
        pytest.param([[A, B], [A, B, C]], (), (A, B, C), "Three new", id="a third while two wait"),
    ],
)
def test_what_the_looks_say(looks, in_order, at_once, sentence) -> None:
    found = newly_seen(looks)
    assert (found.in_order, found.at_once) == (in_order, at_once)
    assert found.sentence.startswith(sentence)


def test_each_is_named_in_its_turn() -> None:
    looks = [[A], [A, B]]
    assert newly_seen(looks).to_name == A
    assert newly_seen(looks, named=[A]).to_name == B
    done = newly_seen(looks, named=[A, B])
    assert (done.to_name, done.sentence) == (None, "Plug in the next lead.")


def test_sensors_that_were_there_before_are_not_new() -> None:
    found = newly_seen([[A], [A, B]], already_there=[A])
    assert found.in_order == (B,)


def test_the_one_unplugged_is_asked_for_again_after_its_neighbour_is_named() -> None:
    found = newly_seen([[A, B], [A], [A]], named=[A])
    assert (found.to_name, found.gone, found.sentence) == (None, (B,), "Plug the other one in again.")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        pytest.param("0" * 16, "shorted data wire", id="all zeros"),
        pytest.param("F" * 16, "no sensor answered", id="all F"),
        pytest.param(A[:-2] + "00", "CRC does not fit", id="a ghost with a wrong CRC"),
        pytest.param(A.lower(), "order of the wire", id="not as the wire has it"),
    ],
)
def test_a_ghost_is_refused_with_its_reason_and_never_named(text, why) -> None:
    found = newly_seen([[text, B]])
    assert found.in_order == (B,) and found.to_name == B
    ((seen, reason),) = found.refused
    assert seen == text and why in reason


def test_a_ghost_alone_is_said() -> None:
    assert newly_seen([["0" * 16]]).sentence.startswith("Something on the wire is no sensor of ours")
