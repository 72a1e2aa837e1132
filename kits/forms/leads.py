"""Forms of the pages that tell which lead is which, and of what a kit sends."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from kits.actions.leads import Found
from kits.forms.checks import NowForm
from kits.forms.readings import to_celsius
from kits.models import Sensor, TapeColour
from kits.pasted import read_number
from kits.replaying import read_file
from kits.senml import BadPack, Temperature
from kits.which_lead import TypedValues

LARGEST_FILE_BYTES = 1024 * 1024
NUMBERS = [str(number) for number in range(1, 6)]
OTHER = "other"


class PressForm(NowForm):
    """A press of a button: nothing is typed."""


class PlayForm(NowForm):
    """A file of readings, SenML or CSV."""

    file = forms.FileField(
        label="File of readings",
        help_text="SenML, or CSV with the headings time, rom, celsius. Up to fifty minutes of it.",
        widget=forms.FileInput(attrs={"accept": ".csv,.json,.senml,text/csv,application/json"}),
    )
    readings: list[Temperature]

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE_BYTES:
            raise ValidationError("The file is larger than 1 MiB. Cut out the part with the test.")
        try:
            self.readings = read_file(file.read(), now=timezone.now())
        except BadPack as bad:
            raise ValidationError(str(bad)) from bad
        return file


class TapeForm(NowForm):
    """What stands on the tape of one lead: a number first, a colour second, any other text if need be."""

    tag = forms.ChoiceField(label="Which tape?", widget=forms.RadioSelect(attrs={"class": "squares"}))
    tag_other = forms.CharField(label="What stands on it", max_length=20, required=False)
    tag_colour = forms.ChoiceField(label="Tape colour", choices=TapeColour.choices, required=False)
    confirmed = forms.BooleanField(
        label="I have looked: exactly one lead has no tape, and it is this one", required=False
    )

    def __init__(self, *args: Any, taken: set[str], by_elimination: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tag"].choices = [  # type: ignore[attr-defined]
            *((number, number) for number in NUMBERS if number not in taken),
            (OTHER, "other"),
        ]
        self.fields["tag"].error_messages["required"] = "Say which tape is on this lead."
        if not by_elimination:
            del self.fields["confirmed"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("tag") == OTHER and not (cleaned.get("tag_other") or "").strip():
            self.add_error("tag_other", "Type what stands on the tape.")
        return cleaned

    @property
    def tape(self) -> str:
        """What stands on the tape, whichever way it was said."""
        tag: str = self.cleaned_data["tag"]
        return (self.cleaned_data["tag_other"].strip() if tag == OTHER else tag) or ""


class TypedLeadsForm(forms.Form):
    """What every lead read before and after one was held, in the shop's unit."""

    MOMENTS = (("before", "before"), ("after", "while held"), ("later", "two minutes after"))

    def __init__(self, *args: Any, sensors: Sequence[Sensor], unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sensors, self.unit = sensors, unit
        self.fields["with"] = forms.ChoiceField(
            label="What was it held with?",
            choices=[("hand", "a bare hand"), ("cold", "a cold can or a wet cloth")],
            widget=forms.RadioSelect,
            initial="hand",
            required=False,
        )
        for sensor in sensors:
            for moment, words in self.MOMENTS:
                self.fields[f"{moment}-{sensor.rom}"] = forms.CharField(
                    label=f"{sensor}, {words}", required=False, max_length=12
                )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in list(cleaned):
            if name == "with":
                continue
            text = cleaned[name].strip()
            number = read_number(text) if text else None
            if text and number is None:
                self.add_error(name, f"“{text}” is no number. Type it like 23.5.")
            cleaned[name] = None if number is None else float(to_celsius(number, self.unit))
        return cleaned

    def rows(self) -> list[TypedValues]:
        """The values as the rule takes them, in °C."""
        return [
            TypedValues(
                sensor.rom, *(self.cleaned_data[f"{moment}-{sensor.rom}"] for moment, _ in self.MOMENTS)
            )
            for sensor in self.sensors
        ]

    def lines(self) -> list[tuple[Sensor, list[forms.BoundField]]]:
        """Each sensor with its boxes, for the page; those without a name first."""
        ordered = sorted(self.sensors, key=lambda one: bool(one.tag))
        return [(one, [self[f"{moment}-{one.rom}"] for moment, _ in self.MOMENTS]) for one in ordered]


class FoundForm(NowForm):
    """The sensors found on the wire: tape, colour and terminal of each, and which of them are left out."""

    def __init__(
        self, *args: Any, roms: Sequence[str], free: Sequence[int], taken: set[str], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.roms = roms
        numbers = [(number, number) for number in NUMBERS if number not in taken]
        for rom in roms:
            tail = f"…{rom[-4:]}"
            self.fields[f"tag-{rom}"] = forms.ChoiceField(
                label=f"Tape of {tail}",
                choices=[*numbers, ("", "no tape")],
                widget=forms.RadioSelect(attrs={"class": "squares"}),
                required=False,
            )
            self.fields[f"colour-{rom}"] = forms.ChoiceField(
                label=f"Tape colour of {tail}", choices=TapeColour.choices, required=False
            )
            self.fields[f"terminal-{rom}"] = forms.TypedChoiceField(
                label=f"Terminal of {tail}",
                choices=[("", "the first free one"), *((number, str(number)) for number in free)],
                coerce=int,
                empty_value=None,
                required=False,
            )
            self.fields[f"out-{rom}"] = forms.BooleanField(label=f"Leave {tail} out", required=False)

    def found(self) -> list[Found]:
        """What `add_found_sensors` takes."""
        cleaned = self.cleaned_data
        return [
            Found(rom, cleaned[f"tag-{rom}"], cleaned[f"colour-{rom}"], cleaned[f"terminal-{rom}"])
            for rom in self.roms
            if not cleaned[f"out-{rom}"]
        ]
