"""The product's settings with the floors' addresses beside its own."""

from config.settings import *  # noqa: F403
from config.settings import LOGGING

ROOT_URLCONF = "scripts.bench.urls"
LOGGING = {**LOGGING, "root": {"handlers": [], "level": "ERROR"}}
