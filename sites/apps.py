"""Where kits go: customers, sites, units, calls, stays.

Never install django.contrib.sites: its label is `sites` too, and Django refuses to start with two apps of one label.
"""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def make_built_in_positions(using: str, **kwargs: Any) -> None:
    """The five positions the computation knows are there after every migrate, and after a flush in tests."""
    from sites.models import BUILT_IN_POSITIONS, Position

    for code, name in BUILT_IN_POSITIONS.items():
        Position.objects.using(using).get_or_create(code=code, defaults={"name": name, "built_in": True})


class SitesConfig(AppConfig):
    name = "sites"
    label = "sites"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sites import rules

        rules.declare()
        post_migrate.connect(make_built_in_positions, sender=self, dispatch_uid="sites.positions")
