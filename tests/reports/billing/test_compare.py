"""Bills, facts that change afterwards, credits by either way, bills anew: the sums always come to the recomputation."""

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.billing.account import account
from reports.billing.compare import Correction, Standing, all_back, compare
from reports.billing.lines import Line
from reports.billing.stays import Stay
from reports.billing.tax import tax_of_lines
from tests.reports.billing import strategies
from tests.reports.billing.build import contract, stay


@dataclass
class Drawer:
    """The papers of a shop: lines of bills as they stand, each bill of one payer."""

    rows: list[Standing] = field(default_factory=list)
    bills: int = 0

    def bill(self, lines: list[Line]) -> None:
        for payer in {line.payer for line in lines}:
            mine = [line for line in lines if line.payer == payer]
            self.bills += 1
            for line, tax in zip(mine, tax_of_lines(mine), strict=True):
                self.rows.append(
                    Standing(
                        line=len(self.rows),
                        bill=self.bills,
                        number=f"B-{self.bills}",
                        stay=line.stay,
                        payer=line.payer,
                        cell=line.cell,
                        kind=line.kind,
                        start=line.start,
                        until=line.until,
                        days=line.days,
                        holes=line.holes,
                        amount_cents=line.amount_cents,
                        tax_cents=tax,
                        tax=line.tax,
                        tax_rounding=line.tax_rounding,
                    )
                )
        self.no_day_stands_twice()

    def credit(self, correction: Correction) -> None:
        for back in correction.lines:
            same = [n for n, row in enumerate(self.rows) if (row.line, row.kind) == (back.line, back.kind)]
            place = same[0] if same else back.line
            row = self.rows[place]
            assert row.bill == correction.bill and set(back.days) <= set(row.claimed())
            if back.kind == row.kind:
                self.rows[place] = replace(
                    row,
                    amount_cents=row.amount_cents - back.amount_cents,
                    tax_cents=row.tax_cents - back.tax_cents,
                    days=row.days - len(back.days),
                    holes=tuple(sorted({*row.holes, *back.days})),
                )
            else:  # something was added by the credit note: it stands beside the line it names
                self.rows.append(
                    replace(
                        row,
                        kind=back.kind,
                        days=0,
                        amount_cents=-back.amount_cents,
                        tax_cents=-back.tax_cents,
                    )
                )

    def no_day_stands_twice(self) -> None:
        days = [(row.stay, day) for row in self.rows for day in row.claimed()]
        assert len(days) == len(set(days))

    def total(self) -> int:
        return sum(row.amount_cents for row in self.rows)


def right_lines(stays: list[Stay], today: date) -> list[Line]:
    return [line for lines in account(stays, today).values() for line in lines]


def settle(drawer: Drawer, stays: list[Stay], today: date, whole: bool) -> None:
    """Give every credit that is due, by the difference or bill by bill, and bill what is left."""
    for _round in range(3):
        told = compare(right_lines(stays, today), drawer.rows)
        if not told.new and not told.corrections:
            return
        for correction in told.corrections:
            if whole:
                rows = [
                    row
                    for row in drawer.rows
                    if row.bill == correction.bill and (row.amount_cents or row.days)
                ]
                if rows:
                    drawer.credit(all_back(rows))
            else:
                drawer.credit(correction)
        drawer.bill(compare(right_lines(stays, today), drawer.rows).new)
    raise AssertionError("the papers never come to rest")


CHANGES = st.lists(
    st.tuples(
        st.integers(0, 3),
        st.sampled_from(
            ["removed_on", "installed_on", "asked_on", "sold_on", "uncounted", "priority", "payers"]
        ),
        st.integers(0, 50),
    ),
    max_size=4,
)


def changed(stays: list[Stay], which: int, what: str, number: int, other: Stay) -> list[Stay]:
    """The same stays with one fact told otherwise."""
    place = which % len(stays)
    one = stays[place]
    day = one.installed_on + timedelta(days=number)
    value: Any = {
        "installed_on": day - timedelta(days=25),
        "uncounted": tuple((day + timedelta(days=n), "no readings") for n in range(3)),
        "priority": not one.priority,
        "payers": other.payers,
    }.get(what, day)
    return [*stays[:place], replace(one, **{what: value}), *stays[place + 1 :]]


@settings(max_examples=40)
@given(
    strategies.shops(most=3, payers=2),
    strategies.shops(most=1, payers=2),
    st.lists(st.tuples(CHANGES, st.booleans(), st.integers(1, 60)), min_size=1, max_size=4),
)
def test_bills_and_credits_come_to_the_recomputation_whatever_changes_in_between(
    stays: list[Stay], others: list[Stay], months: list[tuple[list[tuple[int, str, int]], bool, int]]
) -> None:
    settle_through(stays, others[0], months)


@pytest.mark.soak
@settings(max_examples=1_500)
@given(
    strategies.shops(most=3, payers=2),
    strategies.shops(most=1, payers=2),
    st.lists(st.tuples(CHANGES, st.booleans(), st.integers(1, 60)), min_size=1, max_size=4),
)
def test_bills_and_credits_come_to_the_recomputation_for_long(
    stays: list[Stay], others: list[Stay], months: list[tuple[list[tuple[int, str, int]], bool, int]]
) -> None:
    settle_through(stays, others[0], months)


def settle_through(
    stays: list[Stay], other: Stay, months: list[tuple[list[tuple[int, str, int]], bool, int]]
) -> None:
    drawer, today = Drawer(), strategies.FIRST + timedelta(days=60)
    for changes, whole, days in months:
        for which, what, number in changes:
            stays = changed(stays, which, what, number, other)
        settle(drawer, stays, today, whole)
        right = right_lines(stays, today)
        assert drawer.total() == sum(line.amount_cents for line in right)
        standing = sorted((row.stay, day) for row in drawer.rows for day in row.claimed())
        assert standing == sorted((line.stay, day) for line in right for day in line.claimed())
        by_cell: dict[tuple[int, int | None, date], int] = {}
        for line in right:
            key = (line.stay, line.payer, line.cell)
            by_cell[key] = by_cell.get(key, 0) + line.amount_cents
        for row in drawer.rows:
            key = (row.stay, row.payer, row.cell)
            by_cell[key] = by_cell.get(key, 0) - row.amount_cents
        assert not any(by_cell.values())
        today += timedelta(days=days)


JUNE = date(2026, 7, 1)


def issued(one: Stay, today: date = JUNE) -> Drawer:
    drawer = Drawer()
    drawer.bill(right_lines([one], today))
    return drawer


def test_more_days_than_billed_are_billed_on_top() -> None:
    one = stay(contract(day="7.00"), "2026-06-01", "2026-06-12")
    drawer = issued(one)
    told = compare(right_lines([replace(one, removed_on=date(2026, 6, 15))], JUNE), drawer.rows)
    (line,) = told.new
    assert (line.days, line.amount_cents, told.corrections) == (3, 2100, [])
    assert line.reason == "1-14 Jun: 14 days, 14 × 7.00; 77.00 of it stands on B-1: the difference"


def test_other_days_of_the_same_number_are_taken_back_whole_and_wait_to_be_billed_anew() -> None:
    one = stay(contract(day="7.00"), "2026-06-01", "2026-06-12")
    moved = replace(one, installed_on=date(2026, 6, 3), removed_on=date(2026, 6, 14))
    told = compare(right_lines([moved], JUNE), issued(one).rows)
    assert [correction.whole for correction in told.corrections] == [True]
    assert (told.new, [line.days for line in told.waiting]) == ([], [11])


def test_a_minimum_that_comes_to_bear_stands_on_the_same_credit_note() -> None:
    one = stay(contract(day="7.00", minimum="45.00"), "2026-06-01", "2026-06-12")
    told = compare(right_lines([replace(one, removed_on=date(2026, 6, 4))], JUNE), issued(one).rows)
    (correction,) = told.corrections
    assert [(line.kind, line.amount_cents) for line in correction.lines] == [
        ("monitoring", 5600),
        ("minimum", -2400),
    ]
    assert correction.amount_cents == 7700 - 4500


def test_days_of_the_former_payer_are_taken_back_before_the_new_one_is_billed() -> None:
    one = stay(contract(day="7.00"), "2026-06-01", "2026-06-12")
    drawer = issued(one)
    told = compare(right_lines([replace(one, payers=(replace(one.payers[0], key=8),))], JUNE), drawer.rows)
    assert [correction.payer for correction in told.corrections] == [7]
    assert told.new == [] and [line.payer for line in told.waiting] == [8]


def test_a_settled_month_asks_for_nothing() -> None:
    one = stay(
        contract(day="7.00", set_up="49.00", minimum="45.00", cap="250.00"), "2026-05-20", "2026-06-22"
    )
    told = compare(right_lines([one], JUNE), issued(one).rows)
    assert (told.new, told.corrections, told.waiting) == ([], [], [])


@settings(max_examples=60)
@given(strategies.shops(most=1), st.integers(0, 40), strategies.today)
def test_the_difference_and_all_of_it_billed_anew_agree_to_the_cent_tax_and_all(
    stays: list[Stay], days: int, today: date
) -> None:
    (one,) = stays
    drawer = Drawer()
    drawer.bill(right_lines([one], today))
    shorter = replace(one, removed_on=one.installed_on + timedelta(days=days))
    told = compare(right_lines([shorter], today), drawer.rows)
    anew = right_lines([shorter], today)
    for correction in told.corrections:
        if correction.whole:
            continue
        cell = [row for row in drawer.rows if row.cell == correction.cell]
        billed_anew = [line for line in anew if line.cell == correction.cell]
        if {row.tax_rounding for row in cell} == {"line"}:  # rounded once a bill, other months bear it too
            given_back = sum(row.amount_cents + row.tax_cents for row in cell)
            due = sum(line.amount_cents for line in billed_anew) + sum(tax_of_lines(billed_anew))
            assert correction.total_cents == given_back - due
