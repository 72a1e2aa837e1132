"""What may be typed about terms: the prices and rules that hold from a day on, and the example stay they are tried on."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from kits.web import Day
from reports.billing.example import PRESETS
from reports.billing.money import BadAmount, cents_of, money_text
from reports.forms_billing import NowForm
from reports.terms_told import term_column
from sites.models import Agreement, Terms
from sites.models.agreements import TaxedKind

FRONT = ("charged", "day_cents", "included_days", "set_up_cents", "cap_cents", "day_count")
PRICES = (
    *("day_cents", "week_cents", "month_cents", "set_up_cents", "cap_cents", "minimum_cents"),
    *("deposit_cents", "cut_lead_cents", "no_access_cents"),
)
MORE = (
    ("Weeks and months", ("week_cents", "month_cents", "proration", "month_anchor")),
    (
        "Included days",
        ("carry_over", "kits_share_a_day", "allowance_order", "year_anchor", "dead_below_hours"),
    ),
    ("Least and priority", ("minimum_cents", "priority_multiplier", "priority_scales_cap")),
    (
        "A kit that is lost",
        ("lost_rule", "life_months", "deposit_cents", "found_within_days", "inspection_percent"),
    ),
    ("Leads and access", ("cut_lead_cents", "no_access_cents")),
    (
        "Tax and currency",
        (
            *("tax_rounding", "currency"),
            *(f"{kind}_tax_{part}" for kind in TaxedKind.values for part in ("code", "rate")),
        ),
    ),
)
NAMES = ("from_day", "name", *FRONT, *(name for _title, names in MORE for name in names))
EXAMPLE = ("example_in", "example_out", "example_priority", "example_used")
COLUMNS = {
    "charged": "shape"
}  # fields that are called otherwise than their column: `shape` is explained for checks
LONGEST_EXAMPLE_DAYS = 1100


class PriceField(forms.CharField):
    """A price typed like 6.50; becomes whole cents, or None where there is none."""

    def __init__(self, *, label: str, help_text: str = "") -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "size": 10})
        super().__init__(label=label, help_text=help_text, required=False, max_length=20, widget=widget)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return cents_of(text)
        except BadAmount as error:
            raise ValidationError(str(error)) from None

    def prepare_value(self, value: Any) -> Any:
        return money_text(value) if isinstance(value, int) else value


class PercentField(forms.DecimalField):
    """A tax rate typed as a percentage; becomes the fraction: 7.25 is 0.0725."""

    def __init__(self, *, label: str) -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "size": 8, "data-unit": "%"})
        super().__init__(
            label=label, required=False, min_value=0, max_digits=6, decimal_places=3, widget=widget
        )

    def clean(self, value: Any) -> Decimal:
        return (super().clean(value) or Decimal(0)) / 100

    def prepare_value(self, value: Any) -> Any:
        return f"{(value * 100).normalize():f}" if isinstance(value, Decimal) else value


def column_of(name: str) -> str:
    return COLUMNS.get(name, name)


def term_field(name: str) -> forms.Field:
    """The form's field of one term, empty meaning what the model takes by default."""
    column = term_column(column_of(name))
    label = str(column.verbose_name)
    label = label[:1].upper() + label[1:]
    if name in PRICES:
        return PriceField(label=label)
    if name.endswith("_tax_rate"):
        return PercentField(label=label)
    field = column.formfield(label=label)
    assert isinstance(field, forms.Field)  # noqa: S101 - every term is typed in a field
    if not isinstance(field, forms.ChoiceField | forms.BooleanField):
        field.required = False
    return field


class TermsForm(NowForm):
    """Terms that hold from a day on, with an example stay beside them."""

    from_day = forms.DateField(label="From", widget=Day())

    def __init__(
        self,
        *args: Any,
        agreement: Agreement | None,
        today: date,
        before: Terms | None = None,
        preset: str = "",
        **kwargs: Any,
    ) -> None:
        start: dict[str, Any] = {
            "example_in": today.replace(day=1) - timedelta(days=24),
            "example_out": today.replace(day=1) - timedelta(days=4),
            "from_day": today if before else (agreement.since if agreement else today),
        }
        if before is not None:
            start |= {name: getattr(before, column_of(name)) for name in NAMES if name != "from_day"}
        start |= preset_fields(preset, agreement)
        kwargs["initial"] = {**start, **(kwargs.get("initial") or {})}
        super().__init__(*args, subject=agreement, **kwargs)
        self.agreement, self.today = agreement, today
        if agreement is None:
            for name in ("included_days", "carry_over"):
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in NAMES:
            if name in self.errors or name not in self.fields:
                continue
            column = term_column(column_of(name))
            if cleaned.get(name) in (None, "") and not getattr(column, "null", False):
                cleaned[name] = column.get_default()
        begins, ends = cleaned.get("example_in"), cleaned.get("example_out")
        if begins and ends and ends < begins:
            self.add_error("example_out", "The example kit comes out after it went in. Give a later day.")
        elif begins and ends and (ends - begins).days > LONGEST_EXAMPLE_DAYS:
            self.add_error("example_out", "An example of up to three years is computed. Give an earlier day.")
        return cleaned

    def terms(self) -> dict[str, Any]:
        """The terms that were typed, as the action takes them."""
        return {
            column_of(name): self.cleaned_data[name]
            for name in NAMES
            if name != "from_day" and name in self.cleaned_data
        }

    def front(self) -> list[forms.BoundField]:
        return [self[name] for name in FRONT if name in self.fields]

    def more(self) -> list[tuple[str, list[forms.BoundField], bool]]:
        """The other terms by their heading, and whether one of them was refused or differs from its usual value."""
        return [
            (
                title,
                [self[name] for name in names if name in self.fields],
                any(name in self.errors for name in names),
            )
            for title, names in MORE
        ]

    def more_is_wrong(self) -> bool:
        return any(wrong for _title, _fields, wrong in self.more())

    def example(self) -> list[forms.BoundField]:
        return [self[name] for name in EXAMPLE if name in self.fields]


for _name in NAMES:
    if _name != "from_day":
        TermsForm.base_fields[_name] = term_field(_name)
TermsForm.base_fields |= {
    "example_in": forms.DateField(label="Kit goes in", required=False, widget=Day()),
    "example_out": forms.DateField(label="Kit comes out", required=False, widget=Day()),
    "example_priority": forms.BooleanField(label="The call has priority", required=False),
    "example_used": forms.IntegerField(
        label="Included days used before", required=False, min_value=0, max_value=366
    ),
}


def preset_fields(key: str, agreement: Agreement | None) -> Mapping[str, Any]:
    """What a way to charge fills in, of all terms of its kind; nothing for a key nobody knows."""
    for preset in PRESETS:
        if preset.key == key:
            whole = {name: None for name in PRICES if name != "deposit_cents"}
            told = {**whole, "shape": "day", "included_days": 0, **preset.fields}
            told["charged"] = told.pop("shape")
            if agreement is None:
                told.pop("included_days")
            return told
    return {}
