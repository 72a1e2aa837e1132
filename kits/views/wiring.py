"""Wiring: a sensor onto a terminal of a kit, begun from the kit or from the sensor, and out again."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kits.actions import sensors as actions
from kits.actions.acting import Act, Done
from kits.forms.sensors import WireInForm, WireIntoForm, WireOutForm
from kits.listing import GONE, listed_sensors
from kits.models import Kit, Sensor
from kits.promises import Refused
from kits.views.sensors import sensor_by_rom, sensor_step
from kits.ways import sent, way_back
from kits.web import EVERYBODY, for_roles, take_step


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def kit_wire_in(request: HttpRequest, code: str) -> HttpResponse:
    """Wire a sensor into this kit: by its tag, its tail or its ROM ID, or one of the spares with a tap."""
    kit = get_object_or_404(Kit, code=code.upper())
    chosen = Sensor.objects.filter(rom=request.GET.get("sensor", "")).first()
    form = WireInForm(sent(request), kit=kit, initial={"sensor": chosen})

    def do(act: Act) -> Done:
        given = form.given()
        return actions.wire_in(act, kit=kit, sensor=given["sensor"], terminal=given["terminal"])

    spares = listed_sensors(timezone.now()).filter(wired_terminal=None).exclude(kept_place__in=GONE)
    return take_step(
        request,
        form,
        do,
        template="kits/wire_in.html",
        context={"kit": kit, "spares": spares, "chosen": chosen},
        then=lambda done: way_back(request) or kit.get_absolute_url(),
    )


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def sensor_wire_in(request: HttpRequest, rom: str) -> HttpResponse:
    """Wire this sensor into a kit, named by its code."""
    one = sensor_by_rom(rom)
    form = WireIntoForm(sent(request))

    def do(act: Act) -> Done:
        given = form.given()
        return actions.wire_in(act, kit=given["kit"], sensor=one, terminal=given["terminal"])

    return sensor_step(request, one, form, do, heading="Into which kit?", button="Wire it in")


@for_roles(*EVERYBODY)
@require_http_methods(["GET", "POST"])
def sensor_wire_out(request: HttpRequest, rom: str) -> HttpResponse:
    """Take this sensor out of the kit it is in."""
    one = sensor_by_rom(rom)
    wiring = one.wiring
    form = WireOutForm(sent(request), subject=wiring.kit if wiring else None)

    def do(act: Act) -> Done:
        given = form.given()
        kit = wiring.kit if wiring else None
        if kit is None:
            raise Refused(f"Sensor {one} is in no kit; it is {actions.whereabouts_of(one)}.")
        return actions.wire_out(
            act, kit=kit, sensor=one, place=given["place"], technician=given["technician"]
        )

    heading = f"Out of {wiring.kit.name}, and kept where?" if wiring else "This sensor is in no kit"
    return sensor_step(request, one, form, do, heading=heading, button="It is out", wiring=wiring)
