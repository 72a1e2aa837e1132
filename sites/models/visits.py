"""What was found, done and counted at the door: one row a visit, and the readings taken beside a reference."""

from django.db import models
from django.db.models import Q

from kits.models import Sensor
from sites.models.calls import Position
from sites.models.deployments import Deployment


class TapPlace(models.TextChoices):
    """Where the 24 V tap sits relative to the condensate float switch; a power gap means nothing without it."""

    UPSTREAM = "upstream", "Before the float switch"
    DOWNSTREAM = "downstream", "After the float switch"
    NO_SWITCH = "no_switch", "No float switch here"
    UNKNOWN = "unknown", "Could not be told"


class WifiUse(models.TextChoices):
    GUEST = "guest", "Guest network"
    HOME = "home", "Home network"
    NONE = "none", "No home Wi-Fi"


class Installation(models.Model):
    """What the technician found and did when the kit went in."""

    deployment = models.OneToOneField(Deployment, on_delete=models.PROTECT, related_name="installation")
    hookup_terminals = models.CharField("24 V hook-up terminals", max_length=60)
    tap_place = models.CharField("tap relative to the float switch", max_length=12, choices=TapPlace.choices)
    volts_dead = models.DecimalField(
        "volts read when locked out", max_digits=5, decimal_places=1, null=True, blank=True
    )
    volts_after = models.DecimalField(
        "volts with the kit running", max_digits=5, decimal_places=1, null=True, blank=True
    )
    ports_drilled = models.PositiveSmallIntegerField(default=0)
    wifi = models.CharField("Wi-Fi", max_length=8, choices=WifiUse.choices, default=WifiUse.NONE)
    consent_by = models.CharField("who agreed, by name", max_length=120, blank=True)
    consent_part = models.CharField("as", max_length=40, blank=True)
    aux_switches = models.CharField("auxiliary contact switches", max_length=120, blank=True)
    aux_when = models.CharField("on what schedule or condition", max_length=120, blank=True)
    aux_agreed_by = models.CharField("who agreed to it", max_length=120, blank=True)
    reference_thermometer = models.CharField("read beside which thermometer", max_length=80, blank=True)
    box_place = models.CharField("where the box hangs", max_length=80, blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(tap_place__in=TapPlace.values), name="tap_place_known"),
            models.CheckConstraint(
                condition=Q(aux_switches="") | ~Q(Q(aux_agreed_by="") | Q(aux_when="")),
                name="aux_contact_was_agreed",
            ),
        ]

    def __str__(self) -> str:
        return f"installation of {self.deployment}"


class Removal(models.Model):
    """What was done when the kit came out, and by whom."""

    deployment = models.OneToOneField(Deployment, on_delete=models.PROTECT, related_name="removal")
    pulled_by = models.CharField(max_length=120)
    ports_closed = models.PositiveSmallIntegerField(null=True, blank=True)
    wire_restored = models.BooleanField(null=True, blank=True)
    system_ran = models.BooleanField(null=True, blank=True)
    notes = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"removal of {self.deployment}"


class HandBackPlace(models.TextChoices):
    SHOP = "shop", "In the shop"
    TRUCK = "truck", "Checked on the truck"


class HandBack(models.Model):
    """The kit counted, inspected and signed for."""

    deployment = models.OneToOneField(Deployment, on_delete=models.PROTECT, related_name="hand_back")
    where = models.CharField(max_length=6, choices=HandBackPlace.choices)
    sensors_expected = models.PositiveSmallIntegerField()
    sensors_counted = models.PositiveSmallIntegerField()
    missing = models.JSONField("what is missing", default=list)
    account_wiped = models.BooleanField(default=False)
    wifi_wiped = models.BooleanField(default=False)
    condition_note = models.CharField(max_length=200, blank=True)
    received_by = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(where__in=HandBackPlace.values), name="hand_back_place_known")
        ]

    def __str__(self) -> str:
        return f"hand-back of {self.deployment}"


class Extension(models.Model):
    """The customer agreed to a later end: who, when, how, and which dates it moved."""

    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="extensions")
    agreed_by = models.CharField(max_length=120)
    agreed_on = models.DateField()
    how = models.CharField(
        max_length=8, choices=[("phone", "By phone"), ("email", "By e-mail"), ("signed", "Signed")]
    )
    take_out_by_before = models.DateField()
    take_out_by = models.DateField()
    back_in_shop_by_before = models.DateField()
    back_in_shop_by = models.DateField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.deployment} until {self.take_out_by}"


class Occasion(models.TextChoices):
    INSTALL = "install", "At install"
    REMOVAL = "removal", "At removal"


class ReferenceReading(models.Model):
    """A sensor's raw reading with a reference thermometer held beside it, in °C."""

    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="reference_readings")
    occasion = models.CharField(max_length=8, choices=Occasion.choices)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+")
    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="+")
    raw_celsius = models.DecimalField(max_digits=6, decimal_places=2)
    reference_celsius = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    read_at = models.DateTimeField()

    class Meta:
        ordering = ["occasion", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["deployment", "occasion", "position"], name="one_reading_a_position_and_occasion"
            ),
            models.CheckConstraint(condition=Q(occasion__in=Occasion.values), name="occasion_known"),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.raw_celsius} °C"
