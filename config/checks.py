"""Start-up checks: what the database must be set to before the app may serve."""


def register_all() -> None:
    """Hang the checks into Django. Called once, when the shell is ready."""
