"""What may be typed about calls: booking, changing, closing, finding, and choosing a kit."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from kits.forms.fields import LengthField
from kits.models import Kit, Role, User
from kits.web import Day, LocalDateTime, RecordForm, StepForm
from sites.days import day_of, say_day
from sites.free import shop_zone
from sites.models import Agreement, Position, Reason, ServiceCall, Unit


class PositionSquares(forms.ModelMultipleChoiceField):
    """Positions as outlined squares to tap."""

    widget = forms.CheckboxSelectMultiple(attrs={"class": "squares"})

    def label_from_instance(self, position: Position) -> str:
        return position.code


def technicians() -> Any:
    return User.objects.filter(is_active=True, role=Role.TECHNICIAN)


class CallForm(RecordForm):
    """A service call; its number comes by itself."""

    unit = forms.ModelChoiceField(
        queryset=Unit.objects.select_related("site"),
        widget=forms.HiddenInput,
        error_messages={"required": "Choose the unit first."},
    )
    lead_length_m = LengthField(label="Longest lead needed", places=1)
    wanted_positions = PositionSquares(queryset=Position.objects.all(), required=False)

    class Meta:
        model = ServiceCall
        fields = [
            "unit",
            "reason",
            "told_us",
            "window_from",
            "window_until",
            "technician",
            "wanted_positions",
            "lead_length_m",
            "agreement",
            "priority",
            "notes",
        ]
        labels = {
            "window_from": "First day",
            "window_until": "Last day",
        }
        widgets = {
            "reason": forms.RadioSelect,
            "window_from": Day(),
            "window_until": Day(),
            "told_us": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }
        help_texts = {"told_us": "In their words; it stands on the report.", "window_until": ""}

    def __init__(self, *args: Any, unit: Unit | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = technicians()
        if self.instance.technician_id:
            people = people | User.objects.filter(pk=self.instance.technician_id)
        self.fields["technician"].queryset = people  # type: ignore[attr-defined]
        self.fields["reason"].choices = Reason.choices  # type: ignore[attr-defined]
        self.fields["technician"].empty_label = "nobody yet"  # type: ignore[attr-defined]
        positions = list(Position.objects.all())
        wanted = self.fields["wanted_positions"]
        wanted.label = "Positions to watch"
        named = ", ".join(f"{row.code} {row.name.lower()}" for row in positions)
        wanted.help_text = f"{named}. With none ticked the call asks for no kit."
        agreements = Agreement.objects.select_related("customer")
        self.fields["agreement"].queryset = (  # type: ignore[attr-defined]
            agreements.filter(sites=unit.site) if unit else agreements.none()
        )
        self.fields["agreement"].label_from_instance = agreement_words  # type: ignore[attr-defined]
        self.fields["agreement"].empty_label = "none"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        start, end = cleaned.get("window_from"), cleaned.get("window_until")
        today = day_of(timezone.now(), shop_zone())
        if start and end and end < start:
            self.add_error(
                "window_until", f"The window must end on or after the day it begins, {say_day(start, today)}."
            )
        elif end and end < today and "window_until" in self.changed_data:
            self.add_error("window_until", f"{say_day(end, today)} is past. Give a day from today on.")
        elif start and end and cleaned.get("unit"):
            self.refuse_second_call(cleaned["unit"], start, end)
        if start and self.instance.pk:
            self.refuse_moved_under_a_kit(start)
        return cleaned

    def refuse_second_call(self, unit: Unit, start: date, end: date) -> None:
        """Two open calls for one unit with windows that meet are one visit booked twice."""
        others = unit.calls.filter(closed_on=None, window_from__lte=end, window_until__gte=start)
        other = others.exclude(pk=self.instance.pk).first()
        if other:
            span = f"from {say_day(other.window_from)} to {say_day(other.window_until)}"
            self.add_error(
                "window_from",
                f"Call {other.number} is booked for this unit {span}. Change or close that one, or give other days.",
            )

    def refuse_moved_under_a_kit(self, start: date) -> None:
        """A kit is promised from the first day on; that day cannot move away under it."""
        if "window_from" not in self.changed_data:
            return
        stay = self.instance.deployments.running().filter(installed_at=None).select_related("kit").first()
        if stay:
            self.add_error(
                "window_from",
                f"{stay.kit} is promised from the first day on. Call that stay off, move the window, "
                "then choose a kit again.",
            )


def agreement_words(agreement: Agreement) -> str:
    until = f" until {say_day(agreement.until)}" if agreement.until else ""
    return f"{agreement.customer}, from {say_day(agreement.since)}{until}"


class CloseCallForm(StepForm):
    """Why a call is done, or will not be done."""

    why = forms.CharField(
        label="What came of it", max_length=200, help_text="In a sentence, without names.", strip=True
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class CallFilter(forms.Form):
    """Which calls to show."""

    STATES = (
        ("open", "Open"),
        ("needs_kit", "Needs a kit"),
        ("closed", "Closed"),
        ("all", "All"),
    )

    q = forms.CharField(label="Number, place, name", required=False, max_length=80)
    state = forms.ChoiceField(label="State", choices=STATES, required=False)
    technician = forms.ModelChoiceField(
        label="Technician",
        queryset=User.objects.filter(calls__isnull=False).distinct(),
        required=False,
        empty_label="anybody",
    )
    reason = forms.ChoiceField(label="Reason", choices=[("", "any"), *Reason.choices], required=False)
    window_from = forms.DateField(label="Window from", required=False, widget=Day())
    window_until = forms.DateField(label="Window to", required=False, widget=Day())

    AT_HAND = ("q", "state")

    def at_hand(self) -> list[forms.BoundField]:
        """What is asked most, in sight even on a phone."""
        return [self[name] for name in self.AT_HAND]

    def folded(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.AT_HAND]

    def narrows_further(self) -> bool:
        """Whether one of the folded ones is filled in."""
        return any(self.data.get(field.name) for field in self.folded())


class StayDatesForm(forms.Form):
    """The two days a stay ends on: out of the house, and back in the shop."""

    take_out_by = forms.DateField(
        label="Take out by",
        help_text="The day it leaves the house.",
        widget=Day(),
        error_messages={"required": "Give the day the kit must be out of the house."},
    )
    back_in_shop_by = forms.DateField(
        label="Back in shop by",
        help_text="From that day on another call may have it.",
        widget=Day(),
        error_messages={"required": "Give the day it must be back in the shop."},
    )

    def __init__(self, *args: Any, start: date, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.start, self.today = start, today

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        out, back = cleaned.get("take_out_by"), cleaned.get("back_in_shop_by")
        if back and back < self.today:
            self.add_error(
                "back_in_shop_by", f"{say_day(back, self.today)} is past. Give a day from today on."
            )
        if out and out < self.start:
            self.add_error(
                "take_out_by", f"That is before the stay begins on {say_day(self.start, self.today)}."
            )
        elif out and back and back < out:
            self.add_error("back_in_shop_by", "The kit cannot be back in the shop before it is taken out.")
        elif back and back <= self.start:
            self.add_error(
                "back_in_shop_by",
                f"Give a day after {say_day(self.start, self.today)}, the day the stay begins.",
            )
        return cleaned


class KitByCode(forms.ModelChoiceField):
    """A kit, given by its code."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Kit.objects.all(), to_field_name="code", **kwargs)
        self.error_messages["invalid_choice"] = "There is no kit with that code. Choose one from the list."

    def to_python(self, value: Any) -> Kit | None:
        return super().to_python(value.strip().upper() if isinstance(value, str) else value)


class PlanForm(StepForm):
    """Promise one kit to the call, with both days."""

    kit = KitByCode(widget=forms.HiddenInput)
    take_out_by = forms.DateField(widget=forms.HiddenInput, required=False)
    back_in_shop_by = forms.DateField(widget=forms.HiddenInput, required=False)
    # Only a manager is asked: sensors of the kit are not in date, and it goes all the same.
    not_in_date_why = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class ExtendForm(StepForm):
    """A later end that the customer agreed to."""

    agreed_by = forms.CharField(label="Who agreed, by name", max_length=120)
    agreed_on = forms.DateField(label="On", widget=Day())
    how = forms.ChoiceField(
        label="How", choices=[("phone", "By phone"), ("email", "By e-mail"), ("signed", "Signed")]
    )
    take_out_by = forms.DateField(label="Take out by", widget=Day())
    back_in_shop_by = forms.DateField(label="Back in shop by", widget=Day())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class WhyForm(StepForm):
    """A step that needs its reason told."""

    why = forms.CharField(
        label="Why",
        max_length=200,
        help_text="It is kept for good: no customers' names here.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    field_order = ("why",)


class CustomerAskedForm(StepForm):
    """The day on which the customer asked for the kit to go."""

    asked_on = forms.DateField(label="They asked on", widget=Day())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class CorrectTimeForm(StepForm):
    """One recorded time of a stay, as it really was."""

    stage = forms.ChoiceField(label="Which time", widget=forms.RadioSelect)
    to = forms.DateTimeField(label="As it really was", widget=LocalDateTime())
    why = forms.CharField(
        label="Why it is corrected",
        max_length=200,
        help_text="Old and new time stay visible with this reason. No customers' names.",
    )

    def __init__(self, *args: Any, recorded: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)
        self.fields["stage"].choices = recorded  # type: ignore[attr-defined]

    def clean_why(self) -> str:
        why = self.cleaned_data["why"].strip()
        if not why:
            raise ValidationError("Say why the time is corrected.")
        return why
