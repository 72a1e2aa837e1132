"""Leads and positions on a form: a lead named by tag, tail, ROM ID or terminal; a position tapped or typed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.datastructures import MultiValueDict

from kits import units
from kits.actions.sensors import whereabouts_of
from kits.forms.fields import ROM_ATTEMPT, sensor_of
from kits.models import Kit, Sensor
from kits.registers import doubt_of
from kits.rom import HEX_DIGITS
from sites.actions.common import Reading
from sites.models import Deployment, Position

HUNDREDTH = Decimal("0.01")
# A DS18B20 measures -55 to 125 °C; its fault values lie a little outside and are kept, marked.
NEVER_BEYOND_CELSIUS = Decimal("150")
SHORTEST_TAIL = 3
READ_EVERY_TIME = ("SA", "RA")


@dataclass(frozen=True, kw_only=True)
class Lead:
    """One sensor wired into a kit now, and where it sits in the running stay."""

    sensor: Sensor
    terminal: int
    position: Position | None = None

    @property
    def label(self) -> str:
        """How a person picks it out: the tag and its colour, the tail, the terminal."""
        tag = " ".join(part for part in (self.sensor.tag, self.sensor.tag_colour) if part) or "no tag"
        return f"{tag}, …{self.sensor.tail}"

    @property
    def label_with_place(self) -> str:
        return f"{self.label}, at {self.position.code if self.position else 'no position'}"


class LeadBook:
    """The leads of one kit, in the order of its terminals."""

    def __init__(self, kit: Kit, stay: Deployment | None = None) -> None:
        self.kit = kit
        self.stay = stay
        wirings = kit.wirings.filter(wired_until=None).select_related("sensor").order_by("terminal")
        places = stay.placements.filter(placed_until=None).select_related("position") if stay else []
        sits = {row.sensor_id: row.position for row in places}
        self.leads = [
            Lead(sensor=row.sensor, terminal=row.terminal, position=sits.get(row.sensor_id))
            for row in wirings
        ]

    def by_rom(self) -> dict[str, Lead]:
        return {lead.sensor.rom: lead for lead in self.leads}

    def find(self, typed: str) -> Sensor:
        """The sensor of this kit meant by a ROM ID, a tag, the end of a ROM ID, or a terminal, in that order."""
        said = typed.strip().lstrip("….").strip()
        if sum(character in HEX_DIGITS for character in said.upper()) >= ROM_ATTEMPT:
            return self._ours(sensor_of(said))
        for alike in (self._with_tag(said), self._with_tail(said), self._on_terminal(said)):
            if len(alike) > 1:
                tails = " or ".join(f"…{sensor.tail}" for sensor in alike)
                raise ValidationError(f"{len(alike)} leads answer to {typed}: {tails}. Type the four digits.")
            if alike:
                return alike[0]
        try:
            elsewhere = sensor_of(said)
        except ValidationError:
            carries = "; ".join(lead.label for lead in self.leads) or "no lead at all"
            raise ValidationError(
                f"No lead of {self.kit} answers to {typed}. It carries: {carries}."
            ) from None
        return self._ours(elsewhere)

    def _ours(self, sensor: Sensor) -> Sensor:
        if sensor.rom not in self.by_rom():
            raise ValidationError(
                f"Sensor {sensor} is not in {self.kit}: {whereabouts_of(sensor)}. Swap a lead, or choose one of this kit.",
                code="in_another_kit",
            )
        return sensor

    def _with_tag(self, said: str) -> list[Sensor]:
        folded = said.casefold()
        return [
            lead.sensor
            for lead in self.leads
            if folded and folded in {lead.sensor.tag.casefold(), lead.label.partition(",")[0].casefold()}
        ]

    def _with_tail(self, said: str) -> list[Sensor]:
        tail = said.upper()
        if len(tail) < SHORTEST_TAIL or any(character not in HEX_DIGITS for character in tail):
            return []
        return [lead.sensor for lead in self.leads if lead.sensor.rom.endswith(tail)]

    def _on_terminal(self, said: str) -> list[Sensor]:
        number = said.casefold().removeprefix("terminal").removeprefix("t").strip()
        return [lead.sensor for lead in self.leads if str(lead.terminal) == number]


class LeadField(forms.CharField):
    """One lead of a kit, tapped or named."""

    def __init__(self, *, book: LeadBook, with_place: bool = False, **options: Any) -> None:
        self.book = book
        choices = [
            (lead.sensor.rom, lead.label_with_place if with_place else lead.label) for lead in book.leads
        ]
        super().__init__(widget=forms.RadioSelect(choices=choices), max_length=60, **options)

    def clean(self, value: Any) -> Sensor | None:
        typed = super().clean(value)
        return self.book.find(typed) if typed else None


class ReadingField(forms.CharField):
    """A temperature as the meter or the page of the kit shows it, in the shop's unit or with its own, kept in °C."""

    def __init__(self, *, unit: str, **options: Any) -> None:
        self.unit = unit
        # The number keys of a phone have no minus sign; only a shop that reads °C meets one indoors or out.
        number_keys = {"inputmode": "decimal"} if unit == "F" else {}
        attrs = {"data-unit": f"°{unit}", "autocomplete": "off", **number_keys}
        super().__init__(required=False, max_length=20, widget=forms.TextInput(attrs=attrs), **options)

    def clean(self, value: Any) -> Decimal | None:
        typed = super().clean(value)
        if not typed:
            return None
        text = typed.replace(units.MINUS, "-").replace(",", ".").replace("°", "").replace(" ", "").upper()
        unit = text[-1] if text[-1] in "CF" else self.unit
        try:
            number = Decimal(text.rstrip("CF"))
        except InvalidOperation:
            raise ValidationError(f"{typed} is no temperature. Write it like 55.4.") from None
        celsius = units.fahrenheit_to_celsius(number) if unit == "F" else number
        if not number.is_finite() or abs(celsius) > NEVER_BEYOND_CELSIUS:
            raise ValidationError(
                f"{typed} °{unit} is no reading of this sensor. Check the figure and its unit."
            )
        return celsius.quantize(HUNDREDTH, ROUND_HALF_UP)


class ReadingFields(forms.Form):
    """Readings beside a reference: `raw_SA` and `reference_SA` for each position the step asks about."""

    def add_readings(self, codes: Iterable[str], unit: str) -> None:
        self.read_at = list(dict.fromkeys(codes))
        for code in self.read_at:
            self.fields[f"raw_{code}"] = ReadingField(unit=unit, label=f"{code}, the sensor reads")
            self.fields[f"reference_{code}"] = ReadingField(unit=unit, label=f"{code}, the thermometer reads")

    def clean_readings(self) -> None:
        for code in self.read_at:
            raw, reference = self.cleaned_data.get(f"raw_{code}"), self.cleaned_data.get(f"reference_{code}")
            if reference is not None and raw is None and f"raw_{code}" not in self.errors:
                self.add_error(f"raw_{code}", "Type what the sensor reads too, or leave both empty.")

    def readings(self) -> list[Reading]:
        found = []
        for code in self.read_at:
            raw = self.cleaned_data.get(f"raw_{code}")
            if raw is not None:
                reference = self.cleaned_data.get(f"reference_{code}")
                found.append(Reading(position=code, raw_celsius=raw, reference_celsius=reference))
        return found

    def doubts(self) -> list[str]:
        """What is odd about readings that were kept all the same: 85.0 °C after power-on, -127 °C without an answer."""
        return [
            f"{reading.position}: {doubt}"
            for reading in self.readings()
            if (doubt := doubt_of(float(reading.raw_celsius)))
        ]

    def first_readings(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Supply and return, which are read at every visit."""
        return [pair for pair in self.reading_pairs() if pair[0] in READ_EVERY_TIME]

    def other_readings(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        return [pair for pair in self.reading_pairs() if pair[0] not in READ_EVERY_TIME]

    def other_readings_typed(self) -> bool:
        return any(field.value() or field.errors for _, *pair in self.other_readings() for field in pair)

    def reading_pairs(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        return [(code, self[f"raw_{code}"], self[f"reference_{code}"]) for code in self.read_at]


class PlacingFields(forms.Form):
    """Each lead to its position, tapped (`at_ROM` = SA) or typed (`sensor_SA` = tag, tail, ROM ID or terminal)."""

    def add_placing(self, book: LeadBook, positions: Iterable[Position]) -> None:
        self.book, self.positions = book, list(positions)
        choices = [("", "not used"), *((position.code, position.code) for position in self.positions)]
        for lead in book.leads:
            self.fields[f"at_{lead.sensor.rom}"] = forms.CharField(
                label=f"Lead {lead.label}",
                required=False,
                widget=forms.RadioSelect(choices=choices, attrs={"class": "squares"}),
            )
        for position in self.positions:
            self.fields[f"sensor_{position.code}"] = forms.CharField(
                label=f"{position.code} {position.name.lower()}",
                required=False,
                max_length=60,
                widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
            )

    def tapped_fields(self) -> list[forms.BoundField]:
        return [self[f"at_{lead.sensor.rom}"] for lead in self.book.leads]

    def typed_fields(self) -> list[forms.BoundField]:
        return [self[f"sensor_{position.code}"] for position in self.positions]

    def typed_any(self) -> bool:
        return any(field.value() or field.errors for field in self.typed_fields())

    def clean_placing(self) -> None:
        """Bring both ways together into `placements`; what contradicts itself is refused where it stands."""
        self.placements: dict[str, Sensor] = {}
        self._sits: dict[str, str] = {}
        self._refuse_strangers()
        known = {position.code for position in self.positions}
        for lead in self.book.leads:
            self._take_tapped(lead, f"at_{lead.sensor.rom}", known)
        for position in self.positions:
            self._take_typed(position.code, f"sensor_{position.code}")

    def _take_tapped(self, lead: Lead, name: str, known: set[str]) -> None:
        codes = sorted({code.strip().upper() for code in values_of(self.data, self.add_prefix(name))} - {""})
        if len(codes) > 1:
            self.add_error(name, f"One sensor cannot sit at {' and '.join(codes)} at once. Choose one.")
        elif codes and codes[0] not in known:
            self.add_error(
                name, f"There is no position {codes[0]}. The shop knows {', '.join(sorted(known))}."
            )
        elif codes:
            self._put(name, codes[0], lead.sensor)

    def _take_typed(self, code: str, name: str) -> None:
        typed = self.cleaned_data.get(name)
        if not typed:
            return
        try:
            self._put(name, code, self.book.find(typed))
        except ValidationError as refusal:
            self.add_error(name, refusal)

    def _put(self, name: str, code: str, sensor: Sensor) -> None:
        elsewhere, there = self._sits.get(sensor.rom), self.placements.get(code)
        if elsewhere and elsewhere != code:
            self.add_error(
                name, f"Lead {sensor} is at {elsewhere} already; it cannot be at {code} too. Choose one."
            )
        elif there and there != sensor:
            self.add_error(
                name, f"Lead {there} is at {code} already; one position takes one sensor. Choose another."
            )
        else:
            self.placements[code], self._sits[sensor.rom] = sensor, code

    def _refuse_strangers(self) -> None:
        """Leads and positions that were sent but are not on this form: nothing of it may fall under the table."""
        for name in self.data:
            given = [value for value in values_of(self.data, name) if value.strip()]
            if not given or name in self.fields:
                continue
            if name.startswith("sensor_"):
                known = ", ".join(position.code for position in self.positions)
                self.add_error(None, f"There is no position {name[7:]}. The shop knows {known}.")
            elif name.startswith("at_"):
                try:
                    self.book.find(name[3:])
                except ValidationError as refusal:
                    self.add_error(None, refusal)
                else:
                    self.add_error(None, f"Name the lead by its whole ROM ID, not by {name[3:]}.")


def values_of(data: Mapping[str, Any], name: str) -> list[str]:
    """Everything that was sent under a name."""
    found = data.getlist(name) if isinstance(data, MultiValueDict) else [data.get(name)]
    return [str(value) for value in found if value is not None]


def codes_sent(data: Mapping[str, Any] | None, prefix: str) -> list[str]:
    """The ends of the names that begin so: `raw_SA` gives SA. What was typed keeps its field though the books moved on."""
    return [name.removeprefix(prefix) for name in (data or {}) if name.startswith(prefix)]
