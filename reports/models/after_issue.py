"""What happens to papers after they are issued, and what is marked about the days of a stay: rows that are only added."""

from django.db import models
from django.db.models import F, Q

from kits.promises import AppendOnly
from reports.models.bills import SOMEBODY, Bill, BillLine, CreditNote
from sites.models import Deployment

OF_ONE_PAPER = Q(bill__isnull=False, credit_note__isnull=True) | Q(
    bill__isnull=True, credit_note__isnull=False
)


class OfPaper(models.Model):
    """About a bill or a credit note."""

    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, null=True, blank=True, related_name="%(class)ss")
    credit_note = models.ForeignKey(
        CreditNote, on_delete=models.PROTECT, null=True, blank=True, related_name="%(class)ss"
    )

    class Meta:
        abstract = True

    @property
    def paper(self) -> Bill | CreditNote:
        found = self.bill or self.credit_note
        assert found is not None  # noqa: S101 - a check of the table
        return found


class StoredPaper(OfPaper):
    """The paper as it was drawn, byte for byte."""

    content = models.BinaryField(editable=False)
    sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            AppendOnly(name="stored_paper_never_changes"),
            models.CheckConstraint(condition=OF_ONE_PAPER, name="stored_paper_of_one_paper"),
            models.UniqueConstraint(fields=["bill"], name="one_stored_paper_a_bill"),
            models.UniqueConstraint(fields=["credit_note"], name="one_stored_paper_a_credit_note"),
        ]

    def __str__(self) -> str:
        return f"{self.paper}, {self.sha256[:12]}"


class SentBy(models.TextChoices):
    EMAIL = "email", "By e-mail"
    POST = "post", "By post"
    HAND = "hand", "By hand"


class BillSent(OfPaper):
    """The paper went out to the payer."""

    how = models.CharField(max_length=5, choices=SentBy.choices)
    to = models.CharField(max_length=254, blank=True)
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["sent_at", "pk"]
        constraints = [
            AppendOnly(name="bill_sent_never_changes"),
            models.CheckConstraint(condition=OF_ONE_PAPER, name="bill_sent_of_one_paper"),
            models.CheckConstraint(condition=Q(how__in=SentBy.values), name="bill_sent_way_known"),
        ]

    def __str__(self) -> str:
        return f"{self.paper} sent {self.get_how_display().lower()}"


class Payment(models.Model):
    """Money that came for a bill; a negative amount is money that went back."""

    bill = models.ForeignKey(Bill, on_delete=models.PROTECT, related_name="payments")
    paid_on = models.DateField()
    amount_cents = models.BigIntegerField()
    reference = models.CharField(max_length=80, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["paid_on", "pk"]
        constraints = [
            AppendOnly(name="payment_never_changes"),
            models.CheckConstraint(condition=~Q(amount_cents=0), name="payment_is_not_nothing"),
        ]

    def __str__(self) -> str:
        return f"payment for {self.bill} on {self.paid_on}"


class LineQuestion(models.Model):
    """A payer asks about a line; until it is answered the line is not chased."""

    line = models.ForeignKey(BillLine, on_delete=models.PROTECT, related_name="questions")
    asked_by = models.CharField(max_length=120)
    day = models.DateField("about which day", null=True, blank=True)
    question = models.CharField(max_length=300, blank=True)
    asked_on = models.DateField()
    answer_by = models.DateField()
    recorded_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["answer_by", "pk"]
        constraints = [
            AppendOnly(name="line_question_never_changes"),
            models.CheckConstraint(condition=~Q(asked_by=""), name="line_question_says_who"),
            models.CheckConstraint(
                condition=Q(answer_by__gte=F("asked_on")), name="line_question_answered_after_asked"
            ),
        ]

    def __str__(self) -> str:
        return f"question about {self.line.bill}"


class Outcome(models.TextChoices):
    STANDS = "stands", "Stands"
    TAKEN_BACK = "taken_back", "Taken back"
    WAIVED = "waived", "Waived"


class LineAnswer(models.Model):
    """What became of a question."""

    question = models.OneToOneField(LineQuestion, on_delete=models.PROTECT, related_name="answer")
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    answered_on = models.DateField()
    why = models.CharField(max_length=300, blank=True)
    answered_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            AppendOnly(name="line_answer_never_changes"),
            models.CheckConstraint(condition=Q(outcome__in=Outcome.values), name="line_answer_known"),
        ]

    def __str__(self) -> str:
        return f"{self.question}: {self.get_outcome_display().lower()}"


class MarkKind(models.TextChoices):
    """What a day of a stay is marked as; the last mark holds."""

    NO_READINGS = "no_readings", "Readings are missing"
    WAIVED = "waived", "Waived"
    COUNTS = "counts", "Counts after all"


class Cause(models.TextChoices):
    """Why readings are missing. Only the first two are the shop's own fault and are given back."""

    KIT = "kit", "The kit failed"
    SHOP = "shop", "The shop's doing"
    FLOAT_SWITCH = "float_switch", "Float switch tripped"
    POWER = "power", "No power at the site"
    NETWORK = "network", "The customer's network"
    UNKNOWN = "unknown", "Nobody knows"


OWN_FAULT = (Cause.KIT, Cause.SHOP)


class DayMark(models.Model):
    """Somebody marked a day of a stay: how many hours of readings there are and why not more, or that it is waived."""

    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="day_marks")
    day = models.DateField()
    kind = models.CharField(max_length=11, choices=MarkKind.choices)
    cause = models.CharField(max_length=12, choices=Cause.choices, blank=True)
    hours = models.DecimalField("hours of readings", max_digits=4, decimal_places=1, null=True, blank=True)
    why = models.CharField(max_length=200)
    marked_at = models.DateTimeField()
    marked_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["deployment", "day", "pk"]
        indexes = [models.Index(fields=["deployment", "day"], name="mark_by_day")]
        constraints = [
            AppendOnly(name="day_mark_never_changes"),
            models.CheckConstraint(condition=~Q(why=""), name="day_mark_says_why"),
            models.CheckConstraint(
                condition=Q(kind__in=[MarkKind.WAIVED, MarkKind.COUNTS])
                | Q(kind=MarkKind.NO_READINGS, hours__isnull=False, hours__gte=0, hours__lte=25)
                & Q(cause__in=Cause.values),
                name="day_mark_says_hours_and_cause",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day} of {self.deployment}: {self.get_kind_display().lower()}"


class CutLeads(models.Model):
    """How many leads of a stay's kit were cut by the customer's side; the last word holds."""

    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="cut_leads")
    leads = models.PositiveSmallIntegerField()
    seen_on = models.DateField()
    why = models.CharField("cut by whom, how it was seen", max_length=200)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "cut leads"
        constraints = [
            AppendOnly(name="cut_leads_never_change"),
            models.CheckConstraint(condition=Q(leads__lte=5), name="cut_leads_of_one_kit"),
            models.CheckConstraint(condition=~Q(why=""), name="cut_leads_say_why"),
        ]

    def __str__(self) -> str:
        return f"{self.leads} leads cut, {self.deployment}"


class AccessOffer(models.Model):
    """The shop offered in writing to come and take the kit out."""

    deployment = models.ForeignKey(Deployment, on_delete=models.PROTECT, related_name="access_offers")
    offered_on = models.DateField()
    for_day = models.DateField("the day that was offered")
    how = models.CharField(max_length=5, choices=SentBy.choices)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["offered_on", "pk"]
        constraints = [
            AppendOnly(name="access_offer_never_changes"),
            models.CheckConstraint(condition=Q(how__in=SentBy.values), name="access_offer_way_known"),
            models.UniqueConstraint(fields=["deployment", "offered_on"], name="one_access_offer_a_day"),
        ]

    def __str__(self) -> str:
        return f"access to {self.deployment} offered on {self.offered_on}"


class NoAccess(models.Model):
    """A manager said yes to charging that nobody let us in, after two written offers."""

    deployment = models.OneToOneField(Deployment, on_delete=models.PROTECT, related_name="no_access")
    first_offer = models.ForeignKey(AccessOffer, on_delete=models.PROTECT, related_name="+")
    second_offer = models.ForeignKey(AccessOffer, on_delete=models.PROTECT, related_name="+")
    charged_on = models.DateField()
    why = models.CharField(max_length=200)
    approved_by = models.ForeignKey(SOMEBODY, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "no access"
        constraints = [
            AppendOnly(name="no_access_never_changes"),
            models.CheckConstraint(
                condition=~Q(first_offer=F("second_offer")), name="no_access_after_two_offers"
            ),
            models.CheckConstraint(condition=~Q(why=""), name="no_access_says_why"),
        ]

    def __str__(self) -> str:
        return f"no access to {self.deployment}"
