"""The shell as an app: it has no models, but templates, static files, commands and start-up checks."""

from django.apps import AppConfig


class ShellConfig(AppConfig):
    name = "config"
    verbose_name = "Kitperch"

    def ready(self) -> None:
        from config import checks

        checks.register_all()
