"""What is typed when a kit comes out of a house and home: the pull, the count, both at once when nobody wrote it down."""

from typing import Any

from django import forms

from kits.models import Sensor, User
from kits.web import Day, LocalDateTime
from sites.actions.coming_home import wifi_was_used
from sites.actions.stays import Count, Pull
from sites.forms.leads import LeadBook, ReadingFields, codes_sent
from sites.forms.steps import KitStep, people, port_count
from sites.models import Deployment, HandBackPlace, Position


class SeenField(forms.TypedChoiceField):
    """Yes, no, or nobody saw it (None): what was not seen is neither done nor left undone."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            choices=[("yes", "yes"), ("no", "no"), ("", "not seen")],
            coerce=lambda answer: answer == "yes",
            empty_value=None,
            required=False,
            initial="",
            widget=forms.RadioSelect(attrs={"class": "squares"}),
            **options,
        )

    def to_python(self, value: Any) -> str:
        """A script may say "on" or "true" as a tick does."""
        return {"on": "yes", "true": "yes", "false": "no"}.get(
            str(value or "").lower(), super().to_python(value)
        )


class PullFields(forms.Form):
    """What was seen and done when the kit came out."""

    pulled_by = forms.CharField(
        label="Who pulled it, by name",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    ports_closed = port_count(
        label="Ports closed", required=False, unsaid="not seen", help_text="Only what was seen closed."
    )
    wire_restored = SeenField(label="Wires back on the terminals they came from")
    system_ran = SeenField(label="The system ran afterwards")
    notes = forms.CharField(
        label="Notes",
        required=False,
        max_length=2000,
        help_text="No names, no codes.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def pull(self, *, unknown: str = "") -> Pull:
        """What was seen; with `unknown`, that stands for a name nobody knows."""
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
            self.fields["ports_closed"].help_text = f"{drilled} drilled. Only what was seen closed."

    def clean(self) -> None:
        super().clean()
        self.clean_readings()
        # Whoever is named as having done the step pulled the kit, unless another name stands there.
        teller = self.cleaned_data.get("did_by")
        told = self.cleaned_data.get("did_by_name") or (teller.name if teller else "")
        self.cleaned_data["pulled_by"] = self.cleaned_data.get("pulled_by") or told


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
        if book.stay is not None and not wifi_was_used(book.stay):
            del self.fields["wifi_wiped"]
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
            wifi_wiped=cleaned.get("wifi_wiped", False),
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
