"""Which sensors are in date at a day and why the others are not; which kits are ready for work."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.expressions import NegatedExpression

from kits.models import (
    Condition,
    Custody,
    DueNow,
    DueNowReason,
    FollowUp,
    KeptAt,
    Kit,
    Offset,
    OffsetSource,
    Place,
    Sensor,
    Shop,
    SparePlace,
    Wiring,
)
from kits.words import months_later

SOON_DAYS = 14

HAPPENED = {
    DueNowReason.DROPPED: "was dropped on {day} and not checked since",
    DueNowReason.REPAIRED: "had its lead repaired on {day} and was not checked since",
    DueNowReason.SWAPPED: "was swapped in on {day} and not checked since",
    DueNowReason.DOUBT: "is in doubt since {day}",
    DueNowReason.REPLACE: "is to be replaced: the check of {day} found it off by too much",
}


@dataclass(frozen=True, kw_only=True)
class Dated:
    """How long the check of one sensor holds. `due_on` is the first day on which it does not any more."""

    sensor: Sensor
    source: str
    due_on: date | None
    happened_on: date | None
    happened: str
    kit: Kit | None = None
    terminal: int | None = None

    @property
    def is_checked(self) -> bool:
        """Whether an offset is in force."""
        return self.source not in {"", OffsetSource.NONE}

    @property
    def is_by_hand(self) -> bool:
        """Its offset was entered, not found by a check of the bench."""
        return self.source == OffsetSource.BY_HAND

    @property
    def is_to_be_replaced(self) -> bool:
        return self.happened == DueNowReason.REPLACE

    def in_date(self, day: date) -> bool:
        """Whether its check holds all through this day."""
        return self.is_checked and not self.happened and self.due_on is not None and day < self.due_on

    def against(self, day: date) -> str:
        """Why it is not in date on this day, as the end of "sensor 3 …"; nothing when it is."""
        if self.happened and self.happened_on:
            return HAPPENED[DueNowReason(self.happened)].format(day=said_day(self.happened_on))
        if not self.is_checked:
            taken = self.source == OffsetSource.NONE
            return "has no offset any more: its check was withdrawn" if taken else "was never checked"
        if not self.in_date(day) and self.due_on:
            return f"is due for a check on {said_day(self.due_on)}"
        return ""

    def word(self, today: date, soon_days: int = SOON_DAYS) -> str:
        """ "in date", "due soon", "due", "never checked" or "to be replaced"."""
        if self.is_to_be_replaced:
            return "to be replaced"
        if not self.is_checked:
            return "never checked"
        if not self.in_date(today):
            return "due"
        return "due soon" if not self.in_date(today + timedelta(days=soon_days)) else "in date"


def dated_wirings(wirings: QuerySet[Wiring], now: datetime) -> QuerySet[Any]:
    """Wirings with what `dated` looks at: the offset in force of each sensor at `now`, and what happened to it since."""
    return wirings.annotate(**_what_counts(OuterRef("sensor_id"), now))


def dated_sensors(sensors: QuerySet[Sensor], now: datetime) -> QuerySet[Any]:
    """Sensors with what `dated` looks at."""
    return sensors.annotate(**_what_counts(OuterRef("pk"), now))


def _what_counts(sensor: OuterRef, now: datetime) -> dict[str, Subquery]:
    newest = Offset.objects.filter(sensor=sensor, in_force_from__lte=now).order_by("-in_force_from")
    happened = DueNow.objects.filter(sensor=sensor, since__lte=now).order_by("-since", "-pk")
    return {
        "newest_source": Subquery(newest.values("source")[:1]),
        "newest_from": Subquery(newest.values("in_force_from")[:1]),
        "newest_good_until": Subquery(newest.values("good_until")[:1]),
        "happened_since": Subquery(happened.values("since")[:1]),
        "happened_reason": Subquery(happened.values("reason")[:1]),
    }


def dated(row: Any, shop: Shop) -> Dated:
    """How long the check of a sensor holds, from a row of `dated_wirings` or `dated_sensors`."""
    zone = ZoneInfo(shop.time_zone)
    since, began, due_on = row.happened_since, row.newest_from, row.newest_good_until
    if due_on is None and began is not None:  # entered before offsets told their own date
        due_on = months_later(began.astimezone(zone).date(), shop.check_interval_months)
    counts = since is not None and (began is None or since >= began)
    is_wiring = isinstance(row, Wiring)
    return Dated(
        sensor=row.sensor if is_wiring else row,
        source=row.newest_source or "",
        due_on=due_on,
        happened_on=since.astimezone(zone).date() if counts else None,
        happened=row.happened_reason if counts else "",
        kit=row.kit if is_wiring and "kit" in row._state.fields_cache else None,
        terminal=row.terminal if is_wiring else None,
    )


def not_in_date(sensor: str, day: date, *, now: datetime, shop: Shop) -> NegatedExpression:
    """In SQL what `Dated.in_date` denies, for rows that point to a sensor by this column."""
    later = Offset.objects.filter(
        sensor=OuterRef("sensor"), in_force_from__gt=OuterRef("in_force_from"), in_force_from__lte=now
    )
    happened = DueNow.objects.filter(
        sensor=OuterRef("sensor"), since__gte=OuterRef("in_force_from"), since__lte=now
    )
    told = Q(good_until__gt=day) | Q(good_until=None, in_force_from__gte=_first_still_good(day, shop))
    good = Offset.objects.filter(told, ~Exists(later), ~Exists(happened), in_force_from__lte=now)
    return ~Exists(good.exclude(source=OffsetSource.NONE).filter(sensor=OuterRef(sensor)))


def by_hand(sensor: str, *, now: datetime) -> Exists:
    """In SQL `Dated.is_by_hand`, for rows that point to a sensor by this column."""
    later = Offset.objects.filter(
        sensor=OuterRef("sensor"), in_force_from__gt=OuterRef("in_force_from"), in_force_from__lte=now
    )
    entered = Offset.objects.filter(~Exists(later), source=OffsetSource.BY_HAND, in_force_from__lte=now)
    return Exists(entered.filter(sensor=OuterRef(sensor)))


def _first_still_good(day: date, shop: Shop) -> datetime:
    """The instant before which an offset that does not tell its own date is out of date on `day`."""
    first = months_later(day, -shop.check_interval_months)
    while months_later(first, shop.check_interval_months) <= day:
        first += timedelta(days=1)
    return datetime.combine(first, time(), ZoneInfo(shop.time_zone))


# -- Kits ------------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Readiness:
    """Whether a kit is ready for work: in service, all its sensors in date, nothing left to do about it."""

    kit: Kit
    sensors: tuple[Dated, ...]
    against: tuple[str, ...]

    @property
    def is_ready(self) -> bool:
        return not self.against

    @property
    def sentence(self) -> str:
        """ "Ready." or what keeps it."""
        return "Ready" if self.is_ready else f"Not ready: {'; '.join(self.against)}"


def readiness(kits: Collection[Kit], *, now: datetime, day: date | None = None) -> dict[int, Readiness]:
    """Each kit by id, on `day` (else today); three queries however many there are."""
    shop = Shop.current()
    day = day or now.astimezone(ZoneInfo(shop.time_zone)).date()
    ids = [kit.pk for kit in kits]
    wired: dict[int, list[Dated]] = {}
    rows = Wiring.objects.filter(kit__in=ids, wired_until=None).select_related("sensor").order_by("terminal")
    for row in dated_wirings(rows, now):
        wired.setdefault(row.kit_id, []).append(dated(row, shop))
    left = FollowUp.objects.filter(kit__in=ids, done_at=None).order_by().values("kit")
    counts = {row["kit"]: row["number"] for row in left.annotate(number=Count("pk"))}
    return {
        kit.pk: Readiness(
            kit=kit,
            sensors=tuple(wired.get(kit.pk, ())),
            against=tuple(against(kit, wired.get(kit.pk, ()), day, counts.get(kit.pk, 0))),
        )
        for kit in kits
    }


def against(kit: Kit, sensors: Sequence[Dated], day: date, left: int) -> list[str]:
    """What keeps a kit from being ready, in words."""
    reasons = []
    if kit.condition == Condition.NEEDS_WORK:
        reasons.append(f"it needs work: {kit.condition_why}")
    if not sensors:
        reasons.append("it carries no sensor")
    if late := against_dates(sensors, day):
        reasons.append(late)
    if left:
        reasons.append(f"{left} still to do about it")
    return reasons


def against_dates(sensors: Iterable[Dated], day: date) -> str:
    """The sensors that are not in date all through `day`, each with its reason; nothing when all are.

    >>> against_dates([], date(2026, 4, 14))
    ''
    """
    late = [(one.sensor, why) for one in sensors if (why := one.against(day))]
    reasons = {why for _, why in late}
    if len(late) > 1 and len(reasons) == 1:
        why = reasons.pop()
        for single, several in (("has ", "have "), ("was ", "were "), ("is ", "are "), ("had ", "had ")):
            if why.startswith(single):
                why = several + why.removeprefix(single)
                break
        return f"sensors {', '.join(str(sensor) for sensor, _ in late)} {why}"
    return ", ".join(f"sensor {sensor} {why}" for sensor, why in late)


def late_note(kit: Kit, day: date, now: datetime) -> str:
    """What a step that is never refused says at its end of sensors not in date through `day`; nothing when all are."""
    rows = Wiring.objects.filter(kit=kit, wired_until=None).select_related("sensor").order_by("terminal")
    shop = Shop.current()
    late = against_dates([dated(row, shop) for row in dated_wirings(rows, now)], day)
    return f". Not in date: {late}" if late else ""


# -- The bench -------------------------------------------------------------------------------------------------------------


def sensors_due(now: datetime, *, within_days: int = SOON_DAYS) -> list[Dated]:
    """Sensors in kits and spares that are due, or will be `within_days`; the first to be checked first.

    Left out: what is scrapped, missing, or in a kit that is missing or retired. Two queries.
    """
    shop = Shop.current()
    today = now.astimezone(ZoneInfo(shop.time_zone)).date()
    day = today + timedelta(days=within_days)
    gone = Custody.objects.filter(
        kit=OuterRef("kit"), held_until=None, place__in=[Place.MISSING, Place.RETIRED]
    )
    wirings = Wiring.objects.filter(~Exists(gone), wired_until=None).select_related("sensor", "kit")
    kept = SparePlace.objects.filter(sensor=OuterRef("pk"), kept_until=None)
    spares = Sensor.objects.filter(Exists(kept.exclude(place__in=[KeptAt.MISSING, KeptAt.SCRAPPED])))
    of_wiring, of_spare = (not_in_date(column, day, now=now, shop=shop) for column in ("sensor", "pk"))
    found = [dated(row, shop) for row in dated_wirings(wirings.filter(of_wiring), now)]
    found += [dated(row, shop) for row in dated_sensors(spares.filter(of_spare), now)]
    return sorted(found, key=lambda one: urgency(one, today))


def urgency(one: Dated, today: date) -> tuple[object, ...]:
    """What is due already before what will be, sensors in kits before spares, the oldest first."""
    return (
        one.in_date(today),
        one.kit is None,
        one.due_on or date.min,
        str(one.kit or ""),
        one.terminal or 0,
        one.sensor.pk,
    )


def said_day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
