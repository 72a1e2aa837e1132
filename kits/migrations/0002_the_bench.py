import django.db.models.deletion
import kits.promises.append_only
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("kits", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="ReferenceThermometer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(default=0, editable=False)),
                ("folded", models.TextField(default="", editable=False)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("thermometer", "Reference thermometer"),
                            ("ice", "Crushed ice"),
                            ("boiling", "Boiling water"),
                        ],
                        default="thermometer",
                        max_length=12,
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                ("serial", models.CharField(blank=True, max_length=60)),
                (
                    "resolution_kelvin",
                    models.DecimalField(
                        decimal_places=4, default=0, max_digits=6, verbose_name="smallest step it shows, K"
                    ),
                ),
                (
                    "allowance_kelvin",
                    models.DecimalField(
                        blank=True, decimal_places=3, max_digits=6, null=True, verbose_name="allow ±, K"
                    ),
                ),
                ("out_of_use_since", models.DateField(blank=True, null=True)),
                ("notes", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["kind", "name", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True), name="reference_has_a_name"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["thermometer", "ice", "boiling"])),
                        name="reference_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("resolution_kelvin__gte", 0), ("resolution_kelvin__lte", 2)),
                        name="reference_resolution_believable",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("allowance_kelvin__isnull", True), ("kind", "thermometer")),
                            models.Q(
                                models.Q(("kind", "thermometer"), _negated=True),
                                ("allowance_kelvin__gt", 0),
                                ("allowance_kelvin__isnull", False),
                                ("allowance_kelvin__lte", 5),
                            ),
                            _connector="OR",
                        ),
                        name="ice_and_steam_have_an_allowance",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Certificate",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=60, verbose_name="certificate number")),
                ("issuer", models.CharField(max_length=120, verbose_name="issued by")),
                ("issued_on", models.DateField()),
                (
                    "due_on",
                    models.DateField(
                        help_text="The day from which the shop wants a new one.", verbose_name="good until"
                    ),
                ),
                ("corrections", models.JSONField(blank=True, default=list)),
                (
                    "expanded_uncertainty_kelvin",
                    models.DecimalField(decimal_places=4, max_digits=6, verbose_name="uncertainty U, K"),
                ),
                (
                    "coverage_factor",
                    models.DecimalField(decimal_places=2, default=2, max_digits=4, verbose_name="its k"),
                ),
                (
                    "drift_allowance_kelvin",
                    models.DecimalField(
                        decimal_places=4, default=0, max_digits=6, verbose_name="drift since, allow ±, K"
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "thermometer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="certificates",
                        to="kits.referencethermometer",
                    ),
                ),
            ],
            options={
                "ordering": ["issued_on", "pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="certificate_never_changes"),
                    models.UniqueConstraint(fields=("thermometer", "number"), name="certificate_number_once"),
                    models.CheckConstraint(
                        condition=models.Q(("due_on__gt", models.F("issued_on"))),
                        name="certificate_due_after_issue",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("expanded_uncertainty_kelvin__gt", 0), ("expanded_uncertainty_kelvin__lte", 5)
                        ),
                        name="certificate_uncertainty_believable",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("coverage_factor__gte", 1), ("coverage_factor__lte", 4)),
                        name="certificate_factor_believable",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("drift_allowance_kelvin__gte", 0)),
                        name="certificate_drift_not_negative",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CalibrationCheck",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.PositiveIntegerField(default=0, editable=False)),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("ice", "Ice bath"),
                            ("stirred", "Stirred bath"),
                            ("air", "Side by side in air"),
                            ("boiling", "Boiling water"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "out_of_date_why",
                    models.CharField(
                        blank=True, max_length=200, verbose_name="why an instrument out of date was used"
                    ),
                ),
                ("begun_at", models.DateTimeField()),
                (
                    "uniformity_kelvin",
                    models.DecimalField(
                        decimal_places=4, max_digits=6, verbose_name="from place to place in the bath, ±, K"
                    ),
                ),
                (
                    "stability_kelvin",
                    models.DecimalField(
                        decimal_places=4, max_digits=6, verbose_name="wander while reading, ±, K"
                    ),
                ),
                (
                    "station_pressure_pascal",
                    models.PositiveIntegerField(
                        blank=True,
                        help_text="Not the sea-level figure of a weather report.",
                        null=True,
                        verbose_name="station pressure, Pa",
                    ),
                ),
                (
                    "altitude_m",
                    models.DecimalField(
                        blank=True, decimal_places=1, max_digits=6, null=True, verbose_name="altitude, m"
                    ),
                ),
                (
                    "limit_kelvin",
                    models.DecimalField(decimal_places=3, max_digits=5, verbose_name="limit ±, K"),
                ),
                (
                    "replace_beyond_kelvin",
                    models.DecimalField(decimal_places=3, max_digits=5, verbose_name="replace beyond ±, K"),
                ),
                (
                    "rule",
                    models.CharField(
                        choices=[
                            ("simple", "Simple: the error alone"),
                            ("guarded", "Guarded: the limit less r times the uncertainty"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "guard_factor",
                    models.DecimalField(
                        decimal_places=2, default=1, max_digits=4, verbose_name="guard factor r"
                    ),
                ),
                (
                    "shape",
                    models.CharField(
                        choices=[
                            ("one", "One offset"),
                            ("points", "One a point, straight between"),
                            ("line", "A straight line"),
                        ],
                        default="one",
                        max_length=6,
                    ),
                ),
                ("conditions", models.CharField(blank=True, max_length=200)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("dropped_at", models.DateTimeField(blank=True, null=True)),
                ("dropped_why", models.CharField(blank=True, max_length=200)),
                (
                    "begun_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "out_of_date_allowed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "supersedes",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="superseded_by",
                        to="kits.calibrationcheck",
                    ),
                ),
                (
                    "certificate",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="checks",
                        to="kits.certificate",
                    ),
                ),
                (
                    "reference",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="checks",
                        to="kits.referencethermometer",
                    ),
                ),
            ],
            options={
                "ordering": ["-begun_at", "-pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(
                        name="closed_check_never_changes", when=models.Q(("closed_at__isnull", False))
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("method__in", ["ice", "stirred", "air", "boiling"])),
                        name="check_method_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rule__in", ["simple", "guarded"])), name="check_rule_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("shape__in", ["one", "points", "line"])), name="check_shape_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("closed_at", None), ("closed_at__gte", models.F("begun_at")), _connector="OR"
                        ),
                        name="check_closed_after_beginning",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at__isnull", True), ("closed_by__isnull", True)),
                            models.Q(("closed_at__isnull", False), ("closed_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="check_says_who_closed_it",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("closed_at", None), ("dropped_at", None), _connector="OR"),
                        name="check_closed_or_dropped",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dropped_at", None),
                            models.Q(("dropped_why", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="dropped_check_says_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("out_of_date_allowed_by", None),
                            models.Q(("out_of_date_why", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="out_of_date_says_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("stability_kelvin__gte", 0), ("uniformity_kelvin__gte", 0)),
                        name="bath_not_negative",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("guard_factor__gte", 0),
                            ("limit_kelvin__gt", 0),
                            ("replace_beyond_kelvin__gt", 0),
                        ),
                        name="check_limits_positive",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("method", "boiling"), _negated=True),
                            models.Q(
                                ("station_pressure_pascal__gte", 30000),
                                ("station_pressure_pascal__isnull", False),
                            ),
                            ("altitude_m__isnull", False),
                            _connector="OR",
                        ),
                        name="boiling_says_pressure",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckPoint",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                (
                    "aimed_celsius",
                    models.DecimalField(
                        blank=True, decimal_places=2, max_digits=6, null=True, verbose_name="about, °C"
                    ),
                ),
                (
                    "sitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="points",
                        to="kits.calibrationcheck",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "constraints": [
                    models.UniqueConstraint(fields=("sitting", "number"), name="point_number_once"),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1), ("number__lte", 12)),
                        name="point_number_believable",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckReading",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("celsius", models.DecimalField(decimal_places=4, max_digits=8)),
                (
                    "how",
                    models.CharField(
                        choices=[
                            ("typed", "Typed"),
                            ("pasted", "Pasted"),
                            ("live", "Taken from live readings"),
                        ],
                        default="typed",
                        max_length=6,
                    ),
                ),
                ("read_at", models.DateTimeField(blank=True, null=True)),
                (
                    "point",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="readings",
                        to="kits.checkpoint",
                    ),
                ),
                (
                    "sensor",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="kits.sensor",
                    ),
                ),
            ],
            options={
                "ordering": ["sensor", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("sensor__isnull", False)),
                        fields=("point", "sensor", "number"),
                        name="sensor_reading_number_once",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("sensor__isnull", True)),
                        fields=("point", "number"),
                        name="reference_reading_number_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("how__in", ["typed", "pasted", "live"])), name="reading_how_known"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckResult",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "as_found_offset_kelvin",
                    models.DecimalField(blank=True, decimal_places=3, max_digits=6, null=True),
                ),
                ("as_found_error_kelvin", models.DecimalField(decimal_places=4, max_digits=7)),
                ("as_left_error_kelvin", models.DecimalField(decimal_places=4, max_digits=7)),
                (
                    "offset_kelvin",
                    models.DecimalField(decimal_places=3, max_digits=6, verbose_name="offset (added), K"),
                ),
                ("standard_uncertainty_kelvin", models.DecimalField(decimal_places=5, max_digits=7)),
                (
                    "shared_uncertainty_kelvin",
                    models.DecimalField(
                        decimal_places=5,
                        help_text="The part common to all sensors of the sitting.",
                        max_digits=7,
                    ),
                ),
                ("expanded_uncertainty_kelvin", models.DecimalField(decimal_places=4, max_digits=7)),
                ("coverage_factor", models.DecimalField(decimal_places=3, max_digits=6)),
                (
                    "degrees_of_freedom",
                    models.DecimalField(blank=True, decimal_places=1, max_digits=9, null=True),
                ),
                (
                    "verdict",
                    models.CharField(
                        choices=[("good", "Good"), ("use_offset", "Use offset"), ("replace", "Replace")],
                        max_length=10,
                    ),
                ),
                (
                    "conformity",
                    models.CharField(
                        choices=[
                            ("pass", "Pass"),
                            ("conditional_pass", "Conditional pass"),
                            ("conditional_fail", "Conditional fail"),
                            ("fail", "Fail"),
                        ],
                        max_length=16,
                        verbose_name="as found",
                    ),
                ),
                (
                    "conformity_left",
                    models.CharField(
                        choices=[
                            ("pass", "Pass"),
                            ("conditional_pass", "Conditional pass"),
                            ("conditional_fail", "Conditional fail"),
                            ("fail", "Fail"),
                        ],
                        max_length=16,
                        verbose_name="as left",
                    ),
                ),
                (
                    "probability_out",
                    models.FloatField(verbose_name="probability of being out of tolerance, as found"),
                ),
                ("arithmetic", models.JSONField(default=dict)),
                ("due_on", models.DateField()),
                ("due_why", models.CharField(blank=True, max_length=200)),
                (
                    "sensor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="results", to="kits.sensor"
                    ),
                ),
                (
                    "sitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="results",
                        to="kits.calibrationcheck",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="check_result_never_changes"),
                    models.UniqueConstraint(fields=("sitting", "sensor"), name="one_result_a_sensor"),
                    models.CheckConstraint(
                        condition=models.Q(("verdict__in", ["good", "use_offset", "replace"])),
                        name="verdict_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("conformity__in", ["pass", "conditional_pass", "conditional_fail", "fail"]),
                            ("conformity_left__in", ["pass", "conditional_pass", "conditional_fail", "fail"]),
                        ),
                        name="conformity_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("probability_out__gte", 0), ("probability_out__lte", 1)),
                        name="probability_is_one",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("expanded_uncertainty_kelvin__gt", 0)),
                        name="check_uncertainty_positive",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckSensor",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("terminal", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "kit",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="kits.kit",
                    ),
                ),
                (
                    "sensor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="checks", to="kits.sensor"
                    ),
                ),
                (
                    "sitting",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sensors",
                        to="kits.calibrationcheck",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("sitting", "sensor"), name="a_sensor_once_a_check")
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckWithdrawal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("withdrawn_at", models.DateTimeField()),
                ("why", models.CharField(max_length=200)),
                (
                    "sitting",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawal",
                        to="kits.calibrationcheck",
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="withdrawal_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("why", ""), _negated=True), name="withdrawal_says_why"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DueNow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("since", models.DateTimeField()),
                (
                    "reason",
                    models.CharField(
                        choices=[
                            ("dropped", "Dropped"),
                            ("repaired", "Lead repaired"),
                            ("swapped", "Swapped into a kit"),
                            ("doubt", "Readings in doubt"),
                            ("replace", "To be replaced"),
                        ],
                        max_length=10,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=200)),
                (
                    "sensor",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="due_now", to="kits.sensor"
                    ),
                ),
            ],
            options={
                "ordering": ["since", "pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="due_now_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("reason__in", ["dropped", "repaired", "swapped", "doubt", "replace"])
                        ),
                        name="due_now_reason_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="KitKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sha256", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                (
                    "kit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="keys", to="kits.kit"
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["made_at"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("revoked_at", None)), fields=("kit",), name="one_key_a_kit"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LiveReading",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("rom", models.CharField(max_length=16, verbose_name="ROM ID")),
                ("celsius", models.DecimalField(decimal_places=4, max_digits=8)),
                ("read_at", models.DateTimeField()),
                ("received_at", models.DateTimeField()),
                (
                    "kit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="live_readings",
                        to="kits.kit",
                    ),
                ),
            ],
            options={
                "ordering": ["read_at", "pk"],
                "indexes": [models.Index(fields=["kit", "read_at"], name="live_reading_of_kit")],
                "constraints": [
                    models.UniqueConstraint(fields=("kit", "rom", "read_at"), name="one_reading_an_instant")
                ],
            },
        ),
        migrations.AddField(
            model_name="offset",
            name="good_until",
            field=models.DateField(
                blank=True,
                help_text="The day from which its next check is due.",
                null=True,
                verbose_name="in date until",
            ),
        ),
        migrations.AddField(
            model_name="offset",
            name="points",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AddField(
            model_name="offset",
            name="slope_about_celsius",
            field=models.DecimalField(blank=True, decimal_places=3, max_digits=7, null=True),
        ),
        migrations.AddField(
            model_name="offset",
            name="slope_kelvin_per_kelvin",
            field=models.DecimalField(decimal_places=6, default=0, max_digits=8),
        ),
        migrations.AddField(
            model_name="shop",
            name="altitude_m",
            field=models.DecimalField(
                blank=True, decimal_places=1, max_digits=6, null=True, verbose_name="altitude of the shop, m"
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="decision_rule",
            field=models.CharField(
                choices=[
                    ("simple", "Simple: the error alone"),
                    ("guarded", "Guarded: the limit less r times the uncertainty"),
                ],
                default="guarded",
                max_length=8,
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="drift_share_percent",
            field=models.PositiveSmallIntegerField(
                default=50, verbose_name="check twice as often when drift passes this share of the limit (%)"
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="guard_factor",
            field=models.DecimalField(
                decimal_places=2, default=1, max_digits=4, verbose_name="guard factor r"
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="replace_beyond_kelvin",
            field=models.DecimalField(
                decimal_places=3,
                default=Decimal("1.1"),
                max_digits=5,
                verbose_name="replace a sensor off by more than ±, K",
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="sensor_limit_kelvin",
            field=models.DecimalField(
                decimal_places=3,
                default=Decimal("0.5"),
                max_digits=5,
                verbose_name="a sensor may be off by ±, K",
            ),
        ),
        migrations.AddField(
            model_name="shop",
            name="sensors_must_be_in_date",
            field=models.BooleanField(
                default=True, verbose_name="only choose kits whose sensors stay in date"
            ),
        ),
        migrations.AlterField(
            model_name="offset",
            name="source",
            field=models.CharField(
                choices=[
                    ("by_hand", "Entered by hand"),
                    ("check", "Found by a check"),
                    ("restated", "In force again"),
                    ("none", "None in force"),
                ],
                default="by_hand",
                max_length=10,
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(("decision_rule__in", ["simple", "guarded"])), name="shop_rule_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("guard_factor__gte", 0), ("replace_beyond_kelvin__gt", 0), ("sensor_limit_kelvin__gt", 0)
                ),
                name="shop_limits_positive",
            ),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(
                condition=models.Q(("check_interval_months__gte", 1), ("check_interval_months__lte", 60)),
                name="shop_check_interval_believable",
            ),
        ),
        migrations.AddField(
            model_name="offset",
            name="result",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="offsets",
                to="kits.checkresult",
            ),
        ),
        migrations.AddConstraint(
            model_name="offset",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("result__isnull", True), ("source__in", ["by_hand", "none"])),
                    models.Q(("result__isnull", False), ("source", "check")),
                    ("source", "restated"),
                    _connector="OR",
                ),
                name="offset_of_a_check_names_it",
            ),
        ),
        migrations.AddConstraint(
            model_name="offset",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("slope_kelvin_per_kelvin", 0), ("slope_about_celsius__isnull", False), _connector="OR"
                ),
                name="slope_says_about_where",
            ),
        ),
    ]
