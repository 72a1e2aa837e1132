"""What is done with a bill after it was issued: sent, paid, asked about, answered, taken back."""

from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from kits.actions.acting import Act, Done
from kits.ways import sent
from kits.web import MANAGER, OFFICE, for_roles, take_step, user_of
from reports.actions.billing_after import answer_question, ask_about_line, mark_paid, mark_sent
from reports.actions.billing_credits import credit_difference, credit_whole
from reports.actions.billing_mail import send_by_email
from reports.billing_credits import proposed
from reports.billing_drawing import store
from reports.billing_due import due_of
from reports.forms_billing import AnswerForm, AskForm, CreditForm, PaidForm, SendForm, SentForm
from reports.models import Bill, CreditNote, LineQuestion
from reports.views.billing import today
from reports.views.billing_papers import day_list_of, get_bill, get_note

A_STEP = require_http_methods(["GET", "HEAD", "POST"])


def send_paper(request: HttpRequest, paper: Bill | CreditNote) -> HttpResponse:
    """A paper goes out by e-mail."""
    shop_name: str = request.shop.name  # type: ignore[attr-defined]
    form = SendForm(sent(request), paper=paper, shop_name=shop_name)

    def do(act: Act) -> Done:
        store(paper, user_of(request))
        told = form.cleaned_data
        days = day_list_of(paper) if isinstance(paper, Bill) and told["day_list"] else None
        return send_by_email(
            act, paper=paper, to=told["to"], subject=told["subject_line"], text=told["text"], day_list=days
        )

    return take_step(
        request,
        form,
        do,
        template="reports/bill_send.html",
        context={"paper": paper, "only_logged": "console" in settings.EMAIL_BACKEND},
        then=lambda done: paper.get_absolute_url(),
    )


def mark_paper_sent(request: HttpRequest, paper: Bill | CreditNote) -> HttpResponse:
    """A paper went out by post, by hand, or from somebody's own mail."""
    form = SentForm(sent(request))
    return take_step(
        request,
        form,
        lambda act: mark_sent(
            act, paper=paper, how=form.cleaned_data["how"], to=form.cleaned_data["to"].strip()
        ),
        template="reports/bill_sent.html",
        context={"paper": paper},
        then=lambda done: paper.get_absolute_url(),
    )


@for_roles(*OFFICE)
@A_STEP
def bill_send(request: HttpRequest, number: str) -> HttpResponse:
    """Send a bill by e-mail."""
    return send_paper(request, get_bill(number))


@for_roles(*OFFICE)
@A_STEP
def bill_sent(request: HttpRequest, number: str) -> HttpResponse:
    """Mark a bill as sent."""
    return mark_paper_sent(request, get_bill(number))


@for_roles(*OFFICE)
@A_STEP
def credit_note_send(request: HttpRequest, number: str) -> HttpResponse:
    """Send a credit note by e-mail."""
    return send_paper(request, get_note(number))


@for_roles(*OFFICE)
@A_STEP
def credit_note_sent(request: HttpRequest, number: str) -> HttpResponse:
    """Mark a credit note as sent."""
    return mark_paper_sent(request, get_note(number))


@for_roles(*OFFICE)
@A_STEP
def bill_paid(request: HttpRequest, number: str) -> HttpResponse:
    """Money came for a bill."""
    paper = get_bill(number)
    due = due_of([paper], today())[0]
    form = PaidForm(sent(request), bill=paper, open_cents=due.open_cents, today=today())

    def do(act: Act) -> Done:
        told = form.cleaned_data
        return mark_paid(
            act,
            bill=paper,
            paid_on=told["paid_on"],
            amount_cents=told["amount"],
            reference=told["reference"],
        )

    return take_step(
        request,
        form,
        do,
        template="reports/bill_paid.html",
        context={"bill": paper, "due": due},
        then=lambda done: paper.get_absolute_url(),
    )


@for_roles(*OFFICE)
@A_STEP
def bill_ask(request: HttpRequest, number: str, place: int) -> HttpResponse:
    """A payer asks about a line."""
    paper = get_bill(number)
    line = get_object_or_404(paper.lines.select_related("bill", "deployment"), place=place)
    form = AskForm(sent(request), line=line, today=today())
    return take_step(
        request,
        form,
        lambda act: ask_about_line(act, line=line, **form.given()),
        template="reports/bill_ask.html",
        context={"bill": paper, "line": line},
        then=lambda done: paper.get_absolute_url(),
    )


@for_roles(*OFFICE)
@A_STEP
def bill_answer(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """A question about a line is answered."""
    paper = get_bill(number)
    rows = LineQuestion.objects.select_related("line__bill", "line__deployment", "recorded_by")
    question = get_object_or_404(rows, pk=pk, line__bill=paper)
    posted = sent(request)
    if posted is None and hasattr(question, "answer"):
        raise Http404("This question was answered already.")
    form = AnswerForm(posted, question=question, is_manager=user_of(request).is_manager)
    return take_step(
        request,
        form,
        lambda act: answer_question(act, question=question, **form.given()),
        template="reports/bill_answer.html",
        context={"bill": paper, "question": question, "line": question.line},
        then=lambda done: paper.get_absolute_url(),
    )


@for_roles(*MANAGER)
@A_STEP
def bill_credit(request: HttpRequest, number: str) -> HttpResponse:
    """What was billed too much is taken back."""
    paper = get_bill(number)
    due = proposed([paper])[0]
    form = CreditForm(sent(request), due=due.total_cents if due.lines else None, currency=paper.currency)

    def do(act: Act) -> Done:
        told = form.cleaned_data
        if told["how"] == "difference":
            return credit_difference(act, bill=paper, why=told["why"], seen=told["seen"])
        return credit_whole(act, bill=paper, why=told["why"], bill_anew=told["how"] == "anew")

    def then(done: Done) -> str:
        papers: list[Any] = [*done.rows(CreditNote), *done.rows(Bill)]
        for issued in papers:
            store(issued, user_of(request))
        return papers[0].get_absolute_url() if papers else reverse("bills")

    return take_step(
        request,
        form,
        do,
        template="reports/bill_credit.html",
        context={"bill": paper, "credit": due, "whole": due.whole()},
        then=then,
    )
