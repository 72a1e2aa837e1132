"""Look through the books of every kit and every sensor and say what does not fit together."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from kits.models import CalibrationCheck, Event, Kit, Sensor
from sites.bench_books import check_contradictions
from sites.books import calls_with_two_kits, contradictions, sensor_contradictions
from sites.free import counted
from sites.models import Deployment


class Command(BaseCommand):
    """Prints one line for each contradiction, then what was looked at. Ends with 1 when there is any."""

    help = "Check that custody, stays, placements and history of every kit and sensor tell one story."

    def handle(self, *args: Any, **options: Any) -> None:
        found = [
            *(line for kit in Kit.objects.all() for line in contradictions(kit)),
            *(line for sensor in Sensor.objects.all() for line in sensor_contradictions(sensor)),
            *calls_with_two_kits(),
            *check_contradictions(),
        ]
        for line in found:
            self.stdout.write(self.style.ERROR(line))
        looked_at = ", ".join(
            counted(model.objects.count(), word)
            for model, word in (
                (Kit, "kit"),
                (Sensor, "sensor"),
                (Deployment, "stay"),
                (CalibrationCheck, "check"),
                (Event, "event"),
            )
        )
        verdict = f"Contradictions: {len(found)}" if found else "The books tell one story"
        self.stdout.write(f"{verdict}. Looked at: {looked_at}.")
        if found:
            sys.exit(1)
