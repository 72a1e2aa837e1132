import django.db.models.deletion
import kits.promises.append_only
from decimal import Decimal
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("sites", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Terms",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("from_day", models.DateField(verbose_name="from")),
                (
                    "name",
                    models.CharField(
                        blank=True, help_text="What the shop calls them, if anything.", max_length=60
                    ),
                ),
                ("currency", models.CharField(default="USD", max_length=3)),
                (
                    "shape",
                    models.CharField(
                        choices=[
                            ("day", "By the day"),
                            ("week", "By the started week"),
                            ("month", "By the month"),
                            ("cheapest", "Whatever is cheapest for the customer"),
                        ],
                        default="day",
                        max_length=8,
                        verbose_name="charged",
                    ),
                ),
                ("day_cents", models.PositiveIntegerField(blank=True, null=True, verbose_name="a day")),
                (
                    "included_days",
                    models.PositiveSmallIntegerField(default=0, verbose_name="days included a contract year"),
                ),
                (
                    "set_up_cents",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="set-up, once a stay"),
                ),
                (
                    "cap_cents",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="at most, a stay"),
                ),
                (
                    "week_cents",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="a started week"),
                ),
                ("month_cents", models.PositiveIntegerField(blank=True, null=True, verbose_name="a month")),
                (
                    "proration",
                    models.CharField(
                        choices=[
                            ("actual", "By the days of that month"),
                            ("thirty", "A month is 30 days"),
                            ("year_365", "Twelve months are 365 days"),
                        ],
                        default="actual",
                        max_length=8,
                        verbose_name="a part of a month",
                    ),
                ),
                (
                    "month_anchor",
                    models.CharField(
                        choices=[
                            ("last_day", "On the last day of that month"),
                            ("next_day", "On the first of the next month"),
                        ],
                        default="last_day",
                        max_length=8,
                        verbose_name="a month from the 31st begins",
                    ),
                ),
                (
                    "year_anchor",
                    models.CharField(
                        choices=[
                            ("last_day", "On the last day of that month"),
                            ("next_day", "On the first of the next month"),
                        ],
                        default="last_day",
                        max_length=8,
                        verbose_name="a contract year from 29 February begins",
                    ),
                ),
                (
                    "kits_share_a_day",
                    models.BooleanField(
                        default=True, verbose_name="two kits on one day use one included day"
                    ),
                ),
                (
                    "allowance_order",
                    models.CharField(
                        choices=[
                            ("installed_first", "The kit installed first"),
                            ("priority_first", "A kit with priority"),
                        ],
                        default="installed_first",
                        max_length=15,
                        verbose_name="the last included day goes to",
                    ),
                ),
                (
                    "carry_over",
                    models.BooleanField(default=False, verbose_name="unused included days carry over"),
                ),
                (
                    "minimum_cents",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="at least, a stay"),
                ),
                (
                    "priority_multiplier",
                    models.DecimalField(
                        decimal_places=3,
                        default=Decimal("1"),
                        max_digits=5,
                        verbose_name="priority multiplies the price by",
                    ),
                ),
                (
                    "priority_scales_cap",
                    models.BooleanField(default=False, verbose_name="and the most a stay costs"),
                ),
                (
                    "day_count",
                    models.CharField(
                        choices=[
                            ("install", "The install day counts, the removal day does not"),
                            ("both", "Both days count"),
                            ("neither", "Neither day counts"),
                        ],
                        default="install",
                        max_length=8,
                        verbose_name="which days count",
                    ),
                ),
                (
                    "lost_rule",
                    models.CharField(
                        choices=[
                            ("nothing", "Nothing"),
                            ("list", "Its replacement value"),
                            ("depreciated", "Its replacement value, less its age"),
                        ],
                        default="nothing",
                        max_length=12,
                        verbose_name="a lost kit costs",
                    ),
                ),
                (
                    "life_months",
                    models.PositiveSmallIntegerField(default=36, verbose_name="a kit lives (months)"),
                ),
                ("deposit_cents", models.PositiveIntegerField(default=0, verbose_name="deposit held")),
                (
                    "found_within_days",
                    models.PositiveSmallIntegerField(
                        default=60, verbose_name="given back if found within (days)"
                    ),
                ),
                (
                    "inspection_percent",
                    models.DecimalField(
                        decimal_places=2,
                        default=Decimal("0"),
                        max_digits=5,
                        verbose_name="less an inspection of (%)",
                    ),
                ),
                (
                    "cut_lead_cents",
                    models.PositiveIntegerField(blank=True, null=True, verbose_name="a cut lead"),
                ),
                (
                    "no_access_cents",
                    models.PositiveIntegerField(
                        blank=True, null=True, verbose_name="no access, after two written offers"
                    ),
                ),
                (
                    "dead_below_hours",
                    models.PositiveSmallIntegerField(
                        default=12, verbose_name="a day needs readings of (hours)"
                    ),
                ),
                (
                    "tax_rounding",
                    models.CharField(
                        choices=[("line", "On each line"), ("bill", "Once a bill")],
                        default="line",
                        max_length=4,
                        verbose_name="tax is rounded",
                    ),
                ),
                (
                    "monitoring_tax_code",
                    models.CharField(blank=True, max_length=20, verbose_name="tax code of monitoring"),
                ),
                (
                    "monitoring_tax_rate",
                    models.DecimalField(
                        decimal_places=5, default=Decimal("0"), max_digits=6, verbose_name="tax on monitoring"
                    ),
                ),
                (
                    "set_up_tax_code",
                    models.CharField(blank=True, max_length=20, verbose_name="tax code of set-up"),
                ),
                (
                    "set_up_tax_rate",
                    models.DecimalField(
                        decimal_places=5, default=Decimal("0"), max_digits=6, verbose_name="tax on set-up"
                    ),
                ),
                (
                    "lost_kit_tax_code",
                    models.CharField(blank=True, max_length=20, verbose_name="tax code of a lost kit"),
                ),
                (
                    "lost_kit_tax_rate",
                    models.DecimalField(
                        decimal_places=5, default=Decimal("0"), max_digits=6, verbose_name="tax on a lost kit"
                    ),
                ),
                (
                    "parts_tax_code",
                    models.CharField(blank=True, max_length=20, verbose_name="tax code of cut leads"),
                ),
                (
                    "parts_tax_rate",
                    models.DecimalField(
                        decimal_places=5, default=Decimal("0"), max_digits=6, verbose_name="tax on cut leads"
                    ),
                ),
                (
                    "visit_tax_code",
                    models.CharField(blank=True, max_length=20, verbose_name="tax code of visits"),
                ),
                (
                    "visit_tax_rate",
                    models.DecimalField(
                        decimal_places=5, default=Decimal("0"), max_digits=6, verbose_name="tax on visits"
                    ),
                ),
                (
                    "agreement",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="dated_terms",
                        to="sites.agreement",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "terms",
                "ordering": ["agreement", "from_day"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="terms_never_change"),
                    models.UniqueConstraint(
                        condition=models.Q(("agreement__isnull", False)),
                        fields=("agreement", "from_day"),
                        name="one_set_of_terms_a_day",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("agreement__isnull", True)),
                        fields=("from_day",),
                        name="one_price_list_a_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("day_cents__isnull", False), ("shape", "day")),
                            models.Q(("shape", "week"), ("week_cents__isnull", False)),
                            models.Q(("month_cents__isnull", False), ("shape", "month")),
                            models.Q(("day_cents__isnull", False), ("shape", "cheapest")),
                            _connector="OR",
                        ),
                        name="terms_have_the_price_they_charge_by",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cap_cents", None),
                            ("minimum_cents", None),
                            ("cap_cents__gte", models.F("minimum_cents")),
                            _connector="OR",
                        ),
                        name="terms_minimum_below_cap",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("currency", ""), _negated=True), name="terms_have_a_currency"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("monitoring_tax_rate__gte", 0), ("monitoring_tax_rate__lt", 1)),
                        name="terms_monitoring_tax_below_all",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("set_up_tax_rate__gte", 0), ("set_up_tax_rate__lt", 1)),
                        name="terms_set_up_tax_below_all",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("lost_kit_tax_rate__gte", 0), ("lost_kit_tax_rate__lt", 1)),
                        name="terms_lost_kit_tax_below_all",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("parts_tax_rate__gte", 0), ("parts_tax_rate__lt", 1)),
                        name="terms_parts_tax_below_all",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("visit_tax_rate__gte", 0), ("visit_tax_rate__lt", 1)),
                        name="terms_visit_tax_below_all",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="servicecall",
            name="priority",
            field=models.BooleanField(
                default=False,
                help_text="Installed by the next day was promised; the terms say what that costs.",
                verbose_name="priority",
            ),
        ),
    ]
