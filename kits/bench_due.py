"""What the bench has to check: by kit and among the loose ones, and why; and the lines of the kits that lie on it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.db.models import Count, Q, QuerySet
from django.urls import reverse

from kits.models import Condition, Custody, Kit, Place
from kits.readiness import Dated, Readiness, against_dates, readiness, sensors_due
from kits.words import Tone, place_phrase

TONES: dict[str, Tone] = {
    "due": "late",
    "to be replaced": "late",
    "never checked": "attention",
    "due soon": "plain",
}
WORST = tuple(TONES)


@dataclass
class ToCheck:
    """The sensors of one kit, or the loose ones, that are due or soon will be."""

    kit: Kit | None
    sensors: list[Dated] = field(default_factory=list)
    word: str = ""
    sentence: str = ""
    is_here: bool = True
    whereabouts: str = ""

    @property
    def tone(self) -> Tone:
        return TONES[self.word]

    @property
    def only_to_replace(self) -> bool:
        """Checking them again would not help: they are no good."""
        return all(one.is_to_be_replaced for one in self.sensors)

    @property
    def begin_url(self) -> str:
        """The page that begins a check of them: of the whole kit, so that its sensors share one sitting."""
        chosen = (
            [("kit", self.kit.code)] if self.kit else [("sensor", one.sensor.rom) for one in self.sensors]
        )
        return f"{reverse('check_new')}?{urlencode(chosen)}"


def to_check(now: datetime, today: date) -> list[ToCheck]:
    """What is due or due soon, by kit, the most pressing first; three queries however many there are."""
    groups: dict[int | None, ToCheck] = {}
    for one in sensors_due(now):
        key = one.kit.pk if one.kit else None
        groups.setdefault(key, ToCheck(kit=one.kit)).sensors.append(one)
    held = Custody.objects.filter(kit__in=[key for key in groups if key], held_until=None)
    places = {row.kit_id: row for row in held.select_related("technician")}
    for key, group in groups.items():
        words = [one.word(today) for one in group.sensors]
        group.word = min(words, key=WORST.index)
        group.sentence = sentence_of(group.sensors, today)
        custody = places.get(key or 0)
        group.is_here = custody is None or custody.place in {Place.BENCH, Place.SHELF}
        group.whereabouts = place_phrase(custody.place, custody.word) if custody else ""
    return sorted(
        groups.values(),
        key=lambda group: (
            not group.is_here,
            WORST.index(group.word),
            group.kit is None,
            str(group.kit or ""),
        ),
    )


def sentence_of(sensors: Sequence[Dated], today: date) -> str:
    """Why they stand there: what is against them today, else by which day the first is due."""
    late = against_dates(sensors, today)
    if late:
        return f"{late[:1].upper()}{late[1:]}."
    first = min(one.due_on for one in sensors if one.due_on)
    names = ", ".join(str(one.sensor) for one in sensors)
    return f"Sensor{'s' if len(sensors) > 1 else ''} {names}: due on {first:%a} {first.day} {first:%b %Y}."


# -- Kits that lie on the bench ------------------------------------------------------------------------------------------


class BenchLine(NamedTuple):
    """What the bench does next with a kit, in words, with the page where it is done ("" when nothing is left)."""

    kit: Kit
    sentence: str
    tone: Tone = "plain"
    label: str = ""
    url: str = ""


def kits_on_bench() -> QuerySet[Any]:
    """Kits on the bench, with how many sensors each has and how much is still to do about it."""
    return (
        Kit.objects.filter(custodies__in=Custody.objects.filter(held_until=None, place=Place.BENCH))
        .with_custody()
        .annotate(
            sensor_count=Count("wirings", filter=Q(wirings__wired_until=None), distinct=True),
            nameless_count=Count(
                "wirings", filter=Q(wirings__wired_until=None, wirings__sensor__tag=""), distinct=True
            ),
            left_count=Count("follow_ups", filter=Q(follow_ups__done_at=None), distinct=True),
        )
        .select_related("condition_by")
    )


def bench_lines(now: datetime, today: date) -> list[BenchLine]:
    """The lines of all kits on the bench."""
    kits = list(kits_on_bench())
    ready = readiness(kits, now=now, day=today)
    return [bench_line(kit, ready[kit.pk], today) for kit in kits]


def bench_line(kit: Any, ready: Readiness, today: date) -> BenchLine:
    """What is next with a kit of `kits_on_bench`."""
    if kit.condition == Condition.NEEDS_WORK:
        mended = reverse("kit_condition", args=[kit.code])
        return BenchLine(kit, f"Needs work: {kit.condition_why}", "attention", "It is mended", mended)
    if not kit.sensor_count:
        wire_in = reverse("kit_wire_in", args=[kit.code])
        return BenchLine(kit, "Carries no sensor yet.", label="Wire sensors in", url=wire_in)
    late = against_dates(ready.sensors, today)
    no_good = [one.sensor for one in ready.sensors if one.is_to_be_replaced]
    if no_good:
        out = reverse("sensor_wire_out", args=[no_good[0].rom])
        return BenchLine(kit, f"Not ready: {late}.", "attention", f"Take sensor {no_good[0]} out", out)
    if late:
        check = f"{reverse('check_new')}?kit={kit.code}"
        return BenchLine(kit, f"Not ready: {late}.", "attention", "Begin a check", check)
    if kit.left_count:
        return BenchLine(kit, f"Not ready: {kit.left_count} still to do about it.", "attention")
    return BenchLine(kit, "Ready: every sensor is in date.", "good")
