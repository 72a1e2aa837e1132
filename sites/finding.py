"""Finding rows by what people type: every word of it, without case and accents."""

from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from kits.models.base import fold

Row = TypeVar("Row", bound=Model)


def matching(rows: "QuerySet[Row]", text: str, *places: str) -> "QuerySet[Row]":
    """Rows that hold every word of `text` in their own folded text, or in that of one of `places`.

    `places` are paths to other searchable rows: "unit__site", "parties__customer".
    """
    words = fold(text).split()
    for word in words:
        found = Q(folded__contains=word)
        for place in places:
            found |= Q(**{f"{place}__folded__contains": word})
        rows = rows.filter(found)
    # Only a search can meet a row twice; asked of a whole list, DISTINCT would work out every row to show fifty.
    return rows.distinct() if places and words else rows
