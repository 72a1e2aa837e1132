"""Rows of kits and rows of sensors."""

from collections import defaultdict
from typing import Any

from django.utils import timezone

from kits.actions.arrivals import kit_arrives, sensor_arrives, spare_goes_in
from kits.actions.many import Many, change_one
from kits.codes import BadCode, draw_code, fold_code, near_codes, read_code
from kits.models import Kit, Sensor, SparePlace, Wiring
from kits.models.base import fold
from reports.importing.fields import KITS, SENSORS
from reports.intake.rows import MOST_HINTS, Outcome, Planner, RowPlan, changes, held, refuse, told
from sites.days import day_of
from sites.free import shop_zone

MOST_TERMINALS = 5


class KitBook:
    """Every kit by code and by name."""

    def __init__(self) -> None:
        self.by_code: dict[str, Kit] = {}
        self.by_name: dict[str, list[Kit]] = defaultdict(list)
        self.given_out: set[str] = set()
        self.hints = 0
        for kit in Kit.objects.all():
            self.by_code[kit.code] = kit
            self.by_name[fold(kit.name)].append(kit)

    def near(self, typed: str) -> str:
        """Kits whose code is one slip away from what was typed, as a hint."""
        if self.hints >= MOST_HINTS:
            return ""
        self.hints += 1
        found = [str(self.by_code[code]) for code in near_codes(typed, self.by_code)]
        return f" Near it: {' or '.join(found)}." if found else ""

    def unused_code(self) -> str:
        """A fresh code that no kit of the shop has, nor another row of the file."""
        while (code := draw_code()) in self.by_code or code in self.given_out:
            pass
        self.given_out.add(code)
        return code


class KitPlanner(Planner):
    kind = KITS

    def __init__(self) -> None:
        super().__init__()
        self.book = KitBook()
        self.today = day_of(timezone.now(), shop_zone())

    def plan(self, line: int, values: dict[str, Any]) -> RowPlan:
        code = self.code(values.pop("code", ""))
        name = values.get("name", "")
        if not code and not name:
            raise refuse(
                "Kit code", "Empty, and no name either. Give the code on the kit's label, or a name."
            )
        if not 1 <= values.get("sensor_limit", 1) <= MOST_TERMINALS:
            raise refuse("Terminals", f"A kit has 1 to {MOST_TERMINALS} terminals.")
        kit = self.kit(code, name)
        what = str(kit) if kit else f"{name or code} ({code})" if code else name
        key = kit.pk if kit else code or fold(name)
        if again := self.once(key, line, {**values, "code": code}, what):
            return again
        if kit is None:
            return self.new(line, what, code, values)
        changed = changes(kit, values)
        if not changed:
            return RowPlan(line, Outcome.SAME, what)
        details = told(kit, changed, self.label)
        self.checked(Kit(), changed)
        return RowPlan(
            line,
            Outcome.CHANGED,
            what,
            details,
            job=lambda many: change_one(many, kit, changed),
        )

    def code(self, typed: str) -> str:
        if not typed:
            return ""
        try:
            return read_code(typed)
        except BadCode as bad:
            raise refuse("Kit code", f"{bad}{self.book.near(typed)}") from None

    def kit(self, code: str, name: str) -> Kit | None:
        if code:
            return self.book.by_code.get(code)
        alike = self.book.by_name.get(fold(name), [])
        if len(alike) > 1:
            codes = " and ".join(kit.code for kit in alike)
            raise refuse("Name", f"More than one kit is called {name}: {codes}. Give the code too.")
        return alike[0] if alike else None

    def new(self, line: int, what: str, code: str, values: dict[str, Any]) -> RowPlan:
        fields = {"built_on": self.today, **values, "name": values.get("name") or code}
        self.checked(Kit(), fields)
        if code:
            self.book.given_out.add(code)
        details = [] if code else ["gets a code of its own"]
        details += [*held(Kit, fields, self.label, but=("name",)), "starts on the bench"]
        return RowPlan(
            line,
            Outcome.NEW,
            what,
            details,
            job=lambda many: kit_arrives(many, code=code or self.book.unused_code(), fields=fields),
        )


class SensorPlanner(Planner):
    kind = SENSORS

    def __init__(self) -> None:
        super().__init__()
        self.book = KitBook()
        self.sensors = {sensor.rom: sensor for sensor in Sensor.objects.all()}
        self.wired: dict[int, Wiring] = {}
        # Which sensor each terminal of each kit carries, those of earlier rows included.
        self.carried: dict[int, dict[int, str]] = defaultdict(dict)
        for wiring in Wiring.objects.filter(wired_until=None).select_related("sensor", "kit"):
            self.wired[wiring.sensor_id] = wiring
            self.carried[wiring.kit_id][wiring.terminal] = wiring.sensor.rom
        spares = SparePlace.objects.filter(kept_until=None).select_related("technician")
        self.kept = {spare.sensor_id: spare for spare in spares}

    def plan(self, line: int, values: dict[str, Any]) -> RowPlan:
        rom = values.get("rom", "")
        if not rom:
            raise refuse("ROM ID", "Empty. Each sensor is told by its ROM ID.")
        facts = {name: value for name, value in values.items() if name not in ("rom", "kit", "terminal")}
        what = " ".join(part for part in (facts.get("tag", ""), f"…{rom[-4:]}") if part)
        if again := self.once(rom, line, values, what):
            return again
        kit, terminal = self.kit(values.get("kit", "")), values.get("terminal")
        if terminal is not None and kit is None:
            raise refuse("Terminal", "Name the kit too, or leave the terminal empty.")
        sensor = self.sensors.get(rom)
        if sensor is None:
            return self.new(line, what, rom, facts, kit, terminal)
        return self.known(line, what, sensor, facts, kit, terminal)

    def kit(self, typed: str) -> Kit | None:
        """The kit a row names by code or by name."""
        if not typed:
            return None
        if kit := self.book.by_code.get(fold_code(typed)):
            return kit
        alike = self.book.by_name.get(fold(typed), [])
        if len(alike) == 1:
            return alike[0]
        label = self.label("kit")
        if alike:
            codes = " and ".join(kit.code for kit in alike)
            raise refuse(label, f"More than one kit is called {typed}: {codes}. Give the code.")
        hint = self.book.near(typed) or self.near(typed, [kit.name for kit in self.book.by_code.values()])
        raise refuse(label, f"There is no kit {typed}.{hint} Bring the kits in first, or correct the code.")

    def terminal(self, kit: Kit, wanted: int | None, rom: str) -> int:
        """The terminal a sensor goes to; it is taken from then on."""
        carried = self.carried[kit.pk]
        if wanted is None:
            wanted = next((n for n in range(1, kit.sensor_limit + 1) if n not in carried), 0)
            if not wanted:
                raise refuse(self.label("kit"), f"All {kit.sensor_limit} terminals of {kit} carry a sensor.")
        if not 1 <= wanted <= kit.sensor_limit:
            raise refuse(
                "Terminal", f"{kit} has terminals 1 to {kit.sensor_limit}; there is no terminal {wanted}."
            )
        if wanted in carried:
            raise refuse(
                "Terminal",
                f"Terminal {wanted} of {kit} carries sensor …{carried[wanted][-4:]}. Choose another terminal, or take "
                "that one out first.",
            )
        carried[wanted] = rom
        return wanted

    def new(
        self, line: int, what: str, rom: str, facts: dict[str, Any], kit: Kit | None, terminal: int | None
    ) -> RowPlan:
        self.checked(Sensor(), facts)
        if kit is None:
            return RowPlan(
                line,
                Outcome.NEW,
                what,
                [*held(Sensor, facts, self.label, but=("tag",)), "a spare on the bench"],
                job=lambda many: sensor_arrives(many, rom=rom, fields=facts),
            )
        at = self.terminal(kit, terminal, rom)
        return RowPlan(
            line,
            Outcome.NEW,
            what,
            [*held(Sensor, facts, self.label, but=("tag",)), f"wired into {kit}, terminal {at}"],
            job=lambda many: sensor_arrives(many, rom=rom, fields=facts, kit=kit, terminal=at),
        )

    def known(
        self,
        line: int,
        what: str,
        sensor: Sensor,
        facts: dict[str, Any],
        kit: Kit | None,
        terminal: int | None,
    ) -> RowPlan:
        changed = changes(sensor, facts)
        details = told(sensor, changed, self.label)
        self.checked(Sensor(), changed)
        wire_to = self.wire_to(sensor, kit, terminal)
        if wire_to:
            details.append(f"wired into {wire_to[0]}, terminal {wire_to[1]}")
        if not details:
            return RowPlan(line, Outcome.SAME, what)

        def do(many: Many) -> None:
            if changed:
                change_one(many, sensor, changed)
            if wire_to:
                kit, terminal = wire_to
                spare_goes_in(many, sensor=sensor, spare=self.kept.get(sensor.pk), kit=kit, terminal=terminal)

        return RowPlan(line, Outcome.CHANGED, what, details, job=do)

    def wire_to(self, sensor: Sensor, kit: Kit | None, terminal: int | None) -> tuple[Kit, int] | None:
        """Where a sensor of the books must still be wired to; None when it is there or no kit is named."""
        if kit is None:
            return None
        wiring = self.wired.get(sensor.pk)
        if wiring is None:
            return kit, self.terminal(kit, terminal, sensor.rom)
        if wiring.kit_id != kit.pk or terminal not in (None, wiring.terminal):
            raise refuse(
                self.label("kit"),
                f"This sensor is wired into {wiring.kit}, terminal {wiring.terminal}. Take it out there first, "
                "on the page of the sensor.",
            )
        return None
