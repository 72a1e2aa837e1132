"""Bills and credit notes: papers that never change once they are issued, and what they took for themselves."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from kits.promises import AppendOnly
from sites.models import Agreement, Customer, Deployment, Terms

SOMEBODY = settings.AUTH_USER_MODEL


class Series(models.TextChoices):
    BILL = "B", "Bills"
    CREDIT = "C", "Credit notes"


class LineKind(models.TextChoices):
    """What a line charges or takes off: the words of `reports.billing.lines.Kind`."""

    SET_UP = "set_up", "Set-up"
    MONITORING = "monitoring", "Monitoring"
    CHEAPER = "cheaper", "Cheaper by the week or month"
    CAP = "cap", "No more than agreed"
    MINIMUM = "minimum", "No less than agreed"
    LOST_KIT = "lost_kit", "Kit not recovered"
    DEPOSIT = "deposit", "Deposit set against it"
    INSPECTION = "inspection", "Inspection of a found kit"
    CUT_LEADS = "cut_leads", "Cut leads"
    NO_ACCESS = "no_access", "No access"


class PaperNumber(models.Model):
    """The last number given in a series and year. Taken under a lock in the transaction that issues the paper, so no
    number is given twice and none is missing."""

    series = models.CharField(max_length=1, choices=Series.choices)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["series", "year"], name="one_counter_a_series_and_year"),
            models.CheckConstraint(condition=Q(series__in=Series.values), name="paper_series_known"),
        ]

    def __str__(self) -> str:
        return f"{self.series}{self.year}, {self.last} given"


class Paper(models.Model):
    """What bills and credit notes share. Issued, a paper stays as it is; `issued_at` is its seal."""

    number = models.CharField(max_length=20, unique=True)
    year = models.PositiveSmallIntegerField()
    serial = models.PositiveIntegerField()
    payer_name = models.CharField(max_length=120)
    currency = models.CharField(max_length=3)
    amount_cents = models.BigIntegerField("without tax")
    tax_cents = models.BigIntegerField("tax")
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.number

    @property
    def total_cents(self) -> int:
        return self.amount_cents + self.tax_cents


class Bill(Paper):
    """What one payer owes for a month."""

    payer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="bills")
    month = models.DateField(help_text="The first day of the month.")
    due_on = models.DateField("to be paid by")

    class Meta:
        ordering = ["-year", "-serial"]
        indexes = [models.Index(fields=["payer", "month"], name="bill_by_payer_and_month")]
        constraints = [
            AppendOnly(name="issued_bill_never_changes", when=Q(issued_at__isnull=False)),
            models.UniqueConstraint(fields=["year", "serial"], name="one_bill_a_number"),
        ]

    def get_absolute_url(self) -> str:
        return reverse("bill", args=[self.number])


class LineOfPaper(models.Model):
    """What lines of bills and credit notes share."""

    kind = models.CharField(max_length=12, choices=LineKind.choices)
    start = models.DateField("from")
    until = models.DateField()
    amount_cents = models.BigIntegerField()
    tax_code = models.CharField(max_length=20, blank=True)
    tax_rate = models.DecimalField(max_digits=6, decimal_places=5)
    tax_cents = models.BigIntegerField()
    reason = models.TextField()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.reason


class BillLine(LineOfPaper):
    """One line of a bill: which days of which stay, by which rule, at the price in force then."""

    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, related_name="lines")
    place = models.PositiveIntegerField()
    payer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="+")
    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="bill_lines")
    agreement = models.ForeignKey(
        Agreement, on_delete=models.PROTECT, null=True, blank=True, related_name="bill_lines"
    )
    terms = models.ForeignKey(Terms, on_delete=models.PROTECT, related_name="+")
    kit_code = models.CharField(max_length=6)
    site_words = models.CharField(max_length=260)
    cell = models.DateField("month it belongs to")
    days = models.PositiveSmallIntegerField(default=0)
    covered = models.PositiveSmallIntegerField("of these included", default=0)
    holes = models.JSONField("days in between that do not count", default=list)
    quantity = models.PositiveIntegerField(default=1)
    unit_cents = models.DecimalField("price of one, in cents", max_digits=14, decimal_places=4)
    tax_rounding = models.CharField(max_length=4)

    class Meta:
        ordering = ["bill", "place"]
        constraints = [
            models.UniqueConstraint(fields=["bill", "place"], name="one_bill_line_a_place"),
            models.CheckConstraint(condition=Q(kind__in=LineKind.values), name="bill_line_kind_known"),
            models.CheckConstraint(condition=Q(until__gt=F("start")), name="bill_line_ends_after_start"),
            models.CheckConstraint(condition=Q(covered__lte=F("days")), name="bill_line_covers_its_days"),
        ]


class CreditNote(Paper):
    """What is taken back of one bill: all of it, or the difference to what is right."""

    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, related_name="credit_notes")
    payer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="credit_notes")
    whole = models.BooleanField("the whole bill", default=False)
    why = models.CharField(max_length=200)

    class Meta:
        ordering = ["-year", "-serial"]
        constraints = [
            AppendOnly(name="issued_credit_never_changes", when=Q(issued_at__isnull=False)),
            models.UniqueConstraint(fields=["year", "serial"], name="one_credit_note_a_number"),
            models.CheckConstraint(condition=~Q(why=""), name="credit_says_why"),
        ]

    def get_absolute_url(self) -> str:
        return reverse("credit_note", args=[self.number])


class CreditLine(LineOfPaper):
    """What is given back of one line of the bill; a negative amount is added to it, such as a minimum that now bears."""

    credit_note = models.ForeignKey(CreditNote, on_delete=models.PROTECT, related_name="lines")
    place = models.PositiveIntegerField()
    bill_line = models.ForeignKey(BillLine, on_delete=models.PROTECT, related_name="taken_back")
    days = models.JSONField("days given back", default=list)

    class Meta:
        ordering = ["credit_note", "place"]
        constraints = [
            models.UniqueConstraint(fields=["credit_note", "place"], name="one_credit_line_a_place"),
            models.CheckConstraint(condition=Q(kind__in=LineKind.values), name="credit_line_kind_known"),
        ]


class DayClaim(models.Model):
    """A day of a stay stands on this line of a bill, so no other may have it, until a credit line gives it back."""

    day = models.DateField()
    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="day_claims")
    line = models.ForeignKey(BillLine, on_delete=models.PROTECT, related_name="day_claims")
    released_by = models.ForeignKey(
        CreditLine, on_delete=models.PROTECT, null=True, blank=True, related_name="days_released"
    )

    class Meta:
        ordering = ["deployment", "day"]
        constraints = [
            models.UniqueConstraint(
                fields=["deployment", "day"], condition=Q(released_by__isnull=True), name="one_bill_a_day"
            ),
            AppendOnly(name="day_claim_stays", may_change=["released_by"]),
            AppendOnly(name="released_day_stays", when=Q(released_by__isnull=False)),
        ]

    def __str__(self) -> str:
        return f"{self.day} of {self.deployment}"


class OnceClaim(models.Model):
    """A charge made once a stay (set-up, minimum, lost kit) stands on this line, until a credit line gives it back."""

    kind = models.CharField(max_length=12, choices=LineKind.choices)
    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="once_claims")
    line = models.ForeignKey(BillLine, on_delete=models.PROTECT, related_name="once_claims")
    released_by = models.ForeignKey(
        CreditLine, on_delete=models.PROTECT, null=True, blank=True, related_name="once_released"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["deployment", "kind"], condition=Q(released_by__isnull=True), name="one_charge_a_stay"
            ),
            AppendOnly(name="once_claim_stays", may_change=["released_by"]),
            AppendOnly(name="released_charge_stays", when=Q(released_by__isnull=False)),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.deployment}"


class MonthClaim(models.Model):
    """A payer has this bill for a month, so gets no second one, until a credit note takes it back as a whole."""

    month = models.DateField()
    currency = models.CharField(max_length=3)
    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, related_name="month_claims")
    payer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="+")
    released_by = models.ForeignKey(
        CreditNote, on_delete=models.PROTECT, null=True, blank=True, related_name="months_released"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["payer", "month", "currency"],
                condition=Q(released_by__isnull=True),
                name="one_bill_a_payer_and_month",
            ),
            AppendOnly(name="month_claim_stays", may_change=["released_by"]),
            AppendOnly(name="released_month_stays", when=Q(released_by__isnull=False)),
        ]

    def __str__(self) -> str:
        return f"{self.month:%Y-%m} of {self.payer}"
