"""What may be typed about the shop and its people."""

from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from kits.codes import label_text, qr_version
from kits.forms.fields import DifferenceField, TypedDecimalField
from kits.forms.thermometers import in_unit
from kits.guarding import usual_expanded_kelvin
from kits.measuring.boiling import METRE_PER_FOOT
from kits.measuring.trouble import CannotCompute
from kits.measuring.verdict import refuse_impossible_rule
from kits.models import DecisionRule, Role, Shop, TemperatureUnit, User
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


LIMITS = (
    ("sensor_limit_kelvin", "A sensor may be off by ±", "The maker's figure is 0.5 K (0.9 °F)."),
    (
        "replace_beyond_kelvin",
        "Replace a sensor off by more than ±",
        "Beyond this an offset mends nothing: a sensor so far off is broken or badly mounted.",
    ),
)
TENTH = Decimal("0.1")


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
            "decision_rule",
            "guard_factor",
            "drift_share_percent",
            "sensors_must_be_in_date",
            "usual_stay_days",
            "turnaround_days",
            "long_stay_days",
        ]
        labels = {"email": "E-mail", "licence_number": "Contractor license number"}
        widgets = {"address": forms.Textarea(attrs={"rows": 3}), "decision_rule": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Typed in the unit that the shop reads, which stands on this very page: it is the one that was read so far.
        self.unit = unit = self.instance.temperature_unit
        for name, label, says in LIMITS:
            field = DifferenceField(unit=unit, label=label, help_text=says, min_value=Decimal("0.01"))
            self.fields[name] = field
            self.initial[name] = in_unit(getattr(self.instance, name), unit)
        self.fields["altitude"] = TypedDecimalField(
            label="Altitude of the shop",
            required=False,
            min_value=-1500,
            max_value=18_000,
            decimal_places=1,
            widget=forms.TextInput(attrs={"data-unit": "ft" if unit == "F" else "m", "autocomplete": "off"}),
            help_text="For checks in boiling water; what a map says will do.",
        )
        if self.instance.altitude_m is not None:
            shown = float(self.instance.altitude_m) / (METRE_PER_FOOT if unit == "F" else 1)
            self.initial["altitude"] = f"{shown:.0f}"
        self.fields["guard_factor"].help_text = (
            "With the guarded rule a sensor passes when it is off by no more than the limit less r times the uncertainty. "
            "1 is usual; 0 is the simple rule."
        )
        self.fields["drift_share_percent"].label = "Check twice as often when it moved by more than"
        self.fields["drift_share_percent"].widget.attrs["data-unit"] = "% of the limit"

    def clean_phone(self) -> str:
        return whole_number(self.cleaned_data["phone"])

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        for name in ("check_interval_months", "usual_stay_days", "long_stay_days"):
            if self.cleaned_data.get(name) == 0:
                self.add_error(name, "Give 1 or more.")
        self.check_rule()
        return cleaned

    def check_rule(self) -> None:
        """A rule by which no sensor could ever pass is refused, and a limit beyond which nothing is left to mend."""
        given = self.cleaned_data
        limit, beyond = given.get("sensor_limit_kelvin"), given.get("replace_beyond_kelvin")
        factor, rule = given.get("guard_factor"), given.get("decision_rule")
        if limit and beyond and beyond < limit:
            self.add_error(
                "replace_beyond_kelvin", "It cannot be less than the limit a sensor may be off by."
            )
        if not limit or factor is None or rule != DecisionRule.GUARDED:
            return
        try:
            refuse_impossible_rule(
                limit_kelvin=float(limit),
                expanded_kelvin=usual_expanded_kelvin(),
                guard_factor=float(factor),
                unit="C" if self.unit == "C" else "F",
            )
        except CannotCompute as cannot:
            self.add_error("guard_factor", str(cannot))

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
        altitude = given.pop("altitude")
        metres = (
            None if altitude is None else altitude * Decimal(str(METRE_PER_FOOT if self.unit == "F" else 1))
        )
        typed_as_shown = "altitude" not in self.changed_data
        given["altitude_m"] = (
            self.instance.altitude_m if typed_as_shown else metres and metres.quantize(TENTH)
        )
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
