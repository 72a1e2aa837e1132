"""What may be typed about customers, sites and who is who there, units and agreements."""

from collections.abc import Iterable
from datetime import date
from typing import Any
from zoneinfo import available_timezones

from django import forms

from kits.models import Shop
from kits.web import Day, RecordForm, StepForm
from sites.forms.who import WhoMixin
from sites.models import Agreement, Customer, Party, PartyRole, Site, Unit, UnitKind
from sites.models.places import check_time_zone


class CustomerForm(RecordForm):
    """A customer's contact."""

    class Meta:
        model = Customer
        fields = ["name", "phone", "email", "notes"]
        labels = {"email": "E-mail"}
        widgets = {
            "phone": forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }


# Zones of the places most shops drive to, first in the list offered; any other name is taken too.
NEAR_ZONES = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
    "America/Halifax",
    "America/Toronto",
    "America/Winnipeg",
    "America/Edmonton",
    "America/Vancouver",
    "Europe/London",
    "Australia/Sydney",
)


def offered_zones() -> Iterable[str]:
    """Every zone the machine knows, the near ones first."""
    rest = sorted(name for name in available_timezones() - set(NEAR_ZONES) if "/" in name)
    return [*NEAR_ZONES, *(name for name in rest if not name.startswith("Etc/"))]


class SiteForm(RecordForm):
    """An address, how to get in, whom to call there."""

    class Meta:
        model = Site
        fields = [
            "street",
            "city",
            "region",
            "postal_code",
            "time_zone",
            "access_notes",
            "contact_name",
            "contact_phone",
            "latitude",
            "longitude",
        ]
        widgets = {
            "time_zone": forms.TextInput(
                attrs={"list": "zones", "autocomplete": "off", "spellcheck": "false"}
            ),
            "contact_phone": forms.TextInput(attrs={"type": "tel"}),
            "access_notes": forms.Textarea(attrs={"rows": 3}),
            "latitude": forms.TextInput(attrs={"inputmode": "text"}),
            "longitude": forms.TextInput(attrs={"inputmode": "text"}),
        }
        help_texts = {"time_zone": "The days and times of this site are told in it. Like America/New_York."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        instance = kwargs.get("instance")
        if instance is None or instance.pk is None:
            kwargs["initial"] = {"time_zone": Shop.current().time_zone, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)

    def clean_time_zone(self) -> str:
        name = self.cleaned_data["time_zone"].strip()
        check_time_zone(name)
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        latitude, longitude = cleaned.get("latitude"), cleaned.get("longitude")
        if (latitude is None) != (longitude is None) and not {"latitude", "longitude"} & set(self.errors):
            self.add_error("latitude", "Give both latitude and longitude, or neither.")
        if latitude is not None and not -90 <= latitude <= 90:
            self.add_error("latitude", "Latitude runs from -90 (south) to 90 (north).")
        if longitude is not None and not -180 <= longitude <= 180:
            self.add_error("longitude", "Longitude runs from -180 (west) to 180 (east).")
        return cleaned

    def site_fields(self) -> dict[str, Any]:
        """What belongs to the site itself."""
        return {name: self.cleaned_data[name] for name in self.Meta.fields}


class NewSiteForm(WhoMixin, SiteForm):
    """A new site, and at once the customer with his parts there."""

    parts = forms.MultipleChoiceField(
        label="This customer",
        choices=PartyRole.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="From today on. Others, and other days, are added on the site's page.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("parts"):
            self.refuse_nobody("Say who that is: choose a customer or type a new one.")
        if self.has_somebody and not cleaned.get("parts"):
            self.add_error("parts", "Say what this customer is here: tick at least one.")
        return cleaned


class PartyForm(WhoMixin, StepForm):
    """Another customer's part at a site, from a day on."""

    part = forms.ChoiceField(label="What they are here", choices=PartyRole.choices)
    since = forms.DateField(label="From", widget=Day())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.refuse_nobody("Say who: choose a customer or type a new one.")
        return cleaned


class EndPartyForm(StepForm):
    """The first day on which a part no longer holds."""

    until = forms.DateField(
        label="Until", help_text="The first day on which it no longer holds.", widget=Day()
    )

    def __init__(self, *args: Any, party: Party, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.party = party
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class HouseSoldForm(WhoMixin, StepForm):
    """The day the house changed hands, and the new owner as far as known."""

    on = forms.DateField(label="Day it changed hands", widget=Day())

    field_order = ("on", "find_customer", "customer", "new_name", "new_phone", "new_email")

    def __init__(self, *args: Any, latest: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)
        self.fields["on"].widget.attrs["max"] = latest.isoformat()
        if self.is_found_by_name:
            self.fields["find_customer"].label = "New owner, if in the books"
        else:
            self.fields["customer"].label = "New owner"
            self.fields["customer"].empty_label = "not known yet, or new"  # type: ignore[attr-defined]
        self.fields["new_name"].label = "Or the new owner's name"


class UnitForm(RecordForm):
    """One air handler, furnace, heat pump or packaged unit."""

    class Meta:
        model = Unit
        fields = [
            "name",
            "kind",
            "make",
            "model",
            "serial",
            "refrigerant",
            "capacity_tons",
            "location",
            "transformer_volt_ampere",
            "float_switch",
            "notes",
        ]
        widgets = {
            "capacity_tons": forms.NumberInput(attrs={"data-unit": "tons", "step": "0.5", "min": "0"}),
            "transformer_volt_ampere": forms.NumberInput(attrs={"data-unit": "VA", "min": "1"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }
        help_texts = {
            "float_switch": "Which wire the condensate switch opens. Where the kit takes its 24 V depends on it."
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [("", "choose"), *UnitKind.choices]  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        name = self.cleaned_data["name"].strip()
        others = Unit.objects.filter(site=self.instance.site, name=name).exclude(pk=self.instance.pk)
        if others.exists():
            raise forms.ValidationError(
                "Another unit at this site has this name. Give it one the people there use."
            )
        return name


class AgreementForm(RecordForm):
    """What was agreed, with whom, for which sites, from when until when."""

    class Meta:
        model = Agreement
        fields = ["customer", "sites", "since", "until", "terms"]
        labels = {"sites": "Sites it covers", "until": "Until"}
        widgets = {
            "sites": forms.CheckboxSelectMultiple,
            "since": Day(),
            "until": Day(),
            "terms": forms.Textarea(attrs={"rows": 8}),
        }
        help_texts = {"until": "The first day it no longer holds; leave it empty while it runs on."}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until <= since:
            self.add_error("until", "The agreement must end after it begins. Give a later day.")
        return cleaned


class FindForm(forms.Form):
    """A word to find in a list."""

    q = forms.CharField(label="Find", required=False, max_length=80, widget=forms.TextInput)
