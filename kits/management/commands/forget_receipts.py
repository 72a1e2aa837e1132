"""Take away receipts of requests so old that no phone will send them again."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from kits.models import Receipt

KEPT_DAYS = 90  # a phone may lie in a drawer for a season


class Command(BaseCommand):
    """For a timer, once a day. What happened stays in the events; only the memory of the request goes."""

    help = f"Take away receipts older than {KEPT_DAYS} days."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only say how many there are")

    def handle(self, *args: Any, dry_run: bool = False, **options: Any) -> None:
        old = Receipt.objects.filter(made_at__lt=timezone.now() - timedelta(days=KEPT_DAYS))
        count = old.count() if dry_run else old.delete()[0]
        verb = "would be taken away" if dry_run else "taken away"
        self.stdout.write(f"Receipts older than {KEPT_DAYS} days {verb}: {count}.")
