"""A manager closes a month in a browser: looks at the drafts, issues, sees the papers drawn, opens a bill, marks it paid."""

from datetime import timedelta

from playwright.sync_api import expect

from kits.models import User
from reports.models import Bill, Payment, StoredPaper
from tests import make
from tests.browser import hands
from tests.browser.conftest import Screen
from tests.reports.billing import shop
from tests.reports.billing.paging import LAST, SINCE, open_shop


def test_a_month_is_closed_and_a_bill_is_paid(desktop: Screen, manager: User) -> None:
    open_shop(manager)
    for name in ("Ana Diaz", "Jo Park", "Riverbend Property Management"):
        house = shop.house(make.customer(name), since=SINCE)
        shop.stay(house, LAST + timedelta(days=2), LAST + timedelta(days=9))
    desktop.sign_in(manager)
    desktop.open("/bills/")
    page = desktop.page
    expect(page.locator("h1")).to_have_text(f"{LAST:%B} {LAST.year} is not closed: 3 bills, 147.00 USD")
    hands.follow(page, f"Look at {LAST:%B} {LAST.year}")
    page.get_by_text("1 line").first.click()
    expect(page.get_by_text("7 days, 7 × 7.00").first).to_be_visible()
    assert desktop.barriers() == []
    hands.press(page, "Issue 3 bills")
    expect(page.locator("h1")).to_have_text("Every paper is drawn")
    assert StoredPaper.objects.count() == 3
    hands.follow(page, "To the bills")
    bill = Bill.objects.get(payer_name="Ana Diaz")
    hands.follow(page, bill.number)
    expect(page.locator("h1")).to_have_text("Ana Diaz owes 49.00 USD")
    assert desktop.barriers() == [] and desktop.overflow_px() == 0
    hands.follow(page, "Mark it paid")
    hands.fill(page, {"reference": "check 12"})
    hands.press(page, "Write it down")
    expect(page.locator("h1")).to_have_text("Ana Diaz has paid 49.00 USD")
    assert Payment.objects.get().bill == bill
