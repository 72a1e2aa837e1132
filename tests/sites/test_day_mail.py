"""The day sheet by e-mail: who is sent what, once a day, readable as text and as HTML."""

import re
from datetime import timedelta
from html.parser import HTMLParser
from io import StringIO
from smtplib import SMTPException, SMTPRecipientsRefused

import pytest
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.core.mail.backends.locmem import EmailBackend
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.utils import timezone

from kits.models import User
from sites import mailing
from sites.actions.places import add_party
from sites.models import DaySheetSent, PartyRole, Stage
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def send(*arguments: str) -> str:
    """Run the command; what it printed."""
    out = StringIO()
    call_command("send_day_sheet", *arguments, stdout=out)
    return out.getvalue()


def html_of(message: EmailMultiAlternatives) -> str:
    ((content, kind),) = message.alternatives
    assert kind == "text/html"
    return content


@pytest.fixture
def people() -> dict[str, User]:
    """One of each role with an address, one without, one who left."""
    make.shop(name="Larkspur Hollow Heating", label_host="kits.example.com", email="office@example.com")
    return {
        "boss": make.manager(name="Ruth", email="ruth@example.com"),
        "office": make.office(name="Nadia", email="nadia@example.com"),
        "ben": make.technician(name="Ben", email="ben@example.com"),
        "silent": make.technician(name="Tom"),
        "gone": make.office(name="Gone", email="gone@example.com", is_active=False),
    }


# -- Who is sent what ------------------------------------------------------------------------------


def test_office_and_managers_are_sent_the_sheet_and_technicians_their_truck(people):
    told = send()
    by_address = {message.to[0]: message.subject for message in mail.outbox}
    assert set(by_address) == {"ruth@example.com", "nadia@example.com", "ben@example.com"}
    assert by_address["nadia@example.com"] == by_address["ruth@example.com"]
    assert by_address["nadia@example.com"].startswith("Day sheet, ")
    assert by_address["ben@example.com"].startswith("Truck list, ")
    assert "sent to Ben, Nadia, Ruth; no e-mail address: Tom." in told


def test_each_mail_goes_to_one_person_and_answers_go_to_the_shop(people):
    send()
    assert all(len(message.recipients()) == 1 for message in mail.outbox)
    assert {tuple(message.reply_to) for message in mail.outbox} == {("office@example.com",)}
    # RFC 3834, 5: 'auto-generated' keeps automatic answers away.
    assert {message.message()["Auto-Submitted"] for message in mail.outbox} == {"auto-generated"}


def test_nothing_is_sent_twice_for_a_day(people):
    send()
    told = send()
    assert len(mail.outbox) == 3
    assert "sent to nobody; sent earlier today to Ben, Nadia, Ruth" in told
    assert DaySheetSent.objects.count() == 3


def test_somebody_who_came_later_is_sent_it_by_the_second_run(people):
    send()
    make.office(name="New", email="new@example.com")
    send()
    assert [message.to for message in mail.outbox[3:]] == [["new@example.com"]]


def test_again_sends_to_those_who_had_it(people):
    send()
    send("--again", "--to", "ben@example.com")
    assert [message.to for message in mail.outbox[3:]] == [["ben@example.com"]]
    assert DaySheetSent.objects.count() == 3


def test_the_next_day_begins_at_midnight_of_the_shop(people):
    make.shop(time_zone="America/New_York", label_host="kits.example.com")
    # 23:30 and 00:30 on both sides of a night on which the clocks change (2026-11-01, New York): 03:30Z and 04:30Z.
    before, after = make.utc(2026, 11, 1, 3, 30), make.utc(2026, 11, 1, 4, 30)
    ben = [people["ben"]]
    for moment in (before, before, after, after):
        mailing.send_day_sheets(moment, ben)
    assert [f"{row.day}" for row in DaySheetSent.objects.all()] == ["2026-10-31", "2026-11-01"]
    assert len(mail.outbox) == 2


def test_only_people_of_the_shop_are_sent_it(people):
    for stranger in ("stranger@example.com", "gone@example.com"):
        with pytest.raises(CommandError, match=f"Nobody who may sign in has the e-mail address {stranger}"):
            send("--to", stranger)
    assert mail.outbox == []
    send("--to", "Nadia@Example.com")
    assert [message.to for message in mail.outbox] == [["nadia@example.com"]]


def test_a_dry_run_shows_all_and_does_nothing(people):
    stay = make.stay(Stage.LOADED, call=make.call(technician=people["ben"]))
    told = send("--dry-run")
    assert mail.outbox == [] and not DaySheetSent.objects.exists()
    assert "To: ben@example.com" in told and stay.kit.name in told
    assert "would be sent to Ben, Nadia, Ruth" in told
    send()
    assert "would be sent to nobody; sent earlier today to Ben, Nadia, Ruth" in send("--dry-run")


# -- When sending fails ----------------------------------------------------------------------------


class RefusesBen(EmailBackend):
    """A mail server that knows no Ben."""

    def send_messages(self, messages):
        if messages[0].to == ["ben@example.com"]:
            raise SMTPRecipientsRefused({"ben@example.com": (550, b"No such person")})
        return super().send_messages(messages)


class IsAway(EmailBackend):
    """A mail server that does not answer."""

    def open(self):
        raise ConnectionRefusedError(111, "Connection refused")


@pytest.mark.parametrize(
    "server, reached",
    [
        pytest.param("RefusesBen", ["nadia@example.com", "ruth@example.com"], id="one address is refused"),
        pytest.param("IsAway", [], id="the server is away"),
    ],
)
def test_who_was_not_reached_is_told_and_sent_it_next_time(people, settings, server, reached):
    ours = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = f"{__name__}.{server}"
    with pytest.raises(CommandError, match=f"Not sent to {3 - len(reached)}: Ben: "):
        send()
    assert [message.to[0] for message in mail.outbox] == reached
    assert DaySheetSent.objects.count() == len(reached)
    settings.EMAIL_BACKEND = ours
    send()
    assert sorted(message.to[0] for message in mail.outbox) == sorted(
        ["ben@example.com", "nadia@example.com", "ruth@example.com"]
    )


def test_of_two_runs_at_once_one_sends(people, monkeypatch):
    """The other run has written its row after this one looked who had the sheet."""
    real = mailing.Sheets.for_

    def meanwhile(sheets, person):
        DaySheetSent.objects.get_or_create(
            user=person, day=sheets.today, defaults={"sent_at": timezone.now()}
        )
        return real(sheets, person)

    monkeypatch.setattr(mailing.Sheets, "for_", meanwhile)
    result = mailing.send_day_sheets(timezone.now(), [people["ben"]])
    assert (result.sent, result.had_it, mail.outbox) == ([], [people["ben"]], [])


def test_a_day_is_written_down_once_and_for_good(people):
    send("--to", "ben@example.com")
    row = DaySheetSent.objects.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        DaySheetSent.objects.create(user=row.user, day=row.day, sent_at=timezone.now())
    with pytest.raises(IntegrityError), transaction.atomic():
        row.delete()


def test_trouble_is_told_in_one_line_each(people, settings, monkeypatch):
    def fail(*_args, **_given):
        raise SMTPException("Too many today")

    monkeypatch.setattr(EmailMultiAlternatives, "send", fail)
    with pytest.raises(CommandError, match=r"Not sent to 1: Ben: Too many today\. Run it again"):
        send("--to", "ben@example.com")


# -- What is in it ---------------------------------------------------------------------------------


@pytest.fixture
def sheet(people) -> dict[str, EmailMultiAlternatives]:
    """A shop with something of everything, and the mail each got."""
    ben = people["ben"]
    site = make.site(
        street="9 Elm <b>Terrace</b> & Sons",
        contact_name="Eleanor Vance",
        contact_phone="+1 201 555 0106",
        access_notes="Gate at the back.\nDog is friendly.",
    )
    loaded = make.stay(Stage.LOADED, call=make.call(technician=ben, unit=make.unit(site=site), wanted=["SA"]))
    late = make.stay(Stage.INSTALLED, call=make.call(technician=ben))
    owner = make.customer(name="José Núñez-Wołkowski", phone="+1 201 555 0103")
    add_party(
        make.act(),
        site=late.unit.site,
        customer=owner,
        part=PartyRole.LIVES_THERE,
        since=timezone.localdate(),
    )
    removed = make.stay(Stage.REMOVED, call=make.call(technician=ben))
    type(late).objects.filter(pk=late.pk).update(
        take_out_by=timezone.localdate() - timedelta(days=3),
        back_in_shop_by=timezone.localdate() - timedelta(days=1),
    )
    waiting = make.call(technician=ben)
    send()
    found = {message.to[0].split("@")[0]: message for message in mail.outbox}
    return {**found, "loaded": loaded, "late": late, "removed": removed, "waiting": waiting}  # type: ignore[dict-item]


def test_the_sheet_says_what_its_page_says(sheet, office_client):
    text = sheet["nadia"].body
    page = office_client.get("/").content.decode()
    (heading,) = re.findall(r"<h1>(.+?)</h1>", page)
    assert text.startswith(f"{heading}.\n")
    assert sheet["nadia"].subject.endswith(heading)
    for title in ("Call someone now", "Leaves", "Comes home", "Bench"):
        assert f"\n{title.upper()} (" in text
        assert title in page
    late = text[text.index("CALL SOMEONE NOW") : text.index("LEAVES")]
    assert sheet["late"].kit.name in late and ": LATE" in late
    assert "José Núñez-Wołkowski (lives there): +1 201 555 0103" in late
    assert f"Call {sheet['waiting'].number}: NEEDS A KIT" in late
    assert "With Ben." in text[text.index("LEAVES") : text.index("COMES HOME")]


def test_the_truck_list_says_where_to_drive_and_whom_to_call(sheet):
    text = sheet["ben"].body
    assert f"{sheet['loaded'].kit.name} " in text and ": PUT IN" in text and ": TAKE OUT" in text
    assert "Gate at the back. Dog is friendly." in text
    assert "Eleanor Vance: +1 201 555 0106" in text
    assert ": TO HAND BACK" in text


def test_nobody_reads_another_technician_s_truck_list(sheet, people):
    tom = people["silent"]
    User.objects.filter(pk=tom.pk).update(email="tom@example.com")
    send("--to", "tom@example.com")
    text = mail.outbox[-1].body
    assert "No stop today, 0 kits aboard." in text
    assert "Nowhere to go in the next seven days." in text
    assert sheet["loaded"].kit.name not in text


@pytest.mark.parametrize("who", ["nadia", "ben"])
def test_links_are_whole_and_lead_to_the_shop_s_host(sheet, who):
    message = sheet[who]
    linked = re.findall(r'href="([^"]+)"', html_of(message))
    web = [address for address in linked if not address.startswith("tel:")]
    assert web and all(address.startswith("http://kits.example.com/") for address in web)
    in_text = re.findall(r"https?://\S+", message.body)
    assert set(in_text) == set(web)
    assert any(f"/k/{sheet['loaded'].kit.code}" in address for address in web) is (who == "ben")


@pytest.mark.parametrize("who", ["nadia", "ben"])
def test_the_text_is_plain_and_its_lines_are_short(sheet, who):
    text = sheet[who].body
    assert "<b>Terrace</b> & Sons" in text  # nothing of HTML was done to it
    assert max(len(line) for line in text.splitlines() if "://" not in line) <= 72
    # RFC 5322, 2.1.1: no line of a message is longer than 998 characters.
    assert max(len(line) for line in sheet[who].message().as_bytes().split(b"\n")) <= 998


class Reader(HTMLParser):
    """What an HTML mail is made of."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.text += data


@pytest.mark.parametrize("who", ["nadia", "ben"])
def test_the_html_says_the_same_and_fetches_nothing(sheet, who):
    reader = Reader()
    reader.feed(html_of(sheet[who]))
    assert not {"script", "img", "link", "iframe", "b"} & set(
        reader.tags
    )  # nor what somebody typed as markup
    assert reader.attributes <= {"lang", "charset", "name", "content", "class", "scope", "href", "aria-label"}
    assert "url(" not in html_of(sheet[who])
    shown = " ".join(reader.text.split())
    assert "9 Elm <b>Terrace</b> & Sons" in shown
    words = re.findall(r"^\* (.+?): [A-Z ]+$", sheet[who].body, re.MULTILINE)
    assert words and all(" ".join(about.split()) in shown for about in words)


def test_a_line_break_in_a_name_breaks_no_header(people):
    make.shop(name="Two\nlines", label_host="kits.example.com", email="office@example.com")
    send("--to", "nadia@example.com")
    assert "\n" not in mail.outbox[0].subject
    assert mail.outbox[0].message()["Bcc"] is None
