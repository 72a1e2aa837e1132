"""What we own: kits, sensors, their wiring, custody and offsets."""

from django.apps import AppConfig


class KitsConfig(AppConfig):
    name = "kits"
    label = "kits"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from kits import rules
        from kits.promises import guards

        guards.connect()
        rules.declare()
