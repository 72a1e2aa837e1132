"""What happens to a bill after it is issued: sent, paid, asked about, waived."""

from datetime import date
from decimal import Decimal

import pytest

from kits.models import User
from kits.promises import Refused
from reports.actions.billing_after import answer_question, ask_about_line, mark_paid, mark_sent
from reports.actions.billing_credits import credit_difference, credit_whole
from reports.actions.billing_marks import charge_no_access, mark_days, note_cut_leads, offer_access
from reports.billing_credits import proposed
from reports.billing_due import OLDEST, aged_list, by_age, due_of
from reports.models import Bill, DayMark, LineAnswer, LineQuestion
from sites.models import Deployment
from tests import make
from tests.reports.billing import shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def bill(manager: User) -> Bill:
    """Ten days of June at 7.00, issued on 1 July, to be paid by 31 July."""
    shop.price_list(manager, day_cents="7.00", **shop.TAXES)
    shop.stay(shop.house(make.customer("Ana")), "2026-06-01", "2026-06-11")
    (made,) = shop.close(manager, "2026-06", on="2026-07-02")
    return made


def day(text: str) -> date:
    return date.fromisoformat(text)


def test_a_bill_is_sent_paid_in_parts_and_then_leaves_the_aged_list(bill: Bill, office: User) -> None:
    mark_sent(shop.act(office, "2026-07-03"), paper=bill, how="email", to="ana@example.com")
    assert bill.billsents.get().how == "email"
    (due,) = aged_list(day("2026-08-01"))
    assert (due.open_cents, due.age, due.state) == (7_508, "not due yet", "open")
    mark_paid(shop.act(office, "2026-08-02"), bill=bill, paid_on=day("2026-08-01"), amount_cents=5_000)
    (due,) = aged_list(day("2026-09-10"))
    assert (due.open_cents, due.late_days, due.age) == (2_508, 40, "31 to 60 days late")
    assert by_age([due])["31 to 60 days late"] == {"USD": 2_508} and by_age([due])[OLDEST] == {}
    mark_paid(
        shop.act(office, "2026-09-11"),
        bill=bill,
        paid_on=day("2026-09-11"),
        amount_cents=2_508,
        reference="Check 7",
    )
    assert aged_list(day("2026-12-01")) == []
    assert due_of([bill], day("2026-12-01"))[0].state == "paid"


def test_a_bill_taken_back_is_not_chased_and_what_was_paid_is_owed_back(bill: Bill, manager: User) -> None:
    credit_whole(shop.act(manager, "2026-07-05"), bill=bill, why="Our mistake.")
    assert aged_list(day("2026-12-01")) == []
    assert due_of([bill], day("2026-12-01"))[0].state == "taken back"
    mark_paid(shop.act(manager, "2026-07-06"), bill=bill, paid_on=day("2026-07-06"), amount_cents=7_508)
    (due,) = due_of([bill], day("2026-12-01"))
    assert (due.state, due.open_cents) == ("to pay back", -7_508)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"paid_on": day("2026-07-09"), "amount_cents": 1}, "still to come"),
        ({"paid_on": day("2026-07-01"), "amount_cents": 0}, "Give the amount"),
    ],
)
def test_bad_payments_are_refused(bill: Bill, office: User, given: dict, sentence: str) -> None:
    with pytest.raises(Refused, match=sentence):
        mark_paid(shop.act(office, "2026-07-03"), bill=bill, **given)


def ask(bill: Bill, who: User, **more: object) -> LineQuestion:
    given = {"asked_by": "Ana", "answer_by": day("2026-08-20"), "question": "Was it running?", **more}
    ask_about_line(shop.act(who, "2026-08-10"), line=bill.lines.get(), **given)  # type: ignore[arg-type]
    return LineQuestion.objects.latest("pk")


def test_a_line_in_question_leaves_the_aged_list_until_it_is_answered(bill: Bill, office: User) -> None:
    question = ask(bill, office, day=day("2026-06-05"))
    assert aged_list(day("2026-09-01")) == []
    assert due_of([bill], day("2026-09-01"))[0].in_question_cents == 7_508
    with pytest.raises(Refused, match="in question already"):
        ask(bill, office)
    answer_question(shop.act(office, "2026-08-12"), question=question, outcome="stands")
    assert [due.open_cents for due in aged_list(day("2026-09-01"))] == [7_508]
    assert LineAnswer.objects.get().outcome == "stands"
    with pytest.raises(Refused, match="answered already"):
        answer_question(shop.act(office, "2026-08-13"), question=question, outcome="stands")


def test_a_waived_day_is_given_back_by_the_credit_that_follows(bill: Bill, manager: User) -> None:
    question = ask(bill, manager, day=day("2026-06-05"))
    answer_question(
        shop.act(manager, "2026-08-12"), question=question, outcome="waived", why="A good customer."
    )
    (due,) = proposed()
    assert (due.bill, due.amount_cents, due.tax_cents) == (bill, 700, 51)
    mark = DayMark.objects.get()
    assert (mark.kind, mark.day, mark.marked_by) == ("waived", day("2026-06-05"), manager)
    credit_difference(shop.act(manager), bill=bill, why="Waived.")
    assert proposed() == []


def test_only_a_manager_waives_and_says_why(bill: Bill, office: User, manager: User) -> None:
    question = ask(bill, office, day=day("2026-06-05"))
    with pytest.raises(Refused, match="by a manager"):
        answer_question(shop.act(office, "2026-08-12"), question=question, outcome="waived", why="Nice.")
    with pytest.raises(Refused, match="Say why"):
        answer_question(shop.act(manager, "2026-08-12"), question=question, outcome="waived")
    assert not DayMark.objects.exists()


def test_a_question_about_another_day_is_refused(bill: Bill, office: User) -> None:
    with pytest.raises(Refused, match="does not stand on this line"):
        ask(bill, office, day=day("2026-07-05"))


# Marks


def test_the_last_mark_of_a_day_holds(bill: Bill, manager: User) -> None:
    stay = Deployment.objects.get()
    given = {"stay": stay, "days": [day("2026-06-05")], "why": "Seen."}
    mark_days(shop.act(manager), kind="no_readings", cause="kit", hours=Decimal(3), **given)
    assert len(proposed()) == 1
    mark_days(shop.act(manager), kind="counts", **given)
    assert proposed() == []


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"days": [day("2026-05-31")]}, "not in the house yet"),
        ({"days": [day("2026-06-12")]}, "out of the house before"),
        ({"days": []}, "Give the days"),
        ({"hours": None}, "Give the hours"),
        ({"cause": "moon"}, "Choose why"),
        ({"why": " "}, "Say why"),
    ],
)
def test_bad_marks_are_refused(bill: Bill, office: User, given: dict, sentence: str) -> None:
    values = {
        "stay": Deployment.objects.get(),
        "days": [day("2026-06-05")],
        "kind": "no_readings",
        "cause": "kit",
        "hours": Decimal(3),
        "why": "Seen.",
        **given,
    }
    with pytest.raises(Refused, match=sentence):
        mark_days(shop.act(office), **values)
    assert not DayMark.objects.exists()


def test_no_access_needs_two_written_offers_and_the_manager(manager: User, office: User) -> None:
    shop.price_list(manager, day_cents="7.00", no_access_cents="60.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01")
    offer = {"stay": stay, "how": "email"}
    offer_access(
        shop.act(office, "2026-06-20"), offered_on=day("2026-06-20"), for_day=day("2026-06-22"), **offer
    )
    with pytest.raises(Refused, match="Two written offers"):
        charge_no_access(shop.act(manager, "2026-06-25"), stay=stay, why="Nobody let us in.")
    with pytest.raises(Refused, match="written down already"):
        offer_access(
            shop.act(office, "2026-06-20"), offered_on=day("2026-06-20"), for_day=day("2026-06-23"), **offer
        )
    offer_access(
        shop.act(office, "2026-06-23"), offered_on=day("2026-06-23"), for_day=day("2026-06-26"), **offer
    )
    with pytest.raises(Refused, match="by a manager"):
        charge_no_access(shop.act(office, "2026-06-27"), stay=stay, why="Nobody let us in.")
    with pytest.raises(Refused, match="Wait for that day"):
        charge_no_access(shop.act(manager, "2026-06-25"), stay=stay, why="Nobody let us in.")
    charge_no_access(shop.act(manager, "2026-06-27"), stay=stay, why="Nobody let us in.")
    (bill,) = shop.close(manager, "2026-06")
    assert bill.lines.get(kind="no_access").amount_cents == 6_000


def test_cut_leads_are_charged_by_the_last_number(manager: User, office: User) -> None:
    shop.price_list(manager, day_cents="7.00", cut_lead_cents="18.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    for leads in (4, 2):
        note_cut_leads(shop.act(office, "2026-06-12"), stay=stay, leads=leads, why="Cut with side cutters.")
    (bill,) = shop.close(manager, "2026-06")
    line = bill.lines.get(kind="cut_leads")
    assert (line.amount_cents, line.reason) == (3_600, "2 leads cut, 2 × 18.00")
