"""Naming leads one at a time."""

import pytest

from kits.which_lead import Naming, NamingError
from tests.kits.which_lead.make import ROMS

A, B, C, D, _ = ROMS


def test_leads_are_named_one_at_a_time_and_the_last_is_known_by_elimination() -> None:
    naming = Naming.of([A, B, C, A])
    assert naming.unnamed == (A, B, C) and naming.last_left is None
    naming = naming.name(B, "1").name(A, " 2 ")
    assert naming.last_left == C
    assert [(one.rom, one.tag) for one in naming.named] == [(B, "1"), (A, "2")]
    done = naming.name(C, "3", measured=False, confirmed=True)
    assert done.is_complete and done.named[-1].by_elimination and done.last_left is None


def test_a_single_lead_of_a_kit_is_not_left_over_from_anything() -> None:
    assert Naming.of([A]).last_left is None


def test_undo_takes_back_the_last_name_only() -> None:
    naming = Naming.of([A, B, C]).name(B, "1").name(C, "2").undo()
    assert naming.unnamed == (C, A) and [one.rom for one in naming.named] == [B]
    assert naming.name(C, "2").undo().undo().named == ()


@pytest.mark.parametrize(
    ("rom", "tag", "how", "words"),
    [
        pytest.param(A, "2", {}, "has its name already", id="named twice"),
        pytest.param("28" + "0" * 14, "2", {}, "not among the leads", id="a stranger"),
        pytest.param(B, "  ", {}, "what stands on the tape", id="no tape"),
        pytest.param(B, "1", {}, "Tape 1 is on another lead", id="the same tape"),
        pytest.param(B, "2", {"measured": False, "confirmed": True}, "Only the last", id="not the last"),
    ],
)
def test_what_is_refused(rom, tag, how, words) -> None:
    naming = Naming.of([A, B, C]).name(A, "1")
    with pytest.raises(NamingError, match=words):
        naming.name(rom, tag, **how)


def test_tape_is_the_same_in_capitals() -> None:
    with pytest.raises(NamingError, match="Tape green"):
        Naming.of([A, B, C]).name(A, "green").name(B, "Green")


def test_the_last_one_has_to_be_confirmed() -> None:
    naming = Naming.of([A, B]).name(A, "1")
    with pytest.raises(NamingError, match="was not measured"):
        naming.name(B, "2", measured=False)


def test_nothing_to_undo_is_said() -> None:
    with pytest.raises(NamingError, match="No lead has been named"):
        Naming.of([A]).undo()
