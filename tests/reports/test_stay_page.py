"""The stay page and its papers, from real rows to bytes."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from kits.actions.sensors import give_offset
from kits.models import Kit
from reports.papers.words import when
from sites.actions import placements
from sites.actions.corrections import correct_time
from sites.models import Party, PartyRole, Position, Stage
from tests import make

pytestmark = pytest.mark.django_db

STAGES = [Stage.PLANNED, Stage.LOADED, Stage.INSTALLED, Stage.REMOVED, Stage.HANDED_BACK]


def text_of(answer) -> str:
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("stage", STAGES)
def test_the_page_and_every_paper_render_at_every_stage(stage, office_client):
    make.shop()
    stay = make.stay(stage)
    assert office_client.get(stay.get_absolute_url()).status_code == 200
    for name in ("shop_copy", "customer_copy", "leave_behind_card", "leaving_slip"):
        assert stay.kit.code in text_of(office_client.get(reverse(name, args=[stay.pk]))).replace(" ", "")


def test_the_report_tells_what_a_corrected_time_was_and_is(office_client):
    stay = make.stay(Stage.HANDED_BACK, began=timezone.now() - timedelta(days=3))
    was, better = stay.installed_at, stay.installed_at + timedelta(minutes=10)
    correct_time(make.act(make.manager()), stay=stay, stage=Stage.INSTALLED, to=better, why="Typed wrong")
    text = " ".join(text_of(office_client.get(f"/stays/{stay.pk}/shop-copy.pdf")).split())
    zone = stay.unit.site.zone
    assert f"(was {when(was.astimezone(zone))}, is {when(better.astimezone(zone))})" in text


def test_a_home_coming_nobody_saw_is_not_called_unfinished(office_client):
    stay = make.stay(Stage.HANDED_BACK, began=timezone.now() - timedelta(days=3))
    type(stay).objects.filter(pk=stay.pk).update(removed_at_is_known=False)
    text = text_of(office_client.get(f"/stays/{stay.pk}/shop-copy.pdf"))
    assert "Not all of this stay is known" in text and "not finished" not in text


def test_the_report_tells_the_mapping_with_the_offset_in_force_then_and_the_move(office_client):
    make.shop(temperature_unit="C")
    stay = make.stay(Stage.INSTALLED)
    sensor = stay.placements.get(position__code="SA").sensor
    give_offset(
        make.act(),
        sensor=sensor,
        offset_kelvin=Decimal("-0.31"),
        in_force_from=stay.installed_at - timedelta(days=3),
        how="crushed ice",
    )
    later = {"offset_kelvin": Decimal("0.77"), "in_force_from": timezone.now()}
    give_offset(make.act(), sensor=sensor, **later)
    oa = Position.objects.get(code="OA")
    placements.move_sensor(make.act(), kit=Kit.objects.get(pk=stay.kit_id), sensor=sensor, position=oa)
    stay.refresh_from_db()
    text = text_of(office_client.get(reverse("shop_copy", args=[stay.pk])))
    assert sensor.rom[-4:] in text.replace(" ", "")
    assert "0.31" in text and "crushed ice" in text
    assert "OA" in text
    page = office_client.get(stay.get_absolute_url()).content.decode()
    assert "0.31" in page and sensor.rom in page


def test_an_old_report_stays_with_the_old_customer(office_client):
    stay = make.stay(Stage.HANDED_BACK)
    old, new = make.customer("Ada Brook"), make.customer("Noor Lind")
    day = stay.installed_at.date()
    Party.objects.create(
        site=stay.unit.site,
        customer=old,
        part=PartyRole.LIVES_THERE,
        since=day - timedelta(days=9),
        until=day + timedelta(days=2),
    )
    Party.objects.create(
        site=stay.unit.site, customer=new, part=PartyRole.LIVES_THERE, since=day + timedelta(days=2)
    )
    text = text_of(office_client.get(reverse("customer_copy", args=[stay.pk])))
    assert "Ada Brook" in text and "Noor Lind" not in text


def test_what_we_saw_is_three_sentences_at_most_and_stands_on_the_customers_copy(office_client):
    stay = make.stay(Stage.HANDED_BACK)
    page = reverse("findings", args=[stay.pk])
    refused = office_client.post(page, {"saw": "One.\nTwo.\nThree.\nFour.", "suggest": ""})
    assert refused.status_code == 422 and "Four." in refused.content.decode()
    assert (
        office_client.post(
            page, {"saw": "It cools as it should.", "suggest": "Change the filter."}
        ).status_code
        == 302
    )
    text = text_of(office_client.get(reverse("customer_copy", args=[stay.pk])))
    assert "It cools as it should." in text and "Change the filter." in text
