"""A sensor: its ROM ID and tag, the terminal it is wired to, where a spare is kept, and its offsets."""

from datetime import datetime
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Case, F, Q, Value, When
from django.urls import reverse

from kits import rom
from kits.correcting import Correction
from kits.models.base import Searchable, Versioned
from kits.models.kit import Kit
from kits.promises import AppendOnly, NoOverlap
from kits.promises.values import rom_check


class TapeColour(models.TextChoices):
    """Colours of tape, named as IEC 60757 names conductor colours."""

    NONE = "", "No colour"
    BLACK = "black", "Black"
    BROWN = "brown", "Brown"
    RED = "red", "Red"
    ORANGE = "orange", "Orange"
    YELLOW = "yellow", "Yellow"
    GREEN = "green", "Green"
    BLUE = "blue", "Blue"
    VIOLET = "violet", "Violet"
    GREY = "grey", "Grey"
    WHITE = "white", "White"


class Sensor(Versioned, Searchable):
    """One digital temperature sensor on a lead, known by its 64-bit 1-wire ROM ID."""

    rom = models.CharField("ROM ID", max_length=16, unique=True)
    tag = models.CharField(
        "tag", max_length=20, blank=True, help_text="What is written on the tape of the lead."
    )
    tag_colour = models.CharField(max_length=8, choices=TapeColour.choices, blank=True)
    lead_length_m = models.DecimalField(
        "lead length (m)", max_digits=5, decimal_places=2, null=True, blank=True
    )
    housing = models.CharField(max_length=60, blank=True)
    bought_on = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)

    searched = ("rom", "tag")

    class Meta:
        ordering = ["tag", "rom"]
        constraints = [
            models.CheckConstraint(condition=rom_check("rom"), name="sensor_rom_valid"),
            models.CheckConstraint(condition=Q(tag_colour__in=TapeColour.values), name="sensor_colour_known"),
        ]

    def __str__(self) -> str:
        return f"{self.tag} (…{self.tail})" if self.tag else f"…{self.tail}"

    def get_absolute_url(self) -> str:
        return reverse("sensor", args=[self.rom])

    @property
    def tail(self) -> str:
        """The last four characters, which people read off the flag."""
        return rom.rom_tail(self.rom)

    @property
    def wiring(self) -> "Wiring | None":
        """The terminal it is wired to now."""
        return self.wirings.filter(wired_until=None).select_related("kit").first()

    @property
    def spare_place(self) -> "SparePlace | None":
        """Where it is kept now as a spare."""
        return self.spare_places.filter(kept_until=None).select_related("technician").first()

    def offset_at(self, instant: datetime) -> "Offset | None":
        """The offset in force at `instant`, if any was given by then and not taken back."""
        newest = self.offsets.filter(in_force_from__lte=instant).order_by("-in_force_from").first()
        return None if newest is None or newest.source == OffsetSource.NONE else newest


class Wiring(models.Model):
    """A sensor wired into a kit's terminal, from-until. A kit has terminals 1 to 5."""

    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="wirings")
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="wirings")
    terminal = models.PositiveSmallIntegerField()
    wired_from = models.DateTimeField()
    wired_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["terminal", "wired_from"]
        constraints = [
            NoOverlap(name="sensor_in_one_kit", same=["sensor"], start="wired_from", until="wired_until"),
            NoOverlap(
                name="one_sensor_a_terminal",
                same=["kit", "terminal"],
                start="wired_from",
                until="wired_until",
            ),
            models.CheckConstraint(
                condition=Q(terminal__gte=1, terminal__lte=5), name="terminal_one_to_five"
            ),
            models.CheckConstraint(
                condition=Q(wired_until=None) | Q(wired_until__gte=F("wired_from")),
                name="wiring_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sensor} on terminal {self.terminal} of {self.kit}"

    @staticmethod
    def overlap_sentence(instance: "Wiring", constraint: str, other: "Wiring") -> str:
        if constraint == "sensor_in_one_kit":
            return f"Sensor {instance.sensor} is wired into {other.kit}, terminal {other.terminal}. Take it out there first."
        return f"Terminal {instance.terminal} of {instance.kit} carries sensor {other.sensor}. Choose another terminal."


class KeptAt(models.TextChoices):
    SHELF = "shelf", "Shelf"
    BENCH = "bench", "Bench"
    TRUCK = "truck", "Truck"
    MISSING = "missing", "Missing"
    SCRAPPED = "scrapped", "Scrapped"


class SparePlace(models.Model):
    """Where a sensor that is wired into no kit is kept, from-until."""

    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="spare_places")
    place = models.CharField(max_length=8, choices=KeptAt.choices)
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    kept_from = models.DateTimeField()
    kept_until = models.DateTimeField(null=True, blank=True)
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["kept_from", "pk"]
        constraints = [
            NoOverlap(name="spare_in_one_place", same=["sensor"], start="kept_from", until="kept_until"),
            models.CheckConstraint(
                condition=Q(kept_until=None) | Q(kept_until__gte=F("kept_from")),
                name="spare_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(place=KeptAt.TRUCK, technician__isnull=False)
                | Q(~Q(place=KeptAt.TRUCK), technician__isnull=True),
                name="a_spare_on_a_truck_has_a_technician",
            ),
            models.CheckConstraint(condition=Q(place__in=KeptAt.values), name="spare_place_known"),
        ]

    def __str__(self) -> str:
        return f"{self.sensor}: {self.word}"

    @property
    def word(self) -> str:
        if self.place == KeptAt.TRUCK:
            return f"{self.technician}'s truck"
        return KeptAt(self.place).label.lower()

    @staticmethod
    def overlap_sentence(instance: "SparePlace", constraint: str, other: "SparePlace") -> str:
        return f"Sensor {instance.sensor} is kept elsewhere then: {other.word}."


class OffsetSource(models.TextChoices):
    BY_HAND = "by_hand", "Entered by hand"
    CHECK = "check", "Found by a check"
    RESTATED = "restated", "In force again"  # the check after it was withdrawn
    NONE = "none", "None in force"  # the only check was withdrawn


def kelvin_in_force() -> Case:
    """In SQL the figure of an offset, and nothing for the note that none is in force any more."""
    kelvin = models.DecimalField(max_digits=6, decimal_places=3)
    return Case(
        When(source=OffsetSource.NONE, then=Value(None)), default=F("offset_kelvin"), output_field=kelvin
    )


class Offset(models.Model):
    """What is ADDED to a sensor's raw reading to correct it, in force until the sensor's next one.

    Of one temperature unless it has a slope (a straight line) or points (straight between them, level beyond).
    """

    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="offsets")
    in_force_from = models.DateTimeField()
    offset_kelvin = models.DecimalField("offset (added), K", max_digits=6, decimal_places=3)
    uncertainty_kelvin = models.DecimalField(
        "uncertainty (95 %), K", max_digits=6, decimal_places=3, null=True, blank=True
    )
    slope_kelvin_per_kelvin = models.DecimalField(max_digits=8, decimal_places=6, default=0)
    slope_about_celsius = models.DecimalField(max_digits=7, decimal_places=3, null=True, blank=True)
    # [[raw temperature in °C, offset in K], ...], by rising temperature.
    points = models.JSONField(default=list, blank=True)
    source = models.CharField(max_length=10, choices=OffsetSource.choices, default=OffsetSource.BY_HAND)
    result = models.ForeignKey(
        "kits.CheckResult", on_delete=models.PROTECT, null=True, blank=True, related_name="offsets"
    )
    good_until = models.DateField(
        "in date until", null=True, blank=True, help_text="The day from which its next check is due."
    )
    how = models.CharField(
        max_length=200, blank=True, help_text="How it was found: ice bath, beside which thermometer."
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["in_force_from"]
        constraints = [
            models.UniqueConstraint(fields=["sensor", "in_force_from"], name="one_offset_an_instant"),
            models.CheckConstraint(
                condition=Q(offset_kelvin__gte=-20, offset_kelvin__lte=20), name="offset_believable"
            ),
            models.CheckConstraint(
                condition=Q(uncertainty_kelvin=None) | Q(uncertainty_kelvin__gte=0),
                name="uncertainty_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(source__in=[OffsetSource.BY_HAND, OffsetSource.NONE], result__isnull=True)
                | Q(source=OffsetSource.CHECK, result__isnull=False)
                | Q(source=OffsetSource.RESTATED),
                name="offset_of_a_check_names_it",
            ),
            models.CheckConstraint(
                condition=Q(slope_kelvin_per_kelvin=0) | Q(slope_about_celsius__isnull=False),
                name="slope_says_about_where",
            ),
            AppendOnly(name="offset_never_changes"),
        ]

    def __str__(self) -> str:
        return f"{self.offset_kelvin:+.2f} K from {self.in_force_from:%Y-%m-%d}"

    @property
    def correction(self) -> Correction:
        """What it adds, over the raw temperature."""
        about = self.slope_about_celsius
        return Correction(
            offset_kelvin=float(self.offset_kelvin),
            slope_kelvin_per_kelvin=float(self.slope_kelvin_per_kelvin),
            about_celsius=None if about is None else float(about),
            points=tuple((float(raw), float(kelvin)) for raw, kelvin in self.points),
        )

    @property
    def is_one(self) -> bool:
        """An offset; not the note that none is in force any more."""
        return self.source != OffsetSource.NONE

    def correction_at(self, raw_celsius: float | Decimal) -> float:
        """What is added to this raw reading, in K."""
        return self.correction.at(float(raw_celsius))
