"""References: the certificate of a thermometer is added, never changed. The references are plain records."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.records import apply
from kits.checking import pure_thermometer
from kits.measuring.budget import normal_factor
from kits.measuring.trouble import CannotCompute
from kits.models import Certificate, ReferenceKind, ReferenceThermometer, Shop
from kits.promises import Refused


@action
def add_certificate(act: Act, *, thermometer: ReferenceThermometer, fields: Mapping[str, Any]) -> Done:
    """A new certificate of a reference thermometer came in; the newest one issued by a day is the one of that day.

    `fields` as in the model; `corrections` are pairs (°C, K) in any order; `confidence_percent` may stand for
    `coverage_factor`.
    """
    thermometer = hold(thermometer, based_on=act.based_on, act=act)
    if thermometer.kind != ReferenceKind.THERMOMETER:
        raise Refused(f"{thermometer} has an allowance and no certificate. Change its allowance instead.")
    given = dict(fields)
    try:
        if (confidence := given.pop("confidence_percent", None)) is not None:
            given["coverage_factor"] = Decimal(str(round(normal_factor(float(confidence)), 2)))
        given["corrections"] = rising(given.get("corrections") or [])
    except CannotCompute as trouble:
        raise Refused(str(trouble)) from trouble
    issued_on = given.get("issued_on")
    if issued_on and issued_on > act.recorded_at.astimezone(ZoneInfo(Shop.current().time_zone)).date():
        raise Refused({"issued_on": ["That day is still to come. Take the day printed on the certificate."]})
    if thermometer.certificates.filter(number=given.get("number")).exists():
        raise Refused({"number": [f"{thermometer} has a certificate of that number already."]})
    certificate = Certificate(thermometer=thermometer, recorded_at=act.recorded_at, recorded_by=act.typed_by)
    apply(certificate, given)
    try:
        pure_thermometer(thermometer, certificate)
    except CannotCompute as trouble:
        raise Refused({"corrections": [str(trouble)]}) from trouble
    sentence = f"Certificate {certificate.number} of {thermometer} entered, good until {certificate.due_on}"
    return record(act, "certificate added", sentence, about=[thermometer, certificate])


def rising(pairs: Any) -> list[list[float]]:
    """Pairs of temperature and correction by rising temperature; refused when one is no pair of numbers."""
    try:
        return sorted([float(celsius), float(kelvin)] for celsius, kelvin in pairs)
    except (TypeError, ValueError) as odd:
        raise CannotCompute("Every line of the table needs a temperature and a correction.") from odd
