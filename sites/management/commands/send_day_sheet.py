"""Send today's sheet by e-mail; meant for a timer at a set hour."""

from argparse import ArgumentParser
from typing import Any

from django.core.mail import EmailMessage
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from kits.models import User
from kits.promises import Refused
from sites.days import say_day
from sites.mailing import recipients, send_day_sheets


class Command(BaseCommand):
    """Tells in one line who was sent what; ends with an error when somebody could not be reached."""

    help = (
        "E-mail the day sheet to the office and managers, and the truck list to each technician, once a day."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to",
            action="append",
            default=[],
            metavar="ADDRESS",
            help="only to this person of the shop, told by the e-mail address; may be given several times",
        )
        parser.add_argument(
            "--dry-run", action="store_true", help="print what would be sent; send and write down nothing"
        )
        parser.add_argument("--again", action="store_true", help="send to those, too, who had today's sheet")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            people = recipients(options["to"])
        except Refused as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        dry = options["dry_run"]
        result = send_day_sheets(
            timezone.now(), people, again=options["again"], show=self.show if dry else None
        )
        parts = [
            f"{'would be sent' if dry else 'sent'} to {names(result.sent)}",
            f"sent earlier today to {names(result.had_it)}" if result.had_it else "",
            f"no e-mail address: {names(result.no_address)}" if result.no_address else "",
        ]
        self.stdout.write(f"Sheet of {say_day(result.day)}: {'; '.join(part for part in parts if part)}.")
        if result.failed:
            told = "; ".join(f"{person}: {trouble}" for person, trouble in result.failed)
            raise CommandError(f"Not sent to {len(result.failed)}: {told}. Run it again once that is mended.")

    def show(self, message: EmailMessage) -> None:
        self.stdout.write(f"To: {', '.join(message.to)}\nSubject: {message.subject}\n\n{message.body}\n")


def names(people: list[User]) -> str:
    return ", ".join(str(person) for person in people) or "nobody"
