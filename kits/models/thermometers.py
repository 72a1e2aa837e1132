"""What sensors are compared with: reference thermometers and their certificates, ice, boiling water."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from kits.models.base import Searchable, Versioned
from kits.promises import AppendOnly


class ReferenceKind(models.TextChoices):
    THERMOMETER = "thermometer", "Reference thermometer"
    ICE = "ice", "Crushed ice"
    BOILING = "boiling", "Boiling water"


class ReferenceThermometer(Versioned, Searchable):
    """The trusted instrument; or ice or boiling water, for a shop without one."""

    kind = models.CharField(max_length=12, choices=ReferenceKind.choices, default=ReferenceKind.THERMOMETER)
    name = models.CharField(max_length=60)
    serial = models.CharField(max_length=60, blank=True)
    resolution_kelvin = models.DecimalField(
        "smallest step it shows, K", max_digits=6, decimal_places=4, default=0
    )
    # Only of ice and boiling water: how far it may lie from the true temperature, either way.
    allowance_kelvin = models.DecimalField(
        "allow ±, K", max_digits=6, decimal_places=3, null=True, blank=True
    )
    out_of_use_since = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)

    searched = ("name", "serial")

    class Meta:
        ordering = ["kind", "name", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="reference_has_a_name"),
            models.CheckConstraint(condition=Q(kind__in=ReferenceKind.values), name="reference_kind_known"),
            models.CheckConstraint(
                condition=Q(resolution_kelvin__gte=0, resolution_kelvin__lte=2),
                name="reference_resolution_believable",
            ),
            models.CheckConstraint(
                condition=Q(kind=ReferenceKind.THERMOMETER, allowance_kelvin__isnull=True)
                | Q(
                    ~Q(kind=ReferenceKind.THERMOMETER),
                    allowance_kelvin__isnull=False,
                    allowance_kelvin__gt=0,
                    allowance_kelvin__lte=5,
                ),
                name="ice_and_steam_have_an_allowance",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})" if self.serial else self.name

    def get_absolute_url(self) -> str:
        return reverse("reference", args=[self.pk])

    def certificate_on(self, day: date) -> "Certificate | None":
        """The newest certificate issued by `day`."""
        return self.certificates.filter(issued_on__lte=day).order_by("-issued_on", "-pk").first()


class Certificate(models.Model):
    """What one calibration certificate of a reference thermometer says. Never changed: a new paper is a new row."""

    thermometer = models.ForeignKey(
        ReferenceThermometer, on_delete=models.PROTECT, related_name="certificates"
    )
    number = models.CharField("certificate number", max_length=60)
    issuer = models.CharField("issued by", max_length=120)
    issued_on = models.DateField()
    due_on = models.DateField("good until", help_text="The day from which the shop wants a new one.")
    # [[temperature in °C, correction ADDED to the reading in K], ...], by rising temperature, interpolated between.
    corrections = models.JSONField(default=list, blank=True)
    expanded_uncertainty_kelvin = models.DecimalField("uncertainty U, K", max_digits=6, decimal_places=4)
    coverage_factor = models.DecimalField("its k", max_digits=4, decimal_places=2, default=2)
    drift_allowance_kelvin = models.DecimalField(
        "drift since, allow ±, K", max_digits=6, decimal_places=4, default=0
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["issued_on", "pk"]
        constraints = [
            AppendOnly(name="certificate_never_changes"),
            models.UniqueConstraint(fields=["thermometer", "number"], name="certificate_number_once"),
            models.CheckConstraint(
                condition=Q(due_on__gt=models.F("issued_on")), name="certificate_due_after_issue"
            ),
            models.CheckConstraint(
                condition=Q(expanded_uncertainty_kelvin__gt=0, expanded_uncertainty_kelvin__lte=5),
                name="certificate_uncertainty_believable",
            ),
            models.CheckConstraint(
                condition=Q(coverage_factor__gte=1, coverage_factor__lte=4),
                name="certificate_factor_believable",
            ),
            models.CheckConstraint(
                condition=Q(drift_allowance_kelvin__gte=0), name="certificate_drift_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} of {self.issuer}, {self.issued_on}"
