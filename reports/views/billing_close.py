"""A month is looked at, closed into bills, and the papers are drawn."""

import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django.views.decorators.http import require_http_methods

from kits.actions.acting import Act, Done
from kits.promises import Refused
from kits.ways import sent
from kits.web import MANAGER, OFFICE, for_roles, take_step, user_of, wants_json
from reports.actions.billing import close_month
from reports.billing.calendar import next_month, say_month
from reports.billing_books import Books, read_books
from reports.billing_close import Close, Draft, check_month, look_at
from reports.billing_drawing import draw_some, undrawn_count
from reports.billing_list import undrawn_bills
from reports.billing_unbilled import month_offered
from reports.billing_words import counted, sums_of, sums_text
from reports.forms_billing import IssueForm, MonthForm
from reports.models import Bill, CreditNote
from sites.models import Customer

DRAFTS_A_PAGE = 40


@dataclass(frozen=True)
class Problem:
    """Why some days stand on no draft, and where to mend that."""

    sentence: str
    address: str
    label: str


class Looked:
    """What the page of a close shows: the drafts of a month, or why there are none. Computed when first asked for."""

    def __init__(self, month: date, payer: Customer | None, now: datetime, page: str) -> None:
        self.month, self.payer, self.refused = month, payer, ""
        self.close: Close | None = None
        self.problems: list[Problem] = []
        self.bills: list[Bill] = []
        try:
            check_month(month, now)
        except Refused as refused:
            self.refused = " ".join(refused.messages)
            return
        books = read_books(next_month(month))
        self.close = look_at(month, now, payers=None if payer is None else {payer.pk}, books=books)
        self.problems = problems_of(self.close, books)
        self.page = Paginator(self.close.drafts, DRAFTS_A_PAGE).get_page(page)
        self.told = self.close.told
        issued = Bill.objects.filter(month=month, month_claims__released_by=None)
        if payer is not None:
            issued = issued.filter(payer=payer)
        self.bills = list(issued.distinct().order_by("year", "serial"))

    @property
    def drafts(self) -> list[Draft]:
        return self.close.drafts if self.close else []

    @property
    def unusual(self) -> int:
        return sum(bool(draft.unusual) for draft in self.drafts)

    @property
    def seen(self) -> str:
        """What stands on the page, to be handed back when it is issued."""
        return json.dumps(self.close.seen()) if self.close else "{}"

    @property
    def totals(self) -> list[tuple[str, int, int, int]]:
        """Currency, without tax, tax, total."""
        before = sums_of((draft.currency, draft.amount_cents) for draft in self.drafts)
        tax = sums_of((draft.currency, draft.tax_cents) for draft in self.drafts)
        return [(key, before[key], tax[key], before[key] + tax[key]) for key in sorted(before)]

    @property
    def answer(self) -> str:
        """The heading: what closing the month comes to."""
        month = say_month(self.month)
        if self.refused:
            return f"{month} cannot be closed yet"
        if not self.drafts:
            return f"{month} is closed" if self.bills else f"Nothing to bill for {month}"
        sums = sums_text({currency: total for currency, _before, _tax, total in self.totals})
        return f"{month} comes to {counted(len(self.drafts), 'bill')}, {sums}"


def problems_of(close: Close, books: Books) -> list[Problem]:
    """The sentences of the close, each with its way out; they come in this order."""
    ways: list[tuple[str, str]] = []
    for stay in sorted({line.stay for line in books.comparison.new if line.payer is None}):
        ways.append((reverse("party_new", args=[books.told[stay].site]), "Write down who pays there"))
    for agreement in sorted(books.without_price):
        ways.append((reverse("agreement", args=[agreement]), "Open the agreement"))
    if close.corrections:
        number = min(correction.number for correction in close.corrections)
        ways.append((reverse("bill_credit", args=[number]), f"Look at the credit on {number}"))
    return [
        Problem(sentence, address, label)
        for sentence, (address, label) in zip(close.problems, ways, strict=True)
    ]


@for_roles(*MANAGER)
@require_http_methods(["GET", "HEAD", "POST"])
def bills_close(request: HttpRequest) -> HttpResponse:
    """What will stand on the bills of this month, and is anything about them unusual?"""
    now = timezone.now()
    posted = sent(request)
    choose = MonthForm(request.GET if posted is None else posted, now=now, offered=month_offered(now))
    choose.is_valid()
    month = date.fromisoformat(f"{choose.data['month']}-01")
    payer = choose.cleaned_data.get("payer")
    looked = SimpleLazyObject(lambda: Looked(month, payer, now, request.GET.get("page", "1")))

    def do(act: Act) -> Done:
        of = form.cleaned_data["payer"]
        return close_month(
            act,
            month=form.cleaned_data["month"],
            payers=None if of is None else [of],
            seen=form.cleaned_data["seen"],
        )

    form = IssueForm(posted)
    return take_step(
        request,
        form,
        do,
        template="reports/bills_close.html",
        context={"choose": choose, "looked": looked},
        then=lambda done: reverse("bills_draw"),
    )


@for_roles(*OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def bills_draw(request: HttpRequest) -> HttpResponse:
    """Which papers are not drawn yet? Each POST draws some; one that is cut off loses nothing."""
    trouble = ""
    if request.method == "POST":
        one = paper_called(request.POST.get("number", ""))
        try:
            drawn = draw_some(user_of(request), papers=None if one is None else [one])
        except ValidationError as refused:
            drawn, trouble = 0, " ".join(refused.messages)
        left = undrawn_count()
        if wants_json(request):
            return JsonResponse({"ok": not trouble, "drawn": drawn, "left": left, "sentence": trouble})
        if not trouble and one is not None:
            return redirect(one)
        if not trouble:
            return redirect("bills_draw" if left else "bills")
    left = undrawn_count()
    context: dict[str, Any] = {
        "left": left,
        "trouble": trouble,
        "next": list(undrawn_bills()[:5]),
        "latest": Bill.objects.filter(issued_at__isnull=False).order_by("-issued_at", "-pk").first(),
    }
    return render(request, "reports/bills_draw.html", context, status=409 if trouble else 200)


def paper_called(number: str) -> Bill | CreditNote | None:
    """The issued bill or credit note of that number, if there is one."""
    found = {"number": number, "issued_at__isnull": False}
    return Bill.objects.filter(**found).first() or CreditNote.objects.filter(**found).first()
