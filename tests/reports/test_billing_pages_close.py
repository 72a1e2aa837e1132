"""Closing a month on its page, and drawing the papers: what people see, what is refused and in which words."""

import hashlib
import json
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.utils import timezone

from kits.models import User
from reports import billing_drawing
from reports.billing_close import look_at
from reports.billing_unbilled import unbilled
from reports.models import Bill, StoredPaper
from sites.models import Customer, Site
from tests import make
from tests.reports.billing import shop
from tests.reports.billing.paging import (
    BEFORE,
    CLOSE,
    LAST,
    SINCE,
    TODAY,
    close,
    heading,
    hidden,
    issued,
    open_shop,
    stay_of,
    step,
    text_of,
)

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def prices(manager: User) -> None:
    open_shop(manager)


# -- Closing ---------------------------------------------------------------------------------------


def test_the_front_says_which_month_is_not_closed_and_leads_there(manager_client):
    stay_of("Ana")
    page = manager_client.get("/bills/")
    assert heading(page) == f"{LAST:%B} {LAST.year} is not closed: 1 bill, 70.00 USD"
    assert page.content.decode().count("button-main") == 1 and f"?month={LAST:%Y-%m}" in page.content.decode()
    close(manager_client)
    assert heading(manager_client.get("/bills/")) == "Every month that is over is closed"


def test_months_are_closed_one_after_the_other_and_the_front_agrees_with_the_close(manager_client):
    stay_of("Ana", month=BEFORE, start=20, days=20)
    stay_of("Ben", month=LAST)
    for month in (BEFORE, LAST):
        now = timezone.now()
        told, looked = unbilled(now), look_at(month, now)
        assert told.month == month and told.bills == len(looked.drafts)
        assert sum(told.by_currency.values()) == looked.total_cents
        assert close(manager_client, month).status_code == 302
    assert unbilled(timezone.now()).month is None


def test_a_month_one_payer_was_billed_for_is_not_closed_for_the_others(manager_client):
    stay_of("Ana")
    stay_of("Ben")
    ana = Customer.objects.get(name="Ana")
    page = manager_client.get(f"{CLOSE}&payer={ana.pk}")
    assert heading(page).endswith("comes to 1 bill, 70.00 USD")
    manager_client.post("/bills/close/", hidden(page))
    assert [bill.payer_name for bill in Bill.objects.all()] == ["Ana"]
    assert "is not closed: 1 bill, 70.00 USD" in heading(manager_client.get("/bills/"))


def test_drafts_show_every_line_with_its_reason_and_what_is_unusual_on_top(manager_client):
    stay_of("Ana", month=BEFORE)
    close(manager_client, BEFORE)
    stay_of("Zoe")
    shop.stay(
        Site.objects.get(parties__customer__name="Ana"), LAST + timedelta(days=3), LAST + timedelta(days=5)
    )
    text = text_of(manager_client.get(CLOSE))
    assert text.index("Zoe first bill") < text.index("Ana 1 line")
    assert f"2-11 {LAST:%b}: 10 days, 10 × 7.00" in text and "1 draft has something unusual" in text
    assert Bill.objects.count() == 1  # looking stores nothing


def test_what_cannot_be_billed_is_said_with_the_way_to_mend_it(manager_client, manager):
    first = LAST + timedelta(days=2)
    nobody = shop.house(None)
    shop.stay(nobody, first, first + timedelta(days=3))
    payer = make.customer("Bare")
    bare = shop.house(payer, since=SINCE)
    agreement = shop.agreement(manager, payer, bare, since=SINCE)
    shop.stay(bare, first, first + timedelta(days=3))
    page = manager_client.get(CLOSE)
    text, html = text_of(page), page.content.decode()
    assert f"Nobody pays at {nobody.street}" in text and f'href="/sites/{nobody.pk}/parties/new/"' in html
    assert (
        f"Agreement {agreement.pk} has no terms yet" in text and f'href="/agreements/{agreement.pk}/"' in html
    )


def test_a_credit_that_is_due_is_said_before_a_close(manager_client):
    bill = issued(manager_client)
    shop.removed_on(bill.lines.get().deployment, (LAST + timedelta(days=6)).isoformat())
    page = manager_client.get(CLOSE)
    assert (
        f"differs from {bill}" in text_of(page) and f'href="/bills/{bill}/credit/"' in page.content.decode()
    )


@pytest.mark.parametrize("month", [TODAY, TODAY + timedelta(days=400)], ids=["this month", "next year"])
def test_a_month_to_come_is_refused(month, manager_client):
    stay_of("Ana")
    page = manager_client.get(f"/bills/close/?month={month:%Y-%m}")
    assert heading(page).endswith("cannot be closed yet") and "is not over yet" in text_of(page)
    assert "Issue" not in text_of(page)
    sent = step(month=f"{month:%Y-%m}", payer="", seen="{}")
    answer = manager_client.post("/bills/close/", sent)
    assert answer.status_code == 409 and "is not over yet" in text_of(answer) and not Bill.objects.exists()


@pytest.mark.parametrize(
    "bad", [{"seen": "nonsense"}, {"seen": "[1]"}, {"seen": ""}, {"month": "2026-13"}, {"payer": "x"}]
)
def test_a_close_that_is_out_of_order_issues_nothing(bad, manager_client):
    stay_of("Ana")
    assert close(manager_client, **bad).status_code == 422
    assert not Bill.objects.exists()


@pytest.mark.parametrize("month", ["", "2026", "0000-01", "2026-00", "<script>"])
def test_an_address_that_names_no_month_shows_the_one_to_close(month, manager_client):
    stay_of("Ana")
    assert heading(manager_client.get("/bills/close/", {"month": month})).startswith(
        f"{LAST:%B} {LAST.year} comes"
    )


def test_what_changed_since_it_was_looked_at_is_not_issued_and_is_shown_anew(manager_client):
    stay = stay_of("Ana")
    page = manager_client.get(CLOSE)
    shop.removed_on(stay, (LAST + timedelta(days=6)).isoformat())
    answer = manager_client.post("/bills/close/", hidden(page))
    assert answer.status_code == 409 and not Bill.objects.exists()
    text = text_of(answer)
    assert "Something changed since you looked: Ana" in text and "35.00 USD" in text
    assert manager_client.post("/bills/close/", hidden(answer)).status_code == 302
    assert Bill.objects.get().total_cents == 3_500


def test_closing_twice_bills_once_and_says_so(manager_client):
    stay_of("Ana")
    sent = hidden(manager_client.get(CLOSE))
    for _ in range(2):  # the same request again: the same answer
        assert manager_client.post("/bills/close/", sent).status_code == 302
    again = manager_client.post("/bills/close/", {**sent, **step()})
    assert again.status_code == 409 and "Something changed since you looked" in text_of(again)
    assert Bill.objects.count() == 1
    assert heading(manager_client.get(CLOSE)) == f"{LAST:%B} {LAST.year} is closed"


def test_many_drafts_come_in_pages_and_are_issued_together(manager_client):
    for number in range(42):
        stay_of(f"Payer {number:02}", days=1)
    page = manager_client.get(CLOSE)
    assert text_of(page).count("1 line of") == 40 and len(json.loads(hidden(page)["seen"])) == 42
    assert text_of(manager_client.get(f"{CLOSE}&page=2")).count("1 line of") == 2
    manager_client.post("/bills/close/", hidden(page))
    assert Bill.objects.count() == 42


def test_only_a_manager_closes(office_client, technician_client):
    stay_of("Ana")
    assert office_client.get(CLOSE).status_code == 403
    assert office_client.post("/bills/close/", step()).status_code == 403
    assert technician_client.get("/bills/").status_code == 403
    assert "Close a month" not in text_of(office_client.get("/bills/"))


# -- Drawing ---------------------------------------------------------------------------------------


def test_papers_are_drawn_in_steps_and_nothing_is_lost_between(manager_client, monkeypatch):
    monkeypatch.setattr(
        billing_drawing.draw_some,
        "__kwdefaults__",
        {**billing_drawing.draw_some.__kwdefaults__, "seconds": 0.0},
    )
    for name in ("Ana", "Ben", "Cy"):
        stay_of(name)
    assert close(manager_client)["Location"] == "/bills/draw/"
    assert heading(manager_client.get("/bills/draw/")) == "3 papers are not drawn yet"
    assert "3 papers are not drawn yet" in text_of(manager_client.get("/bills/"))
    assert manager_client.post("/bills/draw/")["Location"] == "/bills/draw/"
    assert StoredPaper.objects.count() == 1
    json_answer = manager_client.post("/bills/draw/", headers={"Accept": "application/json"})
    assert json_answer.json() == {"ok": True, "drawn": 1, "left": 1, "sentence": ""}
    assert manager_client.post("/bills/draw/")["Location"] == "/bills/"
    assert StoredPaper.objects.count() == 3
    assert heading(manager_client.get("/bills/draw/")) == "Every paper is drawn"


def test_a_paper_that_cannot_be_drawn_stays_undrawn_and_the_next_run_draws_it(
    manager_client, monkeypatch, capsys
):
    stay_of("Ana")
    close(manager_client)

    def broken(paper):
        raise RuntimeError("killed")

    with monkeypatch.context() as patched, pytest.raises(RuntimeError):
        patched.setattr(billing_drawing, "draw", broken)
        call_command("draw_bills")
    assert not StoredPaper.objects.exists()
    call_command("draw_bills", "--dry-run")
    assert Bill.objects.get().number in capsys.readouterr().out and not StoredPaper.objects.exists()
    call_command("draw_bills")
    call_command("draw_bills")
    assert StoredPaper.objects.count() == 1
    assert capsys.readouterr().out.splitlines()[-1] == "Every paper was drawn already."


def test_the_pdf_is_the_stored_one_and_its_sha256_stands_on_the_page(manager_client):
    bill = issued(manager_client)
    answer = manager_client.get(f"/bills/{bill}.pdf")
    kept = StoredPaper.objects.get(bill=bill)
    assert answer["Content-Type"] == "application/pdf" and answer.content == bytes(kept.content)
    assert hashlib.sha256(answer.content).hexdigest() == kept.sha256
    make.shop(name="Another Name")  # a paper that was drawn stays as it was
    assert manager_client.get(f"/bills/{bill}.pdf").content == answer.content
    assert kept.sha256 in text_of(manager_client.get(f"/bills/{bill}/"))


def test_a_bill_without_its_paper_says_so_and_draws_it(manager_client):
    stay_of("Ana")
    close(manager_client)
    bill = Bill.objects.get()
    assert manager_client.get(f"/bills/{bill}.pdf")["Location"] == f"/bills/{bill}/"
    assert (
        "not drawn yet" in text_of(manager_client.get(f"/bills/{bill}/")) and not StoredPaper.objects.exists()
    )
    assert manager_client.post("/bills/draw/", {"number": bill.number})["Location"] == f"/bills/{bill}/"
    assert StoredPaper.objects.get().bill == bill
