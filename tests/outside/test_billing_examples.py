"""Twelve worked examples of billing, from the trade's practice and published rounding rules, to the cent.

Values, steps and sources: billing_examples.json beside this file.
"""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from reports.billing.account import account, lines_for
from reports.billing.calendar import Anchor
from reports.billing.compare import Standing, all_back, compare
from reports.billing.lines import Kind, Line
from reports.billing.stays import Stay
from reports.billing.tax import tax_of_lines, tax_totals
from reports.billing.terms import DayCount, LostRule, Proration, Shape, Tax, Taxed, TaxRounding
from tests.reports.billing.build import cents, contract, day, stay

pytestmark = pytest.mark.outside

EXAMPLES = {
    row["id"]: row
    for row in json.loads((Path(__file__).parent / "billing_examples.json").read_text(encoding="utf-8"))[
        "examples"
    ]
}
LATER = date(2030, 1, 1)
TAX = Tax("S1", Decimal("0.0725"))
EVERYTHING_TAXED = dict.fromkeys(Taxed, TAX)


def lines_of(*stays: Stay, through: date = LATER, cuts: list[date] | None = None) -> list[Line]:
    """Every line of the first stay, not cut at months unless told."""
    return account(stays, through, cuts or [])[stays[0].key]


def by_kind(lines: list[Line], kind: Kind) -> int:
    return sum(line.amount_cents for line in lines if line.kind == kind)


def total(lines: list[Line]) -> int:
    return sum(line.amount_cents for line in lines)


def billed(lines: list[Line], number: str = "S-1041") -> list[Standing]:
    """The lines as they stand once they are on a bill."""
    return [
        Standing(
            line=place,
            bill=1,
            number=number,
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
        for place, (line, tax) in enumerate(zip(lines, tax_of_lines(lines), strict=True))
    ]


def with_tax(lines: list[Line]) -> int:
    return total(lines) + sum(tax_of_lines(lines))


def test_every_example_has_its_test() -> None:
    tested = {name.removeprefix("test_")[:3].upper() for name in globals() if name.startswith("test_b")}
    assert tested == set(EXAMPLES) and len(EXAMPLES) == 12


@pytest.mark.parametrize(
    ("rule", "days"),
    [
        (DayCount.INSTALL, "days_default"),
        (DayCount.BOTH, "days_both_inclusive"),
        (DayCount.NEITHER, "days_neither"),
    ],
)
def test_b01_three_ways_to_count_days(rule: DayCount, days: str) -> None:
    row = EXAMPLES["B01"]
    plan, expected = row["plan"], row["expected"]
    under = contract(day_count=rule, day=plan["per_day"], set_up=plan["setup"], minimum=plan["min_charge"])
    lines = lines_of(stay(under, row["install"], row["removal"]))
    assert sum(line.days for line in lines) == expected[days]
    assert by_kind(lines, Kind.MONITORING) == expected[days] * cents(plan["per_day"])
    if rule == DayCount.INSTALL:
        assert by_kind(lines, Kind.MONITORING) == cents(expected["monitoring"])
        assert by_kind(lines, Kind.SET_UP) == cents(expected["setup"])
        assert total(lines) == cents(expected["total"])


def test_b02_same_day_and_minimum() -> None:
    row = EXAMPLES["B02"]
    plan, expected = row["plan"], row["expected"]
    under = contract(day=plan["per_day"], set_up=plan["setup"], minimum=plan["min_charge"])
    lines = lines_of(stay(under, row["install"], row["removal"]))
    assert [line.days for line in lines if line.kind == Kind.MONITORING] == [expected["days"]]
    assert by_kind(lines, Kind.MONITORING) == cents(expected["usage"])
    assert by_kind(lines, Kind.MINIMUM) == cents(expected["min_topup"])
    assert by_kind(lines, Kind.SET_UP) == cents(expected["setup"])
    assert total(lines) == cents(expected["total"])


def test_b03_included_days_partly_used() -> None:
    row = EXAMPLES["B03"]
    plan, expected = row["plan"], row["expected"]
    under = contract(
        start=day(row["contract_year"][0]),
        day=plan["overage_per_day"],
        included_days=plan["included_days_per_year"],
    )
    earlier = stay(under, "2026-06-01", date(2026, 6, 1 + row["earlier_days_used"]), key=2)
    lines = lines_of(stay(under, row["install"], row["removal"]), earlier)
    (line,) = lines
    assert (line.days, line.covered) == (expected["days"], expected["covered"])
    assert (line.quantity, line.amount_cents) == (expected["billable_days"], cents(expected["total"]))
    assert line.reason == "1-11 Sep: 11 days, 5 of your 14 included, 6 × 6.50"


def test_b04_split_at_the_anniversary() -> None:
    row = EXAMPLES["B04"]
    plan, expected = row["plan"], row["expected"]
    under = contract(
        start=day(row["anniversary"]).replace(year=2025),
        day=plan["overage_per_day"],
        included_days=plan["included_days_per_year"],
        carry_over=plan["carry_over"],
    )
    used = plan["included_days_per_year"] - row["old_year_allowance_left"]
    earlier = stay(under, "2026-02-01", date(2026, 2, 1 + used), key=2)
    old, new = lines_of(stay(under, row["install"], row["removal"]), earlier)
    assert (old.days, old.quantity) == (expected["old_days"], expected["old_billable"])
    assert (new.days, new.quantity) == (expected["new_days"], expected["new_billable"])
    assert (
        old.amount_cents + new.amount_cents == cents(expected["total"]) != cents(expected["wrong_lump_total"])
    )
    assert plan["included_days_per_year"] - new.covered == expected["new_year_allowance_left"]
    assert old.reason == "8-14 May: 7 days, 3 of your 14 included, 4 × 6.50"


@pytest.mark.parametrize(("anchor", "name"), [(Anchor.LAST_DAY, "clamp_28"), (Anchor.NEXT_DAY, "mar_1")])
def test_b05_agreement_begun_on_29_february(anchor: Anchor, name: str) -> None:
    row = EXAMPLES["B05"]
    plan, expected = row["plan"], row["expected"]
    under = contract(
        start=day(row["agreement_start"]),
        day=plan["overage_per_day"],
        included_days=plan["included_days_per_year"],
        year_anchor=anchor,
    )
    earlier = stay(under, "2024-06-01", date(2024, 6, 1 + plan["included_days_per_year"]), key=2)
    old, _new = lines = lines_of(stay(under, row["install"], row["removal"]), earlier)
    assert (old.days, old.covered) == (expected[name]["old_days"], 0)
    assert total(lines) == cents(expected[name]["total"])
    if anchor == Anchor.LAST_DAY:
        assert [under.year_start(n).isoformat() for n in range(5)] == expected["year_starts_clamp"]


@pytest.mark.parametrize(
    "cuts", [[], [date(2026, month, 1) for month in (1, 2, 3, 4)]], ids=["one bill", "by month"]
)
def test_b06_months_from_the_31st(cuts: list[date]) -> None:
    row = EXAMPLES["B06"]
    expected = row["expected"]
    under = contract(shape=Shape.MONTH, month=row["plan"]["per_month"], proration=Proration.ACTUAL)
    lines = lines_of(stay(under, row["install"], row["removal"]), cuts=cuts)
    second = day(expected["period_starts"][1])
    assert total([line for line in lines if line.start < second]) == cents(expected["p1"])
    assert total([line for line in lines if line.start >= second]) == cents(expected["p2"])
    assert total(lines) == cents(expected["total"])
    if not cuts:
        assert [line.start.isoformat() for line in lines] == expected["period_starts"][:2]


@pytest.mark.parametrize(
    ("proration", "name"),
    [
        (Proration.ACTUAL, "calendar_month"),
        (Proration.THIRTY, "thirty_day"),
        (Proration.YEAR_365, "year_365"),
    ],
)
def test_b07_three_ways_to_prorate(proration: Proration, name: str) -> None:
    row = EXAMPLES["B07"]
    under = contract(shape=Shape.MONTH, month=row["plan"]["per_month"], proration=proration)
    (line,) = lines_of(stay(under, row["install"], row["removal"]))
    assert line.amount_cents == cents(row["expected"][name])
    assert cents(row["expected"][name]) != cents(row["expected"]["year_365_rounded_rate_first"])


B08_STATEMENTS = [
    (date(2026, 6, 1), date(2026, 6, 29)),
    (date(2026, 6, 29), date(2026, 7, 27)),
    (date(2026, 7, 27), LATER),
]


def test_b08_started_weeks_with_a_cap_over_three_statements() -> None:
    row = EXAMPLES["B08"]
    plan, expected = row["plan"], row["expected"]
    weekly = {"shape": Shape.WEEK, "week": plan["per_started_week"]}
    capped = stay(contract(**weekly, cap=plan["cap_per_stay"]), row["install"], row["removal"])
    cuts = [start for start, _until in B08_STATEMENTS]
    told = [total(lines_for([capped], start, until, cuts)) for start, until in B08_STATEMENTS]
    assert told == [cents(text) for text in expected["statements"]]
    assert sum(told) == total(lines_of(capped)) == cents(expected["total"])
    (line,) = lines_of(stay(contract(**weekly), row["install"], row["removal"]))
    assert (line.days, line.quantity) == (expected["days"], expected["weeks"])
    assert line.amount_cents == cents(expected["uncapped"])


def test_b08_priority_multiplies_before_the_cap_and_scales_it_where_agreed() -> None:
    row = EXAMPLES["B08"]
    plan, expected = row["plan"], row["expected"]
    weekly = {
        "shape": Shape.WEEK,
        "week": plan["per_started_week"],
        "priority_multiplier": Decimal(plan["priority_tier_multiplier"]),
    }

    def costs(**more: object) -> int:
        return total(
            lines_of(stay(contract(**weekly, **more), row["install"], row["removal"], priority=True))
        )

    assert costs() == cents(expected["priority_uncapped"])
    assert costs(cap=plan["cap_per_stay"]) == cents(expected["total"])
    assert costs(cap=plan["cap_per_stay"], priority_scales_cap=True) == cents(expected["priority_cap_scaled"])


@pytest.mark.parametrize(
    ("rounding", "name"), [(TaxRounding.LINE, "tax_per_line"), (TaxRounding.BILL, "tax_per_statement")]
)
def test_b09_tax_by_line_and_by_bill(rounding: TaxRounding, name: str) -> None:
    row = EXAMPLES["B09"]
    under = contract(
        day=row["lines"][0],
        taxes={Taxed.MONITORING: Tax("S1", Decimal(row["plan"]["tax_rate"]))},
        tax_rounding=rounding,
    )
    lines = [
        line
        for number in range(3)
        for line in lines_of(stay(under, "2026-06-01", "2026-06-02", key=number + 1))
    ]
    assert [line.amount_cents for line in lines] == [cents(text) for text in row["lines"]]
    assert sum(tax_of_lines(lines)) == cents(row["expected"][name])
    (of_rate,) = tax_totals(lines)
    assert (of_rate.base_cents, of_rate.tax_cents) == (cents("36.30"), cents(row["expected"][name]))


@pytest.mark.parametrize("rounding", TaxRounding)
def test_b10_credit_for_dead_days(rounding: TaxRounding) -> None:
    row = EXAMPLES["B10"]
    plan, facts, expected = row["plan"], row["facts"], row["expected"]
    under = contract(day=plan["per_day"], taxes=EVERYTHING_TAXED, tax_rounding=rounding)
    stayed = ("2026-06-01", date(2026, 6, 1 + facts["stay_days"]))
    issued = lines_of(stay(under, *stayed))
    assert with_tax(issued) == cents(expected["invoice_total"])
    dead = tuple((date(2026, 6, 5 + n), "no readings") for n in range(facts["dead_days_kit_fault"]))
    now = lines_of(stay(under, *stayed, uncounted=dead))
    (credit,) = compare(now, billed(issued)).corrections
    assert not credit.whole
    assert sum(len(line.days) for line in credit.lines) == expected["credit_days"]
    assert credit.total_cents == cents(expected["credit_total"])
    assert with_tax(issued) - credit.total_cents == cents(expected["net"])


def test_b11_lost_kit_found_again() -> None:
    row = EXAMPLES["B11"]
    plan, facts, expected = row["plan"], row["facts"], row["expected"]
    under = contract(
        day="0",
        lost_rule=LostRule.DEPRECIATED,
        life_months=plan["life_months"],
        deposit=plan["deposit_held"],
        found_within_days=plan["found_within_days"],
        inspection_percent=Decimal(plan["inspection_fee_pct"]),
    )
    lost = {
        "lost_on": "2026-03-01",
        "replacement_cents": cents(plan["replacement_value"]),
        "kit_age_months": facts["kit_age_months"],
    }
    lines = lines_of(stay(under, "2026-02-01", **lost))
    assert by_kind(lines, Kind.LOST_KIT) == cents(expected["charge"])
    assert total(lines) == cents(expected["due_after_deposit"])
    on_day_41 = lines_of(stay(under, "2026-02-01", found_on="2026-04-11", **lost))
    assert by_kind(on_day_41, Kind.INSPECTION) == cents(expected["inspection_fee"])
    (credit,) = compare(on_day_41, billed(lines)).corrections
    assert credit.amount_cents == cents(expected["credit_note"])
    too_late = lines_of(stay(under, "2026-02-01", found_on="2026-05-01", **lost))
    assert compare(too_late, billed(lines)).corrections == []


def test_b11_cut_leads_at_list_price() -> None:
    facts, expected = EXAMPLES["B11"]["facts"], EXAMPLES["B11"]["expected"]
    under = contract(day="0", cut_lead=facts["sensor_price"])
    stayed = stay(
        under, "2026-02-01", "2026-03-01", cut_leads=facts["variant_damaged_leads"], cut_leads_on="2026-03-01"
    )
    assert by_kind(lines_of(stayed), Kind.CUT_LEADS) == cents(expected["variant_sensors"])


@pytest.mark.parametrize("rounding", TaxRounding)
def test_b12_removal_recorded_late_by_either_way(rounding: TaxRounding) -> None:
    row = EXAMPLES["B12"]
    expected = row["expected"]
    taxes = {Taxed.MONITORING: Tax("S1", Decimal(row["plan"]["tax_rate"]))}
    under = contract(day=row["plan"]["per_day"], taxes=taxes, tax_rounding=rounding)
    issued = lines_of(stay(under, row["install"], row["removal_recorded"]))
    assert with_tax(issued) == cents(expected["issued"])
    now = lines_of(stay(under, row["install"], row["removal_true"]))
    whole = all_back(billed(issued))
    anew = compare(now, []).new
    assert with_tax(anew) == cents(expected["reissued"])
    assert whole.total_cents - with_tax(anew) == cents(expected["refund_way_A"])
    (difference,) = compare(now, billed(issued)).corrections
    assert difference.total_cents == cents(expected["refund_way_B"])
    assert [line.reason for line in difference.lines] == ["12-17 Jun: 6 days taken back, 6 × 7.00"]
