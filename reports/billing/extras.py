"""What a stay costs beside its days: set-up, the rest to the minimum, a lost kit, cut leads, no access."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal

from reports.billing import reasons
from reports.billing.allowance import Segment
from reports.billing.lines import TAXED_AS, Kind, Line
from reports.billing.money import half_up
from reports.billing.stays import Stay
from reports.billing.terms import NO_TAX, Contract, LostRule, Terms

ONE_DAY = timedelta(days=1)
CellOf = Callable[[date], date]


def extras(
    stay: Stay, last: Segment | None, charged_days: int, due_cents: int, through: date, cell_of: CellOf
) -> Iterator[Line]:
    """Every charge of a stay that is not for a day, as far as it happened before `through`. `last`: its last days."""
    yield from set_up(stay, through, cell_of)
    if last is None:
        return
    yield from minimum(stay, last, charged_days, due_cents, through, cell_of)
    yield from lost_kit(stay, last, through, cell_of)
    if stay.cut_leads and (when := stay.cut_leads_on) and when < through:
        terms, contract = terms_at(stay, when, last)
        if terms.cut_lead_cents:
            amount = stay.cut_leads * terms.cut_lead_cents
            reason = reasons.of_cut_leads(terms, stay.cut_leads)
            yield charge(
                stay,
                contract,
                terms,
                Kind.CUT_LEADS,
                when,
                amount,
                cell_of,
                reason,
                stay.cut_leads,
                terms.cut_lead_cents,
            )
    if (when := stay.no_access_on) and when < through:
        terms, contract = terms_at(stay, when, last)
        if terms.no_access_cents:
            reason = reasons.of_no_access(when, terms)
            yield charge(stay, contract, terms, Kind.NO_ACCESS, when, terms.no_access_cents, cell_of, reason)


def set_up(stay: Stay, through: date, cell_of: CellOf) -> Iterator[Line]:
    """The fee for putting a kit in, at the price of the day it went in."""
    day = stay.installed_on
    if stay.sold_on is not None and stay.sold_on <= day:
        return
    contract = stay.contract_on(day)
    terms = contract.terms_on(day) if contract else None
    if contract and terms and terms.set_up_cents and day < through:
        reason = reasons.of_set_up(day, terms)
        yield charge(stay, contract, terms, Kind.SET_UP, day, terms.set_up_cents, cell_of, reason)


def minimum(
    stay: Stay, last: Segment, charged_days: int, due_cents: int, through: date, cell_of: CellOf
) -> Iterator[Line]:
    """The rest to the minimum, once the stay is over. A stay whose every day was included or not counted owes none."""
    _start, end = stay.span
    lowest = last.terms.minimum_cents
    if end is None or end > through or not lowest or not charged_days or due_cents >= lowest:
        return
    day = last.until - ONE_DAY
    reason = reasons.of_minimum(lowest, due_cents)
    yield charge(stay, last.contract, last.terms, Kind.MINIMUM, day, lowest - due_cents, cell_of, reason)


def lost_kit(stay: Stay, last: Segment, through: date, cell_of: CellOf) -> Iterator[Line]:
    """What a kit that was given up costs; once it is found in time, only its inspection."""
    when = stay.lost_on
    if when is None or when >= through:
        return
    terms, contract = terms_at(stay, when, last)
    price = lost_kit_cents(terms, stay.replacement_cents, stay.kit_age_months)
    if not price:
        return
    found = stay.found_on
    # Whether it was found is known or not, whatever month is looked at: the charge is of the month it was lost in.
    if found is not None and (found - when).days <= terms.found_within_days:
        fee = half_up(Decimal(price) * terms.inspection_percent / 100)
        if fee:
            reason = reasons.of_inspection(found, terms, price)
            yield charge(stay, contract, terms, Kind.INSPECTION, when, fee, cell_of, reason)
    else:
        reason = reasons.of_lost_kit(when, terms, stay.replacement_cents, stay.kit_age_months)
        yield charge(stay, contract, terms, Kind.LOST_KIT, when, price, cell_of, reason)
    if held := min(terms.deposit_cents, price):
        yield charge(stay, contract, terms, Kind.DEPOSIT, when, -held, cell_of, reasons.of_deposit(held))


def lost_kit_cents(terms: Terms, replacement_cents: int, age_months: int) -> int:
    """The charge for a kit of that age: its replacement value, or the part of its life it had left.

    >>> lost_kit_cents(Terms(lost_rule=LostRule.DEPRECIATED, life_months=36), 38500, 14)
    23528
    """
    if terms.lost_rule == LostRule.NOTHING:
        return 0
    if terms.lost_rule == LostRule.LIST:
        return replacement_cents
    left = max(0, terms.life_months - age_months)
    return half_up(Decimal(replacement_cents * left) / terms.life_months)


def terms_at(stay: Stay, day: date, last: Segment) -> tuple[Terms, Contract]:
    """The terms in force on a day, or the last ones that applied to the stay."""
    contract = stay.contract_on(day)
    terms = contract.terms_on(day) if contract else None
    return (terms, contract) if terms and contract else (last.terms, last.contract)


def charge(
    stay: Stay,
    contract: Contract,
    terms: Terms,
    kind: Kind,
    day: date,
    amount_cents: int,
    cell_of: CellOf,
    reason: str,
    quantity: int = 1,
    unit_cents: int | None = None,
) -> Line:
    payer = stay.payer_on(day)
    if payer is None and stay.payers:
        # A kit given up after the payer left: whoever paid last still answers for it.
        payer = max(stay.payers, key=lambda one: one.since).key
    return Line(
        stay=stay.key,
        contract=contract.key,
        terms=terms.key,
        payer=payer,
        cell=cell_of(day),
        kind=kind,
        start=day,
        until=day + ONE_DAY,
        quantity=quantity,
        unit_cents=amount_cents if unit_cents is None else unit_cents,
        amount_cents=amount_cents,
        tax=terms.tax_on(TAXED_AS[kind]) if kind in TAXED_AS else NO_TAX,
        tax_rounding=terms.tax_rounding,
        currency=terms.currency,
        reason=reason,
    )
