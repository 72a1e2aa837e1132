"""What may be typed about the shop and its people."""

from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from kits.codes import label_text, qr_version
from kits.models import Role, Shop, TemperatureUnit, User
from kits.pictures import BadPicture, logo_png
from kits.web import RecordForm, StepForm

COMMON_ZONES = [
    "America/New_York",
    "America/Detroit",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
]


def zone_choices() -> list[tuple[str, Any]]:
    """Zones of the shop's part of the world first, then all that exist."""
    others = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/"))
    return [
        ("Often used", [(zone, zone.replace("_", " ")) for zone in COMMON_ZONES]),
        ("All", [(zone, zone.replace("_", " ")) for zone in others if zone not in COMMON_ZONES]),
    ]


class ZoneField(forms.ChoiceField):
    """A time zone by its name."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=zone_choices, **kwargs)

    def valid_value(self, value: Any) -> bool:
        try:
            ZoneInfo(str(value))
        except (KeyError, ValueError, OSError):
            return False
        return True


def whole_number(phone: str) -> str:
    """A phone number a finder can really dial: seven digits at least."""
    if sum(character.isdigit() for character in phone) < 7:
        raise ValidationError("Give the whole number, area code included; a finder dials it.")
    return phone


class ShopForm(RecordForm):
    """The shop's own settings."""

    time_zone = ZoneField(label="Time zone")
    logo = forms.FileField(
        required=False,
        label="Logo",
        help_text="JPEG, PNG or WebP; it stands at the head of papers.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    drop_logo = forms.BooleanField(required=False, label="Print no logo any more")

    class Meta:
        model = Shop
        fields = [
            "name",
            "phone",
            "address",
            "email",
            "licence_number",
            "time_zone",
            "temperature_unit",
            "currency",
            "label_stock",
            "label_host",
            "check_interval_months",
            "usual_stay_days",
            "turnaround_days",
            "long_stay_days",
        ]
        labels = {"email": "E-mail", "licence_number": "Contractor license number"}
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    def clean_phone(self) -> str:
        return whole_number(self.cleaned_data["phone"])

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        for name in ("check_interval_months", "usual_stay_days", "long_stay_days"):
            if self.cleaned_data.get(name) == 0:
                self.add_error(name, "Give 1 or more.")
        return cleaned

    def clean_label_host(self) -> str:
        host: str = self.cleaned_data["label_host"].strip().lower().removeprefix("https://").strip("/")
        try:
            qr_version(label_text(host, "7M4Q2P"))
        except ValueError as too_long:
            raise ValidationError(str(too_long)) from too_long
        return host

    def clean_currency(self) -> str:
        currency: str = self.cleaned_data["currency"].strip().upper()
        if len(currency) != 3 or not currency.isalpha():
            raise ValidationError("Give the three letters of the currency, such as USD.")
        return currency

    def clean_logo(self) -> bytes | None:
        upload: UploadedFile | None = self.cleaned_data["logo"]
        if not upload:
            return None
        try:
            return logo_png(upload.read())
        except BadPicture as bad:
            raise ValidationError(str(bad)) from bad

    def changes(self) -> dict[str, Any]:
        """The fields of the shop's row to set."""
        given = self.given()
        logo, drop = given.pop("logo"), given.pop("drop_logo")
        if logo or drop:
            given["logo_png"] = logo or b""
        return given


class SignInForm(AuthenticationForm):
    """Name and password, in our words."""

    error_messages = {
        "invalid_login": "No such name with this password. Capitals matter in both.",
        "inactive": "This name may not sign in any more. Ask a manager.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name to sign in with"


class MyPasswordForm(PasswordChangeForm):
    """The old password, and the new one twice."""

    error_messages = {
        "password_incorrect": "That is not your password now. Type it once more.",
        "password_mismatch": "The two new passwords differ. Type both once more.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Password now"
        self.fields["new_password1"].label = "New password"
        self.fields["new_password1"].help_text = "Not your name, and none that everybody uses."
        self.fields["new_password2"].label = "New password once more"
        self.fields["new_password2"].help_text = ""


class FirstRunForm(StepForm):
    """An empty shop: its name and phone, and the first manager."""

    shop_name = forms.CharField(label="The shop's name", max_length=80)
    shop_phone = forms.CharField(
        label="Its phone", max_length=40, help_text="Printed on every kit, so that a finder can call."
    )
    time_zone = ZoneField(label="Its time zone", initial="America/New_York")
    temperature_unit = forms.ChoiceField(label="Temperatures in", choices=TemperatureUnit.choices)
    name = forms.CharField(label="Your name", max_length=80)
    username = forms.CharField(label="Name to sign in with", max_length=150)
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text="Twelve characters or more; a few words are easy to keep in mind.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.TOLD_LATER:
            del self.fields[field]

    def clean_shop_phone(self) -> str:
        return whole_number(self.cleaned_data["shop_phone"])


class PersonForm(RecordForm):
    """Somebody who can sign in."""

    password = forms.CharField(
        label="First password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text="Twelve characters or more. Hand it over in person; it can be changed after signing in.",
    )

    class Meta:
        model = User
        fields = ["name", "username", "role", "phone", "email", "is_active"]
        labels = {"username": "Name to sign in with", "is_active": "May sign in", "email": "E-mail"}
        help_texts = {"username": "Letters, digits and . - _ @ +", "is_active": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["password"].required = False
            self.fields["password"].label = "New password"
            self.fields["password"].help_text = "Only to replace a forgotten one."
        else:
            del self.fields["is_active"]
        self.fields["role"].choices = Role.choices  # type: ignore[attr-defined]
