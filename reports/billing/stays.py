"""A stay as billing sees it: calendar days of the site, and which of them count."""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from reports.billing.terms import Contract, DayCount

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Payer:
    """Who pays during [since, until); `until` None: still."""

    since: date
    until: date | None
    key: int


@dataclass(frozen=True, slots=True)
class Cover:
    """Under which agreement (or the price list) the days [since, until) of a stay are billed."""

    since: date
    until: date | None
    contract: Contract


@dataclass(frozen=True, kw_only=True)
class Stay:
    """One kit's stay. Every date is a calendar day of the site; None: it has not happened."""

    key: int
    installed_on: date
    removed_on: date | None = None
    asked_on: date | None = None  # the customer asked for the kit to be taken out
    agreed_end: date | None = None  # the take-out day that was agreed, extensions included
    sold_on: date | None = None  # the house changed hands: from that day on nothing is charged
    lost_on: date | None = None
    found_on: date | None = None
    priority: bool = False
    uncounted: tuple[tuple[date, str], ...] = ()  # days that do not count, in order, with the reason
    covers: tuple[Cover, ...] = ()
    payers: tuple[Payer, ...] = ()
    replacement_cents: int = 0
    kit_age_months: int = 0  # when it was lost
    cut_leads: int = 0
    cut_leads_on: date | None = None
    no_access_on: date | None = None  # the manager said yes to the charge, after two written offers
    order: int = 0  # among stays installed on the same day

    @cached_property
    def holes(self) -> list[date]:
        return [day for day, _why in self.uncounted]

    def first_contract(self) -> Contract | None:
        return self.contract_on(self.installed_on) or (self.covers[0].contract if self.covers else None)

    def contract_on(self, day: date) -> Contract | None:
        for cover in self.covers:
            if cover.since <= day and (cover.until is None or day < cover.until):
                return cover.contract
        return None

    def payer_on(self, day: date) -> int | None:
        for payer in self.payers:
            if payer.since <= day and (payer.until is None or day < payer.until):
                return payer.key
        return None

    @cached_property
    def day_count(self) -> DayCount:
        """The rule agreed when the kit went in; it holds for both ends of the stay."""
        contract = self.first_contract()
        if contract is None or not contract.history:
            return DayCount.INSTALL
        return (contract.terms_on(self.installed_on) or contract.history[0][1]).day_count

    @cached_property
    def span(self) -> tuple[date, date | None]:
        """[first, end) of the days that count; end None while the kit hangs there and nothing ended the charges.

        The end is the earliest of: pulled, asked for, agreed, house changed hands, given up as lost.
        """
        rule = self.day_count
        start = self.installed_on + ONE_DAY if rule == DayCount.NEITHER else self.installed_on
        ends = [
            day for day in (self.removed_on, self.asked_on, self.agreed_end, self.lost_on) if day is not None
        ]
        end = min(ends) if ends else None
        if end is not None and rule == DayCount.BOTH:
            end += ONE_DAY
        if end is not None and end <= start:
            start, end = self.installed_on, self.installed_on + ONE_DAY
        if self.sold_on is not None and (end is None or self.sold_on < end):
            end = max(self.sold_on, start)
        return start, end

    def counted(self, start: date, until: date) -> int:
        """How many days of [start, until) count."""
        days = (until - start).days
        if not self.uncounted:
            return days
        return days - (bisect_left(self.holes, until) - bisect_left(self.holes, start))

    def day_number(self, start: date, number: int) -> date:
        """The day before which exactly `number` days from `start` on count (and not one fewer)."""
        if not self.uncounted:
            return start + timedelta(days=number)
        day, seen, holes = start, 0, set(self.holes)
        while seen < number:
            seen += day not in holes
            day += ONE_DAY
        return day

    def nth_day(self, start: date, number: int) -> date:
        """The day that counts after `number` others from `start` on."""
        day = self.day_number(start, number)
        while day in self.holes:
            day += ONE_DAY
        return day

    def days(self, start: date, until: date) -> Iterator[date]:
        """The days of [start, until) that count."""
        holes = set(self.holes) if self.uncounted else ()
        day = start
        while day < until:
            if day not in holes:
                yield day
            day += ONE_DAY
