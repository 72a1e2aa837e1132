"""What goes out of the shop by itself: the secret address of a person's calendar, and day sheets sent by e-mail."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from kits.promises import AppendOnly


class CalendarAddress(models.Model):
    """A secret address under which one person's calendar can be read until it is revoked.

    Only the SHA-256 of its token is kept: whoever reads the database cannot read the calendar with it.
    """

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="calendar_addresses"
    )
    token_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        verbose_name_plural = "calendar addresses"
        constraints = [
            models.UniqueConstraint(
                fields=["user"], condition=Q(revoked_at=None), name="one_live_calendar_address"
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None) | Q(revoked_at__gte=F("made_at")),
                name="calendar_address_revoked_after_made",
            ),
        ]

    def __str__(self) -> str:
        return f"calendar address of {self.user}"


class DaySheetSent(models.Model):
    """A person was sent the sheet of a day by e-mail: the reason why it is not sent to them twice."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    day = models.DateField()
    sent_at = models.DateTimeField()

    class Meta:
        ordering = ["day", "pk"]
        verbose_name_plural = "day sheets sent"
        constraints = [
            models.UniqueConstraint(fields=["user", "day"], name="one_day_sheet_a_day"),
            AppendOnly(name="day_sheet_sent_never_changes"),
        ]

    def __str__(self) -> str:
        return f"day sheet of {self.day} to {self.user}"
