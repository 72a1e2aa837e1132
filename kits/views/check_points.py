"""The readings of a check, one point at a time: typed, pasted from a spreadsheet, or taken live."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from kits.actions.acting import Act, Done
from kits.actions.checks import add_point, keep_readings
from kits.check_doubts import Doubtful, doubts_of
from kits.explained_checks import methods_told
from kits.forms.checks import AddPointForm, LiveForm, PasteForm
from kits.forms.readings import REFERENCE, ReadingsForm, to_celsius
from kits.models import CalibrationCheck, CheckPoint, CheckReading, CheckSensor, HowRead, LiveReading, Sensor
from kits.models.thermometers import ReferenceKind
from kits.pasted import MOST_READINGS, BadBlock, Heard, read_block
from kits.promises import Refused
from kits.views.checks import check_or_404, open_step, points_with_counts
from kits.views.references import unit_of
from kits.ways import sent
from kits.web import BENCH, act_of, for_roles, put_refusal, wants_json

FRESH = timedelta(minutes=15)
"""Live readings older than this are of another sitting."""


@dataclass
class Instrument:
    """The reference or a sensor at a point: the name of its boxes, what to call it, whose readings they are."""

    key: str
    name: str
    sensor: Sensor | None = None
    member: CheckSensor | None = None
    kept: list[Decimal] = field(default_factory=list)

    @property
    def answers_to(self) -> tuple[str, ...]:
        """What a pasted block may call it."""
        if self.sensor is None:
            return (self.name, "reference", "ref", "standard", "true")
        terminal = f"t{self.member.terminal}" if self.member and self.member.terminal else ""
        return tuple(filter(None, (self.name, self.sensor.tag, self.sensor.tail, self.sensor.rom, terminal)))


@dataclass
class Box:
    """One reading to type: whose, what stands in it, what is odd about it."""

    instrument: Instrument
    value: str
    doubt: str


class AtPoint:
    """A point with its instruments and what was kept, read once."""

    def __init__(self, request: HttpRequest, pk: int, number: int) -> None:
        self.check: CalibrationCheck = check_or_404(pk)
        self.point: CheckPoint = get_object_or_404(self.check.points, number=number)
        self.unit = unit_of(request)
        self.instruments = instruments_of(self.check, self.point)
        self.by_key = {one.key: one for one in self.instruments}

    @property
    def url(self) -> str:
        return reverse("check_point", args=[self.check.pk, self.point.number])

    @property
    def sensors(self) -> dict[int | None, str]:
        return {one.sensor.pk if one.sensor else None: one.key for one in self.instruments}

    def kept(self) -> dict[str, list[Decimal]]:
        return {one.key: one.kept for one in self.instruments}

    def names(self) -> dict[str, str]:
        return {one.key: one.name for one in self.instruments}

    def doubts(self) -> list[Doubtful]:
        """What is odd about what was kept."""
        kept = {
            one.sensor.pk if one.sensor else None: [float(value) for value in one.kept]
            for one in self.instruments
            if one.kept
        }
        return doubts_of(self.check, self.point, kept) if kept else []

    def keep(self, act: Act, readings: Mapping[str, Sequence[Decimal]], how: HowRead) -> Any:
        """Keep what was read of these instruments."""
        return keep_readings(
            act,
            check=self.check,
            point=self.point,
            readings={self.by_key[key].sensor: values for key, values in readings.items()},
            how=how,
        )

    def following(self) -> str:
        """Where to go on: the next point that lacks readings, else what the check says."""
        points = points_with_counts(self.check, sum(one.sensor is not None for one in self.instruments))
        lacking = [one for one in points if one.lacks and one.number != self.point.number]
        later = [one for one in lacking if one.number > self.point.number] or lacking
        if later:
            return reverse("check_point", args=[self.check.pk, later[0].number])
        return self.check.get_absolute_url()


def instruments_of(check: CalibrationCheck, point: CheckPoint) -> list[Instrument]:
    """The reference first, if it shows readings, then the sensors by kit and terminal."""
    members = list(check.sensors.select_related("sensor", "kit").order_by("kit__name", "terminal", "pk"))
    tags = [member.sensor.tag for member in members]
    found = []
    if check.reference.kind == ReferenceKind.THERMOMETER:
        found.append(Instrument(REFERENCE, check.reference.name))
    for member in members:
        sensor = member.sensor
        alone = sensor.tag and tags.count(sensor.tag) == 1
        found.append(Instrument(f"s{sensor.pk}", sensor.tag if alone else str(sensor), sensor, member))
    by_sensor: dict[int | None, list[Decimal]] = defaultdict(list)
    for row in CheckReading.objects.filter(point=point).order_by("sensor_id", "number"):
        by_sensor[row.sensor_id].append(row.celsius)
    for one in found:
        one.kept = by_sensor[one.sensor.pk if one.sensor else None]
    return found


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def point(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Type the readings of one point; what was typed is kept while one types."""
    at = AtPoint(request, pk, number)
    if request.method == "GET" and not at.check.is_open:
        return redirect(at.check)
    rounds = request.GET.get("rounds", "")
    form = ReadingsForm(
        sent(request),
        kept=at.kept(),
        names=at.names(),
        unit=at.unit,
        rounds=int(rounds) if rounds.isdigit() and len(rounds) < 4 else 0,
    )
    if not form.is_bound:
        return draw(request, at, form)
    if wants_json(request):
        return kept_while_typing(request, at, form)
    status = 422
    if form.is_valid():
        try:
            at.keep(act_of(request, form), form.cleaned_data["readings"], HowRead.TYPED)
        except ValidationError as refusal:
            put_refusal(form, refusal)
            status = 409
        else:
            return redirect(after_keeping(request, at, form))
    return draw(request, at, form, status=status)


def after_keeping(request: HttpRequest, at: AtPoint, form: ReadingsForm) -> str:
    """Where to go once readings are kept: one more round, here again when something must be mended, else on."""
    if "more" in request.POST:
        return f"{at.url}?rounds={form.rounds + 1}#round-{form.rounds + 1}"
    fresh = AtPoint(request, at.check.pk, at.point.number)
    count = sum(len(one.kept) for one in fresh.instruments)  # some were kept while they were typed
    told = f"{count} reading{'' if count == 1 else 's'} kept at point {at.point.number}"
    if any(doubt.must_go for doubt in fresh.doubts()):
        messages.warning(request, f"{told}, and something about them needs a second look: see below.")
        return at.url
    messages.success(request, f"{told}.")
    return at.following()


def kept_while_typing(request: HttpRequest, at: AtPoint, form: ReadingsForm) -> JsonResponse:
    """Keep what can be kept, and answer with what is odd; nothing that cannot be read gets lost on the page."""
    valid = form.is_valid()
    readings = form.cleaned_data.get("readings", {}) if hasattr(form, "cleaned_data") else {}
    # One slip must not cost the good readings beside it: this phone may not be there for the next look.
    beside = {key: found for key, found in form.readable.items() if 0 < len(found) <= MOST_READINGS}
    try:
        at.keep(act_of(request, form), {**readings, **beside}, HowRead.TYPED)
    except ValidationError as refusal:
        return JsonResponse({"ok": False, "sentence": " ".join(refusal.messages)}, status=409)
    fresh = AtPoint(request, at.check.pk, at.point.number)
    whose, general = told_of(fresh, fresh.doubts())
    return JsonResponse(
        {
            "ok": valid,
            "kept": sorted(readings),
            "boxes": [{"key": key, "index": index, "sentence": says} for (key, index), says in whose.items()]
            + [{"key": key, "index": 0, "sentence": says} for key, says in form.troubles.items()],
            "general": general,
        }
    )


def told_of(at: AtPoint, doubts: Iterable[Doubtful]) -> tuple[dict[tuple[str, int], str], list[str]]:
    """Doubts beside the box they are about, and those about an instrument as a whole, alike ones told once."""
    boxes: dict[tuple[str, int], str] = {}
    general: dict[str, list[str]] = {}
    for doubt in doubts:
        key = at.sensors.get(doubt.sensor_id)
        if key is None:
            general.setdefault(doubt.sentence, [])
        elif doubt.index is None:
            general.setdefault(doubt.sentence, []).append(at.by_key[key].name)
        else:
            boxes[key, doubt.index] = doubt.sentence
    return boxes, [
        f"{', '.join(names)}: {sentence}" if names else sentence for sentence, names in general.items()
    ]


def draw(request: HttpRequest, at: AtPoint, form: ReadingsForm, *, status: int = 200) -> HttpResponse:
    """The page of a point."""
    whose, general = told_of(at, at.doubts())
    boxes = {one.key: form.boxes(one.key) for one in at.instruments}
    rounds = [
        {
            "number": number,
            "boxes": [
                Box(
                    one,
                    boxes[one.key][number - 1] if number <= len(boxes[one.key]) else "",
                    (form.troubles.get(one.key, "") if number == 1 else "")
                    or whose.get((one.key, number - 1), ""),
                )
                for one in at.instruments
            ],
        }
        for number in range(1, form.rounds + 1)
    ]
    lines = [
        {
            "instrument": one,
            "value": "  ".join(boxes[one.key]),
            "doubts": [form.troubles[one.key]]
            if one.key in form.troubles
            else [says for (key, _), says in whose.items() if key == one.key],
        }
        for one in at.instruments
    ]
    points = points_with_counts(at.check, sum(one.sensor is not None for one in at.instruments))
    context = {
        "check": at.check,
        "point": at.point,
        "points": points,
        "form": form,
        "rounds": rounds,
        "lines": lines,
        "was": [(one.key, form.was(one.key)) for one in at.instruments],
        "general": general,
        "several_kits": len({one.member.kit_id for one in at.instruments if one.member}) > 1,
        "live": live_count(at),
        "live_form": LiveForm(),
        "method": next(told for told in methods_told(at.unit) if told.key == at.check.method),
        "is_last": at.following() == at.check.get_absolute_url(),
        "unit": at.unit,
    }
    return render(request, "kits/check_point.html", context, status=status)


@for_roles(*BENCH)
@require_POST
def point_new(request: HttpRequest, pk: int) -> HttpResponse:
    """One more temperature in an open check."""
    check = check_or_404(pk)
    form = AddPointForm(sent(request), subject=check, unit=unit_of(request))

    def do(act: Act) -> Done:
        return add_point(act, check=check, aimed_celsius=form.celsius())

    def then(done: Done) -> str:
        added: CheckPoint = done.row(CheckPoint)
        return reverse("check_point", args=[check.pk, added.number])

    return open_step(request, check, form, do, then)


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def paste(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """A block from a spreadsheet: first how it was understood, then, when that is right, its readings are kept."""
    at = AtPoint(request, pk, number)
    if request.method == "GET" and not at.check.is_open:
        return redirect(at.check)
    form = PasteForm(sent(request))
    heard: Heard | None = None
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                names = {one.key: one.answers_to for one in at.instruments}
                has_reference = at.check.reference.kind == ReferenceKind.THERMOMETER
                heard = read_block(
                    form.cleaned_data["block"],
                    names,
                    unit=at.unit,
                    reference=REFERENCE if has_reference else "",
                )
                status = 200
            except BadBlock as bad:
                form.add_error("block", str(bad))
    if heard and form.cleaned_data["understood"]:
        unit = heard.unit
        readings = {
            key: [to_celsius(value, unit) for value in values]
            for key, values in heard.values.items()
            if values
        }
        try:
            done = at.keep(act_of(request, form), readings, HowRead.PASTED)
        except ValidationError as refusal:
            put_refusal(form, refusal)
            status, heard = 409, None
        else:
            messages.success(request, f"{done.sentence}.")
            return redirect(at.url)
    context = {
        "check": at.check,
        "point": at.point,
        "form": form,
        "heard": heard,
        "rows": [(at.by_key[key], values) for key, values in heard.values.items()] if heard else [],
        "back": at.url,
        "instruments": at.instruments,
    }
    return render(request, "kits/check_paste.html", context, status=status)


def newest_live(at: AtPoint, newest: int) -> dict[str, list[LiveReading]]:
    """The newest live readings of each sensor of the check, oldest first."""
    since = timezone.now() - FRESH
    roms = {one.sensor.rom: one.key for one in at.instruments if one.sensor}
    # Of a file being played, only what is told by now.
    rows = LiveReading.objects.filter(rom__in=roms, read_at__gte=since, read_at__lte=timezone.now())
    rows = rows.order_by("-read_at", "-pk")
    found: dict[str, list[LiveReading]] = defaultdict(list)
    for row in rows[: newest * len(roms) * 20]:
        if len(found[roms[row.rom]]) < newest:
            found[roms[row.rom]].append(row)
    return {key: list(reversed(readings)) for key, readings in found.items()}


def live_count(at: AtPoint) -> int:
    """How many sensors of the check sent readings within the last minutes."""
    roms = [one.sensor.rom for one in at.instruments if one.sensor]
    since = timezone.now() - FRESH
    return LiveReading.objects.filter(rom__in=roms, read_at__gte=since).values("rom").distinct().count()


@for_roles(*BENCH)
@require_POST
def live(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Take the newest live readings of every sensor of the check."""
    at = AtPoint(request, pk, number)
    form = LiveForm(sent(request))
    if not form.is_valid():
        messages.error(request, "Say how many readings of each sensor: from 1 to 60.")
        return redirect(at.url)
    found = newest_live(at, form.cleaned_data["newest"] or 10)
    if not found:
        messages.error(
            request,
            "None of these sensors sent a live reading in the last 15 minutes. Is the kit under power and on the Wi-Fi?",
        )
        return redirect(at.url)
    try:
        done = at.keep(
            act_of(request, form),
            {key: [row.celsius for row in rows] for key, rows in found.items()},
            HowRead.LIVE,
        )
    except (Refused, ValidationError) as refusal:
        messages.error(request, " ".join(refusal.messages))
        return redirect(at.url)
    silent = [one.name for one in at.instruments if one.sensor and one.key not in found]
    newest = max(row.read_at for rows in found.values() for row in rows)
    told = f"{done.sentence}, the newest from {timezone.localtime(newest):%H:%M:%S}."
    messages.success(request, f"{told} Silent: {', '.join(silent)}." if silent else told)
    return redirect(at.url)
