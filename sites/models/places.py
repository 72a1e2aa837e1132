"""Whom we work for and where: customers, sites, who is what at a site, and the units there."""

from datetime import date
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.models.base import Searchable, Versioned
from kits.promises import NoOverlap


def check_time_zone(name: str) -> None:
    """Refuse a name that is no time zone, saying how one is written."""
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise ValidationError(f"{name!r} is no time zone. Write it like America/New_York.") from None


class Customer(Versioned, Searchable):
    """A person or firm that lives at, owns or pays for a site."""

    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    notes = models.TextField(blank=True)

    searched = ("name", "phone", "email")

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="customer_has_a_name")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("customer", args=[self.pk])


class Site(Versioned, Searchable):
    """An address where equipment stands, in its own time zone."""

    street = models.CharField(max_length=120)
    city = models.CharField(max_length=80)
    region = models.CharField("state", max_length=40, blank=True)
    postal_code = models.CharField("postal code", max_length=12, blank=True)
    time_zone = models.CharField(max_length=60, validators=[check_time_zone])
    access_notes = models.TextField(
        blank=True, help_text="Gate, key, dog, attic hatch. No alarm codes, no Wi-Fi passwords."
    )
    contact_name = models.CharField(max_length=120, blank=True)
    contact_phone = models.CharField(max_length=40, blank=True)
    latitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, blank=True)
    longitude = models.DecimalField(max_digits=8, decimal_places=5, null=True, blank=True)

    searched = ("street", "city", "postal_code", "contact_name", "contact_phone")

    class Meta:
        ordering = ["street", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(street=""), name="site_has_a_street"),
            models.CheckConstraint(condition=~Q(time_zone=""), name="site_has_a_time_zone"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__gte=-90,
                    latitude__lte=90,
                    longitude__gte=-180,
                    longitude__lte=180,
                ),
                name="site_coordinates_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.street}, {self.city}"

    def get_absolute_url(self) -> str:
        return reverse("site", args=[self.pk])

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def address_lines(self) -> list[str]:
        """The address as it stands on a paper, line by line."""
        town = " ".join(
            part for part in (self.city + ("," if self.region else ""), self.region, self.postal_code) if part
        )
        return [self.street, town]


class PartyRole(models.TextChoices):
    LIVES_THERE = "lives_there", "lives there"
    OWNS = "owns", "owns"
    PAYS = "pays", "pays"
    MAY_SAY_YES = "may_say_yes", "may say yes"


class PartyQuerySet(models.QuerySet["Party"]):
    def on(self, day: date) -> "PartyQuerySet":
        """Parties whose part holds on `day` of the site."""
        return self.filter(Q(until=None) | Q(until__gt=day), since__lte=day)


class Party(models.Model):
    """A customer's part at a site, from the day `since` up to but not on the day `until`."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="parties")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="parties")
    part = models.CharField(max_length=12, choices=PartyRole.choices)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    objects = PartyQuerySet.as_manager()

    class Meta:
        ordering = ["part", "since", "pk"]
        verbose_name_plural = "parties"
        constraints = [
            models.CheckConstraint(
                condition=Q(until=None) | Q(until__gte=F("since")), name="party_ends_after_start"
            ),
            models.CheckConstraint(condition=Q(part__in=PartyRole.values), name="party_part_known"),
            *[
                NoOverlap(
                    name=f"party_{part}_once",
                    same=["site", "customer"],
                    start="since",
                    until="until",
                    condition=Q(part=part),
                )
                for part in ("lives_there", "owns", "pays", "may_say_yes")
            ],
        ]

    def __str__(self) -> str:
        return f"{self.customer} {self.get_part_display()}"

    @staticmethod
    def overlap_sentence(instance: "Party", constraint: str, other: "Party") -> str:
        return f"{instance.customer} already {other.get_part_display()} at this site since {other.since}."


class UnitKind(models.TextChoices):
    AIR_HANDLER = "air_handler", "Air handler"
    FURNACE = "furnace", "Furnace"
    HEAT_PUMP = "heat_pump", "Heat pump"
    PACKAGED = "packaged", "Packaged unit"


class FloatSwitch(models.TextChoices):
    BREAKS_R = "breaks_r", "Breaks R"
    BREAKS_Y = "breaks_y", "Breaks Y"
    NONE = "none", "None fitted"
    UNKNOWN = "unknown", "Not known"


class Unit(Versioned, Searchable):
    """One air handler, furnace, heat pump or packaged unit at a site."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="units")
    name = models.CharField(
        max_length=60, help_text="What the people there call it: upstairs system, shop furnace."
    )
    kind = models.CharField(max_length=12, choices=UnitKind.choices)
    make = models.CharField(max_length=60, blank=True)
    model = models.CharField(max_length=60, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    refrigerant = models.CharField(max_length=20, blank=True)
    capacity_tons = models.DecimalField("tonnage", max_digits=4, decimal_places=1, null=True, blank=True)
    location = models.CharField(
        max_length=80, blank=True, help_text="Attic over the garage, hall closet, basement."
    )
    transformer_volt_ampere = models.PositiveSmallIntegerField("transformer (VA)", null=True, blank=True)
    float_switch = models.CharField(max_length=8, choices=FloatSwitch.choices, default=FloatSwitch.UNKNOWN)
    notes = models.TextField(blank=True)

    searched = ("name", "make", "model", "serial")

    class Meta:
        ordering = ["site", "name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="unit_name_once_a_site"),
            models.CheckConstraint(condition=Q(kind__in=UnitKind.values), name="unit_kind_known"),
            models.CheckConstraint(
                condition=Q(float_switch__in=FloatSwitch.values), name="unit_float_switch_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("unit", args=[self.pk])

    def describe(self) -> str:
        """Name, kind, make and model in one line."""
        made = " ".join(part for part in (self.make, self.model) if part)
        return ", ".join(part for part in (self.name, self.get_kind_display().lower(), made) if part)
