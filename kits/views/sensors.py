"""Sensors: the list, one sensor with its history, a new one, an offset by hand, a spare's place."""

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions import sensors as actions
from kits.actions.acting import Act, Done
from kits.actions.records import change_record
from kits.forms.sensors import ChangeSensorForm, KeepSpareForm, NewSensorForm, OffsetForm
from kits.listing import SensorFilter, listed_sensors
from kits.lists import show_list
from kits.models import Event, KeptAt, Kit, Offset, Sensor, SparePlace, TemperatureUnit
from kits.readiness import dated_sensors
from kits.rom import BadRom, read_rom
from kits.sensor_story import (
    doubt_sentence,
    drift_curve,
    found_by_checks,
    offset_words,
    standing_now,
)
from kits.tables import SensorTable
from kits.units import difference_text
from kits.ways import sent, way_back
from kits.web import BENCH, EVERYBODY, for_roles, take_step, user_of
from kits.words import DUE_TONES


def sensor_by_rom(rom: str) -> Sensor:
    """The sensor with this ROM ID in any usual writing; else the page is not there."""
    try:
        return get_object_or_404(Sensor, rom=read_rom(rom))
    except BadRom as bad:
        raise Http404(str(bad)) from bad


@for_roles(*EVERYBODY)
@require_GET
def sensor_list(request: HttpRequest) -> HttpResponse:
    """Every sensor: where it is, and whether anybody has compared it with the truth."""
    now, shop = timezone.now(), request.shop  # type: ignore[attr-defined]
    filters = SensorFilter(request.GET, queryset=dated_sensors(listed_sensors(now), now))
    table = SensorTable(filters.qs, shop=shop)
    table.teach_url = reverse("sensor_new")
    count = Sensor.objects.count()
    without = Sensor.objects.filter(offsets=None).exclude(spare_places__in=scrapped()).distinct().count()
    context = {"filters": filters, "count": count, "without": without}
    return show_list(request, table, "kits/sensors.html", context, file="sensors")


def scrapped() -> QuerySet[SparePlace]:
    """Open places of sensors that nobody will compare any more."""
    return SparePlace.objects.filter(kept_until=None, place=KeptAt.SCRAPPED)


@for_roles(*EVERYBODY)
@require_GET
def sensor(request: HttpRequest, rom: str) -> HttpResponse:
    """One sensor: where it is, what is added to its readings, and everything that happened to it."""
    one = sensor_by_rom(rom)
    if rom != one.rom:
        return redirect(one)
    wiring, spare = one.wiring, one.spare_place
    offsets: list[Any] = list(one.offsets.select_related("recorded_by").order_by("-in_force_from"))
    now, shop = timezone.now(), request.shop  # type: ignore[attr-defined]
    for row in offsets:
        row.give_or_take = give_or_take(row, shop.temperature_unit)
        row.figure, row.runs = offset_words(row, shop.temperature_unit)
    found = found_by_checks(one, shop.temperature_unit)
    due = standing_now(one, now)
    events = (
        Event.objects.filter(abouts__kind="sensor", abouts__subject_id=one.pk)
        .select_related("did_by", "typed_by")
        .order_by("-happened_at", "-pk")
    )
    context = {
        "sensor": one,
        "wiring": wiring,
        "spare": spare,
        "offset": one.offset_at(now),
        "found": found,
        "curve": drift_curve(found, shop.sensor_limit_kelvin, shop.temperature_unit),
        "doubt": doubt_sentence(found),
        "due": due,
        "due_word": (word := due.word(timezone.localdate())),
        "due_tone": DUE_TONES[word],
        "due_against": due.against(timezone.localdate()),
        "open_check": one.checks.filter(sitting__closed_at=None, sitting__dropped_at=None)
        .select_related("sitting")
        .first(),
        "may_check": user_of(request).role in BENCH,
        "offsets": offsets,
        "wirings": one.wirings.select_related("kit").order_by("-wired_from", "-pk"),
        "spare_places": one.spare_places.select_related("technician").order_by("-kept_from", "-pk"),
        "events": events,
        "is_gone": spare is not None and spare.place in {KeptAt.MISSING, KeptAt.SCRAPPED},
    }
    return render(request, "kits/sensor.html", context)


def give_or_take(offset: Offset, unit: TemperatureUnit) -> str:
    """The uncertainty of an offset as it is read, "± 0.10 K"; nothing when nobody said."""
    if offset.uncertainty_kelvin is None:
        return ""
    return f"± {difference_text(offset.uncertainty_kelvin, 'C' if unit == 'C' else 'F', 2, signed=False)}"


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def sensor_new(request: HttpRequest) -> HttpResponse:
    """Add a sensor by its ROM ID, into a kit or as a spare."""
    initial = {}
    if code := request.GET.get("kit"):
        initial["kit"] = Kit.objects.filter(code=code.upper()).first()
    form = NewSensorForm(sent(request), initial=initial)

    def then(done: Done) -> str:
        if form.note:
            messages.info(request, form.note)
        added = done.row(Sensor)
        if "another" in request.POST:
            kit = form.cleaned_data["kit"]
            return reverse("sensor_new") + (f"?kit={kit.code}" if kit else "")
        return way_back(request) or added.get_absolute_url()

    return take_step(
        request,
        form,
        lambda act: actions.add_sensor(act, **form.action_fields()),
        template="kits/sensor_new.html",
        context={"kit": initial.get("kit")},
        then=then,
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def sensor_change(request: HttpRequest, rom: str) -> HttpResponse:
    """Change the tag, the colour and what else is known about a sensor."""
    one = sensor_by_rom(rom)
    form = ChangeSensorForm(sent(request), instance=one)
    return sensor_step(
        request,
        sensor_by_rom(rom),
        form,
        lambda act: change_record(act, row=one, changes=form.given()),
        heading="What is known about this sensor",
        button="Save the sensor",
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def sensor_keep(request: HttpRequest, rom: str) -> HttpResponse:
    """Say where a spare is kept now."""
    one = sensor_by_rom(rom)
    spare = one.spare_place
    initial = {"place": spare.place, "technician": spare.technician_id} if spare else {}
    form = KeepSpareForm(sent(request), subject=one, initial=initial)

    def do(act: Act) -> Done:
        return actions.keep_spare(act, sensor=one, **form.given())

    return sensor_step(request, one, form, do, heading="Where is this spare now?", button="It is kept there")


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def sensor_offset(request: HttpRequest, rom: str) -> HttpResponse:
    """Enter an offset by hand, in the unit the shop reads."""
    one = sensor_by_rom(rom)
    unit = request.shop.temperature_unit  # type: ignore[attr-defined]
    form = OffsetForm(sent(request), subject=one, unit=unit)

    def do(act: Act) -> Done:
        return actions.give_offset(act, sensor=one, **form.given())

    now = timezone.now()
    return sensor_step(
        request,
        one,
        form,
        do,
        heading="What is added to this sensor's readings?",
        button="Give this offset",
        in_force=one.offset_at(now),
    )


def sensor_step(  # type: ignore[no-untyped-def]
    request: HttpRequest, one: Sensor, form, do, *, heading: str, button: str, **more: object
) -> HttpResponse:
    """One short form about a sensor; afterwards its page again, or the page the step was begun from."""
    context = {"sensor": one, "where": actions.whereabouts_of(one), "heading": heading, "button": button}
    return take_step(
        request,
        form,
        do,
        template="kits/sensor_step.html",
        context={**context, "back": way_back(request), **more},
        then=lambda done: way_back(request) or one.get_absolute_url(),
    )
