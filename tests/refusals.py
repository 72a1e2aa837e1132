"""What tests of actions ask again and again: the row as it stands now, and the words of a refusal."""

from collections.abc import Callable
from typing import Any, TypeVar

import pytest
from django.core.exceptions import ValidationError
from django.db import models

Row = TypeVar("Row", bound=models.Model)


def fresh(row: Row) -> Row:
    """The row read anew."""
    return type(row)._default_manager.get(pk=row.pk)


def refused(action: Callable[..., Any], *args: Any, **given: Any) -> str:
    """The sentences with which `action` refuses; it must refuse."""
    with pytest.raises(ValidationError) as refusal:
        action(*args, **given)
    return " ".join(refusal.value.messages)
