"""manage.py check_bills: everything is computed again from the stays and held against the papers."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from reports.billing.money import money_text
from reports.billing_audit import audit


class Command(BaseCommand):
    help = "Compute all charges again from the stays, hold them against bills and credit notes, explain each difference."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--through",
            type=date.fromisoformat,
            metavar="YYYY-MM-DD",
            help="up to this day, not including it (default: the end of the last month that was billed)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        told = audit(options["through"])
        for currency in sorted({*told.recomputed, *told.billed}):
            self.stdout.write(
                f"{currency}: {money_text(told.recomputed[currency])} by the stays, "
                f"{money_text(told.billed[currency])} on papers"
            )
        for sentence in told.explained:
            self.stdout.write(f"explained: {sentence}")
        for sentence in told.wrong:
            self.stderr.write(f"WRONG: {sentence}")
        if told.wrong:
            raise CommandError(f"{len(told.wrong)} of these should not be. Restore a backup or ask for help.")
        self.stdout.write("Papers and stays add up.")
