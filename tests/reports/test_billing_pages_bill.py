"""The pages of one bill: its lines, sending, money, questions, credits, and what is refused in which words."""

import hashlib
import io
from datetime import timedelta

import pytest
from django.core import mail
from django.utils import timezone
from pypdf import PdfReader

from kits.models import User
from reports.models import Bill, BillSent, CreditNote, DayMark, LineAnswer, LineQuestion, Payment, StoredPaper
from tests import make
from tests.reports.billing import shop
from tests.reports.billing.paging import (
    LAST,
    SINCE,
    TODAY,
    ask,
    close,
    heading,
    hidden,
    issued,
    letter,
    open_shop,
    pay,
    step,
    text_of,
)

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def prices(manager: User) -> None:
    open_shop(manager)


# -- One bill --------------------------------------------------------------------------------------


def test_the_bill_page_tells_lines_with_reasons_tax_and_what_is_open(manager_client, manager):
    payer = make.customer("Ana")
    site = shop.house(payer, since=SINCE)
    shop.agreement(manager, payer, site, since=SINCE, day_cents="6.50", set_up_cents="49.00", **shop.TAXES)
    shop.stay(site, LAST + timedelta(days=1), LAST + timedelta(days=11))
    close(manager_client)
    bill = Bill.objects.get()
    page = manager_client.get(f"/bills/{bill}/")
    text = text_of(page)
    assert heading(page) == "Ana owes 122.26 USD"
    for words in (
        f"2-11 {LAST:%b}: 10 days, 10 × 6.50",
        "Tax 7.25 % on 114.00 (S1)",
        "8.26 USD",
        "Total 122.26 USD",
    ):
        assert words in text, words
    assert page.content.decode().count("button-main") == 1


def test_nobody_finds_a_bill_that_is_not_there(office_client):
    for path in ("/bills/B2020-0001/", "/bills/B2020-0001.pdf", "/bills/%00/", "/credit-notes/C2020-0001/"):
        assert office_client.get(path).status_code == 404, path


def test_a_bill_page_costs_the_same_for_three_lines_and_for_thirty(
    manager_client, office_client, django_assert_max_num_queries, django_assert_num_queries
):
    for name, count in (("Three", 3), ("Thirty", 30)):
        payer = make.customer(name)
        for _ in range(count):
            shop.stay(shop.house(payer, since=SINCE), LAST, LAST + timedelta(days=2))
    close(manager_client)
    three, thirty = (Bill.objects.get(payer_name=name) for name in ("Three", "Thirty"))
    office_client.get(f"/bills/{three}/")
    with django_assert_max_num_queries(45) as few:
        office_client.get(f"/bills/{three}/")
    with django_assert_num_queries(len(few)):
        office_client.get(f"/bills/{thirty}/")


# -- Sending ---------------------------------------------------------------------------------------


def test_a_bill_goes_out_by_email_with_its_stored_paper_and_once(manager_client, office_client):
    bill = issued(manager_client, email="ana@example.com")
    page = office_client.get(f"/bills/{bill}/send/")
    assert 'value="ana@example.com"' in page.content.decode() and bill.number in text_of(page)
    sent = letter(day_list="on")
    for _ in range(2):
        assert office_client.post(f"/bills/{bill}/send/", sent).status_code == 302
    (message,) = mail.outbox
    (name, content, kind), (days, list_of_days, _) = message.attachments
    assert (name, kind, days) == (f"{bill}.pdf", "application/pdf", f"{bill}-days.pdf")
    assert content == bytes(StoredPaper.objects.get().content) and list_of_days.startswith(b"%PDF")
    assert (message.to, message.subject) == (["ana@example.com"], "Your bill")
    row = BillSent.objects.get()
    assert (row.how, row.to, row.bill) == ("email", "ana@example.com", bill)
    assert "By e-mail to ana@example.com" in text_of(office_client.get(f"/bills/{bill}/"))


def test_when_the_mail_does_not_go_out_nothing_is_written_down_and_nothing_typed_is_lost(
    manager_client, office_client, monkeypatch
):
    from django.core.mail.backends.locmem import EmailBackend

    bill = issued(manager_client)

    def refused(self, messages):
        raise OSError("the mail server is away")

    sent = letter()
    with monkeypatch.context() as patched:
        patched.setattr(EmailBackend, "send_messages", refused)
        answer = office_client.post(f"/bills/{bill}/send/", sent)
    assert answer.status_code == 409 and "The mail did not go out: the mail server is away" in text_of(answer)
    assert "Good day" in answer.content.decode() and not BillSent.objects.exists() and not mail.outbox
    assert office_client.post(f"/bills/{bill}/send/", sent).status_code == 302  # the very same request, later
    assert BillSent.objects.count() == 1 == len(mail.outbox)


@pytest.mark.parametrize(
    "to", ["", "ana", "ana@example.com, ben@example.com", "ana@example.com\nBcc: x@example.com"]
)
def test_a_mail_to_no_address_is_not_sent(to, manager_client, office_client):
    bill = issued(manager_client)
    answer = office_client.post(f"/bills/{bill}/send/", {**letter(), "to": to})
    assert answer.status_code == 422 and not mail.outbox and not BillSent.objects.exists()


def test_line_breaks_in_a_subject_reach_no_header(manager_client, office_client):
    bill = issued(manager_client)
    office_client.post(
        f"/bills/{bill}/send/", {**letter(), "subject_line": "Your bill\r\nBcc: x@example.com"}
    )
    assert [message.subject for message in mail.outbox] == ["Your bill Bcc: x@example.com"]


def test_a_bill_that_went_out_by_post_is_marked(manager_client, office_client):
    bill = issued(manager_client)
    assert office_client.post(f"/bills/{bill}/sent/", step(how="post", to="14 Alder Ct")).status_code == 302
    assert BillSent.objects.get().how == "post" and not mail.outbox
    assert office_client.post(f"/bills/{bill}/sent/", step(how="pigeon")).status_code == 422
    early = {
        "how": "hand",
        "happened_at": (timezone.localtime() - timedelta(days=3)).strftime("%Y-%m-%dT%H:%M"),
    }
    answer = office_client.post(f"/bills/{bill}/sent/", step(**early))
    assert answer.status_code == 409 and "issued later than that" in text_of(answer)


# -- Money -----------------------------------------------------------------------------------------


def test_a_bill_is_marked_paid_with_the_open_amount_filled_in(manager_client, office_client):
    bill = issued(manager_client)
    assert 'value="70.00"' in office_client.get(f"/bills/{bill}/paid/").content.decode()
    pay(office_client, bill, "30", reference="check 12")
    assert 'value="40.00"' in office_client.get(f"/bills/{bill}/paid/").content.decode()
    pay(office_client, bill, "$40.00")
    assert heading(office_client.get(f"/bills/{bill}/")) == "Ana has paid 70.00 USD"
    assert [row.amount_cents for row in Payment.objects.all()] == [3_000, 4_000]
    assert pay(office_client, bill, "-15.00").status_code == 302
    assert heading(office_client.get(f"/bills/{bill}/")) == "Ana owes 15.00 USD"


@pytest.mark.parametrize(
    ("bad", "sentence"),
    [
        ({"amount": "0"}, "Give the amount that was paid."),
        ({"amount": "7.001"}, "more than two decimals"),
        ({"amount": "seventy"}, "is no price"),
        ({"amount": "--7"}, "A price is not negative"),
        ({"amount": ""}, "This is needed."),
        ({"paid_on": (TODAY + timedelta(days=2)).isoformat()}, "That day is still to come."),
        ({"paid_on": "1926-01-01"}, "more than three years ago"),
        ({"paid_on": "soon"}, "Enter a valid date."),
    ],
    ids=lambda value: str(value)[:30],
)
def test_money_that_cannot_be_is_refused_and_what_was_typed_stays(
    bad, sentence, manager_client, office_client
):
    bill = issued(manager_client)
    answer = pay(office_client, bill, **{"amount": "70.00", "reference": "check 4711", **bad})
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert "check 4711" in answer.content.decode() and not Payment.objects.exists()


def test_two_people_who_write_down_the_same_money_are_told(manager_client, office_client):
    bill = issued(manager_client)
    fields = {"paid_on": TODAY.isoformat(), "amount": "70.00", "open_seen": 7_000}
    assert manager_client.post(f"/bills/{bill}/paid/", step(**fields)).status_code == 302
    answer = office_client.post(f"/bills/{bill}/paid/", step(**fields))
    assert answer.status_code == 422 and "now 0.00 USD is open" in text_of(answer)
    assert Payment.objects.count() == 1


def test_the_same_payment_sent_twice_counts_once(manager_client, office_client):
    bill = issued(manager_client)
    sent = step(paid_on=TODAY.isoformat(), amount="70.00", open_seen=7_000)
    for _ in range(2):
        assert office_client.post(f"/bills/{bill}/paid/", sent).status_code == 302
    assert Payment.objects.count() == 1


# -- Questions -------------------------------------------------------------------------------------


def test_a_questioned_line_is_answered_and_stands(manager_client, office_client):
    bill = issued(manager_client)
    assert ask(office_client, bill).status_code == 302
    page = office_client.get(f"/bills/{bill}/")
    question = LineQuestion.objects.get()
    assert (
        "in question" in text_of(page) and f"/bills/{bill}/questions/{question.pk}/" in page.content.decode()
    )
    answer = office_client.post(f"/bills/{bill}/questions/{question.pk}/", step(outcome="stands", why=""))
    assert answer.status_code == 302 and LineAnswer.objects.get().outcome == "stands"
    assert "It stands" in text_of(office_client.get(f"/bills/{bill}/"))
    assert office_client.get(f"/bills/{bill}/questions/{question.pk}/").status_code == 404


def test_a_waived_day_is_a_managers_and_proposes_its_credit(manager_client, office_client):
    bill = issued(manager_client)
    ask(office_client, bill)
    path = f"/bills/{bill}/questions/{LineQuestion.objects.get().pk}/"
    assert "waived" not in text_of(office_client.get(path))
    assert office_client.post(path, step(outcome="waived", why="Kindness")).status_code == 422
    assert manager_client.post(path, step(outcome="waived", why="")).status_code == 409
    assert manager_client.post(path, step(outcome="waived", why="A good customer")).status_code == 302
    assert DayMark.objects.get().kind == "waived"
    text = text_of(manager_client.get(f"/bills/{bill}/"))
    assert "figures differ" in text and "7.00 USD due back" in text
    assert "1 day waived" in text_of(manager_client.get("/bills/given-away/"))


@pytest.mark.parametrize(
    ("bad", "sentence"),
    [
        ({"asked_by": " "}, "This is needed."),
        ({"day": (LAST - timedelta(days=3)).isoformat()}, "does not stand on this line"),
        ({"answer_by": (TODAY - timedelta(days=1)).isoformat()}, "on the day of the question or later"),
        ({"asked_on": (TODAY + timedelta(days=1)).isoformat()}, "That day is still to come."),
    ],
    ids=["nobody", "another day", "answered before", "asked tomorrow"],
)
def test_a_question_that_cannot_be_is_refused(bad, sentence, manager_client, office_client):
    bill = issued(manager_client)
    answer = ask(office_client, bill, **bad)
    assert answer.status_code in {409, 422} and sentence in text_of(answer)
    assert "Was it not unplugged?" in text_of(answer) and not LineQuestion.objects.exists()


# -- Credits ---------------------------------------------------------------------------------------


def test_the_difference_is_credited_drawn_and_stands_on_the_bill(manager_client, office_client):
    bill = issued(manager_client)
    shop.removed_on(bill.lines.get().deployment, (LAST + timedelta(days=6)).isoformat())
    assert "A manager gives the credit." in text_of(office_client.get(f"/bills/{bill}/"))
    page = manager_client.get(f"/bills/{bill}/credit/")
    assert heading(page) == "35.00 USD is due back to Ana" and "5 days taken back, 5 × 7.00" in text_of(page)
    sent = {**hidden(page), "how": "difference", "why": "It came home earlier"}
    answer = manager_client.post(f"/bills/{bill}/credit/", sent)
    note = CreditNote.objects.get()
    assert answer["Location"] == f"/credit-notes/{note}/" and note.total_cents == 3_500
    pdf = manager_client.get(f"/credit-notes/{note}.pdf").content
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert bill.number in words and "It came home earlier" in words
    assert hashlib.sha256(pdf).hexdigest() in text_of(office_client.get(f"/credit-notes/{note}/"))
    text = text_of(manager_client.get(f"/bills/{bill}/"))
    assert "Ana owes 35.00 USD" in text and f"Taken back by {note}" in text and "figures differ" not in text


def test_a_difference_that_changed_meanwhile_is_not_credited(manager_client):
    bill = issued(manager_client)
    stay = bill.lines.get().deployment
    shop.removed_on(stay, (LAST + timedelta(days=6)).isoformat())
    sent = {**hidden(manager_client.get(f"/bills/{bill}/credit/")), "how": "difference", "why": "Earlier"}
    shop.removed_on(stay, (LAST + timedelta(days=5)).isoformat())
    answer = manager_client.post(f"/bills/{bill}/credit/", sent)
    assert answer.status_code == 409 and "now 42.00 is due back" in text_of(answer)
    assert not CreditNote.objects.exists()


def test_all_of_a_bill_is_taken_back_and_billed_anew(manager_client):
    bill = issued(manager_client)
    sent = step(how="anew", why="Wrong name on it")
    assert manager_client.post(f"/bills/{bill}/credit/", sent).status_code == 302
    assert Bill.objects.count() == 2 and StoredPaper.objects.count() == 3
    assert heading(manager_client.get(f"/bills/{bill}/")) == "Ana owes nothing: it was taken back"
    page = manager_client.get(f"/bills/{bill}/credit/")
    assert (
        heading(page) == f"Nothing of {bill} stands any more" and "button-main" not in page.content.decode()
    )


@pytest.mark.parametrize(
    "bad", [{"why": ""}, {"how": ""}, {"how": "difference"}], ids=["why", "how", "no difference"]
)
def test_a_credit_without_a_reason_or_a_way_is_refused(bad, manager_client):
    bill = issued(manager_client)
    answer = manager_client.post(f"/bills/{bill}/credit/", step(**{"how": "whole", "why": "Wrong", **bad}))
    assert answer.status_code == 422 and not CreditNote.objects.exists()
