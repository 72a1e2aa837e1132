"""Fill an empty database with the demo shop."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.demo.now import tell
from kits.models import User


class Command(BaseCommand):
    help = "Fill an empty database with an invented shop: eight kits, twelve sites, a year of stays."

    def handle(self, *args: Any, **options: Any) -> None:
        if User.objects.exists():
            raise CommandError("This database has people in it already. The demo is only for an empty one.")
        tell(timezone.now())
        self.stdout.write("The demo shop is ready.")
