"""Managers who close at the same instant, and one who closes while another gives a credit: one result."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from django.conf import settings
from django.db import connection, connections

from kits.actions.acting import Act, Done
from kits.promises import Refused
from reports.actions.billing import close_month
from reports.actions.billing_credits import credit_difference, credit_whole
from reports.billing_audit import audit
from reports.models import Bill, CreditNote, DayClaim
from tests import make
from tests.reports.billing import shop

pytestmark = pytest.mark.django_db(transaction=True)

MANY = 8


@pytest.fixture
def pool() -> Iterator[ThreadPoolExecutor]:
    threads = ThreadPoolExecutor(MANY)
    yield threads
    gone = Barrier(MANY)

    def close() -> None:
        gone.wait(timeout=30)
        connections.close_all()

    for job in [threads.submit(close) for _ in range(MANY)]:
        job.result()
    threads.shutdown()


def at_once(pool: ThreadPoolExecutor, jobs: list[Callable[[], Done]]) -> list[Done | Refused]:
    """Every job begins at the same instant; any other error than a refusal fails the test."""
    start = Barrier(len(jobs))

    def attempt(job: Callable[[], Done]) -> Done | Refused:
        start.wait(timeout=30)
        try:
            return job()
        except Refused as refusal:
            return refusal

    return list(pool.map(attempt, jobs))


def closing(act: Act) -> Callable[[], Done]:
    return lambda: close_month(act, month=date(2026, 6, 1))


def test_of_many_who_close_a_month_at_once_one_does_and_the_others_find_nothing_left(pool) -> None:
    manager = make.manager()
    shop.price_list(manager, day_cents="7.00", set_up_cents="49.00")
    for _ in range(5):
        shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    answers = at_once(pool, [closing(shop.act(make.manager())) for _ in range(MANY)])
    assert sum(isinstance(answer, Done) for answer in answers) == 1
    words = {" ".join(answer.messages) for answer in answers if isinstance(answer, Refused)}
    assert words == {"Nothing is left to bill for June 2026."}
    assert sorted(Bill.objects.values_list("serial", flat=True)) == [1, 2, 3, 4, 5]
    assert DayClaim.objects.count() == 50 and audit().wrong == []


def test_single_customers_closed_at_once_get_one_bill_each_and_numbers_without_gaps(pool) -> None:
    manager = make.manager()
    shop.price_list(manager, day_cents="7.00")
    payers = [make.customer() for _ in range(4)]
    for payer in payers:
        shop.stay(shop.house(payer), "2026-06-01", "2026-06-11")

    def job(payer, act: Act) -> Callable[[], Done]:
        return lambda: close_month(act, month=date(2026, 6, 1), payers=[payer])

    jobs = [job(payer, shop.act(make.manager())) for payer in payers for _ in range(2)]
    answers = at_once(pool, jobs)
    assert sum(isinstance(answer, Done) for answer in answers) == 4
    assert sorted(Bill.objects.values_list("serial", flat=True)) == [1, 2, 3, 4]
    assert audit().wrong == []


def test_a_credit_is_given_once_however_many_give_it_and_while_others_close(pool) -> None:
    manager = make.manager()
    shop.price_list(manager, day_cents="7.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-07-11")
    (bill,) = shop.close(manager, "2026-06")
    shop.removed_on(stay, "2026-06-21")

    def difference(act: Act) -> Callable[[], Done]:
        return lambda: credit_difference(act, bill=bill, why="Removed earlier.")

    def whole(act: Act) -> Callable[[], Done]:
        return lambda: credit_whole(act, bill=bill, why="Removed earlier.", bill_anew=True)

    jobs = [difference(shop.act(make.manager())) for _ in range(3)]
    jobs += [whole(shop.act(make.manager())) for _ in range(2)]
    jobs += [closing(shop.act(make.manager())) for _ in range(3)]
    at_once(pool, jobs)
    # Whoever came first: what stands in the end is twenty days.
    assert shop.net_cents() == 20 * 700
    assert DayClaim.objects.filter(released_by=None).count() == 20
    assert CreditNote.objects.exists() and audit().wrong == []


KILLED_IN_THE_MIDDLE = """
import os, signal, sys
from datetime import date, datetime
import django
django.setup()
from kits.actions.acting import Act
from kits.models import User
from reports.actions import billing

billing.claim = lambda *given: os.kill(os.getpid(), signal.SIGKILL)
manager = User.objects.get(pk=int(sys.argv[1]))
billing.close_month(Act.by(manager, recorded_at=datetime.fromisoformat(sys.argv[2])), month=date(2026, 6, 1))
"""


def test_a_server_killed_in_the_middle_of_a_close_leaves_nothing_and_the_next_one_numbers_from_one() -> None:
    manager = make.manager()
    shop.price_list(manager, day_cents="7.00")
    for _ in range(3):
        shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    name = str(connection.settings_dict["NAME"])
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "config.settings"}
    if connection.vendor == "sqlite":
        environment["KITPERCH_DATABASE"] = name
    else:
        environment["DATABASE_URL"] = os.environ["DATABASE_URL"].replace("/postgres?", f"/{name}?")
    at = shop.morning("2026-12-01").isoformat()
    command = [sys.executable, "-c", KILLED_IN_THE_MIDDLE, str(manager.pk), at]
    done = subprocess.run(command, env=environment, cwd=settings.BASE_DIR, capture_output=True, text=True)
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert not Bill.objects.exists() and not DayClaim.objects.exists()
    assert [bill.serial for bill in shop.close(manager, "2026-06")] == [1, 2, 3]
    assert audit().wrong == []
