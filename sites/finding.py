"""Finding rows by what people type: every word of it, without case and accents."""

import re
from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from kits.models.base import fold

Row = TypeVar("Row", bound=Model)

PHONE = re.compile(r"[\d\s()+./-]*\d[\d\s()+./-]*")


def words_of(text: str) -> list[str]:
    """What must be found, word by word; a phone number by its groups, as differently as people write them.

    >>> words_of("José Núñez"), words_of("(201) 555-0103"), words_of("12015550103"), words_of("1087")
    (['jose', 'nunez'], ['201', '555', '0103'], ['201', '555', '0103'], ['1087'])
    """
    digits = "".join(character for character in text if character in "0123456789")
    if PHONE.fullmatch(text) and len(digits) in {10, 11} and digits[-11:-10] in {"", "1"}:
        return [digits[-10:-7], digits[-7:-4], digits[-4:]]
    return fold(text).split()


def matching(rows: "QuerySet[Row]", text: str, *places: str) -> "QuerySet[Row]":
    """Rows that hold every word of `text` in their own folded text, or in that of one of `places`.

    `places` are paths to other searchable rows: "unit__site", "parties__customer".
    """
    words = words_of(text)
    for word in words:
        found = Q(folded__contains=word)
        for place in places:
            found |= Q(**{f"{place}__folded__contains": word})
        rows = rows.filter(found)
    # Only a search can meet a row twice; asked of a whole list, DISTINCT would work out every row to show fifty.
    return rows.distinct() if places and words else rows
