"""What we own: kits, sensors, their wiring, custody and offsets."""

from decimal import Decimal
from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def make_built_in_references(using: str, **kwargs: Any) -> None:
    """Crushed ice and boiling water are there after the first migrate, for a shop without a certificate."""
    from kits.models import ReferenceKind, ReferenceThermometer

    if "apps" in kwargs and "referencethermometer" not in kwargs["apps"].all_models["kits"]:
        return  # migrated back to before there were any
    for kind, name in ((ReferenceKind.ICE, "Crushed ice"), (ReferenceKind.BOILING, "Boiling water")):
        if not ReferenceThermometer.objects.using(using).filter(kind=kind).exists():
            made = ReferenceThermometer(kind=kind, name=name, allowance_kelvin=Decimal("0.1"))
            made.save(using=using)


class KitsConfig(AppConfig):
    name = "kits"
    label = "kits"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from kits import rules
        from kits.promises import guards

        guards.connect()
        rules.declare()
        post_migrate.connect(make_built_in_references, sender=self, dispatch_uid="kits.references")
