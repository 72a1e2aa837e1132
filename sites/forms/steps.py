"""What a technician may type at each step, or the office as told by phone. Flat names, one POST a step."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from kits.forms.fields import ROM_ATTEMPT, sensor_of
from kits.models import KeptAt, Kit, PowerInput, Sensor, User
from kits.rom import HEX_DIGITS, BadRom, read_rom
from kits.web import Day, LocalDateTime, StepForm
from sites.actions.stays import Count, Pull
from sites.days import say_day
from sites.forms.leads import LeadBook, LeadField, PlacingFields, ReadingFields, codes_sent
from sites.models import Deployment, HandBackPlace, Position, ServiceCall, TapPlace, WifiUse

# Above this a meter that should have read nothing has read something.
DEAD_BELOW_VOLT = 2
MOST_PORTS = 8
PARTS_THAT_SAY_YES = ["owner", "tenant", "property manager", "adult living here"]

DATES_WANTED = {
    "take_out_by": "Give the day the kit must be out of the house.",
    "back_in_shop_by": "Give the day it must be back in the shop.",
}


def people() -> QuerySet[User]:
    return User.objects.filter(is_active=True)


def port_count(**options: Any) -> forms.IntegerField:
    """A number of holes, tapped and not typed: gloves."""
    choices = [(str(count), str(count)) for count in range(MOST_PORTS + 1)]
    return forms.IntegerField(
        widget=forms.RadioSelect(choices=choices, attrs={"class": "squares"}),
        validators=[MinValueValidator(0), MaxValueValidator(MOST_PORTS)],
        **options,
    )


def volts(**options: Any) -> forms.DecimalField:
    return forms.DecimalField(
        required=False,
        max_digits=4,
        decimal_places=1,
        min_value=0,
        widget=forms.NumberInput(attrs={"data-unit": "V"}),
        **options,
    )


class KitStep(StepForm):
    """A step on one kit by one person."""

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, kit: Kit, user: User, **options: Any
    ) -> None:
        super().__init__(data, subject=kit, **options)
        self.kit, self.user = kit, user


class TruckField(KitStep):
    """A step that puts the kit on somebody's truck: one's own unless told otherwise."""

    technician = forms.ModelChoiceField(label="Whose truck", queryset=User.objects.none(), required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["technician"].queryset = people()  # type: ignore[attr-defined]
        if self.user.is_technician:
            self.fields["technician"].label = "Whose truck, if not yours"
        else:
            self.fields["technician"].required = True
            self.fields["technician"].error_messages["required"] = "Say whose truck it rides on."

    def told_later(self) -> list[forms.BoundField]:
        """A technician's own truck is understood; another one is named where other people are."""
        return [*super().told_later(), *([self["technician"]] if self.user.is_technician else [])]

    def own_fields(self) -> list[forms.BoundField]:
        later = {field.name for field in self.told_later()}
        return [field for field in super().own_fields() if field.name not in later]

    def truck(self) -> User:
        chosen = self.cleaned_data.get("technician")
        return chosen or self.cleaned_data.get("did_by") or self.user


class TakeStep(TruckField):
    """A kit goes onto a truck for no call."""


class LoadStep(TruckField):
    """A kit goes onto a truck for a call."""

    call = forms.ModelChoiceField(
        label="For which call",
        empty_label="choose a call",
        queryset=ServiceCall.objects.none(),
        to_field_name="number",
        error_messages={
            "required": "Say for which call.",
            "invalid_choice": "There is no open call with that number.",
        },
    )
    take_out_by = forms.DateField(label="Take out by", required=False, widget=Day())
    back_in_shop_by = forms.DateField(label="Back in shop by", required=False, widget=Day())

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        typed = str(self.data.get("call") or self.initial.get("call") or "")
        number = int(typed) if typed.isdigit() and len(typed) < 10 else 0
        stays = Deployment.objects.running().filter(call=OuterRef("pk"))
        suits = ~Exists(stays) | Exists(stays.filter(kit=self.kit, installed_at=None))
        calls = ServiceCall.objects.filter(Q(suits, closed_on=None) | Q(number=number))
        field = self.fields["call"]
        self.calls = calls.select_related("unit__site", "technician")
        field.queryset = self.calls  # type: ignore[attr-defined]
        field.label_from_instance = self._say_call  # type: ignore[attr-defined]
        self.planned = self.kit.deployments.running().filter(call__number=number, installed_at=None).first()
        for name, words in DATES_WANTED.items():
            self.fields[name].required = self.planned is None
            self.fields[name].error_messages["required"] = words

    def _say_call(self, call: ServiceCall) -> str:
        whose = "" if call.technician in {None, self.user} else f" ({call.technician})"
        today = timezone.localdate()
        return f"{call.number}, {say_day(call.window_from, today)}, {call.unit.site}{whose}"


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
        label="As",
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
    ports_drilled = port_count(
        label="Holes drilled",
        error_messages={"required": "Say how many holes were drilled; none is an answer too."},
    )
    volts_after = volts(
        label="Volts with the kit running",
        help_text="At the kit's plug or the thermostat, everything pulled in.",
    )
    other_loads = forms.DecimalField(
        label="All else on this transformer, at its worst",
        required=False,
        max_digits=5,
        decimal_places=1,
        min_value=0,
        widget=forms.NumberInput(attrs={"data-unit": "VA"}),
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


class PullFields(forms.Form):
    """What was seen and done when the kit came out."""

    pulled_by = forms.CharField(
        label="Who pulled it, by name",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    ports_closed = port_count(
        label="Ports closed", required=False, help_text="Leave it empty when nobody saw them."
    )
    wire_restored = forms.BooleanField(label="Wires back on the terminals they came from", required=False)
    system_ran = forms.BooleanField(label="Saw the system run afterwards", required=False)
    notes = forms.CharField(
        label="Notes",
        required=False,
        max_length=2000,
        help_text="No names, no codes.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def pull(self, *, unknown: str = "") -> Pull:
        cleaned = self.cleaned_data
        return Pull(
            pulled_by=cleaned["pulled_by"] or unknown,
            ports_closed=cleaned["ports_closed"],
            wire_restored=cleaned["wire_restored"],
            system_ran=cleaned["system_ran"],
            notes=cleaned["notes"],
        )


class RemoveStep(KitStep, PullFields, ReadingFields):
    """The kit came out and rides on somebody's truck."""

    carrier = forms.ModelChoiceField(
        label="On whose truck it rides now",
        queryset=User.objects.none(),
        error_messages={"required": "Say on whose truck the kit rides now."},
    )

    def __init__(
        self, *args: Any, stay: Deployment | None, book: LeadBook, unit: str, **options: Any
    ) -> None:
        user: User = options["user"]
        if user.is_technician:
            options["initial"] = {
                "pulled_by": user.name,
                "carrier": user.pk,
                **(options.get("initial") or {}),
            }
        super().__init__(*args, **options)
        self.fields["carrier"].queryset = people()  # type: ignore[attr-defined]
        known = set(Position.objects.values_list("code", flat=True))
        sent = [code for code in codes_sent(self.data, "raw_") if code in known]
        placed = [lead.position.code for lead in book.leads if lead.position]
        order = ["SA", "RA", "LL", "VL", "OA"]
        codes = {*placed, *sent}
        self.add_readings(
            sorted(codes, key=lambda code: (order.index(code) if code in order else len(order), code)), unit
        )
        if stay is not None and hasattr(stay, "installation"):
            drilled = stay.installation.ports_drilled
            self.fields[
                "ports_closed"
            ].help_text = f"{drilled} drilled. Leave it empty when nobody saw them closed."

    def clean(self) -> None:
        super().clean()
        self.clean_readings()


class CountFields(KitStep):
    """The kit counted in: `counted_ROM` for each lead, `counted_parts` for what is loose."""

    where = forms.ChoiceField(
        label="Where it was counted",
        choices=HandBackPlace.choices,
        initial=HandBackPlace.SHOP,
        required=False,
        widget=forms.RadioSelect,
    )
    account_wiped = forms.BooleanField(label="Account of the last house wiped", required=False)
    wifi_wiped = forms.BooleanField(label="Wi-Fi of the last house wiped", required=False)
    rest_is_missing = forms.BooleanField(label="What is not ticked is missing", required=False)
    condition_note = forms.CharField(
        label="Box, leads, magnets: how they look", required=False, max_length=200
    )
    needs_work = forms.CharField(
        label="What is to be mended",
        required=False,
        max_length=200,
        help_text="Anything here sends the kit to the bench.",
    )

    def __init__(self, *args: Any, book: LeadBook, **options: Any) -> None:
        super().__init__(*args, **options)
        self.book = book
        for lead in book.leads:
            self.fields[f"counted_{lead.sensor.rom}"] = forms.BooleanField(
                label=f"Lead {lead.label}", required=False
            )
        self.loose = [part.name for part in self.kit.parts.all() if part.returns]
        if self.loose:
            choices = [
                (part.name, str(part) if part.quantity > 1 else part.name)
                for part in self.kit.parts.all()
                if part.returns
            ]
            self.fields["counted_parts"] = forms.MultipleChoiceField(
                label="Loose parts", required=False, choices=choices, widget=forms.CheckboxSelectMultiple
            )

    def lead_fields(self) -> list[forms.BoundField]:
        return [self[f"counted_{lead.sensor.rom}"] for lead in self.book.leads]

    def clean(self) -> None:
        super().clean()
        ours = self.book.by_rom()
        for rom in codes_sent(self.data, "counted_"):
            if rom not in ours and rom != "parts":
                sensor = Sensor.objects.filter(rom=rom).first()
                self.add_error(
                    None, f"Sensor {sensor or rom} is not in {self.kit}. Put it where it belongs, then count."
                )
        wanting = [
            f"lead {lead.label}" for rom, lead in ours.items() if not self.cleaned_data.get(f"counted_{rom}")
        ]
        wanting += self.missing_parts()
        if wanting and not self.cleaned_data.get("rest_is_missing"):
            self.add_error(
                "rest_is_missing",
                f"Not ticked: {'; '.join(wanting)}. Tick what is there; if the rest is gone, tick this.",
            )

    def missing_parts(self) -> list[str]:
        return [name for name in self.loose if name not in self.cleaned_data.get("counted_parts", [])]

    def count(self) -> Count:
        cleaned = self.cleaned_data
        return Count(
            where=HandBackPlace(cleaned.get("where") or HandBackPlace.SHOP),
            sensors=frozenset(
                lead.sensor for rom, lead in self.book.by_rom().items() if cleaned[f"counted_{rom}"]
            ),
            missing_parts=tuple(self.missing_parts()),
            account_wiped=cleaned["account_wiped"],
            wifi_wiped=cleaned["wifi_wiped"],
            condition_note=cleaned["condition_note"],
            needs_work=cleaned["needs_work"],
        )


class HandBackStep(CountFields):
    """The kit is back, counted and looked at."""


class SettleStep(CountFields, PullFields):
    """A kit is here that the books have in a house: the pull, as far as anybody knows, and the count."""

    pulled_at = forms.DateTimeField(
        label="When it was pulled",
        required=False,
        widget=LocalDateTime(),
        help_text="Leave it empty when nobody knows.",
    )
    customer_asked_on = forms.DateField(
        label="The customer asked for it on",
        required=False,
        widget=Day(),
        help_text="Nothing is charged from then.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["pulled_by"].help_text = "Leave it empty when nobody knows."


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


def usual_dates(call: ServiceCall | None, stay_days: int, turnaround_days: int) -> dict[str, Any]:
    """The two days that a stay usually has, from the call's first day or today on."""
    today = timezone.localdate()
    out = max(call.window_from if call else today, today) + timedelta(days=stay_days)
    return {"take_out_by": out, "back_in_shop_by": out + timedelta(days=turnaround_days)}
