"""Calibration checks: one sitting in which sensors are compared with a reference, and what came out for each."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.models.base import Versioned
from kits.models.kit import Kit
from kits.models.people import DecisionRule
from kits.models.sensor import Sensor
from kits.models.thermometers import Certificate, ReferenceThermometer
from kits.promises import AppendOnly


class Method(models.TextChoices):
    ICE = "ice", "Ice bath"
    STIRRED = "stirred", "Stirred bath"
    AIR = "air", "Side by side in air"
    BOILING = "boiling", "Boiling water"


class Shape(models.TextChoices):
    """How the offset of a check with several points runs over temperature."""

    ONE = "one", "One offset"
    POINTS = "points", "One a point, straight between"
    LINE = "line", "A straight line"


class CalibrationCheck(Versioned):
    """One sitting for all sensors of one or several kits, or loose ones. Closed, it never changes."""

    method = models.CharField(max_length=8, choices=Method.choices)
    reference = models.ForeignKey(ReferenceThermometer, on_delete=models.PROTECT, related_name="checks")
    # The paper the corrections are taken from; none for ice and boiling water.
    certificate = models.ForeignKey(
        Certificate, on_delete=models.PROTECT, null=True, blank=True, related_name="checks"
    )
    out_of_date_why = models.CharField("why an instrument out of date was used", max_length=200, blank=True)
    out_of_date_allowed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    uniformity_kelvin = models.DecimalField(
        "from place to place in the bath, ±, K", max_digits=6, decimal_places=4
    )
    stability_kelvin = models.DecimalField("wander while reading, ±, K", max_digits=6, decimal_places=4)
    station_pressure_pascal = models.PositiveIntegerField(
        "station pressure, Pa",
        null=True,
        blank=True,
        help_text="Not the sea-level figure of a weather report.",
    )
    altitude_m = models.DecimalField("altitude, m", max_digits=6, decimal_places=1, null=True, blank=True)
    # The shop's rule as it stood at the beginning, so that a later change leaves this check as it was.
    limit_kelvin = models.DecimalField("limit ±, K", max_digits=5, decimal_places=3)
    replace_beyond_kelvin = models.DecimalField("replace beyond ±, K", max_digits=5, decimal_places=3)
    rule = models.CharField(max_length=8, choices=DecisionRule.choices)
    guard_factor = models.DecimalField("guard factor r", max_digits=4, decimal_places=2, default=1)
    shape = models.CharField(max_length=6, choices=Shape.choices, default=Shape.ONE)
    conditions = models.CharField(max_length=200, blank=True)
    supersedes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    dropped_at = models.DateTimeField(null=True, blank=True)
    dropped_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-begun_at", "-pk"]
        constraints = [
            AppendOnly(name="closed_check_never_changes", when=Q(closed_at__isnull=False)),
            models.CheckConstraint(condition=Q(method__in=Method.values), name="check_method_known"),
            models.CheckConstraint(condition=Q(rule__in=DecisionRule.values), name="check_rule_known"),
            models.CheckConstraint(condition=Q(shape__in=Shape.values), name="check_shape_known"),
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(closed_at__gte=F("begun_at")),
                name="check_closed_after_beginning",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_by__isnull=True)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="check_says_who_closed_it",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(dropped_at=None), name="check_closed_or_dropped"
            ),
            models.CheckConstraint(
                condition=Q(dropped_at=None) | ~Q(dropped_why=""), name="dropped_check_says_why"
            ),
            models.CheckConstraint(
                condition=Q(out_of_date_allowed_by=None) | ~Q(out_of_date_why=""),
                name="out_of_date_says_why",
            ),
            models.CheckConstraint(
                condition=Q(uniformity_kelvin__gte=0, stability_kelvin__gte=0), name="bath_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(limit_kelvin__gt=0, guard_factor__gte=0, replace_beyond_kelvin__gt=0),
                name="check_limits_positive",
            ),
            models.CheckConstraint(
                condition=~Q(method=Method.BOILING)
                | Q(station_pressure_pascal__isnull=False, station_pressure_pascal__gte=30_000)
                | Q(altitude_m__isnull=False),
                name="boiling_says_pressure",
            ),
        ]

    def __str__(self) -> str:
        return f"check {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("check", args=[self.pk])

    @property
    def is_open(self) -> bool:
        return self.closed_at is None and self.dropped_at is None

    @property
    def never_changes(self) -> bool:
        """Closed: not even its version counts up any more."""
        return self.closed_at is not None

    @property
    def is_withdrawn(self) -> bool:
        return hasattr(self, "withdrawal")


class CheckSensor(models.Model):
    """A sensor that takes part in a check, and where it was wired then."""

    sitting = models.ForeignKey(CalibrationCheck, on_delete=models.CASCADE, related_name="sensors")
    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="checks")
    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    terminal = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["sitting", "sensor"], name="a_sensor_once_a_check"),
        ]

    def __str__(self) -> str:
        return f"{self.sensor} in {self.sitting}"


class CheckPoint(models.Model):
    """One temperature at which readings were taken."""

    sitting = models.ForeignKey(CalibrationCheck, on_delete=models.CASCADE, related_name="points")
    number = models.PositiveSmallIntegerField()
    aimed_celsius = models.DecimalField("about, °C", max_digits=6, decimal_places=2, null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["sitting", "number"], name="point_number_once"),
            models.CheckConstraint(
                condition=Q(number__gte=1, number__lte=12), name="point_number_believable"
            ),
        ]

    def __str__(self) -> str:
        return f"point {self.number} of {self.sitting}"


class HowRead(models.TextChoices):
    TYPED = "typed", "Typed"
    PASTED = "pasted", "Pasted"
    LIVE = "live", "Taken from live readings"


class CheckReading(models.Model):
    """One reading at a point: of a sensor, raw; or of the reference, as its display showed it."""

    point = models.ForeignKey(CheckPoint, on_delete=models.CASCADE, related_name="readings")
    # Empty: the reference's own reading.
    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    number = models.PositiveSmallIntegerField()
    celsius = models.DecimalField(max_digits=8, decimal_places=4)
    how = models.CharField(max_length=6, choices=HowRead.choices, default=HowRead.TYPED)
    read_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["sensor", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["point", "sensor", "number"],
                name="sensor_reading_number_once",
                condition=Q(sensor__isnull=False),
            ),
            models.UniqueConstraint(
                fields=["point", "number"],
                name="reference_reading_number_once",
                condition=Q(sensor__isnull=True),
            ),
            models.CheckConstraint(condition=Q(how__in=HowRead.values), name="reading_how_known"),
        ]

    def __str__(self) -> str:
        return f"{self.celsius} °C"


class Verdict(models.TextChoices):
    """What the technician reads."""

    GOOD = "good", "Good"
    USE_OFFSET = "use_offset", "Use offset"
    REPLACE = "replace", "Replace"


class Conformity(models.TextChoices):
    """As found against the limit, in the four words of a guard band (ILAC-G8:09/2019, 4.2)."""

    PASS = "pass", "Pass"
    CONDITIONAL_PASS = "conditional_pass", "Conditional pass"
    CONDITIONAL_FAIL = "conditional_fail", "Conditional fail"
    FAIL = "fail", "Fail"


class CheckResult(models.Model):
    """What a closed check found for one sensor: written once, on closing."""

    sitting = models.ForeignKey(CalibrationCheck, on_delete=models.PROTECT, related_name="results")
    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="results")
    as_found_offset_kelvin = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    as_found_error_kelvin = models.DecimalField(max_digits=7, decimal_places=4)
    as_left_error_kelvin = models.DecimalField(max_digits=7, decimal_places=4)
    offset_kelvin = models.DecimalField("offset (added), K", max_digits=6, decimal_places=3)
    standard_uncertainty_kelvin = models.DecimalField(max_digits=7, decimal_places=5)
    shared_uncertainty_kelvin = models.DecimalField(
        max_digits=7, decimal_places=5, help_text="The part common to all sensors of the sitting."
    )
    expanded_uncertainty_kelvin = models.DecimalField(max_digits=7, decimal_places=4)
    coverage_factor = models.DecimalField(max_digits=6, decimal_places=3)
    degrees_of_freedom = models.DecimalField(max_digits=9, decimal_places=1, null=True, blank=True)
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    conformity = models.CharField("as found", max_length=16, choices=Conformity.choices)
    conformity_left = models.CharField("as left", max_length=16, choices=Conformity.choices)
    probability_out = models.FloatField("probability of being out of tolerance, as found")
    # Every point with its means, offset and budget; the line with its covariance: as computed on closing.
    arithmetic = models.JSONField(default=dict)
    due_on = models.DateField()
    due_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            AppendOnly(name="check_result_never_changes"),
            models.UniqueConstraint(fields=["sitting", "sensor"], name="one_result_a_sensor"),
            models.CheckConstraint(condition=Q(verdict__in=Verdict.values), name="verdict_known"),
            models.CheckConstraint(
                condition=Q(conformity__in=Conformity.values, conformity_left__in=Conformity.values),
                name="conformity_known",
            ),
            models.CheckConstraint(
                condition=Q(probability_out__gte=0, probability_out__lte=1), name="probability_is_one"
            ),
            models.CheckConstraint(
                condition=Q(expanded_uncertainty_kelvin__gt=0), name="check_uncertainty_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sensor}: {self.get_verdict_display()}"


class CheckWithdrawal(models.Model):
    """A closed check that proved mistaken is withdrawn: the offsets before it are in force again from then."""

    sitting = models.OneToOneField(CalibrationCheck, on_delete=models.PROTECT, related_name="withdrawal")
    withdrawn_at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=200)

    class Meta:
        constraints = [
            AppendOnly(name="withdrawal_never_changes"),
            models.CheckConstraint(condition=~Q(why=""), name="withdrawal_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.sitting} withdrawn"


class DueNowReason(models.TextChoices):
    DROPPED = "dropped", "Dropped"
    REPAIRED = "repaired", "Lead repaired"
    SWAPPED = "swapped", "Swapped into a kit"
    DOUBT = "doubt", "Readings in doubt"
    REPLACE = "replace", "To be replaced"  # a check found it off by more than an offset may mend


class DueNow(models.Model):
    """Something happened to a sensor that makes its next check due at once, whatever its date says."""

    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="due_now")
    since = models.DateTimeField()
    reason = models.CharField(max_length=10, choices=DueNowReason.choices)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["since", "pk"]
        constraints = [
            AppendOnly(name="due_now_never_changes"),
            models.CheckConstraint(condition=Q(reason__in=DueNowReason.values), name="due_now_reason_known"),
        ]

    def __str__(self) -> str:
        return f"{self.sensor}: {self.get_reason_display().lower()}"
