"""Offsets written down before there were checks: each holds for the shop's interval from its instant on."""

import calendar
from datetime import date

from django.db import migrations

import kits.promises.append_only

USUAL_MONTHS = 6


def add_months(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def date_them(apps, schema_editor) -> None:
    shop = apps.get_model("kits", "Shop").objects.first()
    months = shop.check_interval_months if shop else USUAL_MONTHS
    offsets = apps.get_model("kits", "Offset").objects.filter(source="by_hand", good_until=None)
    for offset in offsets.iterator():
        offset.good_until = add_months(offset.in_force_from.date(), months)
        offset.save(update_fields=["good_until"])


class Migration(migrations.Migration):
    dependencies = [("kits", "0002_the_bench")]

    operations = [
        # The rule that an offset never changes is lifted for this one statement.
        migrations.RemoveConstraint(model_name="offset", name="offset_never_changes"),
        migrations.RunPython(date_them, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="offset",
            constraint=kits.promises.append_only.AppendOnly(name="offset_never_changes"),
        ),
    ]
