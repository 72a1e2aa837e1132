"""The calibration record: all that a record must hold, as a reader of the PDF finds it."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from kits.actions import checks, closing, thermometers
from kits.models import CalibrationCheck, Method, ReferenceKind, ReferenceThermometer, Sensor, Shape
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]

# Worked example B of the notes (checks/gum.json, example_comparison; numpy, uncertainties and GTC agree).
POINTS = {
    "0.00": ("0.3125", "0.3125", "0.375", "0.3125", "0.25"),
    "25.02": ("25.25", "25.3125", "25.25", "25.3125", "25.25"),
    "49.97": ("50.125", "50.125", "50.1875", "50.125", "50.125"),
}


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def begun() -> datetime:
    return timezone.now() - timedelta(days=2)


def certified(boss: object) -> ReferenceThermometer:
    probe = ReferenceThermometer.objects.create(
        kind=ReferenceKind.THERMOMETER, name="Probe", serial="P-7", resolution_kelvin=Decimal("0.01")
    )
    thermometers.add_certificate(
        make.act(boss, at=begun()),  # type: ignore[arg-type]
        thermometer=probe,
        fields={
            "number": "C-2231",
            "issuer": "Calibration house",
            "issued_on": date.today() - timedelta(days=90),
            "due_on": date.today() + timedelta(days=200),
            "corrections": [[-10, 0], [60, 0]],
            "expanded_uncertainty_kelvin": Decimal("0.05"),
            "coverage_factor": Decimal("2"),
            "drift_allowance_kelvin": Decimal("0.02"),
        },
    )
    return probe


def sitting_of_example_b(shape: Shape = Shape.LINE) -> CalibrationCheck:
    """Example B: certificate 0.05 (k = 2), drift ± 0.02, step 0.01, bath ± 0.03, three points, two like sensors."""
    boss = make.manager()
    sensors: list[Sensor] = [make.sensor(tag="1", checked=False), make.sensor(tag="2", checked=False)]
    done = checks.begin_check(
        make.act(boss, at=begun()),
        method=Method.STIRRED,
        reference=certified(boss),
        sensors=sensors,
        aimed_celsius=[Decimal(celsius) for celsius in POINTS],
        uniformity_kelvin=Decimal("0.03"),
        stability_kelvin=Decimal("0"),
        shape=shape,
    )
    sitting: CalibrationCheck = done.row(CalibrationCheck)
    for point, (reference, readings) in zip(sitting.points.order_by("number"), POINTS.items(), strict=True):
        told = {sensor: [Decimal(value) for value in readings] for sensor in sensors}
        checks.keep_readings(
            make.act(boss, at=begun()),
            check=sitting,
            point=point,
            readings={None: [Decimal(reference)] * 5, **told},
        )
    closing.close_check(make.act(boss, at=begun() + timedelta(hours=2)), check=sitting)
    sitting.refresh_from_db()
    return sitting


def test_the_record_holds_what_a_record_must_hold(manager_client: Client) -> None:
    """Asked by ISO/IEC 17025:2017, 7.8.4 and 7.8.6 (own words in the notes, 2.6)."""
    make.shop(temperature_unit="C")
    sitting = sitting_of_example_b()
    text = text_of(manager_client.get(f"/checks/{sitting.pk}/record.pdf").content)
    for told in (
        "certificate C-2231 of Calibration house",  # traceable to
        "U ± 0.050",  # the reference's own uncertainty
        "from place to place ± 0.030",  # conditions
        "As found",
        "As left",
        "guarded acceptance (ILAC-G8:09/2019)",  # the rule, with its limit
        "± 0.50",
        "wrong in at most 2.3 %",  # its risk
        "It is not the certificate of an accredited calibration laboratory",
        "Two of these sensors compared",
        "Degrees of freedom",
        "Correlation r of the two",
    ):
        assert told in text, told


def test_the_figures_of_the_record_are_those_of_the_worked_example(manager_client: Client) -> None:
    make.shop(temperature_unit="C")
    sitting = sitting_of_example_b()
    text = text_of(manager_client.get(f"/checks/{sitting.pk}/record.pdf").content)
    for figure in ("-0.3125", "-0.2550", "-0.1675", "0.0422", "0.0403", "0.0394", "83", "193", "393"):
        assert figure.replace("-", "−") in text, (
            figure
        )  # offsets, u and degrees of freedom of the three points
    assert "+0.00291 for each degree" in text


def test_a_record_in_fahrenheit_scales_differences_without_the_32(manager_client: Client) -> None:
    make.shop(temperature_unit="F")
    sitting = sitting_of_example_b()
    text = text_of(manager_client.get(f"/checks/{sitting.pk}/record.pdf").content)
    assert "± 0.90 °F" in text  # the limit of 0.5 K
    assert "77.0 °F" in text  # 25.02 °C


def test_a_withdrawn_check_says_so_before_anything_else(manager_client: Client) -> None:
    make.shop()
    sitting = sitting_of_example_b(Shape.ONE)
    closing.withdraw_check(make.act(make.manager()), check=sitting, why="the ice had melted")
    text = text_of(manager_client.get(f"/checks/{sitting.pk}/record.pdf").content)
    assert "Withdrawn" in text and "the ice had melted" in text
    assert text.index("Withdrawn") < text.index("What was found")


def test_an_open_check_has_no_record(manager_client: Client) -> None:
    sitting = make.check([make.sensor(checked=False)], closed=False)
    assert manager_client.get(f"/checks/{sitting.pk}/record.pdf").status_code == 404
