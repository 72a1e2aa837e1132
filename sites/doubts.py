"""Stays whose papers are in doubt: a check found one of their sensors out of limit, and nobody knows since when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from kits.check_arithmetic import as_found_errors
from kits.measuring.doubt import Doubt, Span, doubt, in_doubt
from kits.models import CheckResult, Conformity, Offset, OffsetSource, Sensor
from kits.units import Unit
from sites.models import Deployment, Placement

FAILED = (Conformity.FAIL, Conformity.CONDITIONAL_FAIL)
"""As found beyond the limit; within its guard band still beyond it."""


@dataclass(frozen=True, kw_only=True)
class InDoubt:
    """One sensor at one position of one stay, whose readings may have been wrong by the size of the doubt."""

    result: CheckResult
    sensor: Sensor
    stay: Deployment
    placement: Placement
    size: Doubt
    last_good_at: datetime | None
    """The check before, at which it still was within the limit; None when there was none."""

    def sentence(self, unit: Unit) -> str:
        """ "Sensor 3 (…A1F3) at SA supply air: readings may have been up to 1.3 °F too high, …"."""
        said = self.size.sentence(unit)
        return f"Sensor {self.sensor} at {self.placement.position}: {said[:1].lower()}{said[1:]}"


def failed_results(**among: Any) -> list[CheckResult]:
    """What closed checks that still stand found out of limit, newest first."""
    rows = CheckResult.objects.filter(conformity__in=FAILED, sitting__withdrawal=None, **among)
    return list(rows.select_related("sensor", "sitting").order_by("-sitting__closed_at", "pk"))


def doubts_of_check(check_id: int) -> list[InDoubt]:
    """The stays that this check puts in doubt."""
    return doubts_from(failed_results(sitting=check_id))


def doubts_of_stay(stay: Deployment) -> list[InDoubt]:
    """What later checks say against the readings of this stay."""
    sensors = set(stay.placements.values_list("sensor_id", flat=True))
    return [one for one in doubts_from(failed_results(sensor__in=sensors)) if one.stay.pk == stay.pk]


def recent_doubts(now: datetime, since: datetime) -> list[InDoubt]:
    """What checks closed from `since` on put in doubt: something for the office to look at."""
    return doubts_from(failed_results(sitting__closed_at__gte=since, sitting__closed_at__lte=now))


def doubts_from(results: Iterable[CheckResult]) -> list[InDoubt]:
    """For each result found out of limit the stays since the sensor's last good check; three queries for all of them."""
    results = list(results)
    if not results:
        return []
    sensors = {row.sensor_id for row in results}
    good = good_checks(sensors)
    placements: dict[int, list[Placement]] = {}
    rows = Placement.objects.filter(sensor__in=sensors)
    rows = rows.select_related(
        "deployment__kit", "deployment__call", "deployment__unit__site", "position", "sensor"
    )
    for row in rows.order_by("placed_from", "pk"):
        placements.setdefault(row.sensor_id, []).append(row)
    found = []
    for result in results:
        size = doubt(
            as_found_errors_kelvin=as_found_errors(result),
            limit_kelvin=float(result.sitting.limit_kelvin),
            expanded_kelvin=float(result.expanded_uncertainty_kelvin),
        )
        if size is None:
            continue
        last_good = max(
            (at for at in good.get(result.sensor_id, ()) if at <= result.sitting.begun_at), default=None
        )
        spans = [Span(row, row.placed_from, row.placed_until) for row in placements.get(result.sensor_id, ())]
        found += [
            InDoubt(
                result=result,
                sensor=result.sensor,
                stay=span.key.deployment,
                placement=span.key,
                size=size,
                last_good_at=last_good,
            )
            for span in in_doubt(spans, last_good_at=last_good, found_at=result.sitting.begun_at)
        ]
    return found


def good_checks(sensors: Iterable[int]) -> dict[int, list[datetime]]:
    """When each sensor was within its limit: left so by a check that still stands, or compared by hand."""
    rows = CheckResult.objects.filter(sensor__in=sensors, sitting__withdrawal=None)
    rows = rows.exclude(conformity_left__in=FAILED)
    good: dict[int, list[datetime]] = {}
    by_hand = Offset.objects.filter(sensor__in=sensors, source=OffsetSource.BY_HAND)
    for sensor, at in (
        *rows.values_list("sensor", "sitting__closed_at"),
        *by_hand.values_list("sensor", "in_force_from"),
    ):
        if at:
            good.setdefault(sensor, []).append(at)
    return good
