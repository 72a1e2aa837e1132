"""What every step on a kit asks, and the two that put it on a truck. Flat names, one POST a step."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Case, Exists, OuterRef, Q, QuerySet, When
from django.utils import timezone

from kits.forms.fields import TypedDecimalField
from kits.models import Kit, User
from kits.web import Day, StepForm
from sites.days import say_day
from sites.models import Deployment, ServiceCall

MOST_PORTS = 8
DATES_WANTED = {
    "take_out_by": "Give the day the kit must be out of the house.",
    "back_in_shop_by": "Give the day it must be back in the shop.",
}


def people() -> QuerySet[User]:
    return User.objects.filter(is_active=True)


def port_count(*, unsaid: str = "", **options: Any) -> forms.IntegerField:
    """A number of holes, tapped and not typed: gloves. With `unsaid` a slip of the thumb can be taken back."""
    choices = [(str(count), str(count)) for count in range(MOST_PORTS + 1)]
    choices = [("", unsaid), *choices] if unsaid else choices
    return forms.IntegerField(
        widget=forms.RadioSelect(choices=choices, attrs={"class": "squares"}),
        validators=[MinValueValidator(0), MaxValueValidator(MOST_PORTS)],
        **options,
    )


def volts(**options: Any) -> TypedDecimalField:
    return TypedDecimalField(
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
        # One's own calls stand first.
        own = Case(When(technician=self.user, then=0), default=1)
        self.calls = calls.select_related("unit__site", "technician").order_by(own, "window_from", "number")
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


def usual_dates(call: ServiceCall | None, stay_days: int, turnaround_days: int) -> dict[str, Any]:
    """The two days that a stay usually has, from the call's first day or today on."""
    today = timezone.localdate()
    out = max(call.window_from if call else today, today) + timedelta(days=stay_days)
    return {"take_out_by": out, "back_in_shop_by": out + timedelta(days=turnaround_days)}
