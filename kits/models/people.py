"""The people of the shop and the shop itself."""

from decimal import Decimal

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q

from kits.models.base import Versioned


class Role(models.TextChoices):
    OFFICE = "office", "Office"
    TECHNICIAN = "technician", "Technician"
    MANAGER = "manager", "Manager"


class User(Versioned, AbstractUser):
    """A person of the shop who can sign in, with the one role that decides what they may do."""

    first_name = None  # type: ignore[assignment]  # one name is enough, written as the person writes it
    last_name = None  # type: ignore[assignment]
    name = models.CharField(max_length=80)
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.TECHNICIAN)
    phone = models.CharField(max_length=40, blank=True)

    REQUIRED_FIELDS = ["name", "role"]

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=Q(role__in=Role.values), name="user_role_known"),
            models.CheckConstraint(condition=~Q(name=""), name="user_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split()[0] if self.name else self.username

    @property
    def is_office(self) -> bool:
        """May do office work; a manager may do all of it too."""
        return self.role in {Role.OFFICE, Role.MANAGER}

    @property
    def is_manager(self) -> bool:
        return self.role == Role.MANAGER

    @property
    def is_technician(self) -> bool:
        return self.role == Role.TECHNICIAN


class TemperatureUnit(models.TextChoices):
    FAHRENHEIT = "F", "°F"
    CELSIUS = "C", "°C"


class LabelStock(models.TextChoices):
    """What labels can be printed on; the lengths of each stand in `reports.papers.stock` under the same key."""

    LETTER_30 = "letter-30up", "US Letter, 30 labels of 2 5/8 by 1 in"
    LETTER_30_WIDE_GAP = "letter-30up-alt", "US Letter, 30 labels of 2 5/8 by 1 in, 5/32 in apart"
    LETTER_10 = "letter-10up", "US Letter, 10 labels of 4 by 2 in"
    LETTER_10_NARROW_GAP = "letter-10up-alt", "US Letter, 10 labels of 4 by 2 in, 1/8 in apart"
    A4_21 = "a4-21up", "A4, 21 labels of 63.5 by 38.1 mm"
    A4_65 = "a4-65up", "A4, 65 labels of 38.1 by 21.2 mm"
    A4_65_NO_GAP = "a4-65up-no-gap", "A4, 65 labels of 38 by 21.2 mm without gaps"
    TAPE_24 = "tape-24", "24 mm tape"
    TAPE_18 = "tape-18", "18 mm tape"
    TAPE_12 = "tape-12", "12 mm tape, flags only"
    ROLL_62 = "roll-62", "62 mm roll, cut at 29 mm"


class DecisionRule(models.TextChoices):
    """How a sensor is judged against the shop's limit, its uncertainty looked at or not (ILAC-G8:09/2019, 4.2)."""

    SIMPLE = "simple", "Simple: the error alone"
    GUARDED = "guarded", "Guarded: the limit less r times the uncertainty"


class Shop(Versioned):
    """The one shop that this installation serves: what stands on its papers and how it counts."""

    name = models.CharField(max_length=80)
    address = models.TextField(
        blank=True, help_text="As it should stand on papers, one line below the other."
    )
    phone = models.CharField(max_length=40, help_text="Printed on every kit, so that a finder can call.")
    email = models.EmailField(blank=True)
    licence_number = models.CharField("contractor licence number", max_length=60, blank=True)
    logo_png = models.BinaryField("logo", default=bytes, blank=True, editable=False)
    time_zone = models.CharField(max_length=60, default="America/New_York")
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit.choices, default=TemperatureUnit.FAHRENHEIT
    )
    currency = models.CharField(max_length=3, default="USD")
    label_stock = models.CharField(max_length=20, choices=LabelStock.choices, default=LabelStock.LETTER_30)
    label_host = models.CharField(
        "address on labels",
        max_length=60,
        default="127.0.0.1:8000",
        help_text="Host and port a phone reaches this shop by. Twelve characters or fewer give the smallest code.",
    )
    check_interval_months = models.PositiveSmallIntegerField("check sensors every (months)", default=6)
    sensor_limit_kelvin = models.DecimalField(
        "a sensor may be off by ±, K", max_digits=5, decimal_places=3, default=Decimal("0.5")
    )
    replace_beyond_kelvin = models.DecimalField(
        "replace a sensor off by more than ±, K", max_digits=5, decimal_places=3, default=Decimal("1.1")
    )
    decision_rule = models.CharField(max_length=8, choices=DecisionRule.choices, default=DecisionRule.GUARDED)
    guard_factor = models.DecimalField("guard factor r", max_digits=4, decimal_places=2, default=1)
    drift_share_percent = models.PositiveSmallIntegerField(
        "check twice as often when drift passes this share of the limit (%)", default=50
    )
    sensors_must_be_in_date = models.BooleanField("only choose kits whose sensors stay in date", default=True)
    altitude_m = models.DecimalField(
        "altitude of the shop, m", max_digits=6, decimal_places=1, null=True, blank=True
    )
    usual_stay_days = models.PositiveSmallIntegerField("a usual stay (days)", default=14)
    turnaround_days = models.PositiveSmallIntegerField("days to bring a kit home after take-out", default=2)
    long_stay_days = models.PositiveSmallIntegerField(
        "a stay longer than this needs the manager (days)", default=60
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_shop_only"),
            models.CheckConstraint(
                condition=Q(temperature_unit__in=TemperatureUnit.values), name="shop_unit_known"
            ),
            models.CheckConstraint(
                condition=Q(decision_rule__in=DecisionRule.values), name="shop_rule_known"
            ),
            models.CheckConstraint(
                condition=Q(sensor_limit_kelvin__gt=0, replace_beyond_kelvin__gt=0, guard_factor__gte=0),
                name="shop_limits_positive",
            ),
            models.CheckConstraint(
                condition=Q(check_interval_months__gte=1, check_interval_months__lte=60),
                name="shop_check_interval_believable",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> "Shop":
        """The shop's row; before the first run a nameless one that is not yet saved."""
        return cls.objects.filter(pk=1).first() or cls(pk=1, name="This shop", phone="")
