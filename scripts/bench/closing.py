"""Section 5: closing a month beside a plain loop over the same records, and whether it grows in step with the shop.

Every agreement covers twenty houses, each with one stay in that month, so that all stays are billed: lines with their
reasons, claims of days, sealed bills. The floor reads the same stays, counts days in Python and multiplies in Decimal;
it writes nothing. Each run is undone, so that the next one meets the same books.

Alone, within a new and empty database (DJANGO_SETTINGS_MODULE, KITPERCH_DATABASE and manage.py migrate first):

    python -m scripts.bench.closing 500
"""

import json
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from scripts.bench import shops
from scripts.bench.timing import Line, in_turn

SIZES = (500, 5_000)
STAYS = 20
MONTH, AFTER = date(2026, 6, 1), date(2026, 7, 1)
ZONE = "America/New_York"
GOAL_OF_FLOOR, GOAL_OF_GROWTH = 10, 1.25


def name_of(size: int) -> str:
    return f"close{size}"


def of_database(where: str, folder: Path, url: str | None) -> list[Line]:
    """Both sizes, each in a database of its own; `url` has them made already."""
    took = {}
    lines = []
    for size in SIZES:
        environment = shops.environment_for(name_of(size), folder=folder, url=url)
        environment |= {"DJANGO_SETTINGS_MODULE": "config.settings"}
        for command in (
            ["manage.py", "migrate", "--verbosity", "0"],
            ["-m", "scripts.bench.closing", str(size)],
        ):
            done = subprocess.run(
                [sys.executable, *command],
                cwd=shops.ROOT,
                env=environment,
                check=True,
                stdout=subprocess.PIPE,
                text=True,
            )
        took[size] = json.loads(done.stdout.splitlines()[-1])
        what = f"month closed, {size:,} agreements with {STAYS} stays"
        lines.append(
            Line(
                "5",
                what,
                where,
                took[size]["product"],
                "ms",
                took[size]["floor"],
                GOAL_OF_FLOOR,
                of_floor=True,
            )
        )
        lines.append(
            Line("5", f"{what}: drafts alone", where, took[size]["drafts"], "ms", took[size]["floor"])
        )
    small, large = (took[size]["product"] / size for size in SIZES)
    what = f"milliseconds an agreement, {SIZES[1]:,} beside {SIZES[0]:,}"
    return [*lines, Line("5", what, where, large, "ms", small, GOAL_OF_GROWTH, of_floor=True)]


def fill(size: int) -> None:
    """Agreements, each of one customer with twenty houses and a stay of nine days in each."""
    from kits import codes
    from kits.models import Kit, Role, Shop, User
    from sites.models import Agreement, Customer, Deployment, Party, ServiceCall, Site, Terms, Unit

    Shop.objects.create(pk=1, name="Largeville Heating and Air", phone="+1 201 555 0100", time_zone=ZONE)
    User.objects.create(pk=1, username="manager", name="Manager Birch", role=Role.MANAGER, password="!")
    numbers, every = range(1, size + 1), range(1, size * STAYS + 1)
    since = date(2026, 1, 1)
    Customer.objects.bulk_create(Customer(pk=n, name=f"Customer {n}") for n in numbers)
    Agreement.objects.bulk_create(
        Agreement(pk=n, customer_id=n, since=since, terms="As agreed.") for n in numbers
    )
    Terms.objects.bulk_create(
        Terms(
            agreement_id=n,
            from_day=since,
            day_cents=650,
            included_days=14,
            set_up_cents=4900,
            monitoring_tax_code="S1",
            monitoring_tax_rate=Decimal("0.0725"),
        )
        for n in numbers
    )
    Site.objects.bulk_create(
        Site(pk=n, street=f"{n} Elm Street", city="Largeville", time_zone=ZONE) for n in every
    )
    Agreement.sites.through.objects.bulk_create(
        Agreement.sites.through(agreement_id=1 + (n - 1) // STAYS, site_id=n) for n in every
    )
    Party.objects.bulk_create(
        Party(site_id=n, customer_id=1 + (n - 1) // STAYS, part="pays", since=since) for n in every
    )
    Unit.objects.bulk_create(Unit(pk=n, site_id=n, name="Upstairs", kind="furnace") for n in every)
    ServiceCall.objects.bulk_create(
        ServiceCall(pk=n, number=n, unit_id=n, reason="other", window_from=MONTH, window_until=MONTH)
        for n in every
    )
    drawn: set[str] = set()
    while len(drawn) < len(every):
        drawn.add(codes.draw_code())
    Kit.objects.bulk_create(
        Kit(pk=n, code=code, name=f"Kit {n}", built_on=since)
        for n, code in zip(every, sorted(drawn), strict=True)
    )
    Deployment.objects.bulk_create(stay(n) for n in every)


def stay(number: int):  # type: ignore[no-untyped-def]
    """One stay of nine days, beginning on one of the first twenty days of the month."""
    from sites.models import Deployment

    start = datetime(2026, 6, 1 + number % STAYS, 15, tzinfo=UTC)
    end = start + timedelta(days=9)
    return Deployment(
        kit_id=number,
        unit_id=number,
        call_id=number,
        holds_from=start,
        holds_until=end + timedelta(days=9),
        take_out_by=date(2026, 8, 1),
        back_in_shop_by=date(2026, 8, 1),
        planned_at=start,
        loaded_at=start,
        installed_at=start,
        removed_at=end,
        handed_back_at=end,
        ended_at=end,
    )


def floor() -> dict[int, Decimal]:
    """The same stays: days of the month in Python, price in Decimal, a sum for each payer."""
    from sites.models import Deployment

    rows = Deployment.objects.filter(installed_at__lt=datetime(2026, 7, 2, tzinfo=UTC)).values_list(
        "pk", "installed_at", "removed_at", "unit__site_id"
    )
    owed: dict[int, Decimal] = defaultdict(Decimal)
    price, tax, cent = Decimal("6.50"), Decimal("1.0725"), Decimal("0.01")
    for _pk, installed_at, removed_at, site in rows:
        assert installed_at and removed_at
        start, end = max(installed_at.date(), MONTH), min(removed_at.date(), AFTER)
        amount = (end - start).days * price * tax
        owed[1 + (site - 1) // STAYS] += amount.quantize(cent, ROUND_HALF_UP)
    return owed


def measure(size: int) -> dict[str, float]:
    """Milliseconds of the floor, of the drafts and of the whole close; the close is undone each time."""
    from django.db import connection, transaction

    from kits.actions.acting import Act
    from kits.models import User
    from reports.actions.billing import close_month
    from reports.billing_close import look_at
    from reports.models import Bill

    now = datetime(2026, 7, 2, 12, tzinfo=UTC)
    manager = User.objects.get(pk=1)

    def undone(work: Callable[[], object]) -> Callable[[], None]:
        def run() -> None:
            with transaction.atomic():
                work()
                transaction.set_rollback(True)

        return run

    def close() -> None:
        close_month(Act.by(manager, recorded_at=now), month=MONTH)
        assert Bill.objects.count() == size

    runs = {"floor": floor, "drafts": lambda: look_at(MONTH, now), "product": undone(close)}
    # On SQLite all the work is the process's own: its time does not tell what else the machine does.
    clock = time.process_time if connection.vendor == "sqlite" else time.perf_counter
    return in_turn(runs, rounds=3 if size <= SIZES[0] else 2, warm=0, clock=clock)


def main() -> None:
    import django

    django.setup()
    size = int(sys.argv[1])
    fill(size)
    print(json.dumps(measure(size)))


if __name__ == "__main__":
    main()
