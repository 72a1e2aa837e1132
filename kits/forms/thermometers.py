"""What may be typed about a reference thermometer and its certificates, in the unit the paper is printed in."""

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from django import forms

from kits import units
from kits.forms.fields import TypedDecimalField
from kits.measuring.budget import normal_factor
from kits.measuring.trouble import CannotCompute
from kits.models import TemperatureUnit
from kits.models.thermometers import ReferenceKind, ReferenceThermometer
from kits.pasted import BadBlock, read_number, read_pairs
from kits.web import Day, RecordForm, StepForm

FINE = Decimal("0.0001")
ROWS_OF_A_TABLE = 5
PLAIN_NUMBER = {"autocomplete": "off"}
ADDED, ERRORS = "added", "errors"


def unit_field(unit: str) -> forms.ChoiceField:
    """In which unit the figures below are; the papers of an instrument may not be in the shop's."""
    return forms.ChoiceField(
        label="The figures below are in",
        choices=TemperatureUnit.choices,
        initial=unit,
        widget=forms.RadioSelect,
    )


def as_kelvin(figure: Decimal, unit: str) -> Decimal:
    """A difference as it is kept: in K, to a ten-thousandth."""
    kelvin = units.fahrenheit_difference_to_kelvin(figure) if unit == "F" else figure
    return kelvin.quantize(FINE, ROUND_HALF_EVEN)


def figure(label: str, *, required: bool = True, help_text: str = "", least: str = "0") -> TypedDecimalField:
    field = TypedDecimalField(
        label=label,
        required=required,
        min_value=Decimal(least),
        max_digits=8,
        decimal_places=4,
        help_text=help_text,
        widget=forms.TextInput(attrs={**PLAIN_NUMBER, "inputmode": "decimal"}),
    )
    field.commas_part_thousands = False
    return field


class ReferenceForm(RecordForm):
    """A reference thermometer, or ice or boiling water for a shop without one."""

    kind = forms.ChoiceField(label="What it is", choices=ReferenceKind.choices, widget=forms.RadioSelect)
    resolution_kelvin = figure(
        "Smallest step it shows",
        required=False,
        help_text="0.1 if its display shows one digit after the point. Of a thermometer only.",
    )
    allowance_kelvin = figure(
        "Allow ±",
        required=False,
        help_text="Of ice and boiling water only: how far it may lie from the true temperature.",
    )
    out_of_use_since = forms.DateField(
        label="Out of use since",
        required=False,
        widget=Day(),
        help_text="It stays in the books, and is not offered for checks any more.",
    )

    class Meta:
        model = ReferenceThermometer
        fields = [
            "kind",
            "name",
            "serial",
            "resolution_kelvin",
            "allowance_kelvin",
            "notes",
            "out_of_use_since",
        ]
        labels = {"serial": "Serial number"}
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    field_order = ["kind", "name", "serial", "unit", "resolution_kelvin", "allowance_kelvin", "notes"]

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["unit"] = unit_field(unit)
        self.order_fields(self.field_order)
        if not self.instance.pk:
            del self.fields["out_of_use_since"]
        for name in ("resolution_kelvin", "allowance_kelvin"):
            kept = getattr(self.instance, name)
            if self.instance.pk and kept is not None:
                self.initial[name] = in_unit(kept, unit)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        is_thermometer = cleaned.get("kind") == ReferenceKind.THERMOMETER
        wanted, other = ("resolution_kelvin", "allowance_kelvin")[:: 1 if is_thermometer else -1]
        typed, unit = cleaned.get(wanted), cleaned.get("unit")
        if wanted not in self.errors and not typed:
            says = (
                "Say the smallest step it shows."
                if is_thermometer
                else "Say how far it may lie off, such as 0.1."
            )
            self.add_error(wanted, says)
        elif typed and unit:
            cleaned[wanted] = as_kelvin(typed, unit)
        cleaned[other] = None if is_thermometer else Decimal(0)
        return cleaned

    def record_fields(self) -> dict[str, Any]:
        given = self.given()
        given.pop("unit")
        return given


def in_unit(kelvin: Decimal, unit: str) -> str:
    """A difference as it is typed in this unit, without noughts at its end.

    >>> in_unit(Decimal("0.0556"), "F"), in_unit(Decimal("0.0100"), "C")
    ('0.1', '0.01')
    """
    shown = units.kelvin_to_fahrenheit_difference(kelvin) if unit == "F" else kelvin
    text = f"{shown:.3f}"
    return text.rstrip("0").rstrip(".")


class CertificateForm(StepForm):
    """What a certificate says, typed as it is printed."""

    number = forms.CharField(label="Certificate number", max_length=60)
    issuer = forms.CharField(label="Issued by", max_length=120)
    issued_on = forms.DateField(label="Issued on", widget=Day())
    due_on = forms.DateField(
        label="Good until",
        widget=Day(),
        help_text="The day from which the shop wants a new one; usually a year after the issue.",
    )
    expanded_uncertainty_kelvin = figure(
        "Uncertainty U",
        help_text="The largest of the table, as printed: the ± behind the results.",
        least="0.0001",
    )
    coverage_factor = TypedDecimalField(
        label="Its k",
        required=False,
        min_value=Decimal(1),
        max_value=Decimal(4),
        decimal_places=2,
        help_text="Usually 2. Or give the confidence instead.",
        widget=forms.TextInput(attrs={**PLAIN_NUMBER, "inputmode": "decimal"}),
    )
    confidence_percent = TypedDecimalField(
        label="Its confidence",
        required=False,
        decimal_places=2,
        help_text="Only if the paper names no k: 95 or 99, for instance.",
        widget=forms.TextInput(attrs={**PLAIN_NUMBER, "inputmode": "decimal", "data-unit": "%"}),
    )
    drift_allowance_kelvin = figure(
        "Drift since, allow ±",
        required=False,
        help_text="How far it may have moved since it was certified, if the maker or its last two papers say.",
    )
    table_gives = forms.ChoiceField(
        label="Its table gives",
        choices=[
            (ADDED, "What to add to the reading (correction)"),
            (ERRORS, "The error: reading minus true"),
        ],
        initial=ADDED,
        widget=forms.RadioSelect,
    )
    pasted = forms.CharField(
        label="Or paste the table",
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "autocomplete": "off", "spellcheck": "false"}),
        help_text="Two columns, straight from a spreadsheet: the reading, and the correction or error there.",
    )

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name)
        self.fields["unit"] = unit_field(unit)

    def rows(self) -> list[tuple[str, str]]:
        """The rows of the table as they were typed, with room for more."""
        typed: list[tuple[str, str]] = []
        if self.is_bound:
            at, add = (
                self.data.getlist(name) if hasattr(self.data, "getlist") else [] for name in ("at", "add")
            )
            typed = [
                (one, other) for one, other in zip(at, add, strict=False) if one.strip() or other.strip()
            ]
        room = max(ROWS_OF_A_TABLE - len(typed), 1)
        return typed + [("", "")] * room

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("issued_on") and cleaned.get("due_on") and cleaned["due_on"] <= cleaned["issued_on"]:
            self.add_error("due_on", "A certificate is good until a day after it was issued.")
        unit = cleaned.get("unit") or "C"
        self.settle_factor(cleaned)
        for name in ("expanded_uncertainty_kelvin", "drift_allowance_kelvin"):
            if cleaned.get(name) is not None:
                cleaned[name] = as_kelvin(cleaned[name], unit)
        cleaned["corrections"] = self.table(cleaned, unit)
        return cleaned

    def settle_factor(self, cleaned: dict[str, Any]) -> None:
        """One of k and the confidence is needed; a confidence becomes the k it stands for."""
        k, percent = cleaned.get("coverage_factor"), cleaned.get("confidence_percent")
        if "coverage_factor" in self.errors or "confidence_percent" in self.errors:
            return
        if (k is None) == (percent is None):
            self.add_error(
                "coverage_factor",
                "Give the k or the confidence, one of the two. It stands beside the uncertainty.",
            )
        elif percent is not None:
            try:
                factor = normal_factor(float(percent))
            except CannotCompute as cannot:
                self.add_error("confidence_percent", str(cannot))
            else:
                cleaned["coverage_factor"] = Decimal(str(factor)).quantize(Decimal("0.01"))

    def table(self, cleaned: dict[str, Any], unit: str) -> list[list[float]]:
        """The corrections as they are kept: pairs in °C and K, by rising temperature."""
        rows = [row for row in self.rows() if row != ("", "")]
        pasted = (cleaned.get("pasted") or "").strip()
        if rows and pasted:
            self.add_error("pasted", "The table is typed above and pasted here. Leave one of the two empty.")
            return []
        try:
            pairs = read_pairs(pasted) if pasted else [self.pair(*row) for row in rows]
        except BadBlock as bad:
            self.add_error("pasted" if pasted else None, str(bad))
            return []
        if len({at for at, _ in pairs}) < len(pairs):
            self.add_error(
                "pasted" if pasted else None, "The table names one temperature twice. Leave one line of it."
            )
            return []
        sign = -1 if cleaned.get("table_gives") == ERRORS else 1
        kept = [
            [
                float(units.fahrenheit_to_celsius(at) if unit == "F" else at),
                float(sign * as_kelvin(add, unit)),
            ]
            for at, add in sorted(pairs)
        ]
        return [[round(at, 4), round(add, 4) + 0.0] for at, add in kept]

    @staticmethod
    def pair(at: str, add: str) -> tuple[Decimal, Decimal]:
        numbers = read_number(at), read_number(add)
        if numbers[0] is None or numbers[1] is None:
            raise BadBlock(f"A line of the table reads “{at}”, “{add}”: it needs two numbers.")
        return numbers[0], numbers[1]

    def record_fields(self) -> dict[str, Any]:
        """The fields of the certificate's row."""
        given = self.given()
        names = (
            "number",
            "issuer",
            "issued_on",
            "due_on",
            "corrections",
            "expanded_uncertainty_kelvin",
            "coverage_factor",
        )
        drift = given["drift_allowance_kelvin"] or Decimal(0)
        return {**{name: given[name] for name in names}, "drift_allowance_kelvin": drift}
