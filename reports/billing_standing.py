"""What stands on issued papers, as the plain records that billing compares with what is right."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from reports.billing.compare import Standing
from reports.billing.lines import Kind
from reports.billing.terms import Tax, TaxRounding
from reports.models import BillLine, CreditLine


def standing_lines(
    stays: Iterable[int] | None = None, *, bills: Iterable[int] | None = None
) -> list[Standing]:
    """Lines of issued bills as they stand after all credits: of some stays, or of some bills."""
    rows = BillLine.objects.select_related("bill").filter(bill__issued_at__isnull=False)
    credits = CreditLine.objects.filter(credit_note__issued_at__isnull=False)
    if bills is not None:
        chosen = list(bills)
        rows = rows.filter(bill__in=chosen)
        credits = credits.filter(bill_line__bill__in=chosen)
    keys = None if stays is None else set(stays)
    backs: dict[int, list[CreditLine]] = defaultdict(list)
    for credit in credits.order_by("pk"):
        backs[credit.bill_line_id].append(credit)
    found = []
    for row in rows.order_by("bill_id", "place"):
        if keys is None or row.deployment_id in keys:
            found += as_it_stands(row, backs.get(row.pk, []))
    return found


def as_it_stands(row: BillLine, credits: Sequence[CreditLine]) -> list[Standing]:
    released = {
        date.fromisoformat(day) for credit in credits if credit.kind == row.kind for day in credit.days
    }
    kinds = dict.fromkeys([row.kind, *(credit.kind for credit in credits)])
    found = []
    for kind in kinds:
        own = kind == row.kind
        mine = [credit for credit in credits if credit.kind == kind]
        found.append(
            Standing(
                line=row.pk,
                bill=row.bill_id,
                number=row.bill.number,
                stay=row.deployment_id,
                payer=row.payer_id,
                cell=row.cell,
                kind=Kind(kind),
                start=row.start,
                until=row.until,
                days=row.days - len(released) if own else 0,
                holes=tuple(sorted({*map(date.fromisoformat, row.holes), *released})) if own else (),
                amount_cents=(row.amount_cents if own else 0) - sum(one.amount_cents for one in mine),
                tax_cents=(row.tax_cents if own else 0) - sum(one.tax_cents for one in mine),
                tax=Tax(row.tax_code, Decimal(row.tax_rate)),
                tax_rounding=TaxRounding(row.tax_rounding),
            )
        )
    return found
