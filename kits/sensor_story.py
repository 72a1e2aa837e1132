"""What checks found for one sensor over time: a table and a small drawing of it, and what is in doubt."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from kits.check_shown import CONFORMITY_TONES, WORDS, varies_text
from kits.curve import Curve, Point, drawn
from kits.models import CheckResult, Offset, OffsetSource, Sensor, Shop
from kits.models.checks import Conformity
from kits.readiness import Dated, dated, dated_sensors
from kits.templatetags.kitperch import day
from kits.units import Unit, difference_text
from kits.words import Tone

FAILED = frozenset({Conformity.FAIL, Conformity.CONDITIONAL_FAIL})


@dataclass(frozen=True, kw_only=True)
class Found:
    """One closed check, as the page of a sensor tells it."""

    result: CheckResult
    as_found: str
    as_found_word: str
    as_found_tone: Tone
    offset: str
    word: str
    tone: Tone
    is_withdrawn: bool


def found_by_checks(sensor: Sensor, unit: Unit) -> list[Found]:
    """What closed checks found for this sensor, newest first; withdrawn ones say so."""
    rows = sensor.results.select_related("sitting__withdrawal", "sitting__reference").order_by(
        "-sitting__closed_at", "-pk"
    )
    return [
        Found(
            result=row,
            as_found=f"{difference_text(row.as_found_error_kelvin, unit, 2)} "
            f"± {difference_text(row.expanded_uncertainty_kelvin, unit, 2, signed=False)}",
            as_found_word=row.get_conformity_display().lower(),
            as_found_tone=CONFORMITY_TONES[row.get_conformity_display().lower()],
            offset=difference_text(row.offset_kelvin, unit, 2),
            word=WORDS[row.verdict][0],
            tone=WORDS[row.verdict][1],
            is_withdrawn=row.sitting.is_withdrawn,
        )
        for row in rows
    ]


def drift_curve(found: Sequence[Found], limit_kelvin: Any, unit: Unit) -> Curve | None:
    """The errors as found over time with their uncertainty, between the limits; withdrawn checks are left out."""
    standing = [one for one in found if not one.is_withdrawn and one.result.sitting.closed_at]
    points = [
        Point(
            x=float(timezone.localtime(one.result.sitting.closed_at).date().toordinal()),
            y=float(one.result.as_found_error_kelvin),
            give_or_take=float(one.result.expanded_uncertainty_kelvin),
            says=f"{day(one.result.sitting.closed_at)}: {one.as_found}",
            kind="late" if one.result.conformity in FAILED else "",
        )
        for one in standing
    ]
    return drawn(
        points,
        level_text=lambda kelvin: difference_text(kelvin, unit, 1),
        foot_text=lambda ordinal: day(date.fromordinal(int(ordinal))),
        limit=float(limit_kelvin),
    )


def doubt_sentence(found: Sequence[Found]) -> str:
    """What is in doubt since the last check found the sensor out of limit; nothing when it did not."""
    standing = [one for one in found if not one.is_withdrawn]
    if not standing or standing[0].result.conformity not in FAILED:
        return ""
    last = standing[0]
    good = next((one for one in standing[1:] if one.result.conformity not in FAILED), None)
    since = f"since its check of {day(good.result.sitting.closed_at)}" if good else "until then"
    return (
        f"On {day(last.result.sitting.closed_at)} it was found off by {last.as_found}, out of limit. "
        f"What it measured {since} is in doubt."
    )


def standing_now(sensor: Sensor, now: datetime) -> Dated:
    """How long its check holds."""
    return dated(dated_sensors(Sensor.objects.filter(pk=sensor.pk), now).get(), Shop.current())


def offset_words(offset: Offset, unit: Unit) -> tuple[str, str]:
    """An offset as a table shows it: the figure, and how it runs over temperature."""
    if offset.source == OffsetSource.NONE:
        return "none", ""
    plain = {
        "points": offset.points,
        "slope_kelvin_per_kelvin": float(offset.slope_kelvin_per_kelvin),
        "about_celsius": float(offset.slope_about_celsius or 0),
        "offset_kelvin": float(offset.offset_kelvin),
    }
    return difference_text(offset.offset_kelvin, unit, 2), varies_text(plain, unit)
