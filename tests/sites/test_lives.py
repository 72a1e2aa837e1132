"""Whole lives of kits, step by random step: an independent oracle agrees, the books tell one story, nothing is done twice."""

from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from kits.actions.acting import Act
from kits.actions.custody import move_kit
from kits.actions.sensors import wire
from kits.models import Custody, Kit, Place, Receipt, Sensor, User, Wiring
from tests.sites import life_world
from tests.sites.life_rules import Life

pytestmark = pytest.mark.django_db

STEPS, PARTS = 30, 6


def live(
    world: life_world.World,
    lives: int,
    *,
    part: int = 0,
    steps: int = STEPS,
    phases: tuple[Phase, ...] = (Phase.generate,),  # a failing life is told as it was lived
) -> type[Life]:
    """Run that many lives in `world`, the same ones every time; each is a transaction that is rolled back."""

    @seed(part)
    class OurLife(Life):
        pass

    OurLife.world = world
    run_state_machine_as_test(
        OurLife,
        settings=settings(
            max_examples=lives,
            stateful_step_count=steps,
            database=None,
            deadline=None,
            phases=phases,
            report_multiple_bugs=False,
            suppress_health_check=list(HealthCheck),
        ),
    )
    return OurLife


@pytest.mark.parametrize("part", range(PARTS))
def test_the_books_tell_one_story_through_whole_lives(part: int):
    """300 lives on SQLite, more than 50 on PostgreSQL; every second part begins on a busy morning."""
    lives = 50 if connection.vendor == "sqlite" else 9
    lived = live(life_world.build(busy=part % 2 == 1), lives, part=part)
    # Lives in which hardly anything is done, or nothing refused, would prove little.
    assert lived.done_count > 5 * lives and lived.refused_count > lives


@pytest.mark.soak
@pytest.mark.parametrize("part", range(100, 120))
def test_the_books_tell_one_story_through_many_more_lives(part: int):
    """Here a failing life is made small as well, which may take minutes."""
    lives = 200 if connection.vendor == "sqlite" else 60
    world = life_world.build(busy=part % 2 == 1)
    live(world, lives, part=part, steps=40, phases=(Phase.generate, Phase.shrink))


# -- Planted faults: a machine that cannot fail proves nothing --------------------------------------


def move_without_closing(kit: Kit, place: Place, *, at: datetime, technician: User | None = None) -> Custody:
    return Custody.objects.create(kit=kit, place=place, technician=technician, held_from=at)


def only_onto_trucks(kit: Kit, place: Place, *, at: datetime, technician: User | None = None) -> Custody:
    """Coming home moves nothing: the shelf and the bench are forgotten."""
    return (
        kit.custody
        if place in {Place.SHELF, Place.BENCH}
        else move_kit(kit, place, at=at, technician=technician)
    )


def always_on_the_shelf(kit: Kit, place: Place, *, at: datetime, technician: User | None = None) -> Custody:
    return move_kit(kit, Place.SHELF if place == Place.BENCH else place, at=at, technician=technician)


def wire_with_the_old_offset(kit: Kit, new: Sensor, terminal: int, *, at: datetime) -> Wiring:
    """The new lead gets the offset of the one that was on that terminal before."""
    before = kit.wirings.filter(terminal=terminal).order_by("wired_from", "pk").last()
    wiring = wire(kit, new, terminal, at=at)
    if (
        before
        and (offset := before.sensor.offset_at(at))
        and not new.offsets.filter(in_force_from=at).exists()
    ):
        new.offsets.create(
            in_force_from=at,
            offset_kelvin=offset.offset_kelvin,
            recorded_at=at,
            recorded_by=offset.recorded_by,
        )
    return wiring


def a_receipt_never_seen(act: Act, fingerprint: str) -> Receipt:
    return Receipt.objects.create(
        user=act.typed_by, request_id=uuid4(), payload_sha256=fingerprint, made_at=act.recorded_at
    )


def nothing(*_args: object, **_given: object) -> list[Any]:
    return []


FAULTS = {
    "a kit's last custody is not closed": ("sites.actions.custody.move_kit", move_without_closing),
    "hand-back does not move the kit": ("sites.actions.coming_home.move_kit", only_onto_trucks),
    "a found kit goes straight to the shelf": ("sites.actions.custody.move_kit", always_on_the_shelf),
    "versions are not compared": ("kits.actions.acting.check_version", nothing),
    "versions are not counted": ("kits.actions.acting.count_up", nothing),
    "content of a repeated request is not compared": (
        "kits.actions.acting.fingerprint_of",
        lambda *_args: "same",
    ),
    "receipts are never looked up": ("kits.actions.acting.claim", a_receipt_never_seen),
    "placements stay open at removal": ("sites.actions.coming_home.end_placements", nothing),
    "a plan does not let go at a late hand-back": ("sites.actions.coming_home.let_go_begun", nothing),
    "a plan does not let go of a kit loaded for another call": (
        "sites.actions.stays.let_go_overlapping",
        nothing,
    ),
    "a stay does not let go of a kit taken onto another truck": ("sites.actions.custody.let_go", nothing),
    "a swapped lead inherits the offset": ("sites.actions.placements.wire", wire_with_the_old_offset),
    "a swapped lead keeps its old placement": ("sites.actions.placements.end", nothing),
    "a corrected time leaves custody behind": ("sites.actions.corrections.custody_edges", nothing),
    "a corrected time moves nothing at all": ("sites.actions.corrections.move_edges", nothing),
    "an extension changes no days": ("sites.actions.planning.set_dates", nothing),
    "looking backwards forgets the offsets": ("sites.as_of.offsets_at", lambda *_args: {}),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_single_planted_fault_is_found(fault: str, monkeypatch: pytest.MonkeyPatch):
    if connection.vendor != "sqlite":
        pytest.skip("whether the machine finds a fault does not depend on the database")
    where, wrong = FAULTS[fault]
    world = life_world.build(busy=True)
    monkeypatch.setattr(where, wrong)
    with pytest.raises((AssertionError, IntegrityError)):
        live(world, 60)
