"""Form fields for what people read off a tag, a lead or a price: a kit, a sensor, money, a temperature difference."""

import re
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from kits import units
from kits.codes import BadCode, near_codes, read_code
from kits.models import Kit, Sensor
from kits.rom import BadRom, read_rom

CENT = Decimal("0.01")
ROM_ATTEMPT = 9  # more hexadecimal digits than any tag or tail: a whole ROM ID was meant


def near_kits(typed: str) -> list[Kit]:
    """At most three kits of the shop whose code is one slip away from what was typed, likeliest first."""
    codes = near_codes(typed, Kit.objects.values_list("code", flat=True))
    found = {kit.code: kit for kit in Kit.objects.filter(code__in=codes)}
    return [found[code] for code in codes]


def why_no_kit(typed: str) -> str:
    """Why no kit answers to `typed`, as a sentence."""
    try:
        code = read_code(typed)
    except BadCode as bad:
        return str(bad)
    return f"{code} is a well-formed code, but no kit of this shop has it."


def kit_of(typed: str) -> Kit:
    """The kit whose code was typed or scanned; refused with kits that are near."""
    try:
        found = Kit.objects.filter(code=read_code(typed)).first()
    except BadCode:
        found = None
    if found:
        return found
    near = near_kits(typed)
    hint = f" Near it: {' or '.join(map(str, near))}." if near else ""
    raise ValidationError(why_no_kit(typed) + hint, code="no_such_kit")


class KitCodeField(forms.CharField):
    """A kit by its code, typed in any case with or without blanks, or scanned."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("label", "Kit code")
        options.setdefault("max_length", 200)
        attrs = {"class": "code-input", "autocapitalize": "characters", "autocomplete": "off"}
        options.setdefault("widget", forms.TextInput(attrs={**attrs, "spellcheck": "false"}))
        super().__init__(**options)

    def clean(self, value: Any) -> Kit | None:
        typed = super().clean(value)
        return kit_of(typed) if typed else None

    def prepare_value(self, value: Any) -> Any:
        return value.code if isinstance(value, Kit) else value


class SensorField(forms.CharField):
    """A sensor by its tag, the last four digits of its ROM ID, or the whole ROM ID in any usual writing."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("label", "Sensor")
        options.setdefault("max_length", 60)
        options.setdefault("help_text", "Its tag, the last four digits of its ROM ID, or the whole ROM ID.")
        super().__init__(**options)

    def clean(self, value: Any) -> Sensor | None:
        typed = super().clean(value)
        return sensor_of(typed) if typed else None

    def prepare_value(self, value: Any) -> Any:
        return value.rom if isinstance(value, Sensor) else value


def sensor_of(typed: str) -> Sensor:
    """The one sensor meant by a tag, a tail or a ROM ID. Of several alike the only spare one is meant."""
    digits = [character for character in typed.upper() if character in "0123456789ABCDEF"]
    if len(digits) >= ROM_ATTEMPT:
        try:
            rom = read_rom(typed)
        except BadRom as bad:
            raise ValidationError(str(bad), code="bad_rom") from bad
        found = Sensor.objects.filter(rom=rom).first()
        if found is None:
            raise ValidationError(f"The shop has no sensor {rom}. Add it first.", code="no_such_sensor")
        return found
    by_tag = Sensor.objects.filter(tag__iexact=typed)
    by_tail = Sensor.objects.filter(rom__endswith=typed.upper()) if len(typed) >= 4 else Sensor.objects.none()
    alike = list((by_tag | by_tail).distinct()[:20])
    if len(alike) > 1:
        spare = [sensor for sensor in alike if sensor.wiring is None]
        alike = spare if len(spare) == 1 else alike
    if not alike:
        raise ValidationError(
            f"No sensor has the tag {typed} or a ROM ID that ends so. Add it first, or type the whole ROM ID.",
            code="no_such_sensor",
        )
    if len(alike) > 1:
        raise ValidationError(
            f"{len(alike)} sensors answer to {typed}: {said(alike)}. Type the last four digits of the one you mean.",
            code="several_sensors",
        )
    return alike[0]


def said(sensors: Iterable[Sensor]) -> str:
    return ", ".join(f"…{sensor.tail}" for sensor in sensors)


THOUSANDS = re.compile(r"-?[1-9]\d{0,2}(,\d{3})+(\.\d*)?")


class TypedDecimalField(forms.DecimalField):
    """A number as people write it: a true minus sign, a comma for a point, a comma between thousands."""

    default_error_messages = {
        "invalid": "Write it as a number, like 12.5.",
        "max_decimal_places": "At most %(max)s digits after the point.",
        "max_digits": "That number is too long to be right.",
        "max_whole_digits": "That number is too large to be right.",
        "min_value": "It cannot be less than %(limit_value)s.",
        "max_value": "It cannot be more than %(limit_value)s.",
    }
    commas_part_thousands = True

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str):
            value = value.strip().replace(units.MINUS, "-")
            thousands = self.commas_part_thousands and THOUSANDS.fullmatch(value)
            value = value.replace(",", "" if thousands else ".")
        return super().to_python(value)


class LengthField(TypedDecimalField):
    """A length in metres; with a unit behind it in feet and inches or centimetres too."""

    default_error_messages = {"invalid": "Write it in metres, like 3.5, or with its unit, like 12 ft."}

    def __init__(self, *, places: int = 2, **options: Any) -> None:
        options.setdefault("help_text", "In metres, or with its unit, like 12 ft.")
        widget = forms.TextInput(attrs={"data-unit": "m"})
        super().__init__(
            min_value=0,
            max_digits=3 + places,
            decimal_places=places,
            required=False,
            widget=widget,
            **options,
        )

    def to_python(self, value: Any) -> Any:
        metres = units.metres_typed(value) if isinstance(value, str) else None
        if metres is None:
            return super().to_python(value)
        return metres.quantize(Decimal(1).scaleb(-(self.decimal_places or 0)), ROUND_HALF_UP)


class DollarsField(TypedDecimalField):
    """Money typed in dollars, as whole cents."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.NumberInput(attrs={"data-unit": "$"}))
        super().__init__(min_value=0, max_value=1_000_000, decimal_places=2, **options)

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace("$", "") if isinstance(value, str) else value)

    def clean(self, value: Any) -> int | None:
        dollars = super().clean(value)
        return None if dollars is None else int(dollars * 100)

    def prepare_value(self, value: Any) -> Any:
        return str((Decimal(value) / 100).quantize(CENT)) if isinstance(value, int) else value


class DifferenceField(TypedDecimalField):
    """A temperature difference typed in the shop's unit, as kelvins to a thousandth: °F x 5/9 and no 32."""

    commas_part_thousands = False

    def __init__(self, *, unit: str, **options: Any) -> None:
        self.unit = unit
        attrs = {"data-unit": "°F" if unit == "F" else "K", "autocomplete": "off"}
        # The number keys of a phone have no minus sign, so this is a plain text box.
        options.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(max_digits=8, decimal_places=3, **options)

    def clean(self, value: Any) -> Decimal | None:
        typed = super().clean(value)
        if typed is None:
            return None
        kelvin = units.fahrenheit_difference_to_kelvin(typed) if self.unit == "F" else typed
        return kelvin.quantize(Decimal("0.001"), ROUND_HALF_UP)


class TemperatureField(TypedDecimalField):
    """A temperature typed in the shop's unit, as °C to a tenth."""

    commas_part_thousands = False

    def __init__(self, *, unit: str, **options: Any) -> None:
        self.unit = unit
        options.setdefault("widget", forms.NumberInput(attrs={"data-unit": f"°{unit}"}))
        super().__init__(max_digits=6, decimal_places=1, **options)

    def clean(self, value: Any) -> Decimal | None:
        typed = super().clean(value)
        if typed is None:
            return None
        celsius = units.fahrenheit_to_celsius(typed) if self.unit == "F" else typed
        return celsius.quantize(Decimal("0.1"), ROUND_HALF_UP)

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, Decimal):
            return value
        return f"{units.celsius_to_fahrenheit(value) if self.unit == 'F' else value:.1f}"
