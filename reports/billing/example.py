"""Ways to charge that a shop may begin from, and what an example stay would cost by any terms."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from reports.billing.account import account
from reports.billing.lines import Line
from reports.billing.stays import Cover, Payer, Stay
from reports.billing.terms import Contract, Terms


@dataclass(frozen=True)
class Preset:
    """A way to charge, by a name of our own; the shop changes the amounts to its own."""

    key: str
    name: str
    fields: Mapping[str, Any]  # fields of terms that differ from their defaults


PRESETS = (
    Preset(
        "days_in_the_agreement",
        "Some days are in the agreement, the rest by the day",
        {"included_days": 14, "day_cents": 650},
    ),
    Preset(
        "by_the_day",
        "By the day, with a set-up fee and a least amount",
        {"day_cents": 700, "set_up_cents": 4_900, "minimum_cents": 4_500},
    ),
    Preset(
        "by_the_week",
        "By the started week, up to a most amount",
        {"shape": "week", "week_cents": 3_500, "cap_cents": 25_000},
    ),
    Preset(
        "by_the_month", "By the month, the last one by its days", {"shape": "month", "month_cents": 6_200}
    ),
    Preset(
        "cheapest",
        "Days, weeks or months, whatever is cheapest for the customer",
        {"shape": "cheapest", "day_cents": 700, "week_cents": 3_500, "month_cents": 12_500},
    ),
    Preset(
        "with_a_new_system",
        "A month of watching in the price of a new system",
        {"included_days": 30, "day_cents": 700},
    ),
)


def example_lines(
    terms: Terms,
    *,
    installed_on: date = date(2026, 5, 8),
    days: int = 20,
    priority: bool = False,
    used: int = 0,
) -> list[Line]:
    """The lines of one stay of so many days under `terms`, after `used` included days, not cut into months."""
    start = installed_on - timedelta(days=max(used, 1))
    contract = Contract(key=1, start=start, history=((start, terms),))
    covers, payers = (Cover(date.min, None, contract),), (Payer(date.min, None, 1),)
    removed_on = installed_on + timedelta(days=days)
    shown = Stay(
        key=1,
        installed_on=installed_on,
        removed_on=removed_on,
        priority=priority,
        covers=covers,
        payers=payers,
    )
    stays = [shown]
    if used:
        earlier_end = start + timedelta(days=used)
        stays.append(Stay(key=2, installed_on=start, removed_on=earlier_end, covers=covers, payers=payers))
    through = removed_on + timedelta(days=2)
    return account(stays, through, [])[1]
