"""What is typed at a unit: the kit goes in, a sensor moves, a lead is swapped."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from kits.forms.fields import ROM_ATTEMPT, TypedDecimalField, sensor_of
from kits.models import KeptAt, PowerInput, Sensor
from kits.rom import HEX_DIGITS, BadRom, read_rom
from kits.web import Day
from sites.forms.leads import LeadBook, LeadField, PlacingFields, ReadingFields
from sites.forms.steps import DATES_WANTED, KitStep, port_count, volts
from sites.models import Position, ServiceCall, TapPlace, WifiUse

# Above this a meter that should have read nothing has read something.
DEAD_BELOW_VOLT = 2
PARTS_THAT_SAY_YES = ["owner", "tenant", "property manager", "adult living here"]


class InstallStep(KitStep, PlacingFields, ReadingFields):
    """The kit went in: at the door, in the attic, at the truck."""

    call = forms.ModelChoiceField(
        queryset=ServiceCall.objects.all(),
        to_field_name="number",
        required=False,
        widget=forms.HiddenInput,
        error_messages={"invalid_choice": "There is no call with that number."},
    )
    consent_by = forms.CharField(
        label="Who agreed, by name",
        required=False,
        max_length=120,
        help_text="Signed before power-on.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    consent_part = forms.ChoiceField(
        label="Agreed as",
        required=False,
        choices=[("", "not said"), *((part, part) for part in PARTS_THAT_SAY_YES)],
    )
    wifi = forms.ChoiceField(
        label="Wi-Fi", choices=WifiUse.choices, initial=WifiUse.NONE, widget=forms.RadioSelect
    )
    take_out_by = forms.DateField(
        label="Take out by",
        widget=Day(),
        error_messages={"required": DATES_WANTED["take_out_by"]},
    )
    back_in_shop_by = forms.DateField(
        label="Back in shop by",
        widget=Day(),
        error_messages={"required": DATES_WANTED["back_in_shop_by"]},
    )
    volts_dead = volts(label="It reads, locked out")
    hookup_terminals = forms.CharField(
        label="Where it takes its 24 V",
        max_length=60,
        widget=forms.TextInput(attrs={"list": "hook-ups", "autocomplete": "off"}),
        error_messages={"required": "Say on which terminals it hangs, like R and C at the board."},
    )
    tap_place = forms.ChoiceField(
        label="Before or after the float switch",
        choices=TapPlace.choices,
        widget=forms.RadioSelect,
        error_messages={
            "required": "Say where it hangs relative to the float switch; a power gap means nothing without it."
        },
    )
    box_place = forms.CharField(
        label="Where the box hangs",
        required=False,
        max_length=80,
        help_text="As you would tell the one who comes to fetch it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    ports_drilled = port_count(
        label="Holes drilled",
        error_messages={"required": "Say how many holes were drilled; none is an answer too."},
    )
    volts_after = volts(
        label="Volts with the kit running",
        help_text="At the kit's plug or the thermostat, everything pulled in.",
    )
    other_loads = TypedDecimalField(
        label="All else on this transformer, at its worst",
        required=False,
        max_digits=5,
        decimal_places=1,
        min_value=0,
        widget=forms.NumberInput(attrs={"data-unit": "VA"}),
    )
    reference_thermometer = forms.CharField(
        label="Which thermometer",
        required=False,
        max_length=80,
        help_text="The one you hold beside the sensors.",
    )
    aux_switches = forms.CharField(
        label="Auxiliary contact switches",
        required=False,
        max_length=120,
        help_text="Nothing, unless agreed. Never in place of a safety switch, never in series with one.",
    )
    aux_when = forms.CharField(label="On what schedule or condition", required=False, max_length=120)
    aux_agreed_by = forms.CharField(label="Who agreed to it", required=False, max_length=120)
    notes = forms.CharField(
        label="Notes",
        required=False,
        max_length=2000,
        help_text="No names, no codes.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    FACTS = (
        "hookup_terminals",
        "tap_place",
        "box_place",
        "reference_thermometer",
        "volts_dead",
        "volts_after",
        "ports_drilled",
        "wifi",
        "consent_by",
        "consent_part",
        "notes",
    )
    AUX = ("aux_switches", "aux_when", "aux_agreed_by")

    def __init__(self, *args: Any, book: LeadBook, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        positions = list(Position.objects.all())
        self.add_placing(book, positions)
        self.add_readings((position.code for position in positions), unit)
        self.hangs_on_24_volt = self.kit.power_input == PowerInput.AC_24
        if not self.kit.has_aux_contact and not any(self.data.get(name) for name in self.AUX):
            for name in self.AUX:
                del self.fields[name]
        if self.user.is_technician:
            # The one who stands there knows these two; the office may not have been told them.
            self.fields["consent_by"].required = True
            self.fields["consent_by"].error_messages["required"] = "Say who agreed, before power goes on."
            if self.hangs_on_24_volt:
                self.fields["volts_dead"].required = True
                self.fields["volts_dead"].error_messages["required"] = (
                    "Type what the meter read when it was locked out: 0.0 is the answer that lets you go on."
                )

    def clean_volts_dead(self) -> Any:
        read = self.cleaned_data["volts_dead"]
        if read is not None and read >= DEAD_BELOW_VOLT:
            raise ValidationError(
                f"{read} V is not dead. Stop, find the other feed, lock it out, and type what the meter reads then."
            )
        return read

    def clean(self) -> None:
        super().clean()
        self.clean_placing()
        self.clean_readings()

    def facts(self) -> dict[str, object]:
        names = [*self.FACTS, *(name for name in self.AUX if name in self.fields)]
        facts = {name: self.cleaned_data[name] for name in names}
        if (others := self.cleaned_data.get("other_loads")) is not None:
            facts["notes"] = f"{facts['notes']}\nOther loads on this transformer: {others} VA.".strip()
        return facts


class MoveStep(KitStep):
    """A sensor sits somewhere else from now on."""

    OFF = "OFF"
    exchange = forms.BooleanField(
        label="Exchange: the sensor that sits there goes where this one came from", required=False
    )

    def __init__(self, *args: Any, book: LeadBook, **options: Any) -> None:
        super().__init__(*args, **options)
        missing = {"required": "Choose the lead."}
        self.fields["sensor"] = LeadField(
            book=book, with_place=True, label="Which lead", error_messages=missing
        )
        self.positions = {position.code: position for position in Position.objects.all()}
        choices = [*((code, code) for code in self.positions), (self.OFF, "off")]
        self.fields["position"] = forms.ChoiceField(
            label="Where it sits now",
            choices=choices,
            help_text="Off: it measures nothing any more.",
            widget=forms.RadioSelect(attrs={"class": "squares"}),
            error_messages={"required": "Choose where it sits now."},
        )
        self.order_fields(["sensor", "position", "exchange"])

    def full_clean(self) -> None:
        # Typed by hand or by a script in lower case: the same position.
        if self.data.get("position"):
            self.data = self.data.copy()  # type: ignore[attr-defined]
            self.data["position"] = self.data["position"].strip().upper()  # type: ignore[index]
        super().full_clean()

    def place(self) -> Position | None:
        return self.positions.get(self.cleaned_data["position"])


class SwapStep(KitStep):
    """One lead is replaced by a spare."""

    why = forms.CharField(
        label="Why",
        max_length=200,
        help_text="Chewed, cut, reads nonsense. No names.",
        error_messages={"required": "Say why the lead was replaced."},
    )
    cut_by = forms.CharField(label="Cut by whom", required=False, max_length=120)
    old_goes_to = forms.ChoiceField(
        label="Where the old one is now",
        choices=[choice for choice in KeptAt.choices if choice[0] != KeptAt.SHELF],
        initial=KeptAt.TRUCK,
        required=False,
    )

    def __init__(self, *args: Any, book: LeadBook, spares: list[Sensor], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["old"] = LeadField(
            book=book, with_place=True, label="Old lead", error_messages={"required": "Choose the old lead."}
        )
        choices = [
            (spare.rom, f"{' '.join(filter(None, (spare.tag, spare.tag_colour)))} …{spare.tail}")
            for spare in spares
        ]
        if choices:
            self.fields["new"] = forms.CharField(
                label="New lead, from the truck",
                required=False,
                max_length=60,
                widget=forms.RadioSelect(choices=choices),
            )
        self.fields["new_typed"] = forms.CharField(
            label="Or another one" if choices else "New lead",
            required=False,
            max_length=60,
            help_text="Its tag or the end of its ROM ID. One the shop does not have yet: the whole ROM ID.",
            widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
        )
        self.fields["new_tag"] = forms.CharField(
            label="Tag to write on it",
            required=False,
            max_length=20,
            help_text="Only for one the shop does not have yet.",
        )
        self.order_fields(["old", "new", "new_typed", "new_tag", "why", "cut_by", "old_goes_to"])

    def clean(self) -> None:
        super().clean()
        self.spare: Sensor | None = None
        self.unknown_rom = ""
        # `new` is the name a script uses too, whether spares were shown or not.
        tapped = (self.data.get("new") or "").strip()
        typed = (self.cleaned_data.get("new_typed") or "").strip()
        name = "new" if tapped and "new" in self.fields else "new_typed"
        if tapped and typed and tapped != typed:
            self.add_error("new_typed", "One lead was tapped and another typed. Leave one of the two.")
        elif not (tapped or typed):
            self.add_error(name, "Say which lead is the new one.")
        else:
            try:
                self._find_spare(tapped or typed)
            except ValidationError as refusal:
                self.add_error(name, refusal)

    def _find_spare(self, said: str) -> None:
        said = said.lstrip("….").strip()
        if sum(character in HEX_DIGITS for character in said.upper()) >= ROM_ATTEMPT:
            try:
                rom = read_rom(said)
            except BadRom as bad:
                raise ValidationError(str(bad)) from bad
            self.spare = Sensor.objects.filter(rom=rom).first()
            self.unknown_rom = "" if self.spare else rom
        else:
            self.spare = sensor_of(said)
