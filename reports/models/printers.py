"""Printers of labels: which stock is in them, how fine they print, and by how much they miss it."""

from decimal import Decimal

from django.db import models
from django.db.models import Q
from django.urls import reverse

from kits.models import LabelStock
from kits.models.base import Versioned

LARGEST_NUDGE_MM = Decimal(10)


class PrinterDots(models.IntegerChoices):
    DPI_180 = 180, "180"
    DPI_203 = 203, "203"
    DPI_300 = 300, "300"
    DPI_360 = 360, "360"
    DPI_600 = 600, "600"


class LabelPrinter(Versioned):
    """One printer with one label stock in it: its dots, and the nudge that makes print and labels meet."""

    name = models.CharField(max_length=60, unique=True)
    stock = models.CharField("label stock in it", max_length=20, choices=LabelStock.choices)
    dpi = models.PositiveSmallIntegerField(
        "dots an inch", choices=PrinterDots.choices, default=PrinterDots.DPI_300
    )
    shift_x_mm = models.DecimalField("nudge right (mm)", max_digits=3, decimal_places=1, default=Decimal(0))
    shift_y_mm = models.DecimalField("nudge down (mm)", max_digits=3, decimal_places=1, default=Decimal(0))
    in_use = models.BooleanField("in use", default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="label_printer_has_a_name"),
            models.CheckConstraint(
                condition=Q(stock__in=LabelStock.values), name="label_printer_stock_known"
            ),
            models.CheckConstraint(condition=Q(dpi__in=PrinterDots.values), name="label_printer_dots_known"),
            models.CheckConstraint(
                condition=Q(
                    shift_x_mm__gt=-LARGEST_NUDGE_MM,
                    shift_x_mm__lt=LARGEST_NUDGE_MM,
                    shift_y_mm__gt=-LARGEST_NUDGE_MM,
                    shift_y_mm__lt=LARGEST_NUDGE_MM,
                ),
                name="label_printer_nudge_below_a_centimetre",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("label_printer", args=[self.pk])

    @property
    def nudge(self) -> str:
        """The nudge as people say it: "0.4 mm right, 1.2 mm up", or "none"."""
        ways = (("right", "left", self.shift_x_mm), ("down", "up", self.shift_y_mm))
        told = [f"{abs(by):.1f} mm {ahead if by > 0 else back}" for ahead, back, by in ways if by]
        return ", ".join(told) or "none"
