"""What a check that found a sensor out of limit says of earlier stays, on the page of the check's doubts and on the stay's."""

from datetime import timedelta

import pytest
from django.utils import timezone

from sites.models import Deployment, Stage
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture
def checked_stay(db):
    """A kit checked 30 days ago, in a house from 20 to 10 days ago, and its sensors."""
    make.shop()
    now, day = timezone.now(), timedelta(days=1)
    kit = make.kit(sensors=2, checked=False)
    sensors = [wiring.sensor for wiring in kit.wirings.order_by("terminal")]
    make.check(sensors, errors=(0.1, 0.1), at=now - 30 * day)
    stay = make.stay(Stage.INSTALLED, kit=kit, began=now - 20 * day)
    make.go_on(stay, Stage.REMOVED, at=now - 10 * day)
    make.go_on(stay, Stage.HANDED_BACK, at=now - 9 * day)
    return Deployment.objects.get(pk=stay.pk), sensors


def test_a_stay_in_doubt_is_named_with_the_size_of_the_doubt(technician_client, checked_stay):
    stay, sensors = checked_stay
    check = make.check(sensors, errors=(0.9, 0.1))
    answer = technician_client.get(f"/checks/{check.pk}/doubts/")
    said = words(answer).replace("\u202f", " ")
    assert "1 stay is in doubt" in said and str(stay.unit.site) in said
    assert f"Sensor {sensors[0]} at SA supply air: readings may have been up to 1.7 °F too high" in said
    assert stay.get_absolute_url() in answer.content.decode()
    page = technician_client.get(check.get_absolute_url()).content.decode()
    assert f"/checks/{check.pk}/doubts/" in page
    told = words(technician_client.get(stay.get_absolute_url()))
    assert "In doubt." in told and "too high" in told


def test_a_withdrawn_check_puts_nothing_in_doubt(technician_client, manager_client, checked_stay):
    stay, sensors = checked_stay
    check = make.check(sensors, errors=(0.9, 0.1))
    manager_client.post(f"/checks/{check.pk}/withdraw/", {"why": "Cubes, not crushed ice"})
    assert "The check was withdrawn, so nothing follows" in words(
        technician_client.get(f"/checks/{check.pk}/doubts/")
    )
    assert "In doubt." not in words(technician_client.get(stay.get_absolute_url()))


def test_a_good_check_leads_to_no_page_of_doubts(technician_client, checked_stay):
    good = make.check(checked_stay[1], errors=(0.1, 0.1))
    assert "No stay is in doubt" in words(technician_client.get(f"/checks/{good.pk}/doubts/"))
    assert f"/checks/{good.pk}/doubts/" not in technician_client.get(good.get_absolute_url()).content.decode()
