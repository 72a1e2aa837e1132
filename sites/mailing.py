"""Sends the day sheet by e-mail: to the office the sheet, to technicians their truck list, to each once a day."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from smtplib import SMTPException
from zoneinfo import ZoneInfo

from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from kits.models import Shop, User
from kits.promises import Refused
from sites.day_mail import DayMail, as_text, office_mail, one_line, truck_mail
from sites.day_sheet import day_sheet
from sites.days import day_of
from sites.models import DaySheetSent
from sites.trucks import truck_of


@dataclass(kw_only=True)
class Sendings:
    """What became of one sending: to whom it went, and to whom not and why."""

    day: date
    sent: list[User] = field(default_factory=list)
    had_it: list[User] = field(default_factory=list)
    no_address: list[User] = field(default_factory=list)
    failed: list[tuple[User, str]] = field(default_factory=list)


class Sheets:
    """Writes the mails of one moment; the day sheet, the same for the whole office, is asked for once."""

    def __init__(self, now: datetime) -> None:
        self.now, self.shop = now, Shop.current()
        self.zone = ZoneInfo(self.shop.time_zone)
        self.today = day_of(now, self.zone)
        self._office: DayMail | None = None

    def for_(self, person: User) -> EmailMultiAlternatives:
        """What `person` is sent, text first, HTML beside it."""
        with timezone.override(self.zone):
            mail = self.office() if person.is_office else self.truck(person)
            message = EmailMultiAlternatives(subject=mail.subject, body=as_text(mail), to=[person.email])
            message.attach_alternative(render_to_string("sites/mail/day.html", {"mail": mail}), "text/html")
        # So that no program answers it with "I am on holiday" (RFC 3834, RFC 5436).
        message.extra_headers["Auto-Submitted"] = "auto-generated"
        if self.shop.email:
            message.reply_to = [one_line(self.shop.email)]
        return message

    def office(self) -> DayMail:
        if self._office is None:
            self._office = office_mail(day_sheet(self.now), self.shop)
        return self._office

    def truck(self, person: User) -> DayMail:
        return truck_mail(truck_of(person, today=self.today, now=self.now), self.shop)


def recipients(only: Iterable[str] = ()) -> list[User]:
    """Everybody who may sign in, or those of them named by e-mail address; an address nobody has is refused.

    The sheet tells where customers live, so it goes to nobody outside of the shop.
    """
    people = list(User.objects.filter(is_active=True).order_by("name", "pk"))
    wanted = {address.strip().lower() for address in only}
    strangers = wanted - {person.email.lower() for person in people}
    if strangers:
        raise Refused(
            f"Nobody who may sign in has the e-mail address {', '.join(sorted(strangers))}. "
            "Write it into the person's row on the page People first."
        )
    return [person for person in people if not wanted or person.email.lower() in wanted]


def send_day_sheets(
    now: datetime,
    people: Iterable[User],
    *,
    again: bool = False,
    show: Callable[[EmailMultiAlternatives], None] | None = None,
) -> Sendings:
    """Send everybody their sheet of the shop's day at `now`. With `show` nothing is sent or written down, only shown."""
    sheets = Sheets(now)
    result = Sendings(day=sheets.today)
    had_it = set(DaySheetSent.objects.filter(day=sheets.today).values_list("user", flat=True))
    due = []
    for person in people:
        if not person.email:
            result.no_address.append(person)
        elif person.pk in had_it and not again:
            result.had_it.append(person)
        else:
            due.append(person)
    if not due:
        return result
    if show:
        for person in due:
            show(sheets.for_(person))
            result.sent.append(person)
        return result
    connection = get_connection()
    # Opened before anything is locked: a mail server that does not answer must not keep the shop waiting.
    try:
        connection.open()
    except (OSError, SMTPException) as trouble:
        result.failed = [(person, str(trouble)) for person in due]
        return result
    try:
        for person in due:
            send_one(person, sheets.for_(person), connection, result, now=now, again=again)
    finally:
        connection.close()
    return result


def send_one(
    person: User,
    message: EmailMultiAlternatives,
    connection: BaseEmailBackend,
    result: Sendings,
    *,
    now: datetime,
    again: bool,
) -> None:
    """Write down that the sheet was sent, and send it; when sending fails, nothing is written down.

    Of two runs at once the second waits for the first one's row and then sends nothing.
    """
    message.connection = connection
    try:
        with transaction.atomic():
            _, is_new = DaySheetSent.objects.get_or_create(
                user=person, day=result.day, defaults={"sent_at": now}
            )
            if not is_new and not again:
                result.had_it.append(person)
                return
            message.send()
    except (OSError, SMTPException, ValueError) as trouble:  # ValueError: an address with a line break in it
        result.failed.append((person, str(trouble)))
    else:
        result.sent.append(person)
