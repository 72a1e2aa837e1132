"""Leads plugged in one at a time into a kit being built: each new one is named, all go into the books in one step."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from kits import live
from kits.actions import leads as actions
from kits.actions.acting import Act, Done
from kits.actions.sensors import whereabouts_of
from kits.explained_leads import CAUTIONS
from kits.forms.leads import NUMBERS, FoundForm
from kits.models import Kit, Sensor
from kits.rom import is_rom
from kits.rom_list import Listed, roms_in
from kits.telling_leads import OLDEST_S, seconds_of
from kits.views.leads import kit_of
from kits.ways import sent, way
from kits.web import BENCH, for_roles, take_step
from kits.which_lead import Plugging, Shown, newly_seen

PAGE = "kits/lead_plug.html"
MOST_LISTED = 40


@dataclass(frozen=True)
class FoundRow:
    """One sensor found on the wire, what the shop knows of it, and its fields."""

    rom: str
    tail: str
    known: str
    in_the_way: bool
    tag: Any
    colour: Any
    terminal: Any
    out: Any


class Plug:
    """The page at one look: what is known of the wire, and the form of what was found so far."""

    def __init__(self, request: HttpRequest, kit: Kit) -> None:
        self.request, self.kit = request, kit
        self.told = request.POST if request.method == "POST" else request.GET
        self.now = timezone.now()
        began_s = seconds_of(self.told.get("began"))
        # Readings are kept for an hour; whoever watches for longer is shown what was found within it.
        oldest_s = self.now.timestamp() - OLDEST_S
        self.began_s = None if began_s is None else min(max(began_s, oldest_s), self.now.timestamp())
        self.wirings = live.wired(kit)
        self.listed = roms_in(self.told.get("list", "")[:20_000])
        self.plugging = self.looked()
        self.roms = self.found_so_far()
        taken = {row.sensor.tag for row in self.wirings if row.sensor.tag}
        terminals = {row.terminal for row in self.wirings}
        drawn = {
            name: value
            for name, value in request.GET.items()
            if name.startswith(("tag-", "colour-", "terminal-"))
        }
        self.form = FoundForm(
            sent(request),
            roms=self.roms,
            free=[number for number in range(1, kit.sensor_limit + 1) if number not in terminals],
            taken=taken,
            initial=drawn,
        )
        self.numbers_left = [number for number in NUMBERS if number not in taken]

    def looked(self) -> Plugging | None:
        """What plugging in has shown since the page watches."""
        if self.began_s is None:
            return None
        since = datetime.fromtimestamp(self.began_s, UTC)
        named = {rom for rom in self.told.getlist("rom") if self.told.get(f"tag-{rom}")}
        with_tape = [row.sensor.rom for row in self.wirings if row.sensor.tag]
        looks = live.looks_of(self.kit, since, self.now)
        seen = sorted({rom for look in looks for rom in look})
        return newly_seen(
            looks, already_there=with_tape, named=named, shown=Shown.in_unit("C", [*seen, *with_tape])
        )

    def found_so_far(self) -> list[str]:
        """In the order in which they were found: those the page had, those pasted, those seen since."""
        had = [rom for rom in self.told.getlist("rom")[:MOST_LISTED] if is_rom(rom)]
        seen = self.plugging.in_order if self.plugging else ()
        return list(dict.fromkeys([*had, *self.listed.roms[:MOST_LISTED], *seen]))

    def rows(self) -> list[FoundRow]:
        known = {one.rom: one for one in Sensor.objects.filter(rom__in=self.roms)}
        return [self.row(rom, known.get(rom)) for rom in self.roms]

    def row(self, rom: str, sensor: Sensor | None) -> FoundRow:
        words, in_the_way = self.words(sensor)
        fields = (self.form[f"{name}-{rom}"] for name in ("tag", "colour", "terminal", "out"))
        tails = [other[-4:] for other in self.roms]
        tail = rom[-4:] if tails.count(rom[-4:]) == 1 else rom[-8:]
        return FoundRow(rom, tail, words, in_the_way, *fields)

    def words(self, sensor: Sensor | None) -> tuple[str, bool]:
        """What the shop knows of a sensor, and whether that keeps it from coming into this kit."""
        if sensor is None:
            return "new to the shop", False
        wiring = sensor.wiring
        if wiring is None:
            return f"a spare, {whereabouts_of(sensor)}", False
        if wiring.kit_id == self.kit.pk and not sensor.tag:
            return f"in this kit without a name, terminal {wiring.terminal}", False
        if wiring.kit_id == self.kit.pk:
            return f"in this kit already, tape {sensor.tag}", True
        return whereabouts_of(sensor), True

    def context(self) -> dict[str, Any]:
        here = reverse("lead_plug", args=[self.kit.code])
        newest = live.newest_readings(self.kit, self.now)
        return {
            "kit": self.kit,
            "here": here,
            "began": None if self.began_s is None else f"{self.began_s:.2f}",
            "plugging": self.plugging,
            "listed": self.listed if self.told.get("list") else Listed((), ()),
            "rows": self.rows(),
            "wirings": self.wirings,
            "sending": [one for one in newest if not one.is_silent],
            "poll": f"{here}?part=1&began={self.began_s:.2f}" if self.began_s is not None else "",
            "form": self.form,
            "cautions": CAUTIONS[:2],
            "labels_url": way("labels"),
        }


@never_cache
@for_roles(*BENCH)
@require_http_methods(["GET", "POST"])
def lead_plug(request: HttpRequest, code: str) -> HttpResponse:
    """Watch the wire while leads are plugged in one at a time, or read a list from a console; then all in one step."""
    kit = kit_of(code)
    if "watch" in request.GET:
        return redirect(f"{request.path}?began={timezone.now().timestamp():.2f}")
    plug = Plug(request, kit)
    if request.method == "GET" or "look" in request.POST:
        template = "kits/_plug.html" if "part" in request.GET else PAGE
        return render(request, template, plug.context())

    def do(act: Act) -> Done:
        return actions.add_found_sensors(act, kit=kit, found=plug.form.found())

    return take_step(
        request,
        plug.form,
        do,
        template=PAGE,
        context=plug.context(),
        then=lambda done: kit.get_absolute_url() + "#sensors",
    )
