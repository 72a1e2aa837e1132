"""What managers look at: allowances used and left, work not billed yet, what was given away, examples of terms."""

from datetime import date

import pytest

from kits.models import User
from reports.actions.billing_marks import mark_days
from reports.billing.example import PRESETS, example_lines
from reports.billing_books import plain_terms
from reports.billing_looks import ending_soon, given_away, unbilled_to_date, years_used
from sites.models import Agreement, Terms
from tests import make
from tests.reports.billing import shop


@pytest.mark.parametrize("preset", PRESETS, ids=lambda preset: preset.key)
def test_every_preset_is_in_order_and_prices_an_example(preset) -> None:
    terms = plain_terms(Terms(from_day=shop.SINCE, **preset.fields))
    assert terms.wrong() == {}
    lines = example_lines(terms, days=40)
    assert sum(line.days for line in lines) == 40 and sum(line.amount_cents for line in lines) > 0
    assert all(line.reason for line in lines)


def test_an_example_after_some_included_days_were_used() -> None:
    terms = plain_terms(Terms(from_day=shop.SINCE, included_days=14, day_cents=650))
    (line,) = example_lines(terms, days=11, used=9)
    assert line.reason == "8-18 May: 11 days, 5 of your 14 included, 6 × 6.50"


@pytest.mark.django_db
def test_included_days_used_and_left_by_contract_year(manager: User) -> None:
    payer = make.customer()
    sites = [shop.house(payer, since=date(2025, 1, 1)) for _ in range(2)]
    agreement = shop.agreement(
        manager, payer, *sites, since=date(2025, 5, 15), included_days=14, day_cents="6.50"
    )
    unused = shop.agreement(
        manager, make.customer(), since=date(2026, 1, 1), included_days=10, day_cents="6.50"
    )
    shop.stay(sites[0], "2025-06-01", "2025-06-10")
    shop.stay(sites[1], "2026-06-01", "2026-06-21")
    years = years_used([agreement, unused], date(2026, 6, 30))
    told = [(year.start.year, year.used, year.left) for year in years[agreement.pk]]
    assert told == [(2025, 9, 5), (2026, 14, 0)]
    assert [(year.used, year.left) for year in years[unused.pk]] == [(0, 10)]


@pytest.mark.django_db
def test_work_not_billed_yet(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00", set_up_cents="49.00")
    ana, ben = make.customer("Ana"), make.customer("Ben")
    shop.stay(shop.house(ana), "2026-05-20", "2026-06-03")
    shop.stay(shop.house(ben), "2026-06-01")
    shop.stay(shop.house(), "2026-06-05", "2026-06-06")
    shop.close(manager, "2026-05", on="2026-06-02")
    found, books = unbilled_to_date(shop.morning("2026-06-11"))
    assert [(one.payer, one.amount_cents) for one in found] == [
        (ben, 4_900 + 7_000),
        (None, 5_600),
        (ana, 1_400),
    ]
    assert all(books.told[stay].kit_code for one in found for stay in one.stays)


@pytest.mark.django_db
def test_what_was_given_away(manager: User) -> None:
    payer = make.customer()
    site = shop.house(payer, since=date(2025, 1, 1))
    agreement = shop.agreement(
        manager, payer, site, since=date(2025, 5, 15), included_days=14, day_cents="6.50"
    )
    stay = shop.stay(site, "2025-06-01", "2025-06-10")
    mark_days(shop.act(manager), stay=stay, days=[date(2025, 6, 4)], kind="waived", why="A good customer.")
    found = given_away(date(2025, 1, 1), date(2026, 6, 1))
    assert [(row, year.left) for row, year in found.lapsed] == [(agreement, 6)] and found.lapsed_days == 6
    assert [(mark.day, mark.marked_by) for mark in found.waived] == [(date(2025, 6, 4), manager)]
    assert given_away(date(2026, 5, 16), date(2026, 6, 1)).lapsed == []


@pytest.mark.django_db
def test_agreements_that_end_soon() -> None:
    ends = {
        number: Agreement.objects.create(
            customer=make.customer(), since=shop.SINCE, until=until, terms="As agreed."
        )
        for number, until in enumerate(
            [date(2026, 7, 1), date(2026, 6, 20), date(2026, 6, 1), date(2027, 1, 1), None]
        )
    }
    assert ending_soon(date(2026, 6, 10)) == [ends[1], ends[0]]
