"""What may be typed about kits: their facts and parts, where they go, what was counted on the shelf."""

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from kits.actions.kits import LARGEST_BATCH
from kits.forms.fields import DollarsField, TemperatureField, TypedDecimalField, kit_of
from kits.models import Kit, Role, User
from kits.web import Day, LocalDateTime, RecordForm, StepForm
from sites.models import Position

# -- A kit and its parts -------------------------------------------------------------------------


class PartForm(forms.Form):
    """One row of a parts list."""

    name = forms.CharField(label="Part", max_length=80, widget=forms.TextInput(attrs={"size": 20}))
    quantity = forms.IntegerField(
        label="Number", min_value=1, max_value=999, initial=1, widget=forms.NumberInput(attrs={"size": 4})
    )
    unit_cost = DollarsField(label="Cost of one", required=False, widget=forms.NumberInput(attrs={"size": 7}))
    returns = forms.BooleanField(label="Comes home", required=False)

    def as_part(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        return {
            "name": cleaned["name"],
            "quantity": cleaned["quantity"],
            "unit_cost_cents": cleaned["unit_cost"] or 0,
            "returns": cleaned["returns"],
        }


PartFormSet = forms.formset_factory(PartForm, extra=4, can_delete=True, max_num=60)


class WithParts(StepForm):
    """A form with a parts list beneath it, in one POST."""

    def __init__(
        self, data: Mapping[str, Any] | None = None, *args: Any, kit: Kit | None = None, **kwargs: Any
    ) -> None:
        super().__init__(data, *args, **kwargs)
        initial = [
            {
                "name": part.name,
                "quantity": part.quantity,
                "unit_cost": part.unit_cost_cents,
                "returns": part.returns,
            }
            for part in (kit.parts.all() if kit else ())
        ]
        # Sent without a parts list, as a phone or a script may: none was typed.
        typed = data if data is not None and "part-TOTAL_FORMS" in data else None
        self.parts = PartFormSet(typed, prefix="part", initial=initial)

    def is_valid(self) -> bool:
        fits = super().is_valid()
        if not self.parts.is_bound or self.parts.is_valid():
            return fits
        if not self.has_error(None, "parts"):
            self.add_error(
                None, ValidationError("Something in the parts list cannot be right.", code="parts")
            )
        return False

    def given_parts(self) -> list[dict[str, Any]]:
        """The parts that were typed and not left out."""
        if not self.parts.is_bound:
            return []
        rows = [row for row in self.parts.forms if row.has_changed() or row.initial.get("name")]
        return [row.as_part() for row in rows if row.cleaned_data and not row.cleaned_data.get("DELETE")]


class PartsForm(WithParts):
    """The parts list of a kit that is there."""

    TOLD_LATER = ()

    def __init__(self, *args: Any, kit: Kit, **kwargs: Any) -> None:
        super().__init__(*args, kit=kit, subject=kit, **kwargs)
        for name in StepForm.TOLD_LATER:
            self.fields.pop(name)


class KitForm(RecordForm):
    """The facts of a kit."""

    built_on = forms.DateField(label="Built on", widget=Day())
    power_draw_watt = TypedDecimalField(
        label="Power draw",
        required=False,
        min_value=0,
        max_digits=6,
        decimal_places=2,
        widget=forms.NumberInput(attrs={"data-unit": "W"}),
    )
    power_draw_volt_ampere = TypedDecimalField(
        label="Apparent power",
        required=False,
        min_value=0,
        max_digits=6,
        decimal_places=2,
        widget=forms.NumberInput(attrs={"data-unit": "VA"}),
        help_text="What it takes from a transformer: never less than the watts.",
    )
    sensor_limit = forms.TypedChoiceField(
        label="Terminals for sensors", coerce=int, initial=5, choices=[(n, str(n)) for n in range(1, 6)]
    )
    replacement_value = DollarsField(
        label="Replacement value", required=False, help_text="What a lost kit costs the shop."
    )

    class Meta:
        model = Kit
        fields = [
            "name",
            "built_on",
            "controller",
            "firmware",
            "power_input",
            "power_draw_watt",
            "power_draw_volt_ampere",
            "sensor_limit",
            "has_aux_contact",
            "aux_contact_rating",
            "adapter_isolated",
            "has_battery",
            "notes",
        ]
        help_texts = {
            "aux_contact_rating": "Volts and amperes it may switch. Never in place of, or in series with, a safety switch.",
            "adapter_isolated": "Whether its output is separated from the 24 V circuit.",
        }
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        kit = kwargs.get("instance")
        facts: dict[str, Any] = {"built_on": timezone.localdate()}
        if kit is not None:
            facts = {"replacement_value": kit.replacement_value_cents, "rated_to": kit.rated_to_celsius}
        kwargs["initial"] = {**facts, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        self.fields["rated_to"] = TemperatureField(
            unit=unit,
            label="Box rated to",
            required=False,
            help_text="The hottest air the box and its adapter may stand in. Attics pass 130 °F (54 °C).",
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        watt, volt_ampere = cleaned.get("power_draw_watt"), cleaned.get("power_draw_volt_ampere")
        if watt is not None and volt_ampere is not None and volt_ampere < watt:
            self.add_error("power_draw_volt_ampere", "Apparent power is never less than the power in watts.")
        self.check_limit(cleaned.get("sensor_limit"))
        return cleaned

    def check_limit(self, limit: int | None) -> None:
        """Terminals that carry a sensor cannot be done away with."""
        if not self.instance.pk or limit is None:
            return
        used = (
            self.instance.wirings.filter(wired_until=None, terminal__gt=limit)
            .select_related("sensor")
            .first()
        )
        if used:
            self.add_error(
                "sensor_limit", f"Terminal {used.terminal} carries sensor {used.sensor}. Take it out first."
            )

    def facts(self) -> dict[str, Any]:
        """The kit's fields as the actions take them."""
        given = self.given()
        facts = {name: given[name] for name in self.Meta.fields}
        facts["rated_to_celsius"] = given["rated_to"]
        facts["replacement_value_cents"] = given["replacement_value"] or 0
        return facts


class NewKitForm(KitForm, WithParts):
    """One kit or a batch alike, with its parts list."""

    count = forms.IntegerField(
        label="How many",
        min_value=1,
        max_value=LARGEST_BATCH,
        initial=1,
        help_text="More than one are numbered behind the name, and each gets a code of its own.",
    )

    class Meta(KitForm.Meta):
        pass


# -- Where it goes -------------------------------------------------------------------------------


class BenchForm(StepForm):
    """To the bench, to be checked or mended."""

    needs_work = forms.BooleanField(label="It needs work", required=False)
    why = forms.CharField(
        label="What is wrong",
        max_length=200,
        required=False,
        help_text="Only where it needs work. Nothing about customers here.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("needs_work") and not (cleaned.get("why") or "").strip():
            self.add_error("why", "Say what is wrong with the kit, so that the bench knows what to mend.")
        return cleaned


class TruckForm(StepForm):
    """Onto whose truck."""

    technician = forms.ModelChoiceField(
        User.objects.filter(is_active=True, role__in=[Role.TECHNICIAN, Role.MANAGER]), label="Whose truck"
    )


class WhyForm(StepForm):
    """A step that must say why."""

    why = forms.CharField(label="Why", max_length=200)

    def __init__(self, *args: Any, label: str = "Why", help_text: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["why"].label = label
        self.fields["why"].help_text = help_text


class AsOfForm(forms.Form):
    """The instant one looks back at, in the shop's zone."""

    at = forms.DateTimeField(label="Day and time", widget=LocalDateTime())

    def clean_at(self) -> datetime:
        at: datetime = self.cleaned_data["at"]
        if at > timezone.now():
            raise ValidationError("That time is still to come. This page itself shows how things stand now.")
        return at


# -- The shelf -----------------------------------------------------------------------------------

BETWEEN_CODES = re.compile(r"[\n\r,;]+")


def pieces_of(typed: str) -> list[str]:
    """What was typed or scanned, piece by piece. A line of several codes is taken apart; "7M4 Q2P" is one code."""
    pieces: list[str] = []
    for line in BETWEEN_CODES.split(typed):
        words = line.split()
        if len(words) > 1 and any(len(word) >= 6 for word in words):
            pieces += words
        elif words:
            pieces.append(line.strip())
    return pieces


class ShelfCountForm(StepForm):
    """Which kits are on the shelf: scanned or typed one after the other, or ticked."""

    typed = forms.CharField(
        label="Scan or type the codes you see",
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 6, "autocapitalize": "characters", "spellcheck": "false"}),
        help_text="One a line. A scanner that types for you does it by itself.",
    )
    ticked = forms.MultipleChoiceField(
        label="Or tick those that are here", required=False, widget=forms.CheckboxSelectMultiple
    )
    is_empty = forms.BooleanField(label="The shelf is empty", required=False)

    def __init__(self, *args: Any, on_shelf: list[Kit], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by_code = {kit.code: kit for kit in on_shelf}
        self.fields["ticked"].choices = [(kit.code, str(kit)) for kit in on_shelf]  # type: ignore[attr-defined]
        if not on_shelf:
            self.fields.pop("ticked")

    def clean_typed(self) -> list[Kit]:
        seen, wrong = [], []
        for piece in pieces_of(self.cleaned_data["typed"]):
            try:
                seen.append(kit_of(piece))
            except ValidationError as unknown:
                wrong.append(ValidationError(f"“{piece[:40]}”: {unknown.messages[0]}"))
        if wrong:
            raise ValidationError(wrong)
        return seen

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        kits = [*cleaned["typed"], *(self.by_code[code] for code in cleaned.get("ticked", ()))]
        if kits and cleaned["is_empty"]:
            raise ValidationError(
                "You name kits that are here, and say that the shelf is empty. Take one of the two away."
            )
        if not kits and not cleaned["is_empty"]:
            raise ValidationError("Scan, type or tick what you see, or tick “The shelf is empty”.")
        cleaned["seen"] = list(dict.fromkeys(kits))
        return cleaned


# -- Positions -----------------------------------------------------------------------------------


class PositionForm(RecordForm):
    """A plain place of the shop's own."""

    class Meta:
        model = Position
        fields = ["code", "name"]
        help_texts = {
            "code": "Two letters, at most four. It stands in a square beside the readings.",
            "name": "Return plenum, attic air, condensate pan.",
        }

    def clean_code(self) -> str:
        code = self.cleaned_data["code"].upper().replace(" ", "")
        if not code.isalnum() or not code.isascii():
            raise ValidationError("Use plain letters and digits only.")
        taken = Position.objects.filter(code=code).first()
        if taken:
            raise ValidationError(
                f"{taken.code} stands for {taken.name.lower()} already. Choose another code."
            )
        return code
