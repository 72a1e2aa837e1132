"""Work that is booked: positions a call wants watched, service calls."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.models.base import Searchable, Versioned
from sites.models.agreements import Agreement
from sites.models.places import Site, Unit

# The five positions the computation knows; the shop may add others as plain places.
BUILT_IN_POSITIONS = {
    "SA": "Supply air",
    "RA": "Return air",
    "LL": "Liquid line",
    "VL": "Vapor line",
    "OA": "Outdoor air",
}


class Position(models.Model):
    """A place that a sensor measures, written as two letters in a square."""

    code = models.CharField(max_length=4, unique=True)
    name = models.CharField(max_length=40)
    built_in = models.BooleanField(default=False, editable=False)

    class Meta:
        ordering = ["-built_in", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(code=""), name="position_has_a_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.name.lower()}"


class Reason(models.TextChoices):
    NEW_INSTALL = "new_install", "New-install watch"
    INTERMITTENT = "intermittent", "Intermittent fault"
    AGREEMENT = "agreement", "Agreement"
    OTHER = "other", "Other"


class ServiceCall(Versioned, Searchable):
    """A booked visit with a window of days, a technician and the positions it wants watched."""

    number = models.PositiveIntegerField(unique=True)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="calls")
    reason = models.CharField(max_length=12, choices=Reason.choices)
    told_us = models.TextField("what the customer told us", blank=True)
    window_from = models.DateField("window from")
    window_until = models.DateField("window to", help_text="The last day of the window.")
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="calls"
    )
    agreement = models.ForeignKey(
        Agreement, on_delete=models.PROTECT, null=True, blank=True, related_name="calls"
    )
    priority = models.BooleanField(
        "priority",
        default=False,
        help_text="Installed by the next day was promised; the terms say what that costs.",
    )
    wanted_positions = models.ManyToManyField(Position, blank=True, related_name="calls")
    lead_length_m = models.DecimalField(
        "longest lead needed (m)", max_digits=4, decimal_places=1, null=True, blank=True
    )
    notes = models.TextField(blank=True)
    closed_on = models.DateField(null=True, blank=True)
    closed_why = models.CharField(max_length=200, blank=True)
    needs_kit_why = models.CharField(max_length=200, blank=True, editable=False)

    searched = ("number", "told_us")

    class Meta:
        ordering = ["window_from", "number"]
        indexes = [
            models.Index(fields=["window_from", "number"], name="call_by_window"),
            # Open calls are few among all that ever were.
            models.Index(
                fields=["window_from", "number"], condition=Q(closed_on=None), name="open_call_by_window"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(window_until__gte=F("window_from")), name="call_window_ends_after_start"
            ),
            models.CheckConstraint(condition=Q(reason__in=Reason.values), name="call_reason_known"),
        ]

    def __str__(self) -> str:
        return f"call {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("call", args=[self.number])

    @property
    def site(self) -> Site:
        return self.unit.site
