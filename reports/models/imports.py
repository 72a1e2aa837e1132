"""Spreadsheets that came in: the file as it was, what its columns mean, and what became of it."""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from kits.models.base import Versioned


class ImportKind(models.TextChoices):
    """What the rows of a file are about, in the order a new shop brings them in."""

    CUSTOMERS = "customers", "Customers"
    SITES = "sites", "Sites"
    UNITS = "units", "Units"
    KITS = "kits", "Kits"
    SENSORS = "sensors", "Sensors"


class ImportFile(Versioned):
    """One spreadsheet as it was sent, with how it is read and, once its rows are in the books, what they became."""

    kind = models.CharField("what the rows are", max_length=10, choices=ImportKind.choices)
    name = models.CharField("file name", max_length=120)
    content = models.BinaryField(editable=False)
    sha256 = models.CharField(max_length=64, editable=False)
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    sheet = models.CharField(max_length=120, blank=True)
    header_line = models.PositiveIntegerField("headings stand in line", default=0)
    day_first = models.BooleanField("days before months", default=False)
    # Index of a column, as text, to the field it holds ("" left out): {"0": "name", "3": "lead_length_m@ft"}.
    columns: Any = models.JSONField(default=dict, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # How many rows were new, changed, left alone and refused when the file was done.
    result: Any = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-sent_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=ImportKind.values), name="import_kind_known"),
            models.CheckConstraint(
                condition=Q(done_at__isnull=True) | Q(done_by__isnull=False), name="import_done_by_somebody"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("import_file", args=[self.pk])


class ColumnMapping(models.Model):
    """What the columns of files with just these headings mean: remembered for the next such file."""

    kind = models.CharField(max_length=10, choices=ImportKind.choices)
    headings_sha256 = models.CharField(max_length=64)
    columns: Any = models.JSONField(default=dict, blank=True)
    day_first = models.BooleanField(default=False)
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "headings_sha256"], name="one_mapping_a_set_of_headings"),
            models.CheckConstraint(condition=Q(kind__in=ImportKind.values), name="mapping_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {len(self.columns)} columns"
