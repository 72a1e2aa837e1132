"""What happened, who did it and who wrote it down; and the receipt that makes a repeated request harmless."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from kits.models.kit import Kit
from kits.promises import AppendOnly


class Told(models.TextChoices):
    SELF = "self", "Typed by the one who did it"
    PHONE = "phone", "As told by phone"
    FOUND = "found", "Found out afterwards"


class Event(models.Model):
    """One change of state. Never changed, never removed; free text carries no customers' names."""

    what = models.CharField(max_length=40)
    summary = models.CharField(max_length=300)
    why = models.CharField(max_length=300, blank=True)
    details = models.JSONField(default=dict)
    did_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="events_done"
    )
    did_by_name = models.CharField(max_length=80, blank=True)
    answers_for = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    typed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    told = models.CharField(max_length=6, choices=Told.choices, default=Told.SELF)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(db_index=True)
    request_id = models.UUIDField()

    class Meta:
        ordering = ["recorded_at", "pk"]
        constraints = [
            AppendOnly(name="event_never_changes"),
            models.CheckConstraint(
                condition=Q(did_by__isnull=False) | ~Q(did_by_name=""), name="event_says_who_did_it"
            ),
            models.UniqueConstraint(fields=["typed_by", "request_id"], name="one_event_a_request"),
        ]

    def __str__(self) -> str:
        return self.summary

    @property
    def doer(self) -> str:
        """Who did it, as a name."""
        return self.did_by_name or str(self.did_by)

    @property
    def typed_later(self) -> bool:
        """Written down more than ten minutes after it happened, or by somebody else."""
        late = (self.recorded_at - self.happened_at).total_seconds() > 600
        return late or self.did_by_id != self.typed_by_id


class EventAbout(models.Model):
    """One thing an event is about, by kind and id, with the version the thing had afterwards."""

    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="abouts")
    kind = models.CharField(max_length=20)
    subject_id = models.BigIntegerField()
    version = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["kind", "subject_id"], name="event_about_subject")]
        constraints = [
            models.UniqueConstraint(fields=["event", "kind", "subject_id"], name="event_about_once"),
            AppendOnly(name="event_about_never_changes"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}"


class Receipt(models.Model):
    """The answer once given to a request, kept 90 days so that the same request sent again changes nothing."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    request_id = models.UUIDField()
    payload_sha256 = models.CharField(max_length=64)
    answer = models.JSONField(default=dict)
    made_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "request_id"], name="one_receipt_a_request")]

    def __str__(self) -> str:
        return str(self.request_id)


class FollowUp(models.Model):
    """Something still to be done about a kit: a part that did not come home, a hole nobody saw closed."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="follow_ups")
    what = models.CharField(max_length=200)
    due_on = models.DateField(null=True, blank=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    outcome = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["opened_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(done_at__isnull=True) | Q(done_by__isnull=False),
                name="follow_up_done_by_somebody",
            )
        ]

    def __str__(self) -> str:
        return self.what


class ShelfCount(models.Model):
    """One count of the shelf: which kits were seen, which were wanting, which should not have been there."""

    counted_at = models.DateTimeField()
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    seen: Any = models.JSONField(default=list)
    wanting: Any = models.JSONField(default=list)
    unexpected: Any = models.JSONField(default=list)

    class Meta:
        ordering = ["-counted_at"]
        constraints = [AppendOnly(name="shelf_count_never_changes")]

    def __str__(self) -> str:
        return f"Shelf count of {self.counted_at:%Y-%m-%d}"
