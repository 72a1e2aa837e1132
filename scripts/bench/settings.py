"""The product's settings with the floors' addresses beside its own."""

from config.settings import *  # noqa: F403
from config.settings import AUTHENTICATION_BACKENDS, LOGGING

ROOT_URLCONF = "scripts.bench.urls"
LOGGING = {**LOGGING, "root": {"handlers": [], "level": "ERROR"}}

# The floors read sessions and people as Django does by itself.
AUTHENTICATION_BACKENDS = [*AUTHENTICATION_BACKENDS, "django.contrib.auth.backends.ModelBackend"]
