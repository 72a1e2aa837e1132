"""Which days are included: used up day by day across all stays under an agreement, contract year by contract year.

Whether a day is included depends on earlier days only, never on later ones, so what a month's bill said stays true when
later months come.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from reports.billing.stays import Stay
from reports.billing.terms import AllowanceOrder, Contract, Terms


@dataclass(frozen=True, slots=True)
class Segment:
    """Days [start, until) of a stay under one set of terms, in one contract year."""

    start: date
    until: date
    stay: Stay
    contract: Contract
    terms: Terms
    year: int

    @property
    def place(self) -> tuple[int, int, date]:
        return (self.stay.key, self.contract.key, self.start)


@dataclass(frozen=True, slots=True)
class YearUse:
    """What became of the included days of one contract year."""

    year: int
    start: date
    until: date
    included: int
    carried: int
    used: int

    @property
    def left(self) -> int:
        return max(0, self.included + self.carried - self.used)


def segments(stay: Stay, through: date) -> list[Segment]:
    """The stay's days before `through`, cut where agreement, terms or contract year change. Days without terms are left out."""
    start, end = stay.span
    end = through if end is None else min(end, through)
    return [
        Segment(first, last, stay, cover.contract, terms, year)
        for cover in stay.covers
        for since, until, terms in cover.contract.terms_between(
            max(start, cover.since), end if cover.until is None else min(end, cover.until)
        )
        for first, last, year in cover.contract.years_between(since, until)
    ]


def covered_days(found: Iterable[Segment], through: date) -> dict[tuple[int, int, date], int]:
    """How many days at the beginning of each segment are included, by the segment's place; none is not listed."""
    covered: dict[tuple[int, int, date], int] = {}
    for contract, mine in by_contract(found):
        years_of(contract, mine, through, covered)
    return covered


def by_contract(found: Iterable[Segment]) -> list[tuple[Contract, list[Segment]]]:
    groups: dict[int, tuple[Contract, list[Segment]]] = {}
    for segment in found:
        if segment.contract.counts_years:
            groups.setdefault(segment.contract.key, (segment.contract, []))[1].append(segment)
    return list(groups.values())


def years_of(
    contract: Contract,
    mine: Sequence[Segment],
    through: date,
    covered: dict[tuple[int, int, date], int] | None = None,
) -> list[YearUse]:
    """Every contract year that begins before `through`, in order; `covered` is filled on the way."""
    covered = {} if covered is None else covered
    by_year: dict[int, list[Segment]] = {}
    for segment in mine:
        by_year.setdefault(segment.year, []).append(segment)
    told: list[YearUse] = []
    carried = 0
    last = max(by_year, default=0)
    if through > contract.start:
        last = max(
            last, contract.year_of(through) - (contract.year_start(contract.year_of(through)) == through)
        )
    for year in range(last + 1):
        begins, ends = contract.year_start(year), contract.year_start(year + 1)
        terms = contract.terms_on(min(ends, max(through, begins)) - RESOLUTION) or contract.history[0][1]
        used = use_up(by_year.get(year, []), carried, covered)
        told.append(YearUse(year, begins, ends, terms.included_days, carried, used))
        carried = told[-1].left if terms.carry_over else 0
    return told


RESOLUTION = date.resolution


def use_up(mine: list[Segment], carried: int, covered: dict[tuple[int, int, date], int]) -> int:
    """Spend the included days of one contract year on its segments; returns how many were used."""
    mine = sorted(mine, key=lambda part: (part.start, part.stay.installed_on, part.stay.order, part.stay.key))
    if not any(one.until > other.start for one, other in pairwise(mine)):
        used = 0
        for part in mine:
            days = min(
                part.stay.counted(part.start, part.until), max(0, part.terms.included_days + carried - used)
            )
            if days:
                covered[part.place] = days
                used += days
        return used
    return use_up_by_day(mine, carried, covered)


def use_up_by_day(mine: list[Segment], carried: int, covered: dict[tuple[int, int, date], int]) -> int:
    """The same where stays overlap: each day in turn, on one day in the agreed order."""
    used = 0
    on_day: dict[date, list[Segment]] = {}
    for part in sorted(mine, key=rank):
        for day in part.stay.days(part.start, part.until):
            on_day.setdefault(day, []).append(part)
    for day in sorted(on_day):
        parts = on_day[day]
        allowed = parts[0].terms.included_days + carried
        if parts[0].terms.kits_share_a_day:
            if used < allowed:
                used += 1
                for part in parts:
                    covered[part.place] = covered.get(part.place, 0) + 1
            continue
        for part in parts[: max(0, allowed - used)]:
            used += 1
            covered[part.place] = covered.get(part.place, 0) + 1
    return used


def rank(part: Segment) -> tuple[bool, date, int, int]:
    """The order in which kits of one day take included days."""
    later = part.terms.allowance_order == AllowanceOrder.PRIORITY_FIRST and not part.stay.priority
    return (later, part.stay.installed_on, part.stay.order, part.stay.key)
