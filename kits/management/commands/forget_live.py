"""Take away live readings older than an hour: they told which lead is which, and nothing is kept of them."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from kits.live import KEPT, forget_old
from kits.models import LiveReading


class Command(BaseCommand):
    """For a timer, once a day. A kit that sends tidies up behind itself; this is for those that fell silent."""

    help = "Take away what kits on the bench sent more than an hour ago."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only say how many there are")

    def handle(self, *args: Any, dry_run: bool = False, **options: Any) -> None:
        now = timezone.now()
        count = LiveReading.objects.filter(read_at__lte=now - KEPT).count() if dry_run else forget_old(now)
        verb = "would be taken away" if dry_run else "taken away"
        self.stdout.write(f"Live readings older than an hour {verb}: {count}.")
