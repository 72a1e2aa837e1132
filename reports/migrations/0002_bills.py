import django.db.models.deletion
import kits.promises.append_only
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("reports", "0001_initial"),
        ("sites", "0002_terms"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="AccessOffer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("offered_on", models.DateField()),
                ("for_day", models.DateField(verbose_name="the day that was offered")),
                (
                    "how",
                    models.CharField(
                        choices=[("email", "By e-mail"), ("post", "By post"), ("hand", "By hand")],
                        max_length=5,
                    ),
                ),
                ("recorded_at", models.DateTimeField()),
                (
                    "deployment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="access_offers",
                        to="sites.deployment",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["offered_on", "pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="access_offer_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("how__in", ["email", "post", "hand"])),
                        name="access_offer_way_known",
                    ),
                    models.UniqueConstraint(
                        fields=("deployment", "offered_on"), name="one_access_offer_a_day"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Bill",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=20, unique=True)),
                ("year", models.PositiveSmallIntegerField()),
                ("serial", models.PositiveIntegerField()),
                ("payer_name", models.CharField(max_length=120)),
                ("currency", models.CharField(max_length=3)),
                ("amount_cents", models.BigIntegerField(verbose_name="without tax")),
                ("tax_cents", models.BigIntegerField(verbose_name="tax")),
                ("issued_at", models.DateTimeField(blank=True, null=True)),
                ("month", models.DateField(help_text="The first day of the month.")),
                ("due_on", models.DateField(verbose_name="to be paid by")),
                (
                    "issued_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "payer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="bills", to="sites.customer"
                    ),
                ),
            ],
            options={
                "ordering": ["-year", "-serial"],
                "indexes": [models.Index(fields=["payer", "month"], name="bill_by_payer_and_month")],
                "constraints": [
                    kits.promises.append_only.AppendOnly(
                        name="issued_bill_never_changes", when=models.Q(("issued_at__isnull", False))
                    ),
                    models.UniqueConstraint(fields=("year", "serial"), name="one_bill_a_number"),
                ],
            },
        ),
        migrations.CreateModel(
            name="BillLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("set_up", "Set-up"),
                            ("monitoring", "Monitoring"),
                            ("cheaper", "Cheaper by the week or month"),
                            ("cap", "No more than agreed"),
                            ("minimum", "No less than agreed"),
                            ("lost_kit", "Kit not recovered"),
                            ("deposit", "Deposit set against it"),
                            ("inspection", "Inspection of a found kit"),
                            ("cut_leads", "Cut leads"),
                            ("no_access", "No access"),
                        ],
                        max_length=12,
                    ),
                ),
                ("start", models.DateField(verbose_name="from")),
                ("until", models.DateField()),
                ("amount_cents", models.BigIntegerField()),
                ("tax_code", models.CharField(blank=True, max_length=20)),
                ("tax_rate", models.DecimalField(decimal_places=5, max_digits=6)),
                ("tax_cents", models.BigIntegerField()),
                ("reason", models.TextField()),
                ("place", models.PositiveIntegerField()),
                ("kit_code", models.CharField(max_length=6)),
                ("site_words", models.CharField(max_length=260)),
                ("cell", models.DateField(verbose_name="month it belongs to")),
                ("days", models.PositiveSmallIntegerField(default=0)),
                ("covered", models.PositiveSmallIntegerField(default=0, verbose_name="of these included")),
                ("holes", models.JSONField(default=list, verbose_name="days in between that do not count")),
                ("quantity", models.PositiveIntegerField(default=1)),
                (
                    "unit_cents",
                    models.DecimalField(
                        decimal_places=4, max_digits=14, verbose_name="price of one, in cents"
                    ),
                ),
                ("tax_rounding", models.CharField(max_length=4)),
                (
                    "agreement",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="bill_lines",
                        to="sites.agreement",
                    ),
                ),
                (
                    "bill",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lines", to="reports.bill"
                    ),
                ),
                (
                    "deployment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="bill_lines",
                        to="sites.deployment",
                    ),
                ),
                (
                    "payer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="sites.customer"
                    ),
                ),
                (
                    "terms",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="sites.terms"
                    ),
                ),
            ],
            options={
                "ordering": ["bill", "place"],
                "constraints": [
                    models.UniqueConstraint(fields=("bill", "place"), name="one_bill_line_a_place"),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "set_up",
                                    "monitoring",
                                    "cheaper",
                                    "cap",
                                    "minimum",
                                    "lost_kit",
                                    "deposit",
                                    "inspection",
                                    "cut_leads",
                                    "no_access",
                                ],
                            )
                        ),
                        name="bill_line_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("until__gt", models.F("start"))),
                        name="bill_line_ends_after_start",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("covered__lte", models.F("days"))),
                        name="bill_line_covers_its_days",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CreditNote",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.CharField(max_length=20, unique=True)),
                ("year", models.PositiveSmallIntegerField()),
                ("serial", models.PositiveIntegerField()),
                ("payer_name", models.CharField(max_length=120)),
                ("currency", models.CharField(max_length=3)),
                ("amount_cents", models.BigIntegerField(verbose_name="without tax")),
                ("tax_cents", models.BigIntegerField(verbose_name="tax")),
                ("issued_at", models.DateTimeField(blank=True, null=True)),
                ("whole", models.BooleanField(default=False, verbose_name="the whole bill")),
                ("why", models.CharField(max_length=200)),
                (
                    "bill",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="credit_notes",
                        to="reports.bill",
                    ),
                ),
                (
                    "issued_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "payer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="credit_notes",
                        to="sites.customer",
                    ),
                ),
            ],
            options={
                "ordering": ["-year", "-serial"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(
                        name="issued_credit_never_changes", when=models.Q(("issued_at__isnull", False))
                    ),
                    models.UniqueConstraint(fields=("year", "serial"), name="one_credit_note_a_number"),
                    models.CheckConstraint(
                        condition=models.Q(("why", ""), _negated=True), name="credit_says_why"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CreditLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("set_up", "Set-up"),
                            ("monitoring", "Monitoring"),
                            ("cheaper", "Cheaper by the week or month"),
                            ("cap", "No more than agreed"),
                            ("minimum", "No less than agreed"),
                            ("lost_kit", "Kit not recovered"),
                            ("deposit", "Deposit set against it"),
                            ("inspection", "Inspection of a found kit"),
                            ("cut_leads", "Cut leads"),
                            ("no_access", "No access"),
                        ],
                        max_length=12,
                    ),
                ),
                ("start", models.DateField(verbose_name="from")),
                ("until", models.DateField()),
                ("amount_cents", models.BigIntegerField()),
                ("tax_code", models.CharField(blank=True, max_length=20)),
                ("tax_rate", models.DecimalField(decimal_places=5, max_digits=6)),
                ("tax_cents", models.BigIntegerField()),
                ("reason", models.TextField()),
                ("place", models.PositiveIntegerField()),
                ("days", models.JSONField(default=list, verbose_name="days given back")),
                (
                    "bill_line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="taken_back",
                        to="reports.billline",
                    ),
                ),
                (
                    "credit_note",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lines",
                        to="reports.creditnote",
                    ),
                ),
            ],
            options={
                "ordering": ["credit_note", "place"],
                "constraints": [
                    models.UniqueConstraint(fields=("credit_note", "place"), name="one_credit_line_a_place"),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "set_up",
                                    "monitoring",
                                    "cheaper",
                                    "cap",
                                    "minimum",
                                    "lost_kit",
                                    "deposit",
                                    "inspection",
                                    "cut_leads",
                                    "no_access",
                                ],
                            )
                        ),
                        name="credit_line_kind_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="BillSent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "how",
                    models.CharField(
                        choices=[("email", "By e-mail"), ("post", "By post"), ("hand", "By hand")],
                        max_length=5,
                    ),
                ),
                ("to", models.CharField(blank=True, max_length=254)),
                ("sent_at", models.DateTimeField()),
                (
                    "bill",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss",
                        to="reports.bill",
                    ),
                ),
                (
                    "sent_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "credit_note",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss",
                        to="reports.creditnote",
                    ),
                ),
            ],
            options={
                "ordering": ["sent_at", "pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="bill_sent_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("bill__isnull", False), ("credit_note__isnull", True)),
                            models.Q(("bill__isnull", True), ("credit_note__isnull", False)),
                            _connector="OR",
                        ),
                        name="bill_sent_of_one_paper",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("how__in", ["email", "post", "hand"])), name="bill_sent_way_known"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CutLeads",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("leads", models.PositiveSmallIntegerField()),
                ("seen_on", models.DateField()),
                ("why", models.CharField(max_length=200, verbose_name="cut by whom, how it was seen")),
                ("recorded_at", models.DateTimeField()),
                (
                    "deployment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="cut_leads",
                        to="sites.deployment",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "cut leads",
                "ordering": ["pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="cut_leads_never_change"),
                    models.CheckConstraint(
                        condition=models.Q(("leads__lte", 5)), name="cut_leads_of_one_kit"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("why", ""), _negated=True), name="cut_leads_say_why"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DayClaim",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("day", models.DateField()),
                (
                    "deployment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="day_claims",
                        to="sites.deployment",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="day_claims",
                        to="reports.billline",
                    ),
                ),
                (
                    "released_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="days_released",
                        to="reports.creditline",
                    ),
                ),
            ],
            options={
                "ordering": ["deployment", "day"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("released_by__isnull", True)),
                        fields=("deployment", "day"),
                        name="one_bill_a_day",
                    ),
                    kits.promises.append_only.AppendOnly(may_change=("released_by",), name="day_claim_stays"),
                    kits.promises.append_only.AppendOnly(
                        name="released_day_stays", when=models.Q(("released_by__isnull", False))
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DayMark",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("day", models.DateField()),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("no_readings", "Readings are missing"),
                            ("waived", "Waived"),
                            ("counts", "Counts after all"),
                        ],
                        max_length=11,
                    ),
                ),
                (
                    "cause",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("kit", "The kit failed"),
                            ("shop", "The shop's doing"),
                            ("float_switch", "Float switch tripped"),
                            ("power", "No power at the site"),
                            ("network", "The customer's network"),
                            ("unknown", "Nobody knows"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "hours",
                    models.DecimalField(
                        blank=True,
                        decimal_places=1,
                        max_digits=4,
                        null=True,
                        verbose_name="hours of readings",
                    ),
                ),
                ("why", models.CharField(max_length=200)),
                ("marked_at", models.DateTimeField()),
                (
                    "deployment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="day_marks",
                        to="sites.deployment",
                    ),
                ),
                (
                    "marked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["deployment", "day", "pk"],
                "indexes": [models.Index(fields=["deployment", "day"], name="mark_by_day")],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="day_mark_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("why", ""), _negated=True), name="day_mark_says_why"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind__in", ["waived", "counts"]),
                            models.Q(
                                ("hours__gte", 0),
                                ("hours__isnull", False),
                                ("hours__lte", 25),
                                ("kind", "no_readings"),
                                ("cause__in", ["kit", "shop", "float_switch", "power", "network", "unknown"]),
                            ),
                            _connector="OR",
                        ),
                        name="day_mark_says_hours_and_cause",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LineQuestion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("asked_by", models.CharField(max_length=120)),
                ("day", models.DateField(blank=True, null=True, verbose_name="about which day")),
                ("question", models.CharField(blank=True, max_length=300)),
                ("asked_on", models.DateField()),
                ("answer_by", models.DateField()),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="questions",
                        to="reports.billline",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["answer_by", "pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="line_question_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("asked_by", ""), _negated=True), name="line_question_says_who"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("answer_by__gte", models.F("asked_on"))),
                        name="line_question_answered_after_asked",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LineAnswer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "outcome",
                    models.CharField(
                        choices=[("stands", "Stands"), ("taken_back", "Taken back"), ("waived", "Waived")],
                        max_length=10,
                    ),
                ),
                ("answered_on", models.DateField()),
                ("why", models.CharField(blank=True, max_length=300)),
                (
                    "answered_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "question",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="answer",
                        to="reports.linequestion",
                    ),
                ),
            ],
            options={
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="line_answer_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("outcome__in", ["stands", "taken_back", "waived"])),
                        name="line_answer_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="MonthClaim",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("month", models.DateField()),
                ("currency", models.CharField(max_length=3)),
                (
                    "bill",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="month_claims",
                        to="reports.bill",
                    ),
                ),
                (
                    "payer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="sites.customer"
                    ),
                ),
                (
                    "released_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="months_released",
                        to="reports.creditnote",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("released_by__isnull", True)),
                        fields=("payer", "month", "currency"),
                        name="one_bill_a_payer_and_month",
                    ),
                    kits.promises.append_only.AppendOnly(
                        may_change=("released_by",), name="month_claim_stays"
                    ),
                    kits.promises.append_only.AppendOnly(
                        name="released_month_stays", when=models.Q(("released_by__isnull", False))
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="NoAccess",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("charged_on", models.DateField()),
                ("why", models.CharField(max_length=200)),
                (
                    "approved_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "deployment",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="no_access",
                        to="sites.deployment",
                    ),
                ),
                (
                    "first_offer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="reports.accessoffer",
                    ),
                ),
                (
                    "second_offer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="reports.accessoffer",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "no access",
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="no_access_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("first_offer", models.F("second_offer")), _negated=True),
                        name="no_access_after_two_offers",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("why", ""), _negated=True), name="no_access_says_why"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="OnceClaim",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("set_up", "Set-up"),
                            ("monitoring", "Monitoring"),
                            ("cheaper", "Cheaper by the week or month"),
                            ("cap", "No more than agreed"),
                            ("minimum", "No less than agreed"),
                            ("lost_kit", "Kit not recovered"),
                            ("deposit", "Deposit set against it"),
                            ("inspection", "Inspection of a found kit"),
                            ("cut_leads", "Cut leads"),
                            ("no_access", "No access"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "deployment",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="once_claims",
                        to="sites.deployment",
                    ),
                ),
                (
                    "line",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="once_claims",
                        to="reports.billline",
                    ),
                ),
                (
                    "released_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="once_released",
                        to="reports.creditline",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("released_by__isnull", True)),
                        fields=("deployment", "kind"),
                        name="one_charge_a_stay",
                    ),
                    kits.promises.append_only.AppendOnly(
                        may_change=("released_by",), name="once_claim_stays"
                    ),
                    kits.promises.append_only.AppendOnly(
                        name="released_charge_stays", when=models.Q(("released_by__isnull", False))
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PaperNumber",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("series", models.CharField(choices=[("B", "Bills"), ("C", "Credit notes")], max_length=1)),
                ("year", models.PositiveSmallIntegerField()),
                ("last", models.PositiveIntegerField(default=0)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("series", "year"), name="one_counter_a_series_and_year"),
                    models.CheckConstraint(
                        condition=models.Q(("series__in", ["B", "C"])), name="paper_series_known"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Payment",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("paid_on", models.DateField()),
                ("amount_cents", models.BigIntegerField()),
                ("reference", models.CharField(blank=True, max_length=80)),
                ("recorded_at", models.DateTimeField()),
                (
                    "bill",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="payments",
                        to="reports.bill",
                    ),
                ),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["paid_on", "pk"],
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="payment_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(("amount_cents", 0), _negated=True), name="payment_is_not_nothing"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="StoredPaper",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("content", models.BinaryField()),
                ("sha256", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField()),
                (
                    "bill",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss",
                        to="reports.bill",
                    ),
                ),
                (
                    "credit_note",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss",
                        to="reports.creditnote",
                    ),
                ),
            ],
            options={
                "constraints": [
                    kits.promises.append_only.AppendOnly(name="stored_paper_never_changes"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("bill__isnull", False), ("credit_note__isnull", True)),
                            models.Q(("bill__isnull", True), ("credit_note__isnull", False)),
                            _connector="OR",
                        ),
                        name="stored_paper_of_one_paper",
                    ),
                    models.UniqueConstraint(fields=("bill",), name="one_stored_paper_a_bill"),
                    models.UniqueConstraint(fields=("credit_note",), name="one_stored_paper_a_credit_note"),
                ],
            },
        ),
    ]
