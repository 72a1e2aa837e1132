"""Checks: the list, beginning one, what it says so far, closing it, and the ways out of a mistake."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from kits.actions import checks as actions
from kits.actions import closing
from kits.actions.acting import Act, Done
from kits.bench_lists import CheckFilter, later_checks, listed_checks, state_of
from kits.check_arithmetic import plain_of, plain_point
from kits.check_shown import SensorShown, answer, point_shown, sensor_shown
from kits.checking import outcome_of, pure_reference
from kits.forms.checks import AddPointForm, CloseCheckForm, DueNowForm, NowForm, ReasonForm, ShapeForm
from kits.lists import show_list
from kits.measuring.trouble import CannotCompute
from kits.models import (
    CalibrationCheck,
    CheckReading,
    CheckSensor,
    DueNowReason,
    Event,
    Method,
    Shape,
)
from kits.models.thermometers import ReferenceKind
from kits.promises import Refused
from kits.tables_bench import CheckTable
from kits.templatetags.kitperch import day
from kits.units import Unit
from kits.views.references import unit_of
from kits.views.sensors import sensor_by_rom, sensor_step
from kits.ways import sent, way
from kits.web import BENCH, EVERYBODY, MANAGER, for_roles, take_step, user_of


@for_roles(*EVERYBODY)
@require_GET
def check_list(request: HttpRequest) -> HttpResponse:
    """Every check, newest first."""
    filters = CheckFilter(request.GET, queryset=listed_checks())
    table = CheckTable(filters.qs)
    may_work = user_of(request).role in BENCH
    if may_work:
        table.teach_url = reverse("check_new")
    open_ones = CalibrationCheck.objects.filter(closed_at=None, dropped_at=None).count()
    context = {
        "filters": filters,
        "count": CalibrationCheck.objects.count(),
        "open": open_ones,
        "may_work": may_work,
    }
    return show_list(request, table, "kits/checks.html", context, file="checks")


# -- Looked at -----------------------------------------------------------------------------------------------------------


def check_or_404(pk: int) -> CalibrationCheck:
    return get_object_or_404(
        CalibrationCheck.objects.select_related(
            "reference",
            "certificate",
            "begun_by",
            "closed_by",
            "supersedes",
            "out_of_date_allowed_by",
            "withdrawal__withdrawn_by",
        ),
        pk=pk,
    )


@for_roles(*EVERYBODY)
@require_GET
def check(request: HttpRequest, pk: int) -> HttpResponse:
    """One check: what it says of each sensor, what is still missing, what follows."""
    return render(request, "kits/check.html", check_context(request, check_or_404(pk)))


def check_context(request: HttpRequest, one: CalibrationCheck, **forms: Any) -> dict[str, Any]:
    """What the page of a check shows; a form that was refused takes the place of a fresh one."""
    unit = unit_of(request)
    shown = shown_of(one, unit)
    settled = [row for row in shown if row.word]
    user = user_of(request)
    points = points_with_counts(one, len(shown)) if one.is_open else []
    fresh = {
        "close_form": CloseCheckForm(subject=one, initial={"seen": seen_of(one)}),
        "shape_form": ShapeForm(subject=one, initial={"shape": one.shape}),
        "point_form": AddPointForm(subject=one, unit=unit),
    }
    return {
        "check": one,
        "state": state_of(one),
        "shown": shown,
        "answer": answer(settled),
        "complete": one.is_open and bool(shown) and len(settled) == len(shown),
        "lacking": next((point for point in points if point.lacks), None),
        "points": points,
        "several_kits": len({row.member.kit_id for row in shown}) > 1,
        "later": [row for row in later_checks(one) if row.closed_at or row.dropped_at is None],
        "pressure_doubt": pressure_doubt(one),
        "may_work": user.role in BENCH,
        "may_withdraw": user.is_manager and one.closed_at is not None and not one.is_withdrawn,
        "has_shapes": one.is_open and len(points) > 1,
        "may_add_points": one.is_open and one.reference.kind == ReferenceKind.THERMOMETER,
        "record_url": way("check_record", one.pk) if one.closed_at else "",
        "doubts_url": way("check_doubts", one.pk) if one.closed_at else "",
        "to_replace": [row for row in settled if row.word == "Replace"],
        "with_offset": sum(row.word != "Replace" for row in settled),
        "failed": [row for row in settled if row.as_found_word in {"fail", "conditional fail"}],
        "due": min((row.due for row in settled if row.due), default=None),
        "events": Event.objects.filter(abouts__kind="calibrationcheck", abouts__subject_id=one.pk)
        .select_related("did_by", "typed_by")
        .order_by("-happened_at", "-pk"),
        **fresh,
        **forms,
    }


def shown_of(one: CalibrationCheck, unit: Unit) -> list[SensorShown]:
    """Each sensor of the check: as it was found on closing, or as it would be found now."""
    if one.closed_at is None:
        return [preview_of(one, outcome, unit) for outcome in outcome_of(one)]
    members = {row.sensor_id: row for row in one.sensors.select_related("sensor", "kit")}
    return [
        sensor_shown(
            members.get(result.sensor_id, CheckSensor(sitting=one, sensor=result.sensor)),
            result.arithmetic,
            unit,
            verdict=result.verdict,
            due_on=day(result.due_on),
        )
        for result in one.results.select_related("sensor").order_by("pk")
    ]


def preview_of(one: CalibrationCheck, outcome: Any, unit: Unit) -> SensorShown:
    """A sensor of an open check, as far as its readings go."""
    if outcome.found is None:
        points = [point_shown(plain_point(point), unit) for point in outcome.points]
        return SensorShown(member=outcome.member, points=points, trouble=outcome.trouble)
    due_on = day(outcome.found.due.on)
    return sensor_shown(
        outcome.member, plain_of(outcome, one), unit, verdict=outcome.found.verdict, due_on=due_on
    )


def points_with_counts(one: CalibrationCheck, sensors: int) -> list[Any]:
    """The points, each with how many instruments have readings there and whether one `lacks` any."""
    wanted = sensors + (one.reference.kind == ReferenceKind.THERMOMETER)
    points: list[Any] = list(one.points.order_by("number"))
    read: dict[int, set[int | None]] = {point.pk: set() for point in points}
    for point_id, sensor_id in CheckReading.objects.filter(point__in=points).values_list("point", "sensor"):
        read[point_id].add(sensor_id)
    needs_reference = one.reference.kind == ReferenceKind.THERMOMETER
    for point in points:
        instruments = read[point.pk] if needs_reference else read[point.pk] - {None}
        point.read, point.wanted = len(instruments), wanted
        point.lacks = point.read < wanted
    return points


def pressure_doubt(one: CalibrationCheck) -> str:
    """What to ask about the pressure of a boiling check before it is relied on."""
    if one.method != Method.BOILING:
        return ""
    try:
        doubt = getattr(pure_reference(one), "doubt", None)
    except CannotCompute as trouble:
        return str(trouble)
    return doubt.sentence if doubt else ""


def seen_of(one: CalibrationCheck) -> str:
    """What the readings are, in a few letters: whoever closes a check closes what they looked at."""
    rows = CheckReading.objects.filter(point__sitting=one).order_by("point__number", "sensor_id", "number")
    told = [
        f"{one.shape}",
        *(f"{row[0]}/{row[1]}/{row[2]}" for row in rows.values_list("point__number", "sensor_id", "celsius")),
    ]
    return hashlib.sha256(";".join(told).encode()).hexdigest()[:16]


# -- Steps of an open check ----------------------------------------------------------------------------------------------


@for_roles(*BENCH)
@require_POST
def check_close(request: HttpRequest, pk: int) -> HttpResponse:
    """Close the check as it was looked at: its offsets are in force from now on."""
    one = check_or_404(pk)
    form = CloseCheckForm(sent(request), subject=one)

    def do(act: Act) -> Done:
        seen = form.given()["seen"]
        if seen and one.is_open and seen != seen_of(one):
            raise Refused(
                "Readings of this check changed after you looked at it. What it says now stands below; look, then close it.",
                code="stale",
            )
        return closing.close_check(act, check=one)

    return open_step(request, one, form, do)


@for_roles(*BENCH)
@require_POST
def check_shape(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose how the offset runs over temperature."""
    one = check_or_404(pk)
    form = ShapeForm(sent(request), subject=one)

    def do(act: Act) -> Done:
        return actions.change_check(act, check=one, changes={"shape": Shape(form.given()["shape"])})

    return open_step(request, one, form, do)


def open_step(
    request: HttpRequest, one: CalibrationCheck, form: NowForm, do: Callable[[Act], Done], then: Any = None
) -> HttpResponse:
    """A step taken from the page of a check; refused, that page says why, with what is there now."""
    return take_step(
        request,
        form,
        do,
        template="kits/check.html",
        context=DrawnLate(
            lambda: check_context(request, check_or_404(one.pk), refused=form, **kept_form(form))
        ),
        then=then or (lambda done: one.get_absolute_url()),
    )


def kept_form(form: NowForm) -> dict[str, Any]:
    """A refused form under the name its page draws it by, so that what was typed stands there still."""
    name = {AddPointForm: "point_form", ShapeForm: "shape_form"}.get(type(form))
    return {name: form} if name else {}


class DrawnLate(Mapping[str, Any]):
    """The context of a page that is drawn only when its step is refused: read then, and not before."""

    def __init__(self, read: Callable[[], dict[str, Any]]) -> None:
        self.read = read

    @cached_property
    def context(self) -> dict[str, Any]:
        return self.read()

    def __getitem__(self, name: str) -> Any:
        return self.context[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.context)

    def __len__(self) -> int:
        return len(self.context)


@for_roles(*MANAGER)
@require_http_methods(["GET", "POST"])
def check_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """A manager withdraws a closed check that proved mistaken."""
    one = check_or_404(pk)
    form = ReasonForm(sent(request))

    def do(act: Act) -> Done:
        return closing.withdraw_check(act, check=one, why=form.given()["why"])

    return ending(request, one, form, do, "withdraw")


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def check_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """An open check will not be finished."""
    one = check_or_404(pk)
    form = ReasonForm(sent(request), subject=one)

    def do(act: Act) -> Done:
        return closing.drop_check(act, check=one, why=form.given()["why"])

    return ending(request, one, form, do, "drop")


def ending(request: HttpRequest, one: CalibrationCheck, form: Any, do: Any, what: str) -> HttpResponse:
    return take_step(
        request,
        form,
        do,
        template="kits/check_end.html",
        context={"check": one, "what": what, "state": state_of(one)},
        then=lambda done: one.get_absolute_url(),
    )


@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def due_now(request: HttpRequest, rom: str) -> HttpResponse:
    """Something happened to a sensor: its next check is due at once."""
    one = sensor_by_rom(rom)
    form = DueNowForm(sent(request), subject=one)

    def do(act: Act) -> Done:
        given = form.given()
        return closing.mark_due_now(act, sensor=one, reason=DueNowReason(given["reason"]), note=given["note"])

    return sensor_step(
        request, one, form, do, heading="What happened to this sensor?", button="Due for a check now"
    )
