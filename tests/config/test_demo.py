"""The demo: the same every day but for its dates, and its books tell one story."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from config.demo.logins import LOGINS
from config.demo.now import tell
from kits.models import CalibrationCheck, Event, Kit, Sensor, User
from kits.readiness import sensors_due
from sites.books import contradictions
from sites.doubts import recent_doubts
from sites.models import Deployment, Site, Stage
from tests import make

pytestmark = pytest.mark.django_db


def test_the_demo_has_one_of_everything_the_same_each_time_and_no_contradiction():
    now = timezone.now()
    tell(now)
    kits = list(Kit.objects.order_by("pk"))
    assert [kit.code for kit in kits] == DEMO_CODES
    assert Sensor.objects.order_by("pk").first().rom == DEMO_FIRST_ROM
    assert Site.objects.count() == 12
    assert [found for kit in kits for found in contradictions(kit)] == []
    assert {kit.custody.place for kit in kits} >= {"site", "truck", "shelf", "bench", "missing"}
    assert {stay.stage for stay in Deployment.objects.all()} == set(Stage)
    assert Deployment.objects.late(now.date()).exists()
    assert not Event.objects.filter(happened_at__gt=now).exists()
    unchecked = [str(one.sensor) for one in sensors_due(now) if not one.is_checked]
    assert unchecked == []
    assert {one.word(now.date()) for one in sensors_due(now)} == {"due", "due soon", "to be replaced"}
    checks = CalibrationCheck.objects.all()
    assert checks.filter(closed_at=None).count() == 1 and checks.exclude(withdrawal=None).count() == 1
    assert recent_doubts(now, now - timedelta(days=7))
    for login in LOGINS:
        assert User.objects.get(username=login.username).check_password(login.password)


@pytest.mark.parametrize(
    "hour",
    [
        pytest.param(2, id="late evening of the shop's day before"),
        pytest.param(5, id="just after the shop's midnight", marks=pytest.mark.soak),
        pytest.param(12, id="early morning", marks=pytest.mark.soak),
        pytest.param(20, id="afternoon", marks=pytest.mark.soak),
    ],
)
def test_the_demo_can_be_told_at_any_hour(hour):
    tell(timezone.now().replace(hour=hour, minute=2) - timedelta(days=1))
    assert [found for kit in Kit.objects.all() for found in contradictions(kit)] == []


def test_the_demo_is_only_for_an_empty_database():
    make.office()
    with pytest.raises(CommandError, match="only for an empty one"):
        call_command("load_demo")


DEMO_CODES = [
    "FTGCZW",
    "XSS6A5",
    "ECCBVA",
    "RFWH2C",
    "783N46",
    "8JPRNC",
    "G5H3MV",
    "24N7KS",
    "T4AHVK",
    "H3TD53",
]
DEMO_FIRST_ROM = "28C348AAF5C06C77"
