"""What several models share: a version for each row that people change, and a folded text for search."""

import unicodedata
from typing import Any, ClassVar

from django.db import models


def fold(text: str) -> str:
    """Lower-cased text without accents, for search that works alike on both databases.

    >>> fold("José  Núñez-Wołkowski")
    'jose nunez-wolkowski'
    """
    # l with stroke, d with stroke and the like do not decompose.
    text = text.translate(str.maketrans("łŁđĐøØ", "lLdDoO"))
    parts = unicodedata.normalize("NFKD", text)
    bare = "".join(character for character in parts if not unicodedata.combining(character))
    return " ".join(bare.casefold().split())


class Versioned(models.Model):
    """A row that people change: each change counts one up, and a form based on an older count is answered."""

    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        abstract = True


class Searchable(models.Model):
    """A row found by search: `folded` holds its `searched` fields without case and accents."""

    folded = models.TextField(default="", editable=False)
    searched: ClassVar[tuple[str, ...]] = ()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.folded = fold(" ".join(str(getattr(self, name) or "") for name in self.searched))
        update_fields = kwargs.get("update_fields")
        if update_fields is not None and set(update_fields) & set(self.searched):
            kwargs["update_fields"] = {*update_fields, "folded"}
        super().save(*args, **kwargs)
