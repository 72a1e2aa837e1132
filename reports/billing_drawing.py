"""Papers of issued bills and credit notes are drawn once and stored. What was left undrawn is drawn by the next who asks."""

from collections.abc import Callable, Iterable, Iterator
from itertools import chain
from time import monotonic

from django.core.exceptions import ValidationError

from kits.actions.acting import Act
from kits.models import User
from reports.actions.billing_after import store_paper
from reports.billing_list import undrawn_bills, undrawn_notes
from reports.gather_bills import bill_paper, credit_paper
from reports.models import Bill, CreditNote, StoredPaper

SECONDS_A_STEP = 2.0


def undrawn_count() -> int:
    return undrawn_bills().count() + undrawn_notes().count()


def undrawn() -> Iterator[Bill | CreditNote]:
    """Every paper that was issued and not drawn yet; kills and faults leave it here, so nothing is lost."""
    return chain(
        undrawn_bills().select_related("payer", "issued_by"),
        undrawn_notes().select_related("bill__payer", "payer", "issued_by"),
    )


def draw(paper: Bill | CreditNote) -> bytes:
    """The bytes of a paper, drawn from its rows. Only `store` is to call this: a second drawing is another paper."""
    from reports.papers.bill import bill_pdf

    return bill_pdf(bill_paper(paper) if isinstance(paper, Bill) else credit_paper(paper))


def store(paper: Bill | CreditNote, by: User | None = None) -> StoredPaper:
    """The stored paper; drawn now if it was not yet. Of two who draw at once the first one's is kept."""
    kept = paper.storedpapers.first()
    if kept is None:
        try:
            store_paper(Act.by(by or paper.issued_by), paper=paper, content=draw(paper))
        except ValidationError:
            if not paper.storedpapers.exists():
                raise
        kept = paper.storedpapers.get()
    return kept


def draw_some(
    by: User | None = None,
    *,
    seconds: float | None = SECONDS_A_STEP,
    told: Callable[[Bill | CreditNote], None] | None = None,
    papers: Iterable[Bill | CreditNote] | None = None,
) -> int:
    """Draw papers that are not drawn yet, until none is left or the time is up; at least one. Returns how many."""
    began, count = monotonic(), 0
    for paper in undrawn() if papers is None else papers:
        store(paper, by)
        count += 1
        if told:
            told(paper)
        if seconds is not None and monotonic() - began > seconds:
            break
    return count
