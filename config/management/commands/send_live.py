"""A simulated kit on the bench that sends readings to the shop, for the demo and for trying the pages. Not a real kit."""

import json
import sys
import time
import urllib.error
import urllib.request
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from config.demo.leads import Leads, pack, simulated_rom
from kits.actions.acting import Act
from kits.actions.live import make_key
from kits.live import key_sha256, new_key, wired
from kits.models import Kit, Role, User

# A proxy of the network has no business with a shop on this machine.
DIRECT = urllib.request.build_opener(urllib.request.ProxyHandler({}))
EVERY_S = 1.0
QUIET_S, HELD_S = 45, 60


class Command(BaseCommand):
    """Sends every second, until it is stopped, and says in words which lead is held."""

    help = "SIMULATION: send readings of a kit on the bench, as if its leads were held one after the other."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", help="the kit's code")
        parser.add_argument("--address", default="http://127.0.0.1:8000", help="where the shop runs")
        parser.add_argument("--key", default="", help="the kit's key; without one a new key is made")
        parser.add_argument(
            "--plug", type=int, default=0, metavar="N", help="plug N new leads in, one at a time"
        )
        parser.add_argument("--cold", action="store_true", help="a cold can instead of a hand")
        parser.add_argument("--room", type=float, default=22.0, help="°C of the room (22)")
        parser.add_argument("--seconds", type=int, default=1800, help="how long (half an hour)")
        parser.add_argument("--seed", type=int, default=1, help="of what is drawn by chance")

    def handle(self, *args: Any, **options: Any) -> None:
        kit = Kit.objects.filter(code=options["code"].upper()).first()
        if kit is None:
            raise CommandError("No kit has this code.")
        self.url = options["address"].rstrip("/") + reverse("live_in", args=[kit.code])
        self.key = options["key"] or self.fresh_key(kit)
        self.stdout.write(f"SIMULATION, no real kit: sending as {kit} to {self.url}. Ctrl-C stops it.")
        try:
            if options["plug"]:
                self.plug_in(options)
            else:
                self.warm(kit, options)
        except KeyboardInterrupt:
            self.stdout.write("Stopped.")

    def fresh_key(self, kit: Kit) -> str:
        """A key made on the spot, as a manager would on the kit's page. The one before opens nothing any more."""
        manager = User.objects.filter(role=Role.MANAGER, is_active=True).first()
        if manager is None:
            raise CommandError(
                "There is no manager yet, so there is nobody to make a key. Give one with --key."
            )
        key = new_key()
        make_key(Act.by(manager), kit=kit, sha256=key_sha256(key))
        return key

    def warm(self, kit: Kit, options: dict[str, Any]) -> None:
        """The leads without a name are held one after the other, each for a minute after a quiet time."""
        roms = [row.sensor.rom for row in wired(kit)]
        if not roms:
            raise CommandError(f"{kit} carries no sensor. Try --plug 5.")
        leads = Leads(roms, room_celsius=options["room"], seed=options["seed"])
        self.quiet_before(leads)
        nameless = [row.sensor.rom for row in wired(kit) if not row.sensor.tag] or roms
        until = time.monotonic() + options["seconds"]
        while time.monotonic() < until:
            for rom in nameless:
                self.go_on(leads, QUIET_S, "All leads hang free.")
                leads.hold(rom, cold=options["cold"])
                self.go_on(
                    leads, HELD_S, f"NOW HELD: the lead of …{rom[-4:]}. Tap “I hold one now” on the page."
                )
                leads.hold(None)

    def quiet_before(self, leads: Leads) -> None:
        """The minute before, sent at once, so that nobody has to wait for it."""
        self.send([one for ago in range(60, 0, -2) for one in pack(leads.read(), ago)])

    def go_on(self, leads: Leads, seconds: int, words: str) -> None:
        self.stdout.write(words)
        sys.stdout.flush()
        for _ in range(seconds):
            leads.advance(EVERY_S)
            self.send(pack(leads.read()))
            time.sleep(EVERY_S)

    def plug_in(self, options: dict[str, Any]) -> None:
        """New leads, one every twelve seconds."""
        roms = [simulated_rom(options["seed"] * 100 + number) for number in range(options["plug"])]
        leads = Leads(roms, room_celsius=options["room"], seed=options["seed"])
        began = time.monotonic()
        while (gone := time.monotonic() - began) < options["seconds"]:
            there = roms[: int(gone // 12)]
            if there:
                self.send(pack({rom: value for rom, value in leads.read().items() if rom in there}))
            time.sleep(EVERY_S)

    def send(self, records: list[dict[str, object]]) -> None:
        request = urllib.request.Request(  # noqa: S310 (an address the operator gave)
            self.url,
            data=json.dumps(records).encode(),
            headers={"Authorization": f"Bearer {self.key}", "Content-Type": "application/senml+json"},
        )
        try:
            with DIRECT.open(request, timeout=10):
                pass
        except urllib.error.HTTPError as refused:
            raise CommandError(f"Refused: {refused.read().decode()[:300]}") from refused
        except OSError as gone:
            raise CommandError(f"The shop does not answer at {self.url}: {gone}") from gone
