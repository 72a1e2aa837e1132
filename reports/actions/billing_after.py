"""After a bill is issued: it is drawn and stored, goes out, is paid, and is asked about."""

import hashlib
from datetime import date

from kits.actions.acting import Act, Done, action, record
from kits.promises import Refused
from reports.actions.billing import check_manager
from reports.actions.billing_marks import add_mark
from reports.billing.money import money_text
from reports.models import (
    Bill,
    BillLine,
    BillSent,
    CreditNote,
    LineAnswer,
    LineQuestion,
    MarkKind,
    Outcome,
    Payment,
    SentBy,
    StoredPaper,
)
from sites.days import day_of, say_day
from sites.free import shop_zone


def of_paper(paper: Bill | CreditNote) -> dict[str, Bill | CreditNote]:
    return {"bill": paper} if isinstance(paper, Bill) else {"credit_note": paper}


def check_office(act: Act) -> None:
    if not act.typed_by.is_office:
        raise Refused("Bills are the office's.", code="office_only")


@action
def store_paper(act: Act, *, paper: Bill | CreditNote, content: bytes) -> Done:
    """The paper as it was drawn is kept for good, with its SHA-256. Drawn again it would be another paper."""
    if paper.issued_at is None:
        raise Refused(f"{paper} was never issued.", code="not_issued")
    kept = StoredPaper.objects.create(
        **of_paper(paper),
        content=content,
        sha256=hashlib.sha256(content).hexdigest(),
        made_at=act.recorded_at,
    )
    return record(
        act, "paper stored", f"{paper} drawn and stored", about=[paper], details={"sha256": kept.sha256}
    )


@action
def mark_sent(act: Act, *, paper: Bill | CreditNote, how: str, to: str = "") -> Done:
    """A bill or credit note went out."""
    check_office(act)
    if how not in SentBy.values:
        raise Refused({"how": ["Choose how it was sent."]})
    if paper.issued_at is None or act.happened_at < paper.issued_at:
        raise Refused(f"{paper} was issued later than that.", code="order")
    BillSent.objects.create(**of_paper(paper), how=how, to=to, sent_at=act.happened_at, sent_by=act.typed_by)
    return record(act, "bill sent", f"{paper} sent {SentBy(how).label.lower()}", about=[paper])


@action
def mark_paid(act: Act, *, bill: Bill, paid_on: date, amount_cents: int, reference: str = "") -> Done:
    """Money came for a bill; below zero, money went back."""
    check_office(act)
    if not amount_cents:
        raise Refused({"amount": ["Give the amount that was paid."]})
    today = day_of(act.recorded_at, shop_zone())
    if paid_on > today:
        raise Refused({"paid_on": ["That day is still to come."]})
    Payment.objects.create(
        bill=bill,
        paid_on=paid_on,
        amount_cents=amount_cents,
        reference=reference.strip()[:80],
        recorded_at=act.recorded_at,
        recorded_by=act.typed_by,
    )
    verb = "paid" if amount_cents > 0 else "went back"
    sentence = f"{money_text(abs(amount_cents))} {bill.currency} {verb} on {bill}, {say_day(paid_on, today)}"
    return record(act, "bill paid", sentence, about=[bill])


@action
def ask_about_line(
    act: Act,
    *,
    line: BillLine,
    asked_by: str,
    answer_by: date,
    day: date | None = None,
    question: str = "",
    asked_on: date | None = None,
) -> Done:
    """A payer asks about a line; it is not chased until somebody has answered."""
    check_office(act)
    asked_on = asked_on or day_of(act.happened_at, shop_zone())
    if not asked_by.strip():
        raise Refused({"asked_by": ["Say who asked."]})
    if answer_by < asked_on:
        raise Refused({"answer_by": ["The answer is due on the day of the question or later."]})
    if day is not None and not line.start <= day < line.until:
        raise Refused({"day": [f"{day:%d %b %Y} does not stand on this line."]})
    if line.questions.filter(answer=None).exists():
        raise Refused("This line is in question already. Answer that first.", code="asked_already")
    LineQuestion.objects.create(
        line=line,
        asked_by=asked_by.strip()[:120],
        day=day,
        question=question.strip()[:300],
        asked_on=asked_on,
        answer_by=answer_by,
        recorded_by=act.typed_by,
    )
    sentence = f"A line of {line.bill} is in question, answer by {say_day(answer_by, asked_on)}"
    return record(act, "line questioned", sentence, about=[line.bill, line.deployment])


@action
def answer_question(act: Act, *, question: LineQuestion, outcome: str, why: str = "") -> Done:
    """A question is answered: the line stands, is taken back (correct the facts; a credit follows), or is waived."""
    check_office(act)
    if outcome not in Outcome.values:
        raise Refused({"outcome": ["A line stands, is taken back, or is waived."]})
    if outcome != Outcome.STANDS and not why.strip():
        raise Refused({"why": ["Say why."]})
    line = question.line
    if outcome == Outcome.WAIVED:
        check_manager(act)
        days = (
            [question.day]
            if question.day
            else [claim.day for claim in line.day_claims.filter(released_by=None)]
        )
        if not days:
            raise Refused("Only days can be waived. Take this line back by a credit note.", code="no_days")
        for day in days:
            add_mark(act, line.deployment, day, MarkKind.WAIVED, why=why)
    LineAnswer.objects.create(
        question=question,
        outcome=outcome,
        answered_on=day_of(act.happened_at, shop_zone()),
        why=why.strip()[:300],
        answered_by=act.typed_by,
    )
    words = {Outcome.STANDS: "stands", Outcome.TAKEN_BACK: "is taken back", Outcome.WAIVED: "is waived"}
    sentence = f"A questioned line of {line.bill} {words[Outcome(outcome)]}"
    return record(act, "question answered", sentence, about=[line.bill, line.deployment], why=why)
