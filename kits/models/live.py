"""What a kit on the bench sends right now: its key, and its newest readings, kept for a short while."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from kits.models.kit import Kit


class KitKey(models.Model):
    """The key a kit sends its readings with. Only its SHA-256 is kept; a new one revokes the one before."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="keys")
    sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["made_at"]
        constraints = [
            models.UniqueConstraint(fields=["kit"], condition=Q(revoked_at=None), name="one_key_a_kit")
        ]

    def __str__(self) -> str:
        return f"key of {self.kit}"


class LiveReading(models.Model):
    """One raw reading that a kit sent while on the bench, of a sensor known only by its ROM ID."""

    kit = models.ForeignKey(Kit, on_delete=models.CASCADE, related_name="live_readings")
    rom = models.CharField("ROM ID", max_length=16)
    celsius = models.DecimalField(max_digits=8, decimal_places=4)
    read_at = models.DateTimeField()
    received_at = models.DateTimeField()

    class Meta:
        ordering = ["read_at", "pk"]
        indexes = [models.Index(fields=["kit", "read_at"], name="live_reading_of_kit")]
        constraints = [
            models.UniqueConstraint(fields=["kit", "rom", "read_at"], name="one_reading_an_instant")
        ]

    def __str__(self) -> str:
        return f"{self.rom}: {self.celsius} °C"
