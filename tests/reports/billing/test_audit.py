"""The audit: papers and stays add up, each difference is explained, and tampering is told."""

import hashlib
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from kits.models import User
from kits.promises import Refused
from reports.actions.billing_after import store_paper
from reports.actions.billing_credits import credit_difference
from reports.billing_audit import audit
from reports.billing_books import read_books
from reports.billing_close import look_at
from reports.billing_credits import proposed
from reports.models import Bill, StoredPaper
from sites.models import Deployment, Party
from tests import make
from tests.conftest import triggers_lifted
from tests.reports.billing import shop
from tests.reports.billing.oracle import by_brute_force

pytestmark = pytest.mark.django_db


def small_shop(manager: User) -> list[Deployment]:
    """Two payers, three houses, one of them under an agreement; May and June are closed."""
    shop.price_list(manager, day_cents="7.00", set_up_cents="49.00", minimum_cents="45.00", **shop.TAXES)
    ana, ben = make.customer("Ana"), make.customer("Ben")
    covered = shop.house(ana)
    shop.agreement(manager, ana, covered, included_days=14, day_cents="6.50", cap_cents="250.00")
    stays = [
        shop.stay(covered, "2026-05-20", "2026-06-20"),
        shop.stay(shop.house(ana), "2026-05-30", "2026-06-03"),
        shop.stay(shop.house(ben), "2026-06-10", "2026-07-10"),
    ]
    shop.close(manager, "2026-05")
    shop.close(manager, "2026-06")
    return stays


def test_sum_of_bills_is_the_recomputation_and_a_walk_day_by_day(manager: User) -> None:
    stays = small_shop(manager)
    told = audit()
    assert (told.wrong, told.explained) == ([], [])
    books = read_books(date(2026, 7, 1))
    walked = by_brute_force(books.stays, date(2026, 7, 1))
    total = sum(one.total for one in walked.values())
    assert {stay.pk for stay in stays} == set(walked)
    assert (
        total
        == told.recomputed["USD"]
        == told.billed["USD"]
        == sum(b.amount_cents for b in Bill.objects.all())
    )


def test_a_difference_is_explained_until_it_is_mended(manager: User) -> None:
    covered, _short, long = small_shop(manager)
    shop.removed_on(covered, "2026-06-18")
    earlier = long.installed_at - timedelta(days=2)
    Deployment.objects.filter(pk=long.pk).update(planned_at=earlier, loaded_at=earlier, installed_at=earlier)
    told = audit()
    assert told.wrong == [] and told.recomputed != told.billed
    assert told.explained == ["14.00 USD still to be billed", f"13.00 USD due back on {proposed()[0].bill}"]
    credit_difference(shop.act(manager), bill=proposed()[0].bill, why="Earlier.")
    shop.close(manager, "2026-07")
    told = audit()
    assert (told.wrong, told.explained) == ([], [])


def test_closing_an_earlier_month_after_a_later_one_does_not_disturb_it(manager: User) -> None:
    small_shop(manager)
    close = look_at(date(2026, 5, 1), shop.morning("2026-12-01"))
    assert (close.drafts, close.corrections, close.problems) == ([], [], [])
    assert audit(date(2026, 6, 1)).wrong == []


def test_the_command_says_so(manager: User) -> None:
    small_shop(manager)
    out = StringIO()
    call_command("check_bills", stdout=out)
    assert out.getvalue().endswith("Papers and stays add up.\n")


def test_a_stay_without_a_payer_is_explained(manager: User) -> None:
    _covered, _short, long = small_shop(manager)
    Party.objects.filter(site=long.unit.site).delete()
    told = audit()
    assert told.wrong == []
    assert any("not billed, because nobody pays there" in line or "anew" in line for line in told.explained)


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("UPDATE reports_bill SET amount_cents = amount_cents + 1", "do not come to its sum"),
        ("UPDATE reports_billline SET amount_cents = amount_cents - 1", "do not come to its sum"),
        ("UPDATE reports_papernumber SET last = last + 1", "numbers given"),
        ("DELETE FROM reports_dayclaim", "are not the days it claims"),
        ("UPDATE reports_storedpaper SET sha256 = 'forged'", "is not what was drawn"),
    ],
    ids=["sum forged", "line forged", "number lost", "claims wiped", "paper forged"],
)
def test_who_got_round_the_database_is_found(manager: User, sql: str, sentence: str) -> None:
    small_shop(manager)
    bill = Bill.objects.first()
    assert bill is not None
    store_paper(shop.act(manager), paper=bill, content=b"%PDF-1.4 a paper")
    with triggers_lifted("default"), connection.cursor() as cursor:
        cursor.execute(sql)
    assert any(sentence in line for line in audit().wrong)
    with pytest.raises(CommandError):
        call_command("check_bills", stdout=StringIO(), stderr=StringIO())


def test_a_paper_is_stored_once_with_its_hash(manager: User) -> None:
    small_shop(manager)
    bill = Bill.objects.get(number="B2026-0001")
    store_paper(shop.act(manager), paper=bill, content=b"%PDF-1.4 one")
    stored = StoredPaper.objects.get()
    assert bytes(stored.content) == b"%PDF-1.4 one"
    assert stored.sha256 == hashlib.sha256(b"%PDF-1.4 one").hexdigest()
    with pytest.raises(Refused, match="drawn and stored already"):
        store_paper(shop.act(manager), paper=bill, content=b"%PDF-1.4 two")
