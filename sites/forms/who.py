"""Somebody, in the form of something else: a customer in the books, or one typed in right there."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from sites.finding import matching
from sites.models import Customer

CHOSEN_FROM_A_LIST = 200  # customers; in a larger shop one is found by a part of the name
MATCHES_SHOWN = 12


@dataclass(frozen=True)
class Newcomer:
    """A customer typed into the form of something else, not yet in the books."""

    name: str
    phone: str = ""
    email: str = ""


def known_as(customer: Customer) -> str:
    """A customer in a list of several that fit: with a phone number or an address, since names repeat."""
    return ", ".join(part for part in (customer.name, customer.phone or customer.email) if part)


class WhoMixin(forms.Form):
    """A customer in the books, or one typed in right here.

    Few customers are a list to choose from. Of many, a part of the name, phone or e-mail is typed; where several fit, the
    form comes back with those to choose from.
    """

    find_customer = forms.CharField(
        label="Customer in the books",
        required=False,
        max_length=120,
        help_text="A part of the name, phone or e-mail is enough.",
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    customer = forms.ModelChoiceField(
        label="Customer", queryset=Customer.objects.all(), required=False, empty_label="nobody yet, or new"
    )
    new_name = forms.CharField(label="Or a new customer's name", required=False, max_length=120)
    new_phone = forms.CharField(
        label="Phone", required=False, max_length=40, widget=forms.TextInput(attrs={"type": "tel"})
    )
    new_email = forms.EmailField(label="E-mail", required=False)

    WHO = ("find_customer", "customer", "new_name", "new_phone", "new_email")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not Customer.objects.order_by("pk")[CHOSEN_FROM_A_LIST : CHOSEN_FROM_A_LIST + 1]:
            del self.fields["find_customer"]
            return
        self.fields["customer"].label = "Which of them"
        self.fields["customer"].widget = forms.RadioSelect()
        self.offer(self.named_already())

    @property
    def is_found_by_name(self) -> bool:
        """There are too many customers for a list."""
        return "find_customer" in self.fields

    def named_already(self) -> Iterable[Customer]:
        """The customer that was chosen before, or that the page was opened for."""
        named = self.data.get(self.add_prefix("customer")) if self.is_bound else self.initial.get("customer")
        return Customer.objects.filter(pk=int(named)) if str(named or "").isdecimal() else ()  # type: ignore[arg-type]

    def offer(self, customers: Iterable[Customer]) -> None:
        """Show these to choose from; none, and the question is not asked."""
        found = [(customer.pk, known_as(customer)) for customer in customers]
        nobody = [("", "none of them")] if found else []
        self.fields["customer"].choices = [*found, *nobody]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        name = (cleaned.get("new_name") or "").strip()
        if self.is_found_by_name and cleaned.get("find_customer"):
            try:
                cleaned["customer"] = self.found(cleaned["find_customer"], cleaned.get("customer"))
            except ValidationError as refusal:
                if not name:  # who was looked for in vain is typed in as new
                    self.add_error("find_customer", refusal)
        if cleaned.get("customer") and name:
            self.add_error("new_name", "Choose a customer or type a new one, not both. Clear one of the two.")
        if not name and (cleaned.get("new_phone") or cleaned.get("new_email")):
            self.add_error("new_name", "Give the new customer's name too.")
        return cleaned

    def found(self, typed: str, chosen: Customer | None) -> Customer:
        """The one customer who fits what was typed, or the one chosen among several who do. Else a refusal."""
        fitting = matching(Customer.objects.all(), typed)
        if chosen is not None and fitting.filter(pk=chosen.pk).exists():
            return chosen
        shown = list(fitting[: MATCHES_SHOWN + 1])
        if len(shown) == 1:
            return shown[0]
        self.offer(shown[:MATCHES_SHOWN])
        if not shown:
            raise ValidationError(
                "No customer in the books fits this. Type less of it, or add a new customer below."
            )
        number = f"More than {MATCHES_SHOWN}" if len(shown) > MATCHES_SHOWN else str(len(shown))
        raise ValidationError(f"{number} customers fit this. Choose one below, or type more of it.")

    @property
    def has_somebody(self) -> bool:
        return bool(self.cleaned_data.get("customer") or (self.cleaned_data.get("new_name") or "").strip())

    def refuse_nobody(self, sentence: str) -> None:
        """Hang `sentence` where somebody is asked for, unless something there is refused already."""
        if not self.has_somebody and not set(self.WHO) & set(self.errors):
            self.add_error("find_customer" if self.is_found_by_name else "customer", sentence)

    def newcomer(self) -> Newcomer | None:
        """The customer typed in here, if one was."""
        cleaned = self.cleaned_data
        name = cleaned["new_name"].strip()
        return Newcomer(name, cleaned["new_phone"].strip(), cleaned["new_email"]) if name else None
