"""What gunicorn serves."""

import os
from importlib import import_module

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")


def safe_application() -> WSGIHandler:
    """The app, once its database has been looked at."""
    app = get_wsgi_application()
    from config.checks import refuse_to_serve_unsafely  # its imports need the apps to be loaded

    refuse_to_serve_unsafely()
    import_module(settings.ROOT_URLCONF)  # every view, so that no first visitor waits for it
    return app


application = safe_application()
