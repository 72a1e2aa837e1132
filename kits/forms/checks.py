"""What may be typed about a check: how it is made, with what, of which sensors; the steps that end it."""

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from kits import units
from kits.forms.fields import TypedDecimalField, kit_of, sensor_of
from kits.forms.thermometers import as_kelvin
from kits.measuring.boiling import METRE_PER_FOOT, PASCAL_PER_HECTOPASCAL, PASCAL_PER_INCH_OF_MERCURY
from kits.models import DueNowReason, Kit, Method, ReferenceThermometer, Sensor, Shape
from kits.pasted import read_number
from kits.web import StepForm

HECTOPASCAL, INCH_OF_MERCURY = "hPa", "inHg"
PASCALS = {HECTOPASCAL: PASCAL_PER_HECTOPASCAL, INCH_OF_MERCURY: PASCAL_PER_INCH_OF_MERCURY}


def plain_number(**options: Any) -> TypedDecimalField:
    attrs = {"inputmode": "decimal", "autocomplete": "off", **options.pop("attrs", {})}
    field = TypedDecimalField(
        required=False, max_digits=9, decimal_places=4, widget=forms.TextInput(attrs=attrs), **options
    )
    field.commas_part_thousands = False
    return field


class NowForm(StepForm):
    """A step at the bench that happens while it is sent: nothing to tell later."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class BeginCheckForm(NowForm):
    """A check: how, beside what, which sensors, at which temperatures."""

    method = forms.ChoiceField(label="How", choices=Method.choices, widget=forms.RadioSelect)
    reference = forms.ModelChoiceField(
        ReferenceThermometer.objects.none(), label="Beside", widget=forms.RadioSelect, empty_label=None
    )
    out_of_date_why = forms.CharField(
        label="Out of date, and used all the same: why",
        max_length=200,
        required=False,
        help_text="A manager's word. It stands on every paper made from this check.",
    )
    kits = forms.MultipleChoiceField(
        label="All sensors of", required=False, widget=forms.CheckboxSelectMultiple
    )
    sensors = forms.ModelMultipleChoiceField(
        Sensor.objects.none(), label="Single sensors", required=False, widget=forms.CheckboxSelectMultiple
    )
    others = forms.CharField(
        label="Any other",
        required=False,
        widget=forms.Textarea(
            attrs={"rows": 2, "autocomplete": "off", "spellcheck": "false", "autocapitalize": "characters"}
        ),
        help_text="Kit codes, tags, last four digits or whole ROM IDs, typed or scanned, one on each line.",
    )
    shape = forms.ChoiceField(
        label="The offset over temperature",
        choices=Shape.choices,
        initial=Shape.ONE,
        widget=forms.RadioSelect,
    )
    conditions = forms.CharField(
        label="Conditions",
        max_length=200,
        required=False,
        help_text="Where and how: room, water, how long it was stirred. No names of customers.",
    )
    supersedes = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        unit: str,
        is_manager: bool,
        references: QuerySet[ReferenceThermometer],
        kits: Sequence[Kit],
        sensors: QuerySet[Sensor],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit
        shown = "°F" if unit == "F" else "°C"
        difference = "°F" if unit == "F" else "K"
        self.fields["reference"].queryset = references  # type: ignore[attr-defined]
        self.fields["sensors"].queryset = sensors  # type: ignore[attr-defined]
        self.fields["kits"].choices = [(kit.code, kit.name) for kit in kits]  # type: ignore[attr-defined]
        if not is_manager:
            del self.fields["out_of_date_why"]
        self.fields["points"] = forms.CharField(
            label="Temperatures",
            required=False,
            widget=forms.TextInput(attrs={"data-unit": shown, "autocomplete": "off"}),
            help_text="About which, in the order you take them, with blanks between. One, if left empty. "
            f"Three or more allow a straight line: {'40 75 110' if unit == 'F' else '5 25 45'}.",
        )
        self.fields["uniformity"] = plain_number(
            label="Differences between places, ±",
            min_value=Decimal(0),
            help_text="Left empty, the usual figure of the method above.",
            attrs={"data-unit": difference},
        )
        self.fields["stability"] = plain_number(
            label="Wandering while reading, ±",
            min_value=Decimal(0),
            help_text="Left empty, the usual figure of the method above.",
            attrs={"data-unit": difference},
        )
        self.fields["pressure"] = plain_number(
            label="Air pressure of this place",
            min_value=Decimal(0),
            help_text="Station pressure, from a barometer in this room. The figure of a weather report is reduced to "
            "sea level and makes the boiling point wrong, by more than 3 °F at 1,700 ft.",
        )
        self.fields["pressure_unit"] = forms.ChoiceField(
            label="In",
            required=False,
            choices=[(INCH_OF_MERCURY, "inHg"), (HECTOPASCAL, "hPa (mbar)")],
            initial=INCH_OF_MERCURY if unit == "F" else HECTOPASCAL,
        )
        self.fields["altitude"] = plain_number(
            label="Altitude of this place",
            help_text="With a pressure it proves that pressure; alone it does for a rough check, since weather moves it.",
            attrs={"data-unit": "ft" if unit == "F" else "m"},
        )

    def clean_points(self) -> list[Decimal]:
        """The temperatures aimed at, in °C."""
        found = []
        for word in re.split(r"[\s;/]+", self.cleaned_data["points"].strip()):
            if not word:
                continue
            number = read_number(word.rstrip(","))
            if number is None:
                raise ValidationError(
                    f"“{word[:20]}” is no temperature. Write them with blanks between: 40 75 110."
                )
            celsius = units.fahrenheit_to_celsius(number) if self.unit == "F" else number
            if not -60 <= celsius <= 130:
                raise ValidationError(
                    f"{word} °{self.unit} is beyond what these sensors measure: −55 to 125 °C (−67 to 257 °F)."
                )
            found.append(celsius.quantize(Decimal("0.01"), ROUND_HALF_EVEN))
        return found

    def clean_others(self) -> list[Sensor]:
        """The sensors typed: each line a kit with all it carries, or one sensor."""
        found: list[Sensor] = []
        for line in re.split(r"[\n,;]+", self.cleaned_data["others"]):
            if typed := line.strip():
                found += sensors_of(typed)
        return found

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        chosen = {sensor.pk: sensor for sensor in wired_in(cleaned.get("kits") or [])}
        chosen |= {sensor.pk: sensor for sensor in cleaned.get("sensors") or []}
        everybody = [*chosen.values(), *(cleaned.get("others") or [])]
        if not everybody and "others" not in self.errors:
            self.add_error("others", "Choose at least one sensor: tick a kit, or type a code.")
        cleaned["everybody"] = everybody
        return cleaned

    def what_is_begun(self) -> dict[str, Any]:
        """What `begin_check` takes."""
        given = self.given()
        pressure, altitude = given["pressure"], given["altitude"]
        feet = Decimal(str(METRE_PER_FOOT)) if self.unit == "F" else Decimal(1)
        return {
            "method": Method(given["method"]),
            "reference": given["reference"],
            "sensors": given["everybody"],
            "aimed_celsius": given["points"],
            "uniformity_kelvin": self.kelvin(given["uniformity"]),
            "stability_kelvin": self.kelvin(given["stability"]),
            "shape": Shape(given["shape"]),
            "station_pressure_pascal": None
            if pressure is None
            else round(float(pressure) * PASCALS[given["pressure_unit"] or HECTOPASCAL]),
            "altitude_m": None if altitude is None else (altitude * feet).quantize(Decimal("0.1")),
            "conditions": given["conditions"],
            "out_of_date_why": given.get("out_of_date_why") or "",
        }

    def kelvin(self, typed: Decimal | None) -> Decimal | None:
        return None if typed is None else as_kelvin(typed, self.unit)


def sensors_of(typed: str) -> list[Sensor]:
    """The sensors behind one line: those of a kit, by its code or its label's address, or the one of that name."""
    try:
        kit = kit_of(typed.rstrip("/").rsplit("/", 1)[-1])
    except ValidationError as no_kit:
        try:
            found = sensor_of(typed)
        except ValidationError as no_sensor:
            raise ValidationError(
                f"{typed[:40]}: {' '.join(no_sensor.messages)}"
                if len(typed) != 6
                else f"{typed}: neither a kit nor a sensor. {' '.join(no_kit.messages)}"
            ) from no_sensor
        return [found]
    carried = wired_in([kit.code])
    if not carried:
        raise ValidationError(f"{kit} carries no sensor yet. Wire its sensors in first.")
    return carried


def wired_in(codes: Iterable[str]) -> list[Sensor]:
    """What these kits carry now, by kit and terminal."""
    return list(
        Sensor.objects.filter(wirings__kit__code__in=list(codes), wirings__wired_until=None).order_by(
            "wirings__kit__name", "wirings__terminal"
        )
    )


class AddPointForm(NowForm):
    """One more temperature."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit
        self.fields["about"] = plain_number(label="About which temperature", attrs={"data-unit": f"°{unit}"})

    def celsius(self) -> Decimal | None:
        typed: Decimal | None = self.cleaned_data["about"]
        if typed is None:
            return None
        celsius = units.fahrenheit_to_celsius(typed) if self.unit == "F" else typed
        return celsius.quantize(Decimal("0.01"), ROUND_HALF_EVEN)


class PasteForm(NowForm):
    """A block from a spreadsheet."""

    block = forms.CharField(
        label="Paste a block from a spreadsheet",
        widget=forms.Textarea(attrs={"rows": 5, "autocomplete": "off", "spellcheck": "false"}),
        help_text="A column (or a row) for each sensor, with its tag above if you have it. How it was understood is said "
        "before anything is kept.",
        max_length=60_000,
        strip=False,
    )
    understood = forms.BooleanField(required=False, widget=forms.HiddenInput)


class LiveForm(NowForm):
    """How many of the newest live readings of each sensor are taken."""

    newest = forms.IntegerField(label="How many", min_value=1, max_value=60, initial=10, required=False)


class CloseCheckForm(NowForm):
    """Nothing to type; `seen` is what the readings were when the result was looked at."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)


class ShapeForm(NowForm):
    """How the offset runs over temperature."""

    shape = forms.ChoiceField(
        label="The offset over temperature", choices=Shape.choices, widget=forms.RadioSelect
    )


class ReasonForm(NowForm):
    """Why a check is withdrawn or given up."""

    why = forms.CharField(
        label="Why",
        max_length=200,
        help_text="In a few words; it stays with the check. No names of customers.",
    )


class DueNowForm(NowForm):
    """What happened to a sensor."""

    reason = forms.ChoiceField(
        label="What happened",
        choices=[
            (DueNowReason.DROPPED, DueNowReason.DROPPED.label),
            (DueNowReason.REPAIRED, DueNowReason.REPAIRED.label),
            (DueNowReason.DOUBT, "Something else; its readings are in doubt"),
        ],
        widget=forms.RadioSelect,
    )
    note = forms.CharField(
        label="In a few words", max_length=200, required=False, help_text="No names of customers here."
    )
