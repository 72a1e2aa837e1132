"""Attacks on bills, credit notes and what is marked about days: promises 6 and 7."""

from datetime import date, timedelta
from typing import Any

from django.db.models import Model

from kits.models import User
from reports.models import (
    AccessOffer,
    Bill,
    BillLine,
    BillSent,
    CreditLine,
    CreditNote,
    CutLeads,
    DayClaim,
    DayMark,
    LineAnswer,
    LineQuestion,
    MonthClaim,
    NoAccess,
    OnceClaim,
    Payment,
    StoredPaper,
)
from sites.models import Customer, Terms
from tests import make
from tests.attacks.world import NULL, Attack, World, at, change, copy_of, remove, replacement_of, text
from tests.kits.scratch import hour

DAY = date(2026, 6, 1)


def build_bills(world: World) -> None:
    """A bill and a credit note that are issued and one of each that is not; what they claimed and gave back; a row of
    each kind that is only added to."""
    world.payer = make.customer()
    world.terms = Terms.objects.create(from_day=DAY, day_cents=700)
    world.bill, world.begun = bill(world, 1), bill(world, 2)
    world.line, world.begun_line = line(world, world.bill), line(world, world.begun)
    world.note, world.begun_note = note(world, 1), note(world, 2)
    world.back, world.begun_back = back(world, world.note), back(world, world.begun_note)
    world.other_back = CreditLine.objects.create(
        **{**money(), "credit_note": world.begun_note, "place": 2, "bill_line": world.begun_line}
    )
    world.claim = DayClaim.objects.create(deployment=world.stay, day=DAY, line=world.line)
    world.freed = DayClaim.objects.create(
        deployment=world.stay, day=DAY + timedelta(days=1), line=world.line, released_by=world.back
    )
    world.once = OnceClaim.objects.create(deployment=world.stay, kind="set_up", line=world.line)
    world.once_freed = OnceClaim.objects.create(
        deployment=world.stay, kind="minimum", line=world.line, released_by=world.back
    )
    world.month = MonthClaim.objects.create(payer=world.payer, month=DAY, currency="USD", bill=world.bill)
    world.month_freed = MonthClaim.objects.create(
        payer=world.payer, month=DAY, currency="EUR", bill=world.bill, released_by=world.note
    )
    for paper in (world.bill, world.note):
        type(paper).objects.filter(pk=paper.pk).update(issued_at=hour(3))
    for name, row in added_only(world).items():
        setattr(world, name, row)


def paper(who: User, payer: Customer, serial: int) -> dict[str, Any]:
    return {
        "number": f"X2026-{serial:04d}",
        "year": 2026,
        "serial": serial,
        "payer": payer,
        "payer_name": str(payer),
        "currency": "USD",
        "amount_cents": 700,
        "tax_cents": 0,
        "issued_by": who,
    }


def bill(world: World, serial: int) -> Bill:
    return Bill.objects.create(**paper(world.who, world.payer, serial), month=DAY, due_on=DAY)


def note(world: World, serial: int) -> CreditNote:
    given = paper(world.who, world.payer, serial)
    return CreditNote.objects.create(**given, bill=world.bill, whole=True, why="Attacked.")


def money() -> dict[str, Any]:
    return {
        "kind": "monitoring",
        "start": DAY,
        "until": DAY + timedelta(days=1),
        "amount_cents": 700,
        "tax_rate": 0,
        "tax_cents": 0,
        "reason": "1 Jun: 1 day, 1 × 7.00",
    }


def line(world: World, of: Bill) -> BillLine:
    return BillLine.objects.create(
        bill=of,
        place=1,
        payer=world.payer,
        deployment=world.stay,
        terms=world.terms,
        cell=DAY,
        days=1,
        unit_cents=700,
        tax_rounding="line",
        **money(),
    )


def back(world: World, of: CreditNote) -> CreditLine:
    return CreditLine.objects.create(credit_note=of, place=1, bill_line=world.line, **money())


def added_only(world: World) -> dict[str, Model]:
    """One row of each table that is only added to, by the name it has in the world."""
    who, now, stay = world.who, hour(3), world.stay
    question, answered = (
        LineQuestion.objects.create(
            line=world.line, asked_by="Ana", asked_on=DAY, answer_by=DAY, recorded_by=who
        )
        for _ in range(2)
    )
    offers = [
        AccessOffer.objects.create(
            deployment=stay,
            offered_on=DAY + timedelta(days=number),
            for_day=DAY + timedelta(days=9),
            how="email",
            recorded_at=now,
            recorded_by=who,
        )
        for number in range(3)
    ]
    return {
        "question": question,
        "answer": LineAnswer.objects.create(
            question=answered, outcome="stands", answered_on=DAY, answered_by=who
        ),
        "stored": StoredPaper.objects.create(bill=world.bill, content=b"%PDF", sha256="0" * 64, made_at=now),
        "posted": BillSent.objects.create(bill=world.bill, how="post", sent_at=now, sent_by=who),
        "payment": Payment.objects.create(
            bill=world.bill, paid_on=DAY, amount_cents=700, recorded_at=now, recorded_by=who
        ),
        "mark": DayMark.objects.create(
            deployment=stay, day=DAY, kind="waived", why="Asked.", marked_at=now, marked_by=who
        ),
        "cut": CutLeads.objects.create(
            deployment=stay, leads=1, seen_on=DAY, why="Seen.", recorded_at=now, recorded_by=who
        ),
        "offer": offers[2],
        "no_access": NoAccess.objects.create(
            deployment=stay,
            first_offer=offers[0],
            second_offer=offers[1],
            charged_on=DAY,
            why="Nobody there.",
            approved_by=who,
        ),
    }


def kept(rule: str, row: str, column: str, value: object, **another: object) -> list[Attack]:
    """A row of the world is changed, and removed; its twin adds one more such row."""

    def more(w: World) -> str:
        return copy_of(
            getattr(w, row),
            **{name: given(w) if callable(given) else given for name, given in another.items()},
        )

    return [
        Attack(6, f"{row} is changed", rule, lambda w: change(getattr(w, row), **{column: value}), more),
        Attack(6, f"{row} is removed", rule, lambda w: remove(getattr(w, row)), more),
    ]


LATER_DAY = text("2026-07-01")
OF_BILL, OF_NOTE = "lines_of_an_issued_bill", "lines_of_an_issued_credit_note"

ON_BILLS = [
    # 7. The same day billed twice, the same charge, the same month
    Attack(
        7,
        "a day of a stay is billed twice",
        "one_bill_a_day",
        lambda w: copy_of(w.claim, line_id=w.begun_line.pk),
        lambda w: copy_of(w.claim, line_id=w.begun_line.pk, day=LATER_DAY),
    ),
    Attack(
        7,
        "a claim is moved to a day that stands elsewhere",
        "day_claim_stays",
        lambda w: change(w.claim, day=LATER_DAY),
        lambda w: copy_of(w.freed, released_by_id=NULL),
    ),
    Attack(
        7,
        "a claim is wiped without a credit",
        "day_claim_stays",
        lambda w: remove(w.claim),
        lambda w: change(w.claim, released_by_id=w.back.pk),
    ),
    Attack(
        7,
        "a claim is given back by the credit of another line",
        "day_given_back_by_its_credit",
        lambda w: change(w.claim, released_by_id=w.other_back.pk),
        lambda w: change(w.claim, released_by_id=w.back.pk),
    ),
    Attack(
        7,
        "a claim is put in as given back by the credit of another line",
        "day_given_back_by_its_credit",
        lambda w: copy_of(w.claim, released_by_id=w.other_back.pk),
        lambda w: copy_of(w.claim, released_by_id=w.back.pk),
    ),
    Attack(
        7,
        "a day that was given back is taken again by its old claim",
        "released_day_stays",
        lambda w: change(w.freed, released_by_id=NULL),
        lambda w: copy_of(w.freed, released_by_id=NULL),
    ),
    Attack(
        7,
        "a set-up is billed twice",
        "one_charge_a_stay",
        lambda w: copy_of(w.once, line_id=w.begun_line.pk),
        lambda w: copy_of(w.once, line_id=w.begun_line.pk, kind=text("lost_kit")),
    ),
    Attack(
        7,
        "the claim of a set-up is wiped",
        "once_claim_stays",
        lambda w: remove(w.once),
        lambda w: change(w.once, released_by_id=w.back.pk),
    ),
    Attack(
        7,
        "a set-up is given back by the credit of another line",
        "charge_given_back_by_its_credit",
        lambda w: change(w.once, released_by_id=w.other_back.pk),
        lambda w: change(w.once, released_by_id=w.back.pk),
    ),
    Attack(
        7,
        "a charge that was given back is taken again by its old claim",
        "released_charge_stays",
        lambda w: change(w.once_freed, released_by_id=NULL),
        lambda w: copy_of(w.once_freed, released_by_id=NULL),
    ),
    Attack(
        7,
        "a payer gets two bills for a month",
        "one_bill_a_payer_and_month",
        lambda w: copy_of(w.month, bill_id=w.begun.pk),
        lambda w: copy_of(w.month, bill_id=w.begun.pk, month=LATER_DAY),
    ),
    Attack(
        7,
        "the claim of a month is wiped",
        "month_claim_stays",
        lambda w: remove(w.month),
        lambda w: change(w.month, released_by_id=w.note.pk),
    ),
    Attack(
        7,
        "a month is given back by a credit note of another bill",
        "month_given_back_by_its_credit",
        lambda w: copy_of(w.month, bill_id=w.begun.pk, released_by_id=w.note.pk),
        lambda w: copy_of(w.month, released_by_id=w.note.pk),
    ),
    Attack(
        7,
        "a month that was given back is taken again by its old claim",
        "released_month_stays",
        lambda w: change(w.month_freed, released_by_id=NULL),
        lambda w: copy_of(w.month_freed, released_by_id=NULL),
    ),
    # 6. Issued papers and their lines
    Attack(
        6,
        "an issued bill is changed",
        "issued_bill_never_changes",
        lambda w: change(w.bill, amount_cents=1),
        lambda w: change(w.begun, amount_cents=1),
    ),
    Attack(
        6,
        "an issued bill is unsealed",
        "issued_bill_never_changes",
        lambda w: change(w.bill, issued_at=NULL),
        lambda w: change(w.begun, issued_at=at(4)),
    ),
    Attack(
        6,
        "an issued bill is replaced",
        "issued_bill_never_changes",
        lambda w: replacement_of(w.bill, amount_cents=1),
        lambda w: replacement_of(w.begun, amount_cents=1),
        only_on="sqlite",
    ),
    Attack(
        6,
        "a line of an issued bill is changed",
        OF_BILL,
        lambda w: change(w.line, amount_cents=1),
        lambda w: change(w.begun_line, amount_cents=1),
    ),
    Attack(
        6,
        "a line is added to an issued bill",
        OF_BILL,
        lambda w: copy_of(w.line, place=2),
        lambda w: copy_of(w.begun_line, place=2),
    ),
    Attack(
        6,
        "a line is moved to an issued bill",
        OF_BILL,
        lambda w: change(w.begun_line, bill_id=w.bill.pk, place=2),
        lambda w: change(w.begun_line, place=2),
    ),
    Attack(
        6,
        "an issued credit note is changed",
        "issued_credit_never_changes",
        lambda w: change(w.note, amount_cents=1),
        lambda w: change(w.begun_note, amount_cents=1),
    ),
    Attack(
        6,
        "a line of an issued credit note is changed",
        OF_NOTE,
        lambda w: change(w.back, amount_cents=1),
        lambda w: change(w.begun_back, amount_cents=1),
    ),
    Attack(
        6,
        "a line is added to an issued credit note",
        OF_NOTE,
        lambda w: copy_of(w.back, place=2),
        lambda w: copy_of(w.begun_back, place=3),
    ),
    # 6. What is only added to
    Attack(
        6,
        "terms are changed",
        "terms_never_change",
        lambda w: change(w.terms, day_cents=1),
        lambda w: copy_of(w.terms, day_cents=1, from_day=LATER_DAY),
    ),
    *kept("bill_sent_never_changes", "posted", "how", text("hand"), how=text("hand")),
    *kept("payment_never_changes", "payment", "amount_cents", 1, amount_cents=1),
    *kept("line_question_never_changes", "question", "asked_by", text("Ben"), asked_by=text("Ben")),
    *kept("day_mark_never_changes", "mark", "why", text("Forged."), kind=text("counts")),
    *kept("cut_leads_never_change", "cut", "leads", 0, leads=0),
    *kept("access_offer_never_changes", "offer", "how", text("post"), offered_on=LATER_DAY),
    *kept(
        "stored_paper_never_changes",
        "stored",
        "sha256",
        text("1" * 64),
        bill_id=NULL,
        credit_note_id=lambda w: w.note.pk,
    ),
    *kept(
        "line_answer_never_changes",
        "answer",
        "outcome",
        text("waived"),
        question_id=lambda w: (
            LineQuestion.objects.create(
                line=w.line, asked_by="Ben", asked_on=DAY, answer_by=DAY, recorded_by=w.who
            ).pk
        ),
    ),
    *kept(
        "no_access_never_changes",
        "no_access",
        "why",
        text("Forged."),
        deployment_id=lambda w: w.plan.pk,
    ),
]
