"""What may be typed about bills: closing a month, sending, money, questions, credits, and finding."""

import json
import re
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from kits.web import Day, StepForm
from reports.billing.calendar import say_month
from reports.billing.money import BadAmount, cents_of
from reports.billing_list import STATES
from reports.billing_unbilled import months_over
from reports.billing_words import amount_text
from reports.models import Bill, BillLine, CreditNote, LineQuestion, Outcome, SentBy
from sites.models import Customer

DAYS_TO_ANSWER = 10
MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])")


def month_of(text: str) -> date | None:
    """The first of the month written "2026-06", if it is one."""
    found = MONTH.fullmatch(text.strip())
    return date(int(found[1]), int(found[2]), 1) if found and found[1] != "0000" else None


class NowForm(StepForm):
    """A step that happens as it is typed, by whoever types it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


# -- Closing ---------------------------------------------------------------------------------------


class MonthForm(forms.Form):
    """Which month to look at, of whom."""

    month = forms.ChoiceField(label="Month", required=False)
    payer = forms.ModelChoiceField(
        label="Of whom", queryset=Customer.objects.order_by("name"), required=False, empty_label="everybody"
    )

    def __init__(self, data: Any, *, now: datetime, offered: date) -> None:
        asked = month_of(data.get("month", ""))
        sent = {"month": f"{asked or offered:%Y-%m}", "payer": data.get("payer", "")}
        super().__init__(sent)
        months = months_over(now)
        # A month that is not over, asked for by its address, is refused in a sentence rather than left out.
        months += [month for month in (asked, offered) if month and month not in months]
        self.fields["month"].choices = [  # type: ignore[attr-defined]
            (f"{month:%Y-%m}", say_month(month)) for month in sorted(months, reverse=True)
        ]


class IssueForm(NowForm):
    """Issue what was looked at: `seen` is payer to total, as they stood on the page."""

    month = forms.CharField(widget=forms.HiddenInput)
    payer = forms.ModelChoiceField(widget=forms.HiddenInput, queryset=Customer.objects.all(), required=False)
    seen = forms.CharField(widget=forms.HiddenInput)

    def clean_month(self) -> date:
        month = month_of(self.cleaned_data["month"])
        if month is None:
            raise ValidationError("Choose a month.")
        return month

    def clean_seen(self) -> dict[int, int]:
        try:
            told = json.loads(self.cleaned_data["seen"])
            return {int(payer): int(cents) for payer, cents in told.items()}
        except (ValueError, AttributeError, TypeError):
            raise ValidationError("This page is out of order. Open it again.") from None


# -- Sending ---------------------------------------------------------------------------------------


class SendForm(NowForm):
    """A paper by e-mail."""

    to = forms.EmailField(label="To", max_length=254)
    subject_line = forms.CharField(label="Subject", max_length=150)
    text = forms.CharField(label="What the mail says", widget=forms.Textarea(attrs={"rows": 7}))
    day_list = forms.BooleanField(
        label="With the list of days", required=False, help_text="Every day on it, and how it was counted."
    )

    def __init__(self, *args: Any, paper: Bill | CreditNote, shop_name: str, **kwargs: Any) -> None:
        word = "bill" if isinstance(paper, Bill) else "credit note"
        initial = {
            "to": paper.payer.email,
            "subject_line": f"{word.capitalize()} {paper.number} from {shop_name}",
            "text": mail_text(paper, shop_name),
        }
        super().__init__(*args, initial=initial, **kwargs)
        if not isinstance(paper, Bill):
            del self.fields["day_list"]


def mail_text(paper: Bill | CreditNote, shop_name: str) -> str:
    """What is written above the paper unless somebody writes otherwise."""
    total = amount_text(paper.total_cents, paper.currency)
    if isinstance(paper, Bill):
        told = (
            f"here is our bill {paper.number} for monitoring in {say_month(paper.month)}: {total}, to be paid by "
            f"{paper.due_on.day} {say_month(paper.due_on)}. Each line says which days it is for.\n\n"
            "If a line is not clear, call us and name it. While we look into it, that line waits."
        )
    else:
        told = (
            f"with credit note {paper.number} we take back {total} of bill {paper.bill.number}. It says why."
        )
    return f"Good day,\n\n{told}\n\n{shop_name}"


class SentForm(StepForm):
    """A paper went out some other way."""

    how = forms.ChoiceField(label="How it went out", widget=forms.RadioSelect, choices=SentBy.choices)
    to = forms.CharField(label="To whom or where", required=False, max_length=254)

    TOLD_LATER = ("happened_at",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("did_by", "did_by_name"):
            self.fields.pop(name, None)


# -- Money -----------------------------------------------------------------------------------------


class PaidForm(NowForm):
    """Money came for a bill, or went back."""

    paid_on = forms.DateField(label="Which day", widget=Day())
    amount = forms.CharField(
        label="Amount",
        max_length=20,
        help_text="What came, like 98.00. With a minus before it: what went back to the payer.",
    )
    reference = forms.CharField(
        label="Reference", required=False, max_length=80, help_text="Check number, transfer, cash."
    )
    open_seen = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, bill: Bill, open_cents: int, today: date, **kwargs: Any) -> None:
        self.bill, self.open_cents, self.today = bill, open_cents, today
        initial = {
            "paid_on": today,
            "amount": amount_text(open_cents) if open_cents else "",
            "open_seen": open_cents,
        }
        super().__init__(*args, initial=initial, **kwargs)
        self.fields["amount"].widget.attrs |= {
            "data-unit": bill.currency,
            "inputmode": "text" if open_cents < 0 else "decimal",
        }

    def clean_paid_on(self) -> date:
        day: date = self.cleaned_data["paid_on"]
        if day > self.today:
            raise ValidationError("That day is still to come.")
        if day < self.today - timedelta(days=3 * 366):
            raise ValidationError("That is more than three years ago. Check the year.")
        return day

    def clean_amount(self) -> int:
        text = self.cleaned_data["amount"].strip().replace("\N{MINUS SIGN}", "-")
        back = text.startswith("-")
        try:
            cents = cents_of(text[1:] if back else text)
        except BadAmount as bad:
            raise ValidationError(str(bad)) from None
        if not cents:
            raise ValidationError("Give the amount that was paid.")
        return -cents if back else cents

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        seen = cleaned.get("open_seen")
        if seen is not None and seen != self.open_cents:
            now = amount_text(self.open_cents, self.bill.currency)
            fresh = QueryDict(mutable=True)
            fresh.update(self.data)
            fresh[self.add_prefix("open_seen")] = str(self.open_cents)
            self.data = fresh
            raise ValidationError(
                f"Meanwhile something was written down on this bill: now {now} is open. Nothing of yours was saved. "
                "Look at the amount, then send again."
            )
        return cleaned


# -- Questions -------------------------------------------------------------------------------------


class AskForm(NowForm):
    """A payer asks about a line."""

    asked_by = forms.CharField(label="Who asked", max_length=120)
    asked_on = forms.DateField(label="Asked on", widget=Day())
    day = forms.DateField(
        label="About which day", required=False, widget=Day(), help_text="Empty: about the whole line."
    )
    question = forms.CharField(
        label="What they ask", required=False, max_length=300, widget=forms.Textarea(attrs={"rows": 3})
    )
    answer_by = forms.DateField(label="Answer by", widget=Day())

    def __init__(self, *args: Any, line: BillLine, today: date, **kwargs: Any) -> None:
        self.today = today
        answer_by = today + timedelta(days=DAYS_TO_ANSWER)
        initial = {"asked_by": line.bill.payer_name, "asked_on": today, "answer_by": answer_by}
        super().__init__(*args, initial=initial, **kwargs)
        self.fields["day"].widget.attrs |= {
            "min": line.start.isoformat(),
            "max": (line.until - timedelta(days=1)).isoformat(),
        }

    def clean_asked_on(self) -> date:
        day: date = self.cleaned_data["asked_on"]
        if day > self.today:
            raise ValidationError("That day is still to come.")
        return day


class AnswerForm(NowForm):
    """What becomes of a question."""

    outcome = forms.ChoiceField(label="The line", widget=forms.RadioSelect)
    why = forms.CharField(
        label="Why",
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Needed unless the line stands.",
    )

    def __init__(self, *args: Any, question: LineQuestion, is_manager: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        days = "that day is" if question.day else "its days are"
        choices = [
            (Outcome.STANDS, "stands as it is"),
            (Outcome.TAKEN_BACK, "is taken back: correct what is wrong, then give the credit"),
        ]
        if is_manager and question.line.days:
            choices.append((Outcome.WAIVED, f"is waived: {days} not charged, though nothing was wrong"))
        self.fields["outcome"].choices = choices  # type: ignore[attr-defined]


# -- Credits ---------------------------------------------------------------------------------------


class CreditForm(NowForm):
    """What is taken back, and why."""

    how = forms.ChoiceField(label="What is taken back", widget=forms.RadioSelect)
    why = forms.CharField(
        label="Why it is taken back",
        max_length=200,
        help_text="The payer reads this sentence on the credit note.",
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, due: int | None, currency: str, **kwargs: Any) -> None:
        initial = {"seen": due, "how": "" if due is None else "difference"}
        super().__init__(*args, initial=initial, **kwargs)
        choices = [
            ("anew", "All of it, and the month is billed anew at once by what is known now"),
            ("whole", "All of it; what is right of it comes with the next close of that month"),
        ]
        if due is not None:
            choices.insert(0, ("difference", f"The difference: {amount_text(due, currency)}"))
        self.fields["how"].choices = choices  # type: ignore[attr-defined]


# -- Finding ---------------------------------------------------------------------------------------


class BillFilter(forms.Form):
    """Which bills to show."""

    q = forms.CharField(label="Number or payer", required=False, max_length=80)
    state = forms.ChoiceField(
        label="State",
        required=False,
        choices=[("", "any"), ("unfinished", "not finished"), *((word, word) for word in STATES)],
    )
    month = forms.ChoiceField(label="Month", required=False)

    def __init__(self, data: Any, *, months: list[date]) -> None:
        super().__init__(data)
        choices = [("", "any"), *((f"{month:%Y-%m}", say_month(month)) for month in months)]
        self.fields["month"].choices = choices  # type: ignore[attr-defined]


class SpanForm(forms.Form):
    """From which day to which, both of them meant."""

    first = forms.DateField(label="Issued from", required=False, widget=Day())
    last = forms.DateField(label="To", required=False, widget=Day())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last = cleaned.get("first"), cleaned.get("last")
        if first and last and last < first:
            self.add_error("last", "The last day comes before the first.")
        return cleaned
