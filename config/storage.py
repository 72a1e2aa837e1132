"""Static files under names that change with their content, as a page names them half a dozen times."""

from typing import Any

from whitenoise.storage import CompressedManifestStaticFilesStorage


class NamedByContent(CompressedManifestStaticFilesStorage):
    """Keeps each address once it is made: the list of files is read at the start and never changes while we run."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.addresses: dict[str, str] = {}

    def url(self, name: str | None, force: bool = False) -> str:
        key = name or ""
        if key not in self.addresses or force:
            self.addresses[key] = super().url(name, force=force)
        return self.addresses[key]
