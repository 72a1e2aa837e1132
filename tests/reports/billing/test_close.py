"""Closing a month: who gets which bill, what stands on it, what is unusual, and what is refused."""

from datetime import date

import pytest
from django.db.models import ProtectedError

from kits.models import Event, User
from kits.promises import Refused
from reports.actions import billing
from reports.actions.billing import close_month
from reports.billing_close import look_at
from reports.models import Bill, BillLine, DayClaim, MonthClaim, PaperNumber
from sites.models import Customer, Deployment, Party, PartyRole
from tests import make
from tests.reports.billing import shop

pytestmark = pytest.mark.django_db


def drafts(month: str = "2026-06", at: str = "2026-12-01", **more: object):
    return look_at(shop.day(f"{month}-01"), shop.morning(at), **more)  # type: ignore[arg-type]


def test_a_bill_has_its_payers_houses_and_nobody_else_s(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    ana, ben = make.customer("Ana"), make.customer("Ben")
    for payer, count in ((ana, 2), (ben, 1)):
        for _ in range(count):
            shop.stay(shop.house(payer), "2026-06-01", "2026-06-11")
    bills = shop.close(manager, "2026-06")
    assert {(bill.payer, bill.amount_cents) for bill in bills} == {(ana, 14_000), (ben, 7_000)}
    for line in BillLine.objects.select_related("bill", "deployment__unit__site"):
        paying = line.deployment.unit.site.parties.get(part=PartyRole.PAYS)
        assert line.payer == line.bill.payer == paying.customer
    assert sorted(bill.number for bill in bills) == ["B2026-0001", "B2026-0002"]
    assert all(bill.issued_at and bill.total_cents == bill.amount_cents for bill in bills)


def test_drafts_are_not_stored_and_tell_what_is_issued(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00", **shop.TAXES)
    shop.stay(shop.house(make.customer("Ana")), "2026-06-01", "2026-06-11")
    close = drafts()
    (draft,) = close.drafts
    assert not Bill.objects.exists() and not PaperNumber.objects.exists()
    (bill,) = shop.close(manager, "2026-06", seen=close.seen())
    assert (bill.amount_cents, bill.tax_cents) == (draft.amount_cents, draft.tax_cents) == (7_000, 508)
    assert [line.reason for line in bill.lines.all()] == [line.reason for line in draft.lines]
    assert bill.due_on == date(2026, 12, 31)


def test_what_changed_since_it_was_looked_at_is_not_issued(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    stay = shop.stay(shop.house(make.customer("Ana")), "2026-06-01", "2026-06-11")
    seen = drafts().seen()
    shop.removed_on(stay, "2026-06-10")
    with pytest.raises(Refused, match="Something changed since you looked: Ana"):
        shop.close(manager, "2026-06", seen=seen)
    assert not Bill.objects.exists()


def test_closing_twice_bills_once(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    shop.close(manager, "2026-06")
    with pytest.raises(Refused, match="Nothing is left to bill for June 2026"):
        shop.close(manager, "2026-06")
    assert Bill.objects.count() == 1 and PaperNumber.objects.get().last == 1


def test_the_same_request_again_gets_the_same_answer(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    act = shop.act(manager)
    first, again = (close_month(act, month=date(2026, 6, 1)) for _ in range(2))
    assert again.again and (first.sentence, first.event_id) == (again.sentence, again.event_id)
    assert first.sentence == "1 bill issued for June 2026: B2026-0001, 70.00 USD in all"
    assert Bill.objects.count() == 1


def test_one_customer_is_closed_first_and_the_others_later(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    ana, ben = make.customer("Ana"), make.customer("Ben")
    for payer in (ana, ben):
        shop.stay(shop.house(payer), "2026-06-01", "2026-06-11")
    (first,) = shop.close(manager, "2026-06", payers=[ben])
    (second,) = shop.close(manager, "2026-06")
    assert (first.payer, second.payer) == (ben, ana)


def test_nothing_of_a_close_that_dies_in_the_middle_remains(
    manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.price_list(manager, day_cents="7.00")
    for _ in range(3):
        shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    events = Event.objects.count()

    def dies(*_given: object) -> None:
        raise RuntimeError("the server was killed")

    with monkeypatch.context() as broken:
        broken.setattr(billing, "claim", dies)
        with pytest.raises(RuntimeError):
            shop.close(manager, "2026-06")
    assert not Bill.objects.exists() and not BillLine.objects.exists() and not DayClaim.objects.exists()
    assert not PaperNumber.objects.filter(last__gt=0).exists() and Event.objects.count() == events
    assert [bill.serial for bill in shop.close(manager, "2026-06")] == [1, 2, 3]


def test_numbers_have_no_gap_and_begin_anew_each_year(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    shop.stay(shop.house(make.customer()), "2026-05-20", "2027-01-10")
    numbers = []
    for month, on in (("2026-05", "2026-06-02"), ("2026-06", "2026-07-02"), ("2026-12", "2027-01-03")):
        numbers += [bill.number for bill in shop.close(manager, month, on=on)]
    assert numbers == ["B2026-0001", "B2026-0002", "B2027-0001"]


def test_the_order_of_closes_does_not_change_what_is_billed(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00", set_up_cents="49.00", minimum_cents="45.00")
    for _ in range(2):
        shop.stay(shop.house(make.customer()), "2026-05-20", "2026-07-05")
    late, early = Customer.objects.order_by("pk")
    for month in ("2026-05", "2026-06", "2026-07"):
        shop.close(manager, month, payers=[early])
    for month in ("2026-07",):
        (bill,) = shop.close(manager, month, payers=[late])
    with pytest.raises(Refused):
        shop.close(manager, "2026-05")
    totals = {payer: sum(b.amount_cents for b in payer.bills.all()) for payer in (early, late)}
    assert totals[early] == totals[late] == bill.amount_cents == 4_900 + 46 * 700


def test_a_stay_is_billed_by_the_days_of_its_site_whatever_the_shop_s_zone(manager: User) -> None:
    """The same days of the calendar cost the same in every zone, over the change of clocks and over leap days."""
    shop.price_list(manager, day_cents="7.00", from_day=date(2024, 1, 1))
    payers = {}
    for zone in (
        "America/New_York",
        "Pacific/Honolulu",
        "America/Anchorage",
        "Asia/Kolkata",
        "Pacific/Auckland",
    ):
        payers[zone] = make.customer(zone)
        site = shop.house(payers[zone], zone=zone, since=date(2024, 1, 1))
        for hour, (start, end) in enumerate(
            [("2026-03-07", "2026-03-09"), ("2026-10-31", "2026-11-02"), ("2024-02-28", "2024-03-01")]
        ):
            shop.stay(site, start, end, hour=(1, 12, 23)[hour])
    bills = shop.close(manager, "2026-10", on="2026-11-20") + shop.close(manager, "2026-11", on="2026-12-05")
    for payer in payers.values():
        assert sum(bill.amount_cents for bill in bills if bill.payer == payer) == 6 * 700


def test_a_sold_house_is_charged_until_the_day_of_the_sale(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    seller, buyer = make.customer("Seller"), make.customer("Buyer")
    site = shop.house(seller)
    sale = date(2026, 6, 6)
    Party.objects.create(site=site, customer=seller, part=PartyRole.OWNS, since=shop.SINCE, until=sale)
    Party.objects.create(site=site, customer=buyer, part=PartyRole.OWNS, since=sale)
    Party.objects.filter(site=site, part=PartyRole.PAYS).update(until=sale)
    Party.objects.create(site=site, customer=buyer, part=PartyRole.PAYS, since=sale)
    shop.stay(site, "2026-06-01", "2026-06-20")
    (bill,) = shop.close(manager, "2026-06")
    assert (bill.payer, bill.amount_cents) == (seller, 5 * 700)


def test_a_new_payer_in_the_middle_of_a_stay_splits_it(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00", set_up_cents="49.00")
    first, second = make.customer("First"), make.customer("Second")
    site = shop.house(first)
    Party.objects.filter(site=site).update(until=date(2026, 6, 6))
    Party.objects.create(site=site, customer=second, part=PartyRole.PAYS, since=date(2026, 6, 6))
    shop.stay(site, "2026-06-01", "2026-06-11")
    bills = {bill.payer: bill.amount_cents for bill in shop.close(manager, "2026-06")}
    assert bills == {first: 4_900 + 3_500, second: 3_500}


def test_nobody_to_pay_is_a_problem_and_no_bill(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    site = shop.house()
    shop.stay(site, "2026-06-01", "2026-06-11")
    close = drafts()
    assert close.drafts == []
    assert close.problems == [
        f"Nobody pays at {site}: {site.units.get()} on 01 Jun 2026. "
        "Write down who pays there; then its days are billed."
    ]


def test_included_days_are_shared_by_all_houses_of_an_agreement(manager: User) -> None:
    payer = make.customer()
    sites = [shop.house(payer), shop.house(payer)]
    shop.agreement(manager, payer, *sites, included_days=14, day_cents="6.50")
    for site, start, end in zip(
        sites, ("2026-06-01", "2026-06-11"), ("2026-06-11", "2026-06-21"), strict=True
    ):
        shop.stay(site, start, end)
    (bill,) = shop.close(manager, "2026-06")
    assert bill.amount_cents == 6 * 650
    assert sorted(line.covered for line in bill.lines.all()) == [4, 10]
    assert {line.agreement for line in bill.lines.all()} == {payer.agreements.get()}


def test_a_month_that_costs_nothing_makes_no_bill_and_goes_along_with_the_next(manager: User) -> None:
    payer = make.customer()
    site = shop.house(payer)
    shop.agreement(manager, payer, site, included_days=30, day_cents="6.50")
    shop.stay(site, "2026-06-20", "2026-07-25")
    close = drafts()
    assert close.drafts == [] and len(close.nothing_due) == 1
    (july,) = shop.close(manager, "2026-07")
    assert [(line.days, line.amount_cents) for line in july.lines.all()] == [(11, 0), (24, 5 * 650)]


def test_terms_in_force_then_are_frozen_on_the_line(manager: User) -> None:
    payer = make.customer()
    site = shop.house(payer)
    agreement = shop.agreement(manager, payer, site, day_cents="6.50")
    shop.stay(site, "2026-06-20", "2026-07-10")
    (june,) = shop.close(manager, "2026-06")
    shop.agree_terms(
        shop.act(manager), agreement=agreement, from_day=date(2026, 7, 1), fields={"day_cents": "8.00"}
    )
    (july,) = shop.close(manager, "2026-07")
    assert (june.amount_cents, july.amount_cents) == (11 * 650, 9 * 800)
    assert [line.unit_cents for line in july.lines.all()] == [800]


def test_what_is_unusual_stands_on_top_in_words(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00", minimum_cents="45.00", cap_cents="100.00")
    plain, open_, short, long = (make.customer(name) for name in ("Plain", "Open", "Short", "Long"))
    for payer in (plain, open_, short, long):
        shop.stay(shop.house(payer), "2026-05-02", "2026-05-12")
    shop.close(manager, "2026-05")
    shop.stay(plain.parties.get().site, "2026-06-01", "2026-06-11")
    shop.stay(open_.parties.get().site, "2026-06-28")
    shop.stay(short.parties.get().site, "2026-06-01", "2026-06-02")
    shop.stay(long.parties.get().site, "2026-06-01", "2026-06-29")
    shop.stay(shop.house(make.customer("New")), "2026-06-01", "2026-06-11")
    told = {draft.payer.name: draft.unusual for draft in drafts().drafts}
    assert told == {
        "Long": ["the most a stay costs is reached"],
        "New": ["first bill"],
        "Open": ["a stay goes on"],
        "Short": ["the least a stay costs is charged"],
        "Plain": [],
    }
    assert list(told)[-1] == "Plain"


@pytest.mark.parametrize(
    ("month", "at"),
    [("2026-06", "2026-06-30"), ("2026-07", "2026-06-30"), ("2027-01", "2026-12-01")],
    ids=["its last day", "next month", "next year"],
)
def test_a_month_that_is_not_over_cannot_be_closed(month: str, at: str, manager: User) -> None:
    with pytest.raises(Refused, match="is not over yet"):
        shop.close(manager, month, on=at)


def test_a_month_is_over_when_it_is_over_at_every_site(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    shop.stay(shop.house(make.customer(), zone="Pacific/Honolulu"), "2026-06-01", "2026-06-11")
    with pytest.raises(Refused, match="It is still June 2026 in Pacific/Honolulu"):
        shop.close(manager, "2026-06", on="2026-07-01")
    assert len(shop.close(manager, "2026-06", on="2026-07-02")) == 1


def test_bills_are_a_manager_s(office: User) -> None:
    with pytest.raises(Refused, match="by a manager"):
        shop.close(office, "2026-06")


def test_an_agreement_that_was_billed_under_cannot_be_deleted(manager: User) -> None:
    payer = make.customer()
    site = shop.house(payer)
    agreement = shop.agreement(manager, payer, site, day_cents="6.50")
    shop.stay(site, "2026-06-20", "2026-06-25")
    shop.close(manager, "2026-06")
    for row in (agreement, payer, site, Deployment.objects.get()):
        with pytest.raises(ProtectedError):
            row.delete()


def test_an_agreement_without_terms_is_a_problem_and_not_billed_at_list_price(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    payer = make.customer()
    site = shop.house(payer)
    agreement = shop.agreement(manager, payer, site)
    shop.stay(site, "2026-06-20", "2026-06-25")
    close = drafts()
    assert close.drafts == []
    assert close.problems == [
        f"Agreement {agreement.pk} has no terms yet, so nothing is billed under it. Write down its terms."
    ]


def test_priority_of_the_call_multiplies_the_price(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00", priority_multiplier="1.2")
    shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11", priority=True)
    (bill,) = shop.close(manager, "2026-06")
    assert bill.amount_cents == 10 * 840


def test_a_claimed_day_is_there_once_for_each_day_of_each_line(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    shop.stay(shop.house(make.customer()), "2026-05-25", "2026-06-11")
    shop.close(manager, "2026-05")
    shop.close(manager, "2026-06")
    claims = DayClaim.objects.order_by("day")
    assert [claim.day for claim in claims] == [
        date.fromordinal(date(2026, 5, 25).toordinal() + n) for n in range(17)
    ]
    assert all(claim.line.start <= claim.day < claim.line.until for claim in claims)
    assert MonthClaim.objects.count() == 2
