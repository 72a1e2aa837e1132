"""Terms as people read them: the prices and rules that matter, each as a name with its value."""

from datetime import date
from typing import Any

from django.db.models import Field

from reports.billing_words import amount_text, counted
from sites.models import Agreement, Terms
from sites.models.agreements import LostRule, TaxedKind


def facts_of(terms: Terms) -> list[tuple[str, str]]:
    """The terms by name and value; a price there is none of is left out."""

    def money(cents: int) -> str:
        return amount_text(cents, terms.currency)

    found = [("Charged", terms.get_shape_display())]
    for name in ("day_cents", "week_cents", "month_cents"):
        cents = getattr(terms, name)
        if cents is not None:
            found.append((label_of(name), money(cents)))
    if terms.agreement_id:
        found.append(
            (
                "Included a contract year",
                counted(terms.included_days, "day")
                + (", unused ones carry over" if terms.carry_over else ""),
            )
        )
    for name in ("set_up_cents", "minimum_cents", "cap_cents", "cut_lead_cents", "no_access_cents"):
        cents = getattr(terms, name)
        if cents is not None:
            found.append((label_of(name), money(cents)))
    found.append(("Which days count", terms.get_day_count_display()))
    if terms.priority_multiplier != 1:
        too = ", and the most a stay costs" if terms.priority_scales_cap else ""
        found.append(("Priority", f"{terms.priority_multiplier.normalize():f} times the price{too}"))
    found.append(("A lost kit costs", lost_words(terms, money(terms.deposit_cents))))
    taxes = [
        f"{kind.label} {(rate * 100).normalize():f} %"
        for kind in TaxedKind
        if (rate := getattr(terms, f"{kind}_tax_rate"))
    ]
    rounded = terms.get_tax_rounding_display().lower()
    found.append(("Tax", f"{', '.join(taxes)}; rounded {rounded}" if taxes else "none"))
    return found


def lost_words(terms: Terms, deposit: str) -> str:
    words = terms.get_lost_rule_display()
    if terms.lost_rule == LostRule.NOTHING:
        return words
    if terms.lost_rule == LostRule.DEPRECIATED:
        words += f" over {counted(terms.life_months, 'month')}"
    if terms.deposit_cents:
        words += f", less a deposit of {deposit}"
    return f"{words}; given back if found within {counted(terms.found_within_days, 'day')}"


def term_column(name: str) -> "Field[Any, Any]":
    column = Terms._meta.get_field(name)
    assert isinstance(column, Field)  # noqa: S101 - terms have no columns of other tables here
    return column


def label_of(name: str) -> str:
    label = str(term_column(name).verbose_name)
    return label[:1].upper() + label[1:]


def dated(agreement: Agreement | None, today: date) -> dict[str, Any]:
    """The terms in force today with all others, the latest first, and the words beside each."""
    rows = list(Terms.objects.filter(agreement=agreement).order_by("-from_day"))
    now = next((row for row in rows if row.from_day <= today), None)
    history = []
    until: date | None = None
    for row in rows:
        word = "in force" if row is now else ("not begun yet" if row.from_day > today else "over")
        history.append({"row": row, "facts": facts_of(row), "until": until, "word": word})
        until = row.from_day
    return {"terms_now": next((one for one in history if one["row"] is now), None), "terms_all": history}
