"""What we tell people: labels, papers, the page of a stay."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "reports"
    label = "reports"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from reports import rules

        rules.declare()
