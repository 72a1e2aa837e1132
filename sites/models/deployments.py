"""A stay: one kit at one unit from planning to hand-back, and where each sensor sat meanwhile."""

from datetime import date, datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.models import Kit, Sensor
from kits.models.base import Versioned
from kits.promises import NoOverlap
from sites.models.calls import Position, ServiceCall
from sites.models.places import Unit


class Stage(models.TextChoices):
    """Told from the times of a stay, never stored."""

    PLANNED = "planned", "Planned"
    LOADED = "loaded", "Loaded"
    INSTALLED = "installed", "Installed"
    REMOVED = "removed", "Removed"
    HANDED_BACK = "handed_back", "Back in shop"
    CALLED_OFF = "called_off", "Called off"
    NOT_RECOVERED = "not_recovered", "Not recovered"


class DeploymentQuerySet(models.QuerySet["Deployment"]):
    def running(self) -> "DeploymentQuerySet":
        """Stays that have not ended, planned ones included."""
        return self.filter(ended_at=None)

    def out(self) -> "DeploymentQuerySet":
        """Stays whose kit has left the shelf and is not back."""
        return self.filter(ended_at=None, loaded_at__isnull=False)

    def at(self, instant: datetime) -> "DeploymentQuerySet":
        """Stays that held their kit at `instant`, from loading on."""
        return self.filter(Q(ended_at=None) | Q(ended_at__gt=instant), loaded_at__lte=instant)

    def in_place(self) -> "DeploymentQuerySet":
        """Stays whose kit hangs at the unit now."""
        return self.filter(ended_at=None, installed_at__isnull=False, removed_at=None)

    def late(self, today: date) -> "DeploymentQuerySet":
        """Stays past the day their kit should have been taken out or back in the shop."""
        past_take_out = Q(removed_at=None, take_out_by__lt=today)
        return self.out().filter(past_take_out | Q(back_in_shop_by__lt=today))

    def with_places(self) -> "DeploymentQuerySet":
        return self.select_related("kit", "unit__site", "call__technician", "technician")


def ended_in(way: str) -> Q:
    """The stay ended at the instant of the time called `way`."""
    return Q((f"{way}__isnull", False), ended_at__isnull=False, ended_at=F(way))


class Deployment(Versioned):
    """One kit's stay at one unit. A row is history: ended, never reused."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="deployments")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="deployments")
    call = models.ForeignKey(ServiceCall, on_delete=models.PROTECT, related_name="deployments")
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="deployments"
    )
    holds_from = models.DateTimeField()
    holds_until = models.DateTimeField()
    take_out_by = models.DateField("take out by")
    back_in_shop_by = models.DateField("back in shop by")
    planned_at = models.DateTimeField()
    loaded_at = models.DateTimeField(null=True, blank=True)
    installed_at = models.DateTimeField(null=True, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_at_is_known = models.BooleanField(default=True)
    handed_back_at = models.DateTimeField(null=True, blank=True)
    called_off_at = models.DateTimeField(null=True, blank=True)
    not_recovered_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)
    let_go = models.BooleanField(
        default=False, help_text="The plan gave the kit up because of what really happened."
    )
    customer_asked_on = models.DateField("customer asked for it on", null=True, blank=True)
    saw = models.TextField(
        "what we saw", blank=True, help_text="For the customer, in plain words: three sentences."
    )
    suggest = models.TextField("what we suggest", blank=True, help_text="For the customer, in plain words.")

    objects = DeploymentQuerySet.as_manager()

    class Meta:
        ordering = ["-holds_from", "-pk"]
        indexes = [
            models.Index(fields=["kit", "ended_at"], name="stay_of_kit"),
            models.Index(fields=["kit"], condition=Q(ended_at=None), name="running_stay_of_kit"),
            models.Index(
                fields=["back_in_shop_by"], condition=Q(ended_at=None), name="running_stay_by_due_day"
            ),
        ]
        constraints = [
            NoOverlap(name="kit_in_one_place", same=["kit"], start="loaded_at", until="ended_at"),
            NoOverlap(
                name="kit_promised_once",
                same=["kit"],
                start="holds_from",
                until="holds_until",
                condition=Q(ended_at__isnull=True),
            ),
            models.CheckConstraint(
                condition=Q(holds_until__gt=F("holds_from")), name="hold_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(back_in_shop_by__gte=F("take_out_by")), name="take_out_before_back_in_shop"
            ),
            models.CheckConstraint(
                condition=Q(loaded_at=None) | Q(loaded_at__gte=F("planned_at")), name="loaded_after_planned"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gte=F("planned_at")), name="ended_after_planned"
            ),
            models.CheckConstraint(
                condition=Q(installed_at=None) | Q(loaded_at__isnull=False, installed_at__gte=F("loaded_at")),
                name="installed_after_loaded",
            ),
            models.CheckConstraint(
                condition=Q(removed_at=None)
                | Q(installed_at__isnull=False, removed_at__gte=F("installed_at")),
                name="removed_after_installed",
            ),
            models.CheckConstraint(
                condition=Q(handed_back_at=None)
                | Q(removed_at__isnull=False, handed_back_at__gte=F("removed_at")),
                name="handed_back_after_removed",
            ),
            models.CheckConstraint(
                condition=Q(called_off_at=None) | Q(installed_at=None), name="called_off_before_installed"
            ),
            models.CheckConstraint(
                condition=Q(not_recovered_at=None) | Q(loaded_at__isnull=False),
                name="not_recovered_after_loaded",
            ),
            models.CheckConstraint(
                # Every disjunct says which times are there: compared with an empty one, SQL would answer "unknown",
                # and a check lets the unknown pass.
                condition=Q(ended_at=None, handed_back_at=None, called_off_at=None, not_recovered_at=None)
                | Q(ended_in("handed_back_at"), called_off_at=None, not_recovered_at=None)
                | Q(ended_in("called_off_at"), handed_back_at=None, not_recovered_at=None)
                | Q(ended_in("not_recovered_at"), handed_back_at=None, called_off_at=None),
                name="ended_in_one_way",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(loaded_at=None) | Q(ended_at__gte=F("loaded_at")),
                name="ended_after_loaded",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(removed_at=None) | Q(ended_at__gte=F("removed_at")),
                name="ended_after_removed",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(installed_at=None) | Q(ended_at__gte=F("installed_at")),
                name="ended_after_installed",
            ),
            models.CheckConstraint(
                condition=Q(not_recovered_at=None) | ~Q(ended_why=""), name="not_recovered_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"stay {self.pk} of {self.kit}"

    def get_absolute_url(self) -> str:
        return reverse("stay", args=[self.pk])

    @property
    def stage(self) -> Stage:
        """Where the stay stands, told from its times."""
        for reached, stage in (
            (self.handed_back_at, Stage.HANDED_BACK),
            (self.called_off_at, Stage.CALLED_OFF),
            (self.not_recovered_at, Stage.NOT_RECOVERED),
            (self.removed_at, Stage.REMOVED),
            (self.installed_at, Stage.INSTALLED),
            (self.loaded_at, Stage.LOADED),
        ):
            if reached:
                return stage
        return Stage.PLANNED

    @property
    def site(self):  # type: ignore[no-untyped-def]
        return self.unit.site

    @staticmethod
    def overlap_sentence(instance: "Deployment", constraint: str, other: "Deployment") -> str:
        if constraint == "kit_promised_once":
            return (
                f"{instance.kit} is promised to {other.call} from {other.call.window_from} "
                f"until {other.back_in_shop_by}. Choose another kit or other days."
            )
        return f"{instance.kit} is out on {other.call} then. Bring that stay to its end first."


class Placement(models.Model):
    """A sensor at a position during a stay, from-until."""

    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="placements")
    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="placements")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="placements")
    placed_from = models.DateTimeField()
    placed_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["placed_from", "position"]
        constraints = [
            NoOverlap(
                name="one_sensor_a_position",
                same=["deployment", "position"],
                start="placed_from",
                until="placed_until",
            ),
            NoOverlap(
                name="one_position_a_sensor",
                same=["deployment", "sensor"],
                start="placed_from",
                until="placed_until",
            ),
            models.CheckConstraint(
                condition=Q(placed_until=None) | Q(placed_until__gte=F("placed_from")),
                name="placement_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sensor} at {self.position}"

    @staticmethod
    def overlap_sentence(instance: "Placement", constraint: str, other: "Placement") -> str:
        if constraint == "one_sensor_a_position":
            return f"Sensor {other.sensor} already sits at {other.position}. Move that one first."
        return f"Sensor {other.sensor} already sits at {other.position}. One sensor measures one place."
