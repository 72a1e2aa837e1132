"""Terms of an agreement, and the shop's price list: never changed, only followed by new ones from a later day."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db.models import Max

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.records import apply
from kits.models import Shop
from kits.promises import Refused
from reports.actions.billing import check_manager
from reports.billing.money import BadAmount, cents_of
from reports.billing_books import plain_contract, plain_terms
from reports.models import BillLine
from sites.models import Agreement, Terms


def priced(fields: Mapping[str, Any]) -> dict[str, Any]:
    """The fields with prices typed as text made whole cents; refused where one is negative or finer than a cent."""
    told, wrong = {}, {}
    for name, value in fields.items():
        if name.endswith("_cents") and isinstance(value, str):
            try:
                told[name] = cents_of(value) if value.strip() else None
            except BadAmount as error:
                wrong[name] = [str(error)]
        else:
            told[name] = value
    if wrong:
        raise Refused(wrong)
    return told


@action
def agree_terms(act: Act, *, agreement: Agreement | None, from_day: date, fields: Mapping[str, Any]) -> Done:
    """New terms hold from a day on, for an agreement or (None) as the shop's price list. What was billed keeps its price."""
    check_manager(act)
    if agreement is not None:
        agreement = hold(agreement, based_on=act.based_on, act=act)
    row = Terms(agreement=agreement, from_day=from_day)
    given = priced({"currency": Shop.current().currency, **fields})
    for name, value in given.items():
        setattr(row, name, value)
    check_terms(row)
    apply(row, given)
    whose = f"Terms of {agreement}" if agreement else "The price list"
    about: list[Terms | Agreement] = [agreement, row] if agreement else [row]
    return record(act, "terms agreed", f"{whose} from {from_day:%d %b %Y} on", about=about)


def check_terms(row: Terms) -> None:
    """Refuse terms that contradict themselves, their agreement, earlier terms, or what was billed already."""
    errors: dict[str, list[str]] = {}
    try:
        plain = plain_terms(row)
    except ValueError as error:
        raise Refused(f"These terms say something we do not know: {error}.", code="unknown_term") from error
    for name, sentence in plain.wrong().items():
        errors.setdefault(name if hasattr(row, name) else "__all__", []).append(sentence)
    if row.agreement is None and (row.included_days or row.carry_over):
        errors["included_days"] = [
            "The price list includes no days: they belong to an agreement's contract year."
        ]
    from_errors = when_wrong(row)
    if from_errors:
        errors["from_day"] = from_errors
    others = list(Terms.objects.filter(agreement=row.agreement).order_by("from_day"))
    if not from_errors:
        found = [one for one in plain_contract(row.agreement, [*others, row]).wrong() if one]
        if found:
            errors.setdefault("currency", []).extend(found)
        if others and anchors(others[0]) != anchors(row):
            errors["year_anchor"] = ["Contract years keep beginning as they were first agreed."]
    if errors:
        raise Refused(errors)


def anchors(row: Terms) -> str:
    return str(row.year_anchor)


def when_wrong(row: Terms) -> list[str]:
    """What is wrong with the day from which the terms would hold."""
    same = Terms.objects.filter(agreement=row.agreement)
    agreement = row.agreement
    if agreement is not None:
        if row.from_day < agreement.since:
            return [f"The agreement begins on {agreement.since:%d %b %Y}. Give that day or a later one."]
        if agreement.until is not None and row.from_day >= agreement.until:
            return [f"The agreement ended on {agreement.until:%d %b %Y}. Terms after that are never used."]
        if row.from_day > agreement.since and not same.exists():
            return [f"The first terms hold from the day the agreement begins, {agreement.since:%d %b %Y}."]
    if same.filter(from_day=row.from_day).exists():
        return [f"There are terms from {row.from_day:%d %b %Y} already. Give a later day."]
    latest = same.aggregate(day=Max("from_day"))["day"]
    if latest is not None and row.from_day < latest:
        return [f"The last terms hold from {latest:%d %b %Y}. New ones begin after that."]
    billed = BillLine.objects.filter(terms__in=same, days__gt=0, day_claims__released_by=None).aggregate(
        last=Max("until")
    )["last"]
    if billed is not None and row.from_day < billed:
        return [
            f"Days up to {billed:%d %b %Y} are billed already and keep their price. Give that day or a later one."
        ]
    return []
