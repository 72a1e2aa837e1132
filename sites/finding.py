"""Finding rows by what people type: every word of it, without case and accents."""

from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from kits.models.base import fold

Row = TypeVar("Row", bound=Model)


def matching(rows: "QuerySet[Row]", text: str, *places: str) -> "QuerySet[Row]":
    """Rows that hold every word of `text` in their own folded text, or in that of one of `places`.

    `places` are paths to other searchable rows: "unit__site", "parties__customer".
    """
    for word in fold(text).split():
        found = Q(folded__contains=word)
        for place in places:
            found |= Q(**{f"{place}__folded__contains": word})
        rows = rows.filter(found)
    return rows.distinct() if places else rows
