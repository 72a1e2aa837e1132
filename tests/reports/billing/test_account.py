"""Whatever the agreement: the sums equal a brute-force day by day, and no way of cutting them into bills changes them."""

from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.billing.account import account, lines_for
from reports.billing.allowance import by_contract, covered_days, segments, years_of
from reports.billing.lines import Kind, Line
from reports.billing.stays import Cover, Payer, Stay
from reports.billing.terms import Contract, Shape, Terms
from tests.reports.billing import strategies
from tests.reports.billing.build import contract, make_terms, stay
from tests.reports.billing.oracle import by_brute_force

LATER = date(2030, 1, 1)
EXAMPLES = settings(max_examples=40)


def total(lines: list[Line]) -> int:
    return sum(line.amount_cents for line in lines)


def of(lines: list[Line], *kinds: Kind) -> int:
    return sum(line.amount_cents for line in lines if line.kind in kinds)


def check_against_brute_force(stays: list[Stay], today: date, cuts: list[date] | None) -> None:
    expected = by_brute_force(stays, today)
    for key, lines in account(stays, today, cuts).items():
        told = expected[key]
        assert sorted(day for line in lines for day in line.claimed()) == told.counted
        assert sum(line.covered for line in lines) == len(told.included)
        assert total(lines) == told.total
        assert of(lines, Kind.SET_UP) == told.set_up and of(lines, Kind.MINIMUM) == told.top_up


@EXAMPLES
@given(strategies.shops(), strategies.today, st.none() | strategies.cuts())
def test_billed_days_and_sums_equal_a_day_by_day_walk(
    stays: list[Stay], today: date, cuts: list[date] | None
) -> None:
    check_against_brute_force(stays, today, cuts)


@pytest.mark.soak
@settings(max_examples=1_500)
@given(strategies.shops(), strategies.today, st.none() | strategies.cuts())
def test_billed_days_and_sums_equal_a_day_by_day_walk_for_long(
    stays: list[Stay], today: date, cuts: list[date] | None
) -> None:
    check_against_brute_force(stays, today, cuts)


@EXAMPLES
@given(strategies.shops(payers=2), strategies.today, strategies.cuts(), strategies.cuts(3))
def test_cutting_into_closes_never_changes_a_sum(
    stays: list[Stay], today: date, cuts: list[date], more: list[date]
) -> None:
    """A close is computed with what was known on its last day: nothing that comes later is needed."""
    marks = sorted({*cuts, *more, strategies.FIRST - timedelta(days=1), today})
    closes = [(start, until) for start, until in pairwise(marks) if until <= today]
    billed: Counter[int] = Counter()
    for start, until in closes:
        for line in lines_for(stays, start, until, marks):
            billed[line.stay] += line.amount_cents
    whole = {key: total(lines) for key, lines in account(stays, today, []).items()}
    # A stay that was only found to have its one day after that day was closed is billed with the next close.
    late = {one.key for one in stays if one.day_count == "neither"}
    assert {k: billed[k] for k in whole if k not in late} == {k: v for k, v in whole.items() if k not in late}


@EXAMPLES
@given(strategies.shops(), strategies.today, st.randoms())
def test_the_order_in_which_stays_are_given_does_not_matter(stays: list[Stay], today: date, random) -> None:
    shuffled = random.sample(stays, len(stays))
    assert account(stays, today) == account(shuffled, today)


@EXAMPLES
@given(strategies.shops(), strategies.today)
def test_cap_minimum_and_allowance_keep_their_limits(stays: list[Stay], today: date) -> None:
    found = account(stays, today)
    for one in stays:
        lines = found[one.key]
        history = one.covers[0].contract.history
        days = of(lines, Kind.MONITORING, Kind.CHEAPER, Kind.CAP)
        caps = [terms.cap_for(one.priority) for _day, terms in history]
        if None not in caps:
            assert days <= max(caps)
        assert all(line.amount_cents >= 0 for line in lines if line.kind in (Kind.MONITORING, Kind.MINIMUM))
        _start, end = one.span
        charged = sum(line.days - line.covered for line in lines)
        if len(history) == 1 and end is not None and end <= today and charged:
            assert days + of(lines, Kind.MINIMUM) >= (history[0][1].minimum_cents or 0)
    parts = [part for one in stays for part in segments(one, today)]
    covered_days(parts, today)
    for under, mine in by_contract(parts):
        for year in years_of(under, mine, today):
            assert year.left >= 0
            if len(under.history) == 1:
                assert year.used <= year.included + year.carried


# The agreement changes in the middle


def changing(*terms: tuple[str, Terms], start: str = "2026-01-01") -> Contract:
    return Contract(
        key=1,
        start=date.fromisoformat(start),
        history=tuple((date.fromisoformat(day), one) for day, one in terms),
    )


def test_a_change_of_price_splits_the_stay_each_part_at_its_own_price() -> None:
    under = changing(("2026-01-01", make_terms(day="7.00")), ("2026-06-05", make_terms(day="8.00", key=2)))
    lines = account([stay(under, "2026-06-01", "2026-06-11")], LATER)[1]
    assert [line.reason for line in lines] == ["1-4 Jun: 4 days, 4 × 7.00", "5-10 Jun: 6 days, 6 × 8.00"]


def test_a_started_week_runs_on_over_a_new_price_and_a_new_month() -> None:
    weekly = {"shape": Shape.WEEK}
    under = changing(
        ("2026-01-01", make_terms(week="35.00", **weekly)),
        ("2026-06-30", make_terms(week="40.00", key=2, **weekly)),
    )
    lines = account([stay(under, "2026-06-29", "2026-07-09")], LATER)[1]
    assert [line.reason for line in lines] == [
        "29 Jun: 1 day, 1 started week × 35.00",
        "30 Jun: 1 day, of a week already charged",
        "1-8 Jul: 8 days, 1 started week × 40.00",
    ]


def test_another_shape_of_price_starts_its_weeks_anew() -> None:
    under = changing(
        ("2026-01-01", make_terms(day="7.00")),
        ("2026-06-05", make_terms(shape=Shape.WEEK, week="35.00", key=2)),
    )
    lines = account([stay(under, "2026-06-01", "2026-06-13")], LATER)[1]
    assert [line.amount_cents for line in lines] == [2800, 7000]


def test_what_turns_out_cheaper_is_a_line_taken_off() -> None:
    under = contract(shape=Shape.CHEAPEST, day="7.00", week="35.00", month="125.00")
    lines = account([stay(under, "2026-06-01", "2026-07-10")], LATER)[1]
    june = [line for line in lines if line.cell == date(2026, 6, 1)]
    july = [line for line in lines if line.cell == date(2026, 7, 1)]
    assert [(line.kind, line.amount_cents) for line in june] == [("monitoring", 21000), ("cheaper", -8500)]
    # A month and nine days: 125.00 + a week 35.00 + 2 x 7.00.
    assert total(lines) == 17400 and [line.amount_cents for line in july] == [6300, -1400]
    assert june[1].reason == (
        "30 days so far cost 125.00 by weeks or months instead of 210.00 by single days: 85.00 taken off"
    )


def test_two_kits_on_one_day_use_one_included_day_or_two() -> None:
    for share, charged in ((True, 0), (False, 4)):
        under = contract(start=date(2026, 1, 1), day="5.00", included_days=10, kits_share_a_day=share)
        both = [stay(under, "2026-06-01", "2026-06-08", key=key) for key in (1, 2)]
        found = account(both, LATER)
        assert sum(line.days - line.covered for lines in found.values() for line in lines) == charged


def test_unused_days_are_carried_over_only_where_agreed() -> None:
    for carry, charged in ((False, 6), (True, 0)):
        under = contract(start=date(2025, 1, 1), day="5.00", included_days=14, carry_over=carry)
        (line,) = account([stay(under, "2026-02-01", "2026-02-21")], LATER)[1]
        assert line.days - line.covered == charged


@pytest.mark.parametrize(
    ("facts", "last"),
    [
        ({"removed_on": "2026-06-20"}, "2026-06-19"),
        ({"removed_on": "2026-06-20", "asked_on": "2026-06-15"}, "2026-06-14"),
        ({"removed_on": "2026-06-20", "agreed_end": "2026-06-10"}, "2026-06-09"),
        ({"removed_on": "2026-06-20", "agreed_end": "2026-06-25"}, "2026-06-19"),
        ({"removed_on": "2026-06-20", "sold_on": "2026-06-12"}, "2026-06-11"),
        ({"agreed_end": "2026-06-14"}, "2026-06-13"),
        ({"lost_on": "2026-06-18", "agreed_end": "2026-06-30"}, "2026-06-17"),
    ],
    ids=[
        "pulled",
        "asked for",
        "agreed end, pulled late",
        "pulled early",
        "house sold",
        "still there",
        "lost",
    ],
)
def test_the_last_billable_day_is_the_earliest_of_all_ends(facts: dict[str, str], last: str) -> None:
    lines = account(
        [
            stay(
                contract(day="7.00"),
                "2026-06-01",
                facts.get("removed_on"),
                **{k: v for k, v in facts.items() if k != "removed_on"},
            )
        ],
        LATER,
    )[1]
    assert max(day for line in lines for day in line.claimed()).isoformat() == last


def test_on_the_day_a_house_is_sold_nothing_is_charged_even_where_both_ends_count() -> None:
    (line,) = account(
        [stay(contract(day="7.00", day_count="both"), "2026-06-01", sold_on="2026-06-04")], LATER
    )[1]
    assert line.days == 3


def test_days_before_any_terms_and_days_nobody_pays_for_are_told_apart() -> None:
    under = Contract(key=1, start=date(2026, 1, 1), history=((date(2026, 6, 5), make_terms(day="7.00")),))
    one = stay(under, "2026-06-01", "2026-06-11", payers=(Payer(date(2026, 6, 8), None, 7),))
    lines = account([one], LATER)[1]
    assert [(line.start.day, line.days, line.payer) for line in lines] == [(5, 3, None), (8, 3, 7)]


def test_an_agreement_that_ends_hands_the_rest_to_the_price_list() -> None:
    under, price_list = contract(day="5.00"), contract(day="9.00", key=0)
    covers = (Cover(date.min, date(2026, 6, 6), under), Cover(date(2026, 6, 6), None, price_list))
    lines = account([stay(under, "2026-06-01", "2026-06-11", covers=covers)], LATER)[1]
    assert [(line.contract, line.amount_cents) for line in lines] == [(1, 2500), (0, 4500)]


def test_a_stay_wholly_included_owes_no_minimum() -> None:
    under = contract(start=date(2026, 1, 1), day="5.00", included_days=30, minimum="45.00")
    assert total(account([stay(under, "2026-06-01", "2026-06-11")], LATER)[1]) == 0


def test_priority_takes_the_last_included_day_where_agreed() -> None:
    under = contract(
        start=date(2026, 1, 1),
        day="5.00",
        included_days=1,
        kits_share_a_day=False,
        allowance_order="priority_first",
    )
    plain = stay(under, "2026-06-01", "2026-06-02", key=1)
    first = stay(under, "2026-06-01", "2026-06-02", key=2, priority=True)
    found = account([plain, first], LATER)
    assert (total(found[1]), total(found[2])) == (500, 0)


def test_a_fraction_of_a_cent_in_the_price_is_shown_and_rounded_once() -> None:
    under = contract(day="6.55", priority_multiplier=Decimal("1.15"))
    (line,) = account([stay(under, "2026-06-01", "2026-06-04", priority=True)], LATER)[1]
    assert line.amount_cents == 2260  # 3 x 7.5325 = 22.5975
    assert line.reason == "1-3 Jun: 3 days, 3 × 7.5325"


def test_a_month_begins_on_the_first_charged_day_not_on_a_day_without_readings_before_it() -> None:
    under = contract(start=date(2026, 1, 1), shape=Shape.MONTH, month="29.00", included_days=3)
    one = stay(under, "2026-01-26", "2026-01-31", uncounted=((date(2026, 1, 29), "no readings"),))
    (line,) = account([one], LATER)[1]
    assert line.amount_cents == 100  # the month from 30 January has 29 days; from the 29th it would have 30
