"""The hand-back report says how well the temperature split is known, from the checks of the two sensors."""

from datetime import timedelta

import pytest
from django.utils import timezone

from reports.gather import stay_paper
from reports.papers.handback import shop_copy_pdf
from sites.models import Occasion, Position, ReferenceReading, Stage
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture
def stay():
    """A stay of a kit whose two sensors were checked in one sitting: the first reads 0.3 K too much, the second 0.1 K."""
    make.shop(temperature_unit="C")
    kit = make.kit(sensors=2, checked=False)
    sensors = [wiring.sensor for wiring in kit.wirings.order_by("terminal")]
    make.check(sensors, errors=(0.3, 0.1), at=timezone.now() - timedelta(days=3))
    return make.stay(Stage.INSTALLED, kit=kit)


def read(stay, code: str, raw: str) -> None:
    placed = stay.placements.get(position__code=code)
    ReferenceReading.objects.update_or_create(
        deployment=stay,
        occasion=Occasion.INSTALL,
        position=Position.objects.get(code=code),
        defaults={"sensor": placed.sensor, "raw_celsius": raw, "read_at": stay.installed_at},
    )


def test_return_minus_supply_is_corrected_and_says_how_well_it_is_known(stay):
    read(stay, "SA", "13.30")
    read(stay, "RA", "24.10")
    paper = stay_paper(stay, printed_at=timezone.now())
    said = paper.split_installed.replace("\u202f", " ")
    # Each sensor by itself is known to ± 0.13 K; what ice and bath have in common counts once.
    assert said == "Return minus supply: +11.0 K ± 0.1 K (95 %), both sensors checked in one sitting"
    assert shop_copy_pdf(paper).startswith(b"%PDF")


def test_without_one_of_the_two_there_is_no_split(stay):
    read(stay, "SA", "13.30")
    assert stay_paper(stay, printed_at=timezone.now()).split_installed == ""
