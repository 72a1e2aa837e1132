"""manage.py draw_bills: draw and store the papers of issued bills and credit notes that have none yet."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from reports.billing_drawing import draw_some, undrawn


class Command(BaseCommand):
    help = "Draw and store the papers of issued bills and credit notes that have none yet. Does no harm when run again."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only say which papers would be drawn")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["dry_run"]:
            papers = [paper.number for paper in undrawn()]
            self.stdout.write("\n".join(papers) if papers else "Every paper is drawn.")
            return
        count = draw_some(seconds=None, told=lambda paper: self.stdout.write(f"{paper} drawn and stored"))
        self.stdout.write(f"{count} drawn." if count else "Every paper was drawn already.")
