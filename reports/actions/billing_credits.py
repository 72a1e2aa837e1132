"""What an issued bill said too much is taken back by a credit note that names it, and billed anew where that is due."""

from collections.abc import Sequence
from datetime import date

from kits.actions.acting import Act, Done, action, hold, record
from kits.promises import Refused
from reports.actions.billing import DAYS_TO_PAY, check_manager, issue, lock_counter, next_numbers
from reports.billing.compare import TakenBack
from reports.billing.lines import ONCE
from reports.billing.money import money_text
from reports.billing_close import look_at
from reports.billing_credits import Proposed, proposed
from reports.models import (
    Bill,
    BillLine,
    CreditLine,
    CreditNote,
    DayClaim,
    MonthClaim,
    OnceClaim,
    PaperNumber,
    Series,
)


@action
def credit_difference(act: Act, *, bill: Bill, why: str, seen: int | None = None) -> Done:
    """What is known now differs from a bill: the difference is given back. `seen`: the total that was looked at."""
    check_manager(act)
    _bills, counter = lock_both(act)
    bill = hold(bill)
    due = proposed_for(bill)
    if not due.lines:
        raise Refused(f"{bill} is right by what is known now, so nothing is due back.", code="nothing_due")
    if seen is not None and seen != due.total_cents:
        raise Refused(
            f"Something changed since you looked: now {money_text(due.total_cents)} is due back on {bill}. "
            "Nothing was issued. Look at it again.",
            code="stale",
        )
    note = write_credit(act, counter, bill, due.lines, why=why, whole=False)
    sentence = f"{note} issued: {money_text(note.total_cents)} {bill.currency} of {bill} taken back"
    return record(act, "credit issued", sentence, about=[note, bill], why=why)


@action
def credit_whole(act: Act, *, bill: Bill, why: str, bill_anew: bool = False) -> Done:
    """All that stands of a bill is given back; with `bill_anew`, its month is billed again by what is known now."""
    check_manager(act)
    bills, counter = lock_both(act)
    bill = hold(bill)
    whole = proposed_for(bill).whole()
    if whole is None:
        raise Refused(f"Nothing of {bill} stands any more: it was taken back before.", code="nothing_due")
    note = write_credit(act, counter, bill, whole.lines, why=why, whole=True)
    sentence = f"{note} issued: all of {bill}, {money_text(note.total_cents)} {bill.currency}, taken back"
    about: list[CreditNote | Bill] = [note, bill]
    if bill_anew:
        close = look_at(bill.month, act.recorded_at, payers={bill.payer_id})
        drafts = [draft for draft in close.drafts if draft.currency == bill.currency]
        again = issue(act, bills, drafts, close.told, DAYS_TO_PAY) if drafts else []
        about += again
        sentence += f"; billed anew as {again[0]}" if again else "; nothing is left to bill for that month"
    return record(act, "credit issued", sentence, about=about, why=why)


def lock_both(act: Act) -> tuple[PaperNumber, PaperNumber]:
    """No close meanwhile, and no other credit; always in this order, so that two managers never wait for each other."""
    return lock_counter(act, Series.BILL), lock_counter(act, Series.CREDIT)


def proposed_for(bill: Bill) -> Proposed:
    if bill.issued_at is None:
        raise Refused(f"{bill} was never issued.", code="not_issued")
    return proposed([bill])[0]


def write_credit(
    act: Act,
    counter: PaperNumber,
    bill: Bill,
    lines: Sequence[TakenBack],
    *,
    why: str,
    whole: bool,
) -> CreditNote:
    """Number, write and seal a credit note, and give back what it takes off its bill."""
    if not why.strip():
        raise Refused({"why": ["Say why it is taken back."]})
    ((serial, number),) = next_numbers(counter, 1)
    note = CreditNote.objects.create(
        number=number,
        year=counter.year,
        serial=serial,
        bill=bill,
        payer=bill.payer,
        payer_name=bill.payer_name,
        currency=bill.currency,
        amount_cents=sum(line.amount_cents for line in lines),
        tax_cents=sum(line.tax_cents for line in lines),
        whole=whole,
        why=why.strip()[:200],
        issued_by=act.typed_by,
    )
    rows = CreditLine.objects.bulk_create(
        CreditLine(
            credit_note=note,
            place=place,
            bill_line_id=line.line,
            kind=line.kind.value,
            start=line.start,
            until=line.until,
            days=[day.isoformat() for day in line.days],
            amount_cents=line.amount_cents,
            tax_code=line.tax.code,
            tax_rate=line.tax.rate,
            tax_cents=line.tax_cents,
            reason=line.reason,
        )
        for place, line in enumerate(lines, start=1)
    )
    give_back(note, rows, lines)
    CreditNote.objects.filter(pk=note.pk).update(issued_at=act.recorded_at)
    note.issued_at = act.recorded_at
    return note


def give_back(note: CreditNote, rows: Sequence[CreditLine], lines: Sequence[TakenBack]) -> None:
    """Days, once-a-stay charges and, with a whole bill, its month are free again."""
    own = {line.pk: line for line in BillLine.objects.filter(pk__in=[row.bill_line_id for row in rows])}
    for row, line in zip(rows, lines, strict=True):
        if line.days:
            days: list[date] = list(line.days)
            DayClaim.objects.filter(line=row.bill_line_id, day__in=days, released_by=None).update(
                released_by=row
            )
        billed = own[row.bill_line_id]
        if row.kind in ONCE and row.kind == billed.kind and stands_no_more(billed):
            OnceClaim.objects.filter(line=billed, released_by=None).update(released_by=row)
    if note.whole:
        MonthClaim.objects.filter(bill=note.bill_id, released_by=None).update(released_by=note)


def stands_no_more(line: BillLine) -> bool:
    """Whether all of a charge was given back."""
    back = sum(line.taken_back.filter(kind=line.kind).values_list("amount_cents", flat=True))
    return back == line.amount_cents
