"""What was agreed about monitoring: which sites it covers, and its terms, dated; the shop's price list is kept alike."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.models.base import Searchable, Versioned
from kits.promises import AppendOnly
from sites.models.places import Customer, Site


class Agreement(Versioned, Searchable):
    """The service agreement monitoring is billed under, naming the sites it covers."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="agreements")
    sites = models.ManyToManyField(Site, related_name="agreements")
    since = models.DateField("from")
    until = models.DateField(null=True, blank=True)
    terms = models.TextField(help_text="What was agreed, in words: days included, price, how it ends.")

    searched = ("terms",)

    class Meta:
        ordering = ["-since", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until=None) | Q(until__gt=F("since")), name="agreement_ends_after_start"
            )
        ]

    def __str__(self) -> str:
        return f"Agreement {self.pk} with {self.customer}"

    def get_absolute_url(self) -> str:
        return reverse("agreement", args=[self.pk])

    def clean(self) -> None:
        """Contract years count from the first day, so that day stays once there are terms to charge by."""
        if self.pk is None or not self.dated_terms.exists():
            return
        before = type(self).objects.only("since").get(pk=self.pk).since
        if before != self.since:
            raise ValidationError(
                {
                    "since": f"Contract years of this agreement count from {before}, and it has terms by now. "
                    "Make a new agreement if it began on another day."
                },
                code="agreement_has_terms",
            )


class Shape(models.TextChoices):
    DAY = "day", "By the day"
    WEEK = "week", "By the started week"
    MONTH = "month", "By the month"
    CHEAPEST = "cheapest", "Whatever is cheapest for the customer"


class Proration(models.TextChoices):
    ACTUAL = "actual", "By the days of that month"
    THIRTY = "thirty", "A month is 30 days"
    YEAR_365 = "year_365", "Twelve months are 365 days"


class Anchor(models.TextChoices):
    LAST_DAY = "last_day", "On the last day of that month"
    NEXT_DAY = "next_day", "On the first of the next month"


class DayCount(models.TextChoices):
    INSTALL = "install", "The install day counts, the removal day does not"
    BOTH = "both", "Both days count"
    NEITHER = "neither", "Neither day counts"


class AllowanceOrder(models.TextChoices):
    INSTALLED_FIRST = "installed_first", "The kit installed first"
    PRIORITY_FIRST = "priority_first", "A kit with priority"


class LostRule(models.TextChoices):
    NOTHING = "nothing", "Nothing"
    LIST = "list", "Its replacement value"
    DEPRECIATED = "depreciated", "Its replacement value, less its age"


class TaxRounding(models.TextChoices):
    LINE = "line", "On each line"
    BILL = "bill", "Once a bill"


class TaxedKind(models.TextChoices):
    """Kinds of charge that may be taxed each in its own way; the fields of `Terms` begin with these."""

    MONITORING = "monitoring", "Monitoring"
    SET_UP = "set_up", "Set-up"
    LOST_KIT = "lost_kit", "Lost kit"
    PARTS = "parts", "Cut leads"
    VISIT = "visit", "Visits and inspection"


def price(label: str, help_text: str = "") -> models.PositiveIntegerField:
    """A price in whole cents; empty: there is none."""
    return models.PositiveIntegerField(label, null=True, blank=True, help_text=help_text)


def tax_code(label: str) -> models.CharField:
    return models.CharField(f"tax code of {label}", max_length=20, blank=True)


def tax_rate(label: str) -> models.DecimalField:
    """A fraction: 0.0725 is 7.25 %."""
    return models.DecimalField(f"tax on {label}", max_digits=6, decimal_places=5, default=Decimal(0))


class Terms(models.Model):
    """What is charged from a day on, under an agreement or (without one) by the shop's price list. Never changed: new
    terms are a new row from a later day, and what was billed keeps its price."""

    agreement = models.ForeignKey(
        Agreement, on_delete=models.PROTECT, null=True, blank=True, related_name="dated_terms"
    )
    from_day = models.DateField("from")
    name = models.CharField(max_length=60, blank=True, help_text="What the shop calls them, if anything.")
    currency = models.CharField(max_length=3, default="USD")
    # The five that stand in front.
    shape = models.CharField("charged", max_length=8, choices=Shape.choices, default=Shape.DAY)
    day_cents = price("a day")
    included_days = models.PositiveSmallIntegerField("days included a contract year", default=0)
    set_up_cents = price("set-up, once a stay")
    cap_cents = price("at most, a stay")
    # The rest.
    week_cents = price("a started week")
    month_cents = price("a month")
    proration = models.CharField(
        "a part of a month", max_length=8, choices=Proration.choices, default=Proration.ACTUAL
    )
    month_anchor = models.CharField(
        "a month from the 31st begins", max_length=8, choices=Anchor.choices, default=Anchor.LAST_DAY
    )
    year_anchor = models.CharField(
        "a contract year from 29 February begins",
        max_length=8,
        choices=Anchor.choices,
        default=Anchor.LAST_DAY,
    )
    kits_share_a_day = models.BooleanField("two kits on one day use one included day", default=True)
    allowance_order = models.CharField(
        "the last included day goes to",
        max_length=15,
        choices=AllowanceOrder.choices,
        default=AllowanceOrder.INSTALLED_FIRST,
    )
    carry_over = models.BooleanField("unused included days carry over", default=False)
    minimum_cents = price("at least, a stay")
    priority_multiplier = models.DecimalField(
        "priority multiplies the price by", max_digits=5, decimal_places=3, default=Decimal(1)
    )
    priority_scales_cap = models.BooleanField("and the most a stay costs", default=False)
    day_count = models.CharField(
        "which days count", max_length=8, choices=DayCount.choices, default=DayCount.INSTALL
    )
    lost_rule = models.CharField(
        "a lost kit costs", max_length=12, choices=LostRule.choices, default=LostRule.NOTHING
    )
    life_months = models.PositiveSmallIntegerField("a kit lives (months)", default=36)
    deposit_cents = models.PositiveIntegerField("deposit held", default=0)
    found_within_days = models.PositiveSmallIntegerField("given back if found within (days)", default=60)
    inspection_percent = models.DecimalField(
        "less an inspection of (%)", max_digits=5, decimal_places=2, default=Decimal(0)
    )
    cut_lead_cents = price("a cut lead")
    no_access_cents = price("no access, after two written offers")
    dead_below_hours = models.PositiveSmallIntegerField("a day needs readings of (hours)", default=12)
    tax_rounding = models.CharField(
        "tax is rounded", max_length=4, choices=TaxRounding.choices, default=TaxRounding.LINE
    )
    monitoring_tax_code, monitoring_tax_rate = tax_code("monitoring"), tax_rate("monitoring")
    set_up_tax_code, set_up_tax_rate = tax_code("set-up"), tax_rate("set-up")
    lost_kit_tax_code, lost_kit_tax_rate = tax_code("a lost kit"), tax_rate("a lost kit")
    parts_tax_code, parts_tax_rate = tax_code("cut leads"), tax_rate("cut leads")
    visit_tax_code, visit_tax_rate = tax_code("visits"), tax_rate("visits")

    class Meta:
        ordering = ["agreement", "from_day"]
        verbose_name_plural = "terms"
        constraints = [
            AppendOnly(name="terms_never_change"),
            models.UniqueConstraint(
                fields=["agreement", "from_day"],
                condition=Q(agreement__isnull=False),
                name="one_set_of_terms_a_day",
            ),
            models.UniqueConstraint(
                fields=["from_day"], condition=Q(agreement__isnull=True), name="one_price_list_a_day"
            ),
            models.CheckConstraint(
                condition=Q(shape=Shape.DAY, day_cents__isnull=False)
                | Q(shape=Shape.WEEK, week_cents__isnull=False)
                | Q(shape=Shape.MONTH, month_cents__isnull=False)
                | Q(shape=Shape.CHEAPEST, day_cents__isnull=False),
                name="terms_have_the_price_they_charge_by",
            ),
            models.CheckConstraint(
                condition=Q(cap_cents=None) | Q(minimum_cents=None) | Q(cap_cents__gte=F("minimum_cents")),
                name="terms_minimum_below_cap",
            ),
            models.CheckConstraint(condition=~Q(currency=""), name="terms_have_a_currency"),
            *[
                models.CheckConstraint(
                    condition=Q((f"{kind}_tax_rate__gte", 0), (f"{kind}_tax_rate__lt", 1)),
                    name=f"terms_{kind}_tax_below_all",
                )
                for kind in ("monitoring", "set_up", "lost_kit", "parts", "visit")
            ],
        ]

    def __str__(self) -> str:
        of = f"agreement {self.agreement_id}" if self.agreement_id else "the price list"
        return f"terms of {of} from {self.from_day}"
