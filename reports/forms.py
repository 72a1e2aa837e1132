"""Which labels on which stock, and the printers of labels."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q, QuerySet

from kits.codes import fold_code
from kits.models import KeptAt, Kit, LabelStock, Sensor, Shop, SparePlace
from kits.models.base import fold
from kits.rom import BadRom, read_rom
from kits.web import RecordForm
from reports.models import LabelPrinter
from reports.models.printers import LARGEST_NUDGE_MM

WHAT = [
    ("kits", "Label for the box"),
    ("lid", "Label for inside the lid"),
    ("flags", "Flags for the leads"),
]


def stock_choices() -> list[tuple[str, Any]]:
    """The shop's printers with the stock in them, then every stock as it is."""
    printers = [
        (f"printer-{printer.pk}", f"{printer.name}: {printer.get_stock_display()}")
        for printer in LabelPrinter.objects.filter(in_use=True)
    ]
    plain = ("Any printer, no nudge", list(LabelStock.choices))
    return [("Our printers", printers), plain] if printers else list(LabelStock.choices)


def usual_stock() -> str:
    """The printer that holds the shop's stock, else that stock as it is."""
    stock = Shop.current().label_stock
    printer = LabelPrinter.objects.filter(in_use=True, stock=stock).first()
    return f"printer-{printer.pk}" if printer else stock


def folded_rom(typed: str) -> str:
    """A ROM ID in the one form it is kept in; what is none stays as typed, for the form to refuse."""
    try:
        return read_rom(typed)
    except BadRom:
        return typed


def offered_sensors(asked: Iterable[str]) -> QuerySet[Sensor]:
    """Spares that somebody may still wire in, and whatever sensor the address asks for."""
    gone = [KeptAt.MISSING, KeptAt.SCRAPPED]
    spares = SparePlace.objects.filter(kept_until=None).exclude(place__in=gone)
    return Sensor.objects.filter(Q(pk__in=spares.values("sensor")) | Q(rom__in=list(asked)))


OFFERED_AT_ONCE = 60  # boxes to tick; in a larger shop the others are found by name


def offer(field: Any, rows: QuerySet[Any], *, asked: list[str], find: str) -> int:
    """Offer what is ticked already, then the first of the rest that match; gives how many more there are.

    Whatever is in `rows` may still be chosen by the address alone.
    """
    field.queryset = rows
    ticked = rows.filter(**{f"{field.to_field_name}__in": asked})
    words = fold(find)
    rest = rows.exclude(**{f"{field.to_field_name}__in": asked}).filter(
        Q(folded__contains=words)
        | Q(folded__contains=words.replace(" ", ""))  # a code is read aloud in two threes
    )
    shown = [*ticked, *rest[:OFFERED_AT_ONCE]]
    field.choices = [(getattr(row, field.to_field_name), field.label_from_instance(row)) for row in shown]
    return max(0, rest.count() - OFFERED_AT_ONCE)


class SensorChoices(forms.ModelMultipleChoiceField):
    def label_from_instance(self, sensor: Sensor) -> str:
        return str(sensor) if sensor.tag else f"{sensor}, no tag yet"


class LabelsForm(forms.Form):
    """Which labels, on which stock, from which position on. Bound to the address, so that it can be kept as a link."""

    find = forms.CharField(
        label="Find others by name, code or tag",
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )

    kit = forms.ModelMultipleChoiceField(
        label="Kits",
        queryset=Kit.objects.none(),
        required=False,
        to_field_name="code",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "There is no kit %(value)s."},
    )
    what = forms.MultipleChoiceField(
        label="For each kit", choices=WHAT, required=False, widget=forms.CheckboxSelectMultiple
    )
    sensor = SensorChoices(
        label="Flags for single sensors",
        queryset=Sensor.objects.none(),
        required=False,
        to_field_name="rom",
        widget=forms.CheckboxSelectMultiple,
        help_text="Spares, wired into no kit. Their flag says so.",
        error_messages={"invalid_choice": "There is no sensor %(value)s."},
    )
    stock = forms.ChoiceField(label="Printer and label stock")
    start = forms.IntegerField(
        label="First free label",
        min_value=1,
        error_messages={"min_value": "Labels are counted from 1, at the top left."},
    )

    def __init__(self, data: Any) -> None:
        """`data` is the query of the address; what it leaves open gets the usual answer."""
        data = data.copy()
        data.setlist("kit", [fold_code(code) for code in data.getlist("kit")])
        data.setlist("sensor", [folded_rom(text) for text in data.getlist("sensor")])
        if "what" not in data and not (data.getlist("sensor") and not data.getlist("kit")):
            data.setlist("what", ["kits"])
        data.setdefault("stock", usual_stock())
        data.setdefault("start", "1")
        super().__init__(data)
        asked, sensors = data.getlist("kit"), data.getlist("sensor")
        find = data.get("find", "").strip()
        kits = (Kit.objects.usable() | Kit.objects.filter(code__in=asked)).order_by("name", "code")
        self.more_kits = offer(self.fields["kit"], kits, asked=asked, find=find)
        self.more_sensors = offer(self.fields["sensor"], offered_sensors(sensors), asked=sensors, find=find)
        self.is_long = bool(find or self.more_kits or self.more_sensors)
        self.fields["stock"].choices = stock_choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        kits, sensors = cleaned.get("kit"), cleaned.get("sensor")
        if kits is not None and sensors is not None and not kits and not sensors:
            self.add_error("kit", "Tick at least one kit, or a single sensor further down.")
        if kits and not cleaned.get("what"):
            self.add_error("what", "Tick what to print for each kit.")
        return cleaned


class NudgeField(forms.DecimalField):
    """Millimetres in tenths, less than a centimetre either way."""

    def __init__(self, label: str, help_text: str) -> None:
        least = LARGEST_NUDGE_MM - Decimal("0.1")
        said = {
            "min_value": "Give less than 10 mm, in tenths: 1.5 or -0.8.",
            "max_value": "Give less than 10 mm, in tenths: 1.5 or -0.8.",
            "max_decimal_places": "Give tenths of a millimetre: 1.5 or -0.8.",
            "invalid": "Give millimetres as a number: 1.5 or -0.8.",
            "required": "Give 0 where the print meets the labels.",
        }
        super().__init__(
            label=label,
            help_text=help_text,
            min_value=-least,
            max_value=least,
            decimal_places=1,
            initial=0,
            error_messages=said,
            # The keys for numbers have no minus on many phones.
            widget=forms.TextInput(attrs={"data-unit": "mm", "autocomplete": "off"}),
        )


class LabelPrinterForm(RecordForm):
    """One printer: the stock in it, its dots, and the nudge."""

    shift_x_mm = NudgeField("Nudge right", "Minus is left.")
    shift_y_mm = NudgeField("Nudge down", "Minus is up.")

    class Meta:
        model = LabelPrinter
        fields = ["name", "stock", "dpi", "shift_x_mm", "shift_y_mm", "in_use"]
        labels = {"in_use": "This printer is in use"}
        help_texts = {
            "name": "As the shop calls it.",
            "dpi": "Office printers have 300 or 600; printers of tape 180 or 360. It stands in the printer's manual.",
        }
