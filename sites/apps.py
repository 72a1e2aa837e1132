"""Where kits go: customers, sites, units, calls, stays.

Never install django.contrib.sites: its label is `sites` too, and Django refuses to start with two apps of one label.
"""

from django.apps import AppConfig


class SitesConfig(AppConfig):
    name = "sites"
    label = "sites"
    default_auto_field = "django.db.models.BigAutoField"
