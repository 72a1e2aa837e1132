"""A kit: the box, what it is made of, and who holds it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.models.base import Searchable, Versioned
from kits.promises import NoOverlap
from kits.promises.values import kit_code_check


class PowerInput(models.TextChoices):
    AC_24 = "24vac", "24 V AC through adapter"
    DC_12 = "12vdc", "12 V DC"
    DC_24_48 = "24-48vdc", "24-48 V DC"
    MAINS = "110-240vac", "110-240 V AC"


class Isolation(models.TextChoices):
    YES = "yes", "Isolated"
    NO = "no", "Not isolated"
    UNKNOWN = "unknown", "Not known"


class Condition(models.TextChoices):
    IN_SERVICE = "in_service", "In service"
    NEEDS_WORK = "needs_work", "Needs work"


class KitQuerySet(models.QuerySet["Kit"]):
    def with_custody(self) -> "KitQuerySet":
        """Each kit with its open custody row as `open_custody` (a list of one)."""
        return self.prefetch_related(
            models.Prefetch(
                "custodies",
                queryset=Custody.objects.filter(held_until=None).select_related("technician"),
                to_attr="open_custody",
            )
        )

    def usable(self) -> "KitQuerySet":
        """Kits that may still be assigned some day: neither retired nor missing."""
        gone = Custody.objects.filter(held_until=None, place__in=[Place.RETIRED, Place.MISSING])
        return self.exclude(pk__in=gone.values("kit"))


class Kit(Versioned, Searchable):
    """One reusable monitor, known by the six characters on its label."""

    code = models.CharField(max_length=6, unique=True)
    name = models.CharField(max_length=60)
    built_on = models.DateField("built on")
    controller = models.CharField(max_length=80, blank=True)
    firmware = models.CharField(max_length=80, blank=True)
    power_input = models.CharField(max_length=12, choices=PowerInput.choices, default=PowerInput.AC_24)
    power_draw_watt = models.DecimalField(
        "power draw (W)", max_digits=6, decimal_places=2, null=True, blank=True
    )
    power_draw_volt_ampere = models.DecimalField(
        "power draw (VA)", max_digits=6, decimal_places=2, null=True, blank=True
    )
    sensor_limit = models.PositiveSmallIntegerField(default=5)
    has_aux_contact = models.BooleanField("auxiliary contact fitted", default=False)
    aux_contact_rating = models.CharField("auxiliary contact rating", max_length=60, blank=True)
    rated_to_celsius = models.DecimalField(
        "box rated to (°C)", max_digits=5, decimal_places=1, null=True, blank=True
    )
    adapter_isolated = models.CharField(max_length=8, choices=Isolation.choices, default=Isolation.UNKNOWN)
    has_battery = models.BooleanField("battery inside", default=False)
    replacement_value_cents = models.PositiveIntegerField(default=0)
    condition = models.CharField(max_length=12, choices=Condition.choices, default=Condition.IN_SERVICE)
    condition_since = models.DateTimeField(null=True, blank=True)
    condition_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    condition_why = models.CharField(max_length=200, blank=True)
    notes = models.TextField(blank=True)

    objects = KitQuerySet.as_manager()
    searched = ("code", "name", "controller")

    class Meta:
        ordering = ["name", "code"]
        constraints = [
            models.CheckConstraint(condition=kit_code_check("code"), name="kit_code_valid"),
            models.CheckConstraint(
                condition=Q(sensor_limit__gte=1, sensor_limit__lte=5), name="kit_sensor_limit"
            ),
            models.CheckConstraint(
                condition=Q(power_input__in=PowerInput.values), name="kit_power_input_known"
            ),
            models.CheckConstraint(condition=Q(condition__in=Condition.values), name="kit_condition_known"),
            models.CheckConstraint(
                condition=Q(condition=Condition.IN_SERVICE) | ~Q(condition_why=""),
                name="kit_needs_work_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.code})"

    def get_absolute_url(self) -> str:
        return reverse("kit", args=[self.code])

    @property
    def custody(self) -> "Custody":
        """The open custody row: where the kit is now and who answers for it."""
        if hasattr(self, "custody_now"):  # read along with the kit
            return self.custody_now
        if not hasattr(self, "open_custody"):
            self.open_custody = list(self.custodies.filter(held_until=None).select_related("technician"))
        return self.open_custody[0]

    @property
    def whereabouts(self) -> str:
        """Shelf, bench, Ben Ortiz's truck, site, missing or retired, as a word."""
        return self.custody.word

    def build_cost_cents(self) -> int:
        """What the parts of this kit cost together, in cents."""
        total = self.parts.aggregate(total=models.Sum(F("quantity") * F("unit_cost_cents")))["total"]
        return int(total or 0)


class Part(models.Model):
    """One line of a kit's parts list."""

    kit = models.ForeignKey(Kit, on_delete=models.CASCADE, related_name="parts")
    name = models.CharField(max_length=80)
    quantity = models.PositiveSmallIntegerField(default=1)
    unit_cost_cents = models.PositiveIntegerField(default=0)
    returns = models.BooleanField(
        "counted at hand-back", default=False, help_text="A loose part that must come home with the kit."
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=1), name="part_quantity_at_least_one")
        ]

    def __str__(self) -> str:
        return f"{self.quantity} x {self.name}"

    @property
    def cost_cents(self) -> int:
        return self.quantity * self.unit_cost_cents


class Place(models.TextChoices):
    SHELF = "shelf", "Shelf"
    BENCH = "bench", "Bench"
    TRUCK = "truck", "Truck"
    SITE = "site", "Site"
    MISSING = "missing", "Missing"
    RETIRED = "retired", "Retired"


class Custody(models.Model):
    """Who holds a kit, from-until. The open row is the kit's whereabouts and is stored nowhere else."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="custodies")
    place = models.CharField(max_length=8, choices=Place.choices)
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="custodies"
    )
    held_from = models.DateTimeField()
    held_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["held_from", "pk"]
        indexes = [models.Index(fields=["place"], condition=Q(held_until=None), name="open_custody_by_place")]
        constraints = [
            NoOverlap(name="kit_in_one_custody", same=["kit"], start="held_from", until="held_until"),
            models.UniqueConstraint(fields=["kit"], condition=Q(held_until=None), name="one_open_custody"),
            models.CheckConstraint(
                condition=Q(held_until=None) | Q(held_until__gte=F("held_from")),
                name="custody_ends_after_start",
            ),
            models.CheckConstraint(
                condition=Q(place=Place.TRUCK, technician__isnull=False)
                | Q(~Q(place=Place.TRUCK), technician__isnull=True),
                name="a_truck_has_a_technician",
            ),
            models.CheckConstraint(condition=Q(place__in=Place.values), name="custody_place_known"),
        ]

    def __str__(self) -> str:
        return f"{self.kit.code}: {self.word}"

    @property
    def word(self) -> str:
        """The whereabouts as people say it: "shelf", "Ben Ortiz's truck", "site"."""
        if self.place == Place.TRUCK:
            return f"{self.technician}'s truck"
        return Place(self.place).label.lower()

    @staticmethod
    def overlap_sentence(instance: "Custody", constraint: str, other: "Custody") -> str:
        return f"{instance.kit} is held elsewhere then: {other.word}. Move it from there first."
