"""Counting rows beside each row of a list, so that the database counts only for the rows it shows."""

from typing import Any

from django.db.models import Count, IntegerField, QuerySet, Subquery
from django.db.models.functions import Coalesce


def count_of(rows: QuerySet[Any], owner: str) -> Coalesce:
    """How many of `rows`, which are already tied to the outer query's row by their path `owner`."""
    counted = rows.order_by().values(owner).annotate(number=Count("pk"))
    return Coalesce(Subquery(counted.values("number"), output_field=IntegerField()), 0)
