"""What may be marked about a stay because it changes what is charged: days, cut leads, offers of access."""

from datetime import date, timedelta
from typing import Any

from django import forms

from kits.models import User
from kits.web import Day
from reports.forms_billing import NowForm
from reports.models import Cause, MarkKind, SentBy

LONGEST_DAYS = 366


class DaysForm(NowForm):
    """One day or several of a stay: readings are missing, waived, or they count after all."""

    kind = forms.ChoiceField(label="What about them", choices=MarkKind.choices)
    first = forms.DateField(label="First day", widget=Day())
    last = forms.DateField(label="Last day, if there are more", required=False, widget=Day())
    hours = forms.DecimalField(
        label="Hours of readings on each day", required=False, min_value=0, max_value=24, decimal_places=1
    )
    cause = forms.ChoiceField(
        label="Why readings are missing", required=False, choices=[("", "choose"), *Cause.choices]
    )
    why = forms.CharField(label="How you know", max_length=200)

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not user.is_manager:
            kinds = [choice for choice in MarkKind.choices if choice[0] != MarkKind.WAIVED]
            self.fields["kind"].choices = kinds  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", "The last day comes before the first. Give a later day.")
        elif first and last and (last - first).days >= LONGEST_DAYS:
            self.add_error("last", "Mark at most a year of days at once.")
        return cleaned

    def days(self) -> list[date]:
        first = self.cleaned_data["first"]
        last = self.cleaned_data["last"] or first
        return [first + timedelta(days=number) for number in range((last - first).days + 1)]


class CutLeadsForm(NowForm):
    """How many leads came back cut, by whom."""

    leads = forms.IntegerField(label="Leads cut", min_value=0, max_value=5)
    seen_on = forms.DateField(label="Seen on", widget=Day())
    why = forms.CharField(label="Cut by whom, and how it was seen", max_length=200)


class OfferForm(NowForm):
    """A written offer to come and take the kit out."""

    offered_on = forms.DateField(label="Offered on", widget=Day())
    for_day = forms.DateField(label="To come on", widget=Day())
    how = forms.ChoiceField(label="In writing, how", choices=SentBy.choices)


class NoAccessForm(NowForm):
    """The manager says yes to the charge."""

    why = forms.CharField(label="Why the charge is right", max_length=200)
