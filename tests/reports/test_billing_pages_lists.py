"""Lists of bills, what is still to be paid, files for the bookkeeper, and what managers look at."""

from datetime import timedelta

import pytest
from django.template import Context, Template

from kits.models import User
from reports.billing_due import due_of
from reports.billing_list import STATES, listed_bills
from reports.models import Bill
from tests import make
from tests.conftest import signed_in
from tests.reports.billing import shop
from tests.reports.billing.paging import (
    BEFORE,
    LAST,
    SINCE,
    TODAY,
    ask,
    close,
    heading,
    issued,
    open_shop,
    pay,
    stay_of,
    step,
    text_of,
)

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def prices(manager: User) -> None:
    open_shop(manager)


# -- The list and what is still to be paid ---------------------------------------------------------


def test_each_bill_has_one_word_for_its_state(manager_client, office_client, manager):
    names = [word.replace(" ", "-") for word in STATES]
    for name in names:
        stay_of(name)
    close(manager_client)
    bills = {bill.payer_name.replace("-", " "): bill for bill in Bill.objects.all()}
    manager_client.post("/bills/draw/")
    manager_client.post(f"/bills/{bills['taken back']}/credit/", step(how="whole", why="Wrong payer"))
    pay(office_client, bills["paid"], "70")
    pay(office_client, bills["part paid"], "20.00")
    pay(office_client, bills["to pay back"], "80")
    ask(office_client, bills["in question"])
    office_client.post(f"/bills/{bills['sent']}/sent/", step(how="post"))
    found = {STATES[row.state]: row.payer_name.replace("-", " ") for row in listed_bills()}
    assert found == {word: word for word in STATES}
    for word, bill in bills.items():
        page = office_client.get("/bills/", {"state": word})
        assert heading(page) == "1 bill" and bill.number in text_of(page), word
    dues = {due.bill.payer_name: due for due in due_of(listed_bills(), TODAY)}
    assert all(row.open_cents == dues[row.payer_name].open_cents for row in listed_bills())


def test_the_list_is_found_by_payer_number_and_month_and_goes_out_as_a_file(manager_client, office_client):
    stay_of("=Ana, Inc.", month=BEFORE)
    close(manager_client, BEFORE)
    stay_of("Zoltan")
    close(manager_client)
    one = Bill.objects.get(month=BEFORE)
    for asked in ({"q": "ana"}, {"q": one.number}, {"month": f"{BEFORE:%Y-%m}"}):
        text = text_of(office_client.get("/bills/", asked))
        assert one.number in text and "Zoltan" not in text, asked
    assert "Nothing matches." in text_of(office_client.get("/bills/", {"q": "nobody"}))
    lines = office_client.get("/bills/", {"_export": "csv"}).content.decode("utf-8-sig").splitlines()
    assert lines[0].startswith("Number,Payer number,Payer,Month") and len(lines) == 3
    assert any('"\'=Ana, Inc."' in row for row in lines)  # no spreadsheet runs it
    assert office_client.get("/bills/", {"_export": "xlsx"}).content[:2] == b"PK"


def test_the_list_asks_the_database_as_often_for_thirty_bills_as_for_three(
    manager_client, office_client, django_assert_num_queries, django_assert_max_num_queries
):
    def more(first: int, count: int) -> None:
        for number in range(first, first + count):
            stay_of(f"Payer {number}", days=1)
        close(manager_client)

    more(0, 3)
    counts = {}
    for path in ("/bills/?state=", "/bills/unpaid/", "/bills/as-files/?file=bill-lines.csv"):
        office_client.get(path)
        with django_assert_max_num_queries(20) as few:
            office_client.get(path)
        counts[path] = len(few)
    more(3, 27)
    assert Bill.objects.count() == 30
    for path, count in counts.items():
        with django_assert_num_queries(count):
            office_client.get(path)


def test_what_is_late_is_told_by_age_and_a_line_in_question_is_not_counted(manager_client, office_client):
    for name in ("Ana", "Ben", "Cy"):
        stay_of(name)
    close(manager_client)
    ana, ben, cy = (Bill.objects.get(payer_name=name) for name in ("Ana", "Ben", "Cy"))
    ask(office_client, ben)
    pay(office_client, cy, "70.00")
    office_client.get(f"/bills/{cy}/")  # says what was done, once
    text = text_of(office_client.get("/bills/unpaid/"))
    assert "Nothing is late" in text and "70.00 USD may be asked for in all" in text
    assert "Not due yet" in text and ana.number in text and cy.number not in text
    assert text.index("In question 1 bill") < text.index(ben.number)


# -- For the bookkeeper, and looking further -------------------------------------------------------


def test_lines_go_out_under_names_that_stay_and_credits_stand_below_nothing(manager_client, office_client):
    bill = issued(manager_client, name="=Ana")
    shop.removed_on(bill.lines.get().deployment, (LAST + timedelta(days=6)).isoformat())
    manager_client.post(f"/bills/{bill}/credit/", step(how="difference", why="Earlier", seen=3_500))
    pay(office_client, bill, "35", reference="@check")
    rows = office_client.get("/bills/as-files/?file=bill-lines.csv").content.decode("utf-8-sig").splitlines()
    assert rows[0] == (
        "Paper,Number,Of bill,Issued on,To be paid by,Month,Payer number,Payer,Line,Line of bill,What,House,"
        "Kit code,Stay,Agreement,First day,Last day,Days,Days included,Quantity,Price of one,"
        "Amount without tax,Tax code,Tax percent,Tax,Amount with tax,Currency,Reason"
    )
    assert len(rows) == 3 and rows[1].startswith(f"bill,{bill},{bill},") and ",'=Ana," in rows[1]
    assert ",10,0,10,7,70.00," in rows[1] and ",-5,,,,-35.00," in rows[2] and "credit note," in rows[2]
    payments = office_client.get("/bills/as-files/?file=payments.csv").content.decode("utf-8-sig")
    assert ",35.00,USD,'@check," in payments
    assert office_client.get("/bills/as-files/?file=bill-lines.xlsx").content[:2] == b"PK"
    tomorrow = (TODAY + timedelta(days=1)).isoformat()
    later = office_client.get(f"/bills/as-files/?file=bill-lines.csv&first={tomorrow}").content
    assert len(later.splitlines()) == 1


def test_a_span_that_ends_before_it_begins_gives_no_file(office_client):
    answer = office_client.get("/bills/as-files/?file=bill-lines.csv&first=2026-05-02&last=2026-05-01")
    assert answer.status_code == 422 and "The last day comes before the first." in text_of(answer)


def test_what_is_not_billed_yet_is_told_by_payer(manager_client):
    stay_of("Ana")
    text = text_of(manager_client.get("/bills/not-billed-yet/"))
    assert "70.00 USD is not billed yet" in text and "Ana" in text


def test_included_days_that_lapsed_are_told(manager_client, manager):
    payer = make.customer("Ana")
    site = shop.house(payer, since=SINCE)
    shop.agreement(
        manager, payer, site, since=TODAY - timedelta(days=380), day_cents="6.50", included_days=14
    )
    page = manager_client.get("/bills/given-away/")
    assert "14 included days never used" in heading(page) and "Ana" in text_of(page)


def test_the_check_explains_the_difference_between_stays_and_papers(manager_client):
    issued(manager_client)
    stay_of("Ben")
    text = text_of(manager_client.get("/bills/check/"))
    assert "Papers and stays add up" in text and "70.00 USD still to be billed" in text


def test_a_customers_and_a_sites_page_lead_to_their_bills(manager_client, office_client):
    bill = issued(manager_client)
    other = make.customer("Ben")
    site = bill.lines.get().deployment.unit.site

    def drawn(**given: object) -> str:
        text = "{% include '_bills_of.html' with customer=customer site=site only %}"
        return Template(text).render(Context(given))

    assert f"/bills/{bill}/" in drawn(customer=bill.payer) and f"/bills/{bill}/" in drawn(site=site)
    assert "No bill yet." in drawn(customer=other)
    assert "/bills/" in office_client.get(f"/customers/{other.pk}/").content.decode()


def test_the_way_to_bills_stands_in_the_head_for_office_and_managers(office, technician):
    assert 'href="/bills/"' in signed_in(office).get("/calls/").content.decode()
    assert 'href="/bills/"' not in signed_in(technician).get("/truck/").content.decode()
