"""What kits on the bench send right now: taken in, kept for an hour, and looked at (reads and writes LiveReading only)."""

import hashlib
import secrets
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import Max

from kits.models import Kit, KitKey, LiveReading, Sensor, Wiring
from kits.senml import Temperature
from kits.which_lead import Sample, Series

KEPT = timedelta(hours=1)
# A box whose clock is ahead further than this would tell of a hand that closes before it does.
AHEAD_AT_MOST = timedelta(seconds=5)
SILENT_AFTER = timedelta(seconds=30)
LOOK_EVERY_S, LOOK_BACK_S = 3, 10


# -- Keys ----------------------------------------------------------------------------------------------------------------


def new_key() -> str:
    """A key for a kit: 256 bits at random, so that its SHA-256 needs no salt and no slow hash."""
    return secrets.token_urlsafe(32)


def key_sha256(key: str) -> str:
    """What is kept of a key."""
    return hashlib.sha256(key.encode()).hexdigest()


def open_key(kit: Kit) -> KitKey | None:
    """The key this kit sends with now."""
    return KitKey.objects.filter(kit=kit, revoked_at=None).select_related("made_by").first()


# -- Readings come in ----------------------------------------------------------------------------------------------------


class TooFarAhead(ValueError):
    """Readings of times to come. The message says by how much and what to do."""


@dataclass(frozen=True)
class Taken:
    """What became of the readings of one pack: new, known already, and too old to keep."""

    kept: int
    again: int
    too_old: int


def take_readings(kit: Kit, readings: Sequence[Temperature], *, now: datetime) -> Taken:
    """Keep what a kit sent. The same reading again changes nothing; what is older than an hour goes."""
    newest = max(one.read_at for one in readings)
    if newest > now + AHEAD_AT_MOST:
        ahead = round((newest - now).total_seconds())
        raise TooFarAhead(
            f"The newest reading is {ahead} s ahead of the shop's clock. Set the box's clock, or send times relative to now."
        )
    return keep(kit, readings, now=now)


def keep(kit: Kit, readings: Sequence[Temperature], *, now: datetime) -> Taken:
    """Keep readings of the last hour or of times to come (a file being played)."""
    forget_old(now, kit)
    fresh = {(one.rom, one.read_at): one.celsius for one in readings if one.read_at > now - KEPT}
    before = LiveReading.objects.filter(kit=kit).count()
    LiveReading.objects.bulk_create(
        (
            LiveReading(kit=kit, rom=rom, celsius=celsius, read_at=read_at, received_at=now)
            for (rom, read_at), celsius in fresh.items()
        ),
        batch_size=500,
        ignore_conflicts=True,
    )
    kept = LiveReading.objects.filter(kit=kit).count() - before
    too_old = sum(one.read_at <= now - KEPT for one in readings)
    return Taken(kept, len(readings) - too_old - kept, too_old)


def forget_old(now: datetime, kit: Kit | None = None) -> int:
    """Take away readings older than an hour, of one kit or of all; how many they were."""
    old = LiveReading.objects.filter(read_at__lte=now - KEPT)
    return (old.filter(kit=kit) if kit else old).delete()[0]


def stop_playing(kit: Kit, now: datetime) -> int:
    """Take away what is still to come of a file being played; how many readings that was."""
    return LiveReading.objects.filter(kit=kit, read_at__gt=now).delete()[0]


# -- Readings are looked at ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Newest:
    """The newest reading of one sensor of a kit; `sensor` is None when the shop does not know it."""

    rom: str
    sensor: Sensor | None
    celsius: Decimal
    read_at: datetime
    age_s: int

    @property
    def is_silent(self) -> bool:
        return self.age_s > SILENT_AFTER.total_seconds()


def newest_readings(kit: Kit, now: datetime) -> list[Newest]:
    """The newest reading of every sensor that sent one within the hour, in the order of the terminals, strangers last."""
    told = LiveReading.objects.filter(kit=kit, read_at__gt=now - KEPT, read_at__lte=now)
    last = dict(told.order_by().values_list("rom").annotate(Max("read_at")))
    rows = told.filter(rom__in=last, read_at__in=set(last.values()))
    newest = {row.rom: (row.read_at, row.celsius) for row in rows if row.read_at == last[row.rom]}
    sensors = {row.sensor.rom: row.sensor for row in wired(kit)}
    known = sensors | {one.rom: one for one in Sensor.objects.filter(rom__in=newest.keys() - sensors.keys())}
    order = {rom: place for place, rom in enumerate(sensors)}
    return [
        Newest(rom, known.get(rom), celsius, read_at, max(0, int((now - read_at).total_seconds())))
        for rom, (read_at, celsius) in sorted(newest.items(), key=lambda one: (order.get(one[0], 9), one[0]))
    ]


def rows_of(kit: Kit, since: datetime, until: datetime) -> Iterable[tuple[str, datetime, Decimal]]:
    """ROM ID, instant and reading, oldest first. A file being played has readings still to come; they are not told."""
    rows = LiveReading.objects.filter(kit=kit, read_at__gt=since, read_at__lte=until)
    return rows.order_by("read_at", "pk").values_list("rom", "read_at", "celsius").iterator()


def wired(kit: Kit) -> list[Wiring]:
    """The open wirings of a kit with their sensors, by terminal."""
    return list(kit.wirings.filter(wired_until=None).select_related("sensor").order_by("terminal"))


def series_of(kit: Kit, roms: Iterable[str], since: datetime, until: datetime) -> dict[str, Series]:
    """The readings of some sensors as `kits.which_lead` takes them, in Unix seconds."""
    samples: dict[str, list[Sample]] = defaultdict(list)
    for rom, read_at, celsius in rows_of(kit, since, until):
        samples[rom].append(Sample(read_at.timestamp(), float(celsius)))
    return {rom: Series(rom, tuple(samples.get(rom, ()))) for rom in roms}


def looks_of(kit: Kit, since: datetime, until: datetime) -> list[set[str]]:
    """Which sensors were on the wire, look by look: every few seconds those heard within the last ten."""
    heard = [(read_at.timestamp(), rom) for rom, read_at, _ in rows_of(kit, since, until)]
    looks: list[set[str]] = []
    first, last, end = 0, 0, until.timestamp()
    at = since.timestamp()
    while at < end:
        at = min(at + LOOK_EVERY_S, end)
        while last < len(heard) and heard[last][0] <= at:
            last += 1
        while first < last and heard[first][0] <= at - LOOK_BACK_S:
            first += 1
        looks.append({rom for _, rom in heard[first:last]})
    return looks
