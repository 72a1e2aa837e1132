"""What may be typed about sensors: a new one, where it is wired or kept, its offset."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from kits.forms.fields import DifferenceField, KitCodeField, LengthField, SensorField
from kits.models import KeptAt, Kit, Role, Sensor, TapeColour, User
from kits.rom import BadRom, read_rom_with_note
from kits.web import Day, LocalDateTime, RecordForm, StepForm

KEEPABLE = [choice for choice in KeptAt.choices if choice[0] not in {KeptAt.MISSING, KeptAt.SCRAPPED}]


class RomField(forms.CharField):
    """A ROM ID in any usual writing, as sixteen digits; `note` is what the typist should know about the reading."""

    note = ""

    def clean(self, value: Any) -> str:
        typed = super().clean(value)
        try:
            reading = read_rom_with_note(typed)
        except BadRom as bad:
            raise ValidationError(str(bad), code="bad_rom") from bad
        self.note = reading.note
        return reading.rom


class SensorFields(forms.ModelForm):
    """The fields of a sensor that people may change."""

    lead_length_m = LengthField(label="Lead length")
    tag_colour = forms.ChoiceField(label="Tape colour", choices=TapeColour.choices, required=False)
    bought_on = forms.DateField(label="Bought on", required=False, widget=Day())

    class Meta:
        model = Sensor
        fields = ["tag", "tag_colour", "lead_length_m", "housing", "bought_on", "notes"]
        help_texts = {"tag": "What is written on the tape of the lead: a number from 1 to 5, if you can."}
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}


def technician_field() -> forms.ModelChoiceField:
    people = User.objects.filter(is_active=True, role=Role.TECHNICIAN)
    return forms.ModelChoiceField(people, label="Whose truck", required=False)


def check_truck(form: forms.Form, place: str | None, technician: User | None) -> None:
    """A truck is somebody's; a shelf or a bench is nobody's."""
    if place == KeptAt.TRUCK and technician is None:
        form.add_error("technician", "Say whose truck.")


class NewSensorForm(RecordForm, SensorFields):
    """A sensor that the shop did not have, wired into a kit at once or kept as a spare."""

    rom = RomField(
        label="ROM ID",
        max_length=80,
        help_text="The sensor's sixteen digits, as its controller lists them; with or without separators, either way round.",
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "spellcheck": "false", "autocapitalize": "characters"}
        ),
    )
    kit = KitCodeField(label="Wire it into kit", required=False, help_text="Leave it empty for a spare.")
    terminal = forms.TypedChoiceField(
        label="Terminal",
        choices=[("", "the first free one"), *[(number, str(number)) for number in range(1, 6)]],
        coerce=int,
        empty_value=None,
        required=False,
    )
    place = forms.ChoiceField(label="A spare is kept", choices=KEEPABLE, initial=KeptAt.BENCH, required=False)
    technician = technician_field()

    class Meta(SensorFields.Meta):
        pass

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("kit"):
            check_truck(self, cleaned.get("place"), cleaned.get("technician"))
        return cleaned

    def action_fields(self) -> dict[str, Any]:
        """What `add_sensor` takes."""
        given = self.given()
        fields = {name: given[name] for name in SensorFields.Meta.fields}
        place = KeptAt(given["place"] or KeptAt.BENCH)
        return {
            "rom": given["rom"],
            "fields": fields,
            "kit": given["kit"],
            "terminal": given["terminal"],
            "place": place,
            "technician": given["technician"] if place == KeptAt.TRUCK else None,
        }

    @property
    def note(self) -> str:
        """What the typist should know about the ROM ID as it was read."""
        return self.fields["rom"].note  # type: ignore[attr-defined]


class ChangeSensorForm(RecordForm, SensorFields):
    """What is known about a sensor, its ROM ID apart: that is the sensor."""

    class Meta(SensorFields.Meta):
        pass


class KeepSpareForm(StepForm):
    """Where a spare is kept from now on."""

    place = forms.ChoiceField(label="Kept", choices=KeptAt.choices)
    technician = technician_field()
    why = forms.CharField(label="Why", max_length=200, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        check_truck(self, cleaned.get("place"), cleaned.get("technician"))
        if cleaned.get("place") == KeptAt.SCRAPPED and not cleaned.get("why"):
            self.add_error("why", "Say why it is scrapped.")
        if cleaned.get("place") != KeptAt.TRUCK:
            cleaned["technician"] = None
        return cleaned


class OffsetForm(StepForm):
    """An offset found by hand: what is ADDED to the raw reading, from an instant on."""

    in_force_from = forms.DateTimeField(
        label="In force from",
        widget=LocalDateTime(),
        help_text="When it was compared. Readings from then on are corrected with it, earlier ones are not.",
    )
    how = forms.CharField(
        label="How it was found",
        max_length=200,
        required=False,
        help_text="Crushed ice, or beside which thermometer. No names of customers here.",
    )
    field_order = ["offset_kelvin", "uncertainty_kelvin", "in_force_from", "how"]

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "in_force_from": timezone.localtime().replace(second=0, microsecond=0),
            **(kwargs.get("initial") or {}),
        }
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name)
        largest = Decimal(36 if unit == "F" else 20)
        self.fields["offset_kelvin"] = DifferenceField(
            unit=unit,
            label="Offset (added)",
            min_value=-largest,
            max_value=largest,
            help_text=f"What is added to the reading to put it right. {sign_example(unit)}",
        )
        self.fields["uncertainty_kelvin"] = DifferenceField(
            unit=unit,
            label="Give or take (95 %)",
            required=False,
            min_value=Decimal(0),
            help_text="How far off the offset may be, if you can say.",
        )
        self.order_fields(self.field_order)


def sign_example(unit: str) -> str:
    """The sign of an offset, told by an ice bath.

    >>> sign_example("C")
    'In crushed ice (0.0 °C) it shows 0.31 °C: it reads 0.31 too high, so type −0.31.'
    """
    if unit == "F":
        return "In crushed ice (32.0 °F) it shows 32.5 °F: it reads 0.5 too high, so type −0.5."
    return "In crushed ice (0.0 °C) it shows 0.31 °C: it reads 0.31 too high, so type −0.31."


def terminal_choices(kit: Kit) -> list[tuple[int | str, str]]:
    """Each terminal of a kit with what it carries."""
    carries = {
        wiring.terminal: str(wiring.sensor)
        for wiring in kit.wirings.filter(wired_until=None).select_related("sensor")
    }
    terminals = range(1, kit.sensor_limit + 1)
    named = [
        (number, f"{number}, carries {carries[number]}" if number in carries else f"{number}, free")
        for number in terminals
    ]
    return [("", "the first free one"), *named]


class WireInForm(StepForm):
    """A spare goes onto a terminal of a kit that is known."""

    sensor = SensorField()
    terminal = forms.TypedChoiceField(label="Terminal", coerce=int, empty_value=None, required=False)

    field_order = ["sensor", "terminal"]

    def __init__(self, *args: Any, kit: Kit, **kwargs: Any) -> None:
        super().__init__(*args, subject=kit, **kwargs)
        self.fields["terminal"].choices = terminal_choices(kit)  # type: ignore[attr-defined]


class WireIntoForm(StepForm):
    """A sensor that is known goes onto a terminal of a kit."""

    kit = KitCodeField()
    terminal = forms.TypedChoiceField(
        label="Terminal",
        choices=[("", "the first free one"), *[(number, str(number)) for number in range(1, 6)]],
        coerce=int,
        empty_value=None,
        required=False,
    )

    field_order = ["kit", "terminal"]


class WireOutForm(StepForm):
    """A sensor comes out of its kit and is kept somewhere."""

    place = forms.ChoiceField(label="It is kept", choices=KeptAt.choices, initial=KeptAt.BENCH)
    technician = technician_field()
    why = forms.CharField(label="Why it comes out", max_length=200, required=False)

    field_order = ["place", "technician", "why"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        check_truck(self, cleaned.get("place"), cleaned.get("technician"))
        if cleaned.get("place") != KeptAt.TRUCK:
            cleaned["technician"] = None
        return cleaned
