"""One bill, one credit note, and their papers."""

from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from kits.models import User
from kits.web import OFFICE, for_roles, user_of
from reports.billing_credits import Proposed, proposed
from reports.billing_list import paper_of
from reports.billing_shown import ShownBill, answer_to, credit_lines_by_house, shown_bill
from reports.gather_bills import day_list, taxes_of
from reports.models import Bill, CreditNote
from reports.views.billing import today
from reports.views.pdf import pdf
from sites.story import events_about


def get_bill(number: str) -> Bill:
    rows = Bill.objects.filter(issued_at__isnull=False).select_related("payer", "issued_by")
    return get_object_or_404(rows, number=number)


def get_note(number: str) -> CreditNote:
    rows = CreditNote.objects.filter(issued_at__isnull=False)
    return get_object_or_404(rows.select_related("payer", "issued_by", "bill__payer"), number=number)


@for_roles(*OFFICE)
@require_safe
def bill(request: HttpRequest, number: str) -> HttpResponse:
    """Why is each line this much, and what became of the bill?"""
    paper = get_bill(number)
    shown = shown_bill(paper, today())
    due_back = proposed([paper])[0]
    stored = paper_of(paper)
    sent = list(paper.billsents.select_related("sent_by"))
    context: dict[str, Any] = {
        "bill": paper,
        "shown": shown,
        "due": shown.due,
        "answer": answer_to(shown.due, today()),
        "credit": due_back if due_back.lines else None,
        "stored": stored,
        "sent": sent,
        "events": events_about([paper, *shown.notes], at_most=40),
        "next": next_for(user_of(request), shown, due_back, stored is not None, bool(sent)),
    }
    return render(request, "reports/bill.html", context)


def next_for(user: User, shown: ShownBill, due_back: Proposed, is_drawn: bool, is_sent: bool) -> str:
    """The one thing to do next: draw, credit, send, pay, or nothing."""
    if not is_drawn:
        return "draw"
    if due_back.lines and user.is_manager:
        return "credit"
    if shown.due.state == "taken back":
        return ""
    if not is_sent:
        return "send"
    return "paid" if shown.due.open_cents else ""


@for_roles(*OFFICE)
@require_safe
def credit_note(request: HttpRequest, number: str) -> HttpResponse:
    """What was taken back, of which bill, and why?"""
    note = get_note(number)
    lines = list(note.lines.select_related("bill_line"))
    stored = paper_of(note)
    sent = list(note.billsents.select_related("sent_by"))
    context: dict[str, Any] = {
        "note": note,
        "houses": credit_lines_by_house(lines),
        "taxes": [tax for tax in taxes_of(lines) if tax.rate],
        "stored": stored,
        "sent": sent,
        "events": events_about([note], at_most=40),
        "next": "draw" if stored is None else "" if sent else "send",
    }
    return render(request, "reports/credit_note.html", context)


def stored_pdf(paper: Bill | CreditNote) -> HttpResponse:
    """The paper as it was drawn. While it is not, its page says so and offers to draw it."""
    stored: QuerySet[Any] = paper.storedpapers.all()
    kept = stored.first()
    if kept is None:
        return redirect(paper)
    answer = pdf(bytes(kept.content), paper.number)
    answer["ETag"] = f'"{kept.sha256}"'
    return answer


@for_roles(*OFFICE)
@require_safe
def bill_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The bill as it was drawn when it was issued."""
    return stored_pdf(get_bill(number))


@for_roles(*OFFICE)
@require_safe
def credit_note_pdf(request: HttpRequest, number: str) -> HttpResponse:
    """The credit note as it was drawn when it was issued."""
    return stored_pdf(get_note(number))


def day_list_of(paper: Bill) -> bytes:
    from reports.papers.bill import day_list_pdf

    return day_list_pdf(day_list(paper))


@for_roles(*OFFICE)
@require_safe
def bill_days(request: HttpRequest, number: str) -> HttpResponse:
    """Every day on a bill with what is known about it now."""
    paper = get_bill(number)
    return pdf(day_list_of(paper), f"{paper.number}-days")
