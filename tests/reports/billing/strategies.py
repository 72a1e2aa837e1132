"""Random agreements and stays for hypothesis, small enough to collide often."""

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from reports.billing.calendar import Anchor
from reports.billing.stays import Cover, Payer, Stay
from reports.billing.terms import (
    AllowanceOrder,
    Contract,
    DayCount,
    Proration,
    Shape,
    Tax,
    Taxed,
    TaxRounding,
    Terms,
)

FIRST = date(2023, 12, 1)  # so that 29 February 2024 lies in the middle
SPAN = 240
days = st.integers(0, SPAN).map(lambda n: FIRST + timedelta(days=n))
prices = st.integers(0, 12_000)


@st.composite
def terms(draw: st.DrawFn, key: int = 1) -> Terms:
    cap = draw(st.none() | st.integers(0, 30_000))
    return Terms(
        key=key,
        shape=draw(st.sampled_from(Shape)),
        day_cents=draw(st.integers(0, 1_500)),
        week_cents=draw(prices),
        month_cents=draw(prices),
        proration=draw(st.sampled_from(Proration)),
        month_anchor=draw(st.sampled_from(Anchor)),
        included_days=draw(st.sampled_from([0, 0, 3, 14, 40])),
        kits_share_a_day=draw(st.booleans()),
        allowance_order=draw(st.sampled_from(AllowanceOrder)),
        carry_over=draw(st.booleans()),
        set_up_cents=draw(st.none() | prices),
        minimum_cents=draw(st.none() | st.integers(0, 9_000 if cap is None else min(cap, 9_000))),
        cap_cents=cap,
        priority_multiplier=draw(st.sampled_from([Decimal(1), Decimal("1.2"), Decimal("1.155")])),
        priority_scales_cap=draw(st.booleans()),
        taxes={Taxed.MONITORING: Tax("S1", Decimal("0.0725")), Taxed.SET_UP: Tax("S2", Decimal("0.0475"))},
        tax_rounding=draw(st.sampled_from(TaxRounding)),
    )


@st.composite
def contracts(draw: st.DrawFn, changes: int = 2) -> Contract:
    start = draw(st.sampled_from([date(2023, 9, 15), date(2020, 2, 29), date(2023, 12, 31)]))
    anchor, rule = draw(st.sampled_from(Anchor)), draw(st.sampled_from(DayCount))
    since = [
        start,
        *sorted(draw(st.lists(days.filter(lambda day: day > start), max_size=changes, unique=True))),
    ]
    history = []
    for number, day in enumerate(since, start=1):
        one = draw(terms(key=number))
        history.append((day, Terms(**{**vars(one), "year_anchor": anchor, "day_count": rule})))
    return Contract(key=1, start=start, history=tuple(history))


@st.composite
def stays(draw: st.DrawFn, under: Contract, key: int = 1, *, payers: int = 1) -> Stay:
    installed = draw(days)

    def later(chance: st.SearchStrategy[int]) -> date | None:
        after = draw(st.none() | chance)
        return None if after is None else installed + timedelta(days=after)

    marked = draw(st.sets(st.integers(0, 60), max_size=4))
    change = draw(days)
    paying = (
        (Payer(date.min, change, 7), Payer(change, None, 8)) if payers > 1 else (Payer(date.min, None, 7),)
    )
    return Stay(
        key=key,
        order=key,
        installed_on=installed,
        removed_on=later(st.integers(0, 100)),
        asked_on=later(st.integers(0, 40)) if draw(st.integers(0, 4)) == 0 else None,
        agreed_end=later(st.integers(0, 60)) if draw(st.integers(0, 2)) == 0 else None,
        sold_on=later(st.integers(0, 60)) if draw(st.integers(0, 5)) == 0 else None,
        priority=draw(st.booleans()),
        uncounted=tuple((installed + timedelta(days=n), "no readings") for n in sorted(marked)),
        covers=(Cover(date.min, None, under),),
        payers=paying,
    )


@st.composite
def shops(draw: st.DrawFn, most: int = 4, *, payers: int = 1) -> list[Stay]:
    """Some stays under one agreement."""
    under = draw(contracts())
    return [draw(stays(under, key, payers=payers)) for key in range(1, draw(st.integers(1, most)) + 1)]


def cuts(most: int = 6) -> st.SearchStrategy[list[date]]:
    """Days at which closes may fall, in order."""
    return st.lists(days, max_size=most, unique=True).map(sorted)


today = st.integers(0, SPAN + 120).map(lambda n: FIRST + timedelta(days=n))
