"""The bench of the demo: two reference thermometers, and checks of every sensor by the same actions people use."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from typing import TYPE_CHECKING, Any

from kits.actions import checks, closing, thermometers
from kits.actions.records import add_record, change_record
from kits.models import CalibrationCheck, Method, ReferenceKind, ReferenceThermometer, Sensor, Shape

if TYPE_CHECKING:
    from config.demo.story import Story

READINGS = 5
STEP_KELVIN = 0.0625
BENCH_SEED = 20260315


class Bench:
    """What the bench knows that nobody else does: how far off each bare sensor truly is."""

    def __init__(self, story: "Story") -> None:
        self.story = story
        self.chance = Random(BENCH_SEED)
        self.bare: dict[int, float] = {}

    def open(self) -> None:
        """Shop reference 2 has a certificate in date, and one before it; that of Shop reference 1 ran out."""
        self.reference("Shop reference 1", "RT-1-0188", "0.1", (410, "0.15"))
        self.reference("Shop reference 2", "RT-2-0417", "0.01", (400, "0.05"), (38, "0.05"))

    def reference(self, name: str, serial: str, step: str, *papers: tuple[int, str]) -> None:
        fields = {"name": name, "serial": serial, "resolution_kelvin": Decimal(step)}
        act = self.story.act("manager", self.story.at(max(days for days, _ in papers) - 5))
        made = add_record(act, row=ReferenceThermometer(), fields=fields).row(ReferenceThermometer)
        for number, (days_ago, uncertainty) in enumerate(papers, start=1):
            issued_on = self.story.day(days_ago)
            paper = {
                "number": f"{serial[-4:]}-{issued_on.year}-{number}",
                "issuer": "Ravenel Metrology Laboratory",
                "issued_on": issued_on,
                "due_on": issued_on + timedelta(days=365),
                "corrections": [[0, 0.02], [25, 0.01], [50, -0.02], [75, -0.03]],
                "expanded_uncertainty_kelvin": Decimal(uncertainty),
                "drift_allowance_kelvin": Decimal("0.02"),
            }
            act = self.story.act("manager", self.story.at(days_ago - 5, 10))
            thermometers.add_certificate(act, thermometer=made, fields=paper)

    def sensors_of(self, kit: str) -> list[Sensor]:
        rows = self.story.kit(kit).wirings.filter(wired_until=None).select_related("sensor")
        return [row.sensor for row in rows.order_by("terminal")]

    def read(self, sensor: Sensor, celsius: float) -> list[float]:
        """Five readings of a sensor in a bath of this temperature."""
        off = self.bare.setdefault(sensor.pk, self.chance.uniform(-0.35, 0.35))
        return [
            round((celsius + off + self.chance.gauss(0, 0.03)) / STEP_KELVIN) * STEP_KELVIN
            for _ in range(READINGS)
        ]

    def begin(
        self, who: str, at: datetime, sensors: Sequence[Sensor], *, aimed: Sequence[float] = (), **how: Any
    ) -> CalibrationCheck:
        """Begun in crushed ice; or, with temperatures aimed at, in a stirred bath beside Shop reference 2."""
        if aimed:
            reference, method = ReferenceThermometer.objects.get(name="Shop reference 2"), Method.STIRRED
        else:
            reference, method = ReferenceThermometer.objects.get(kind=ReferenceKind.ICE), Method.ICE
        act = self.story.act(who, at)
        given: dict[str, Any] = {"method": method, "reference": reference, "aimed_celsius": aimed, **how}
        return checks.begin_check(act, sensors=sensors, **given).row(CalibrationCheck)

    def type_in(self, who: str, at: datetime, check: CalibrationCheck, sensors: Sequence[Sensor]) -> None:
        for point in check.points.all():
            bath = float(point.aimed_celsius or 0) + (
                self.chance.uniform(-0.3, 0.3) if check.certificate else 0
            )
            readings: dict[Sensor | None, list[float]] = {
                sensor: self.read(sensor, bath) for sensor in sensors
            }
            if check.certificate:
                readings[None] = [round(bath + self.chance.gauss(0, 0.01), 2) for _ in range(READINGS)]
            act = self.story.act(who, at)
            checks.keep_readings(act, check=check, point=point, readings=readings)

    def check(
        self, at: datetime, sensors: Sequence[Sensor], *, who: str = "tom", **how: Any
    ) -> CalibrationCheck:
        """A whole check, an hour long; since the one before, every sensor drifted a little."""
        check = self.begin(who, at, sensors, **how)
        self.type_in(who, at, check, sensors)
        closing.close_check(self.story.act(who, min(at + timedelta(hours=1), self.latest)), check=check)
        for sensor in sensors:
            self.bare[sensor.pk] += self.chance.gauss(0, 0.02)
        return check

    @property
    def latest(self) -> datetime:
        return self.story.now - timedelta(minutes=2)

    def check_kit(self, kit: str, days_ago: float, hour: int = 10) -> CalibrationCheck:
        return self.check(self.story.at(days_ago, hour), self.sensors_of(kit))

    def three_points(self, kit: str, days_ago: float) -> CalibrationCheck:
        """A kit that serves heat pumps is checked warm too, and gets a straight line."""
        at = self.story.at(days_ago, 9)
        return self.check(at, self.sensors_of(kit), aimed=(2, 25, 45), shape=Shape.LINE)


def withdrawn(story: "Story") -> None:
    """Dunlin was checked in ice that had melted; the check was withdrawn, so it is overdue by the one before."""
    check = story.bench.check_kit("Dunlin", 12)
    why = "The ice had melted while it was read"
    closing.withdraw_check(story.act("manager", story.at(11, 11)), check=check, why=why)


def found_bad(story: "Story") -> None:
    """Martin came home and one of its sensors is off: the stays since its last good check are in doubt."""
    sensors = story.bench.sensors_of("Martin")
    story.bench.bare[sensors[2].pk] += 0.75
    story.bench.check(story.at(1, 14), sensors, who="technician", conditions="Bench, 22 °C")


def being_typed(story: "Story") -> None:
    """Kestrel's check is open: two of its sensors are read, the others not yet."""
    sensors, at = story.bench.sensors_of("Kestrel"), story.at(0, 8, 30)
    check = story.bench.begin("technician", at, sensors)
    story.bench.type_in("technician", at, check, sensors[:2])


def tapes_off(story: "Story") -> None:
    """Two tapes came off Kestrel's leads in the attic: nobody knows which lead is which. See `send_live`."""
    for sensor in story.bench.sensors_of("Kestrel")[1:]:
        act = story.act("technician", story.at(0, 8, 20))
        change_record(act, row=sensor, changes={"tag": "", "tag_colour": ""})


CHAPTERS = (withdrawn, found_bad, tapes_off, being_typed)
