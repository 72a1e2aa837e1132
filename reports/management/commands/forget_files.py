"""Take away spreadsheets that were sent, looked at and never brought in: they hold names and phones nobody needs here."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from reports.models import ImportFile

KEPT_DAYS = 30  # long enough to come back to a file after a holiday


class Command(BaseCommand):
    """For a timer, once a day. Files whose rows are in the books stay: they say where the rows came from."""

    help = f"Take away spreadsheets that were not brought in within {KEPT_DAYS} days."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only say which they are")
        parser.add_argument("--days", type=int, default=KEPT_DAYS, help=f"days they are kept ({KEPT_DAYS})")

    def handle(self, *args: Any, dry_run: bool = False, days: int = KEPT_DAYS, **options: Any) -> None:
        before = timezone.now() - timedelta(days=max(days, 1))
        old = ImportFile.objects.filter(done_at=None, sent_at__lt=before).defer("content")
        for file in old:
            self.stdout.write(f"{file.name}, {file.get_kind_display().lower()}, sent {file.sent_at:%Y-%m-%d}")
        count = old.count() if dry_run else old.delete()[0]
        verb = "would be taken away" if dry_run else "taken away"
        self.stdout.write(f"Spreadsheets never brought in, older than {max(days, 1)} days, {verb}: {count}.")
