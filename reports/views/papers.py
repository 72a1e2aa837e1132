"""Papers: labels and flags, and what is printed of a stay."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from kits.codes import fold_code
from kits.models import Kit, LabelStock, Shop
from kits.web import EVERYBODY, for_roles
from reports import gather
from sites.models import Deployment

if TYPE_CHECKING:
    from reports.papers.records import StayPaper


class LabelsForm(forms.Form):
    """Which labels, on which stock, from which position on."""

    kit = forms.ModelMultipleChoiceField(
        label="Kits",
        queryset=Kit.objects.order_by("name", "code"),
        to_field_name="code",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one kit.", "invalid_choice": "There is no kit %(value)s."},
    )
    what = forms.ChoiceField(
        label="Print",
        choices=[
            ("kits", "Kit labels"),
            ("flags", "Flags for the leads"),
            ("both", "Kit labels, then flags"),
        ],
        widget=forms.RadioSelect,
        initial="kits",
    )
    stock = forms.ChoiceField(label="On", choices=LabelStock.choices)
    start = forms.IntegerField(
        label="First free label on the sheet",
        min_value=1,
        initial=1,
        help_text="Counted along the rows from the top left. On tape it is always 1.",
    )


def pdf(data: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


@for_roles(*EVERYBODY)
@require_GET
def labels(request: HttpRequest) -> HttpResponse:
    """Choose kits, stock and first free label; the same address with `pdf=1` gives the sheet."""
    from reports.papers.sheets import STOCKS, labels_pdf  # reportlab only where a paper is made

    data = request.GET.copy()
    data.setlist("kit", [fold_code(code) for code in data.getlist("kit")])
    data.setdefault("what", "kits")
    data.setdefault("stock", Shop.current().label_stock)
    data.setdefault("start", "1")
    form = LabelsForm(data if request.GET else None, initial=data)
    status = 200
    if "pdf" in request.GET:
        status = 422
        if form.is_valid():
            chosen = form.cleaned_data
            stock = STOCKS[chosen["stock"]]
            start = 1 if stock.count == 1 else chosen["start"]
            kits = list(chosen["kit"])
            try:
                wanted = [] if chosen["what"] == "flags" else gather.kit_labels(kits)
                flags = [] if chosen["what"] == "kits" else gather.sensor_flags(kits)
                return pdf(labels_pdf([*wanted, *flags], stock, start), "labels")
            except ValueError as refusal:
                form.add_error(None, str(refusal))
    elif request.GET:
        form.errors.clear()
    return render(request, "reports/labels.html", {"form": form, "stocks": STOCKS}, status=status)


def stay_with_all(pk: int) -> Deployment:
    """A stay with the rows every paper needs."""
    rows = Deployment.objects.with_places().select_related(
        "installation", "removal", "hand_back", "call__agreement__customer"
    )
    return get_object_or_404(rows, pk=pk)


def paper_view(make: Callable[[Deployment, HttpRequest], bytes], name: str) -> Callable[..., HttpResponse]:
    """A view that prints one paper of a stay."""

    @for_roles(*EVERYBODY)
    @require_GET
    def view(request: HttpRequest, pk: int) -> HttpResponse:
        stay = stay_with_all(pk)
        return pdf(make(stay, request), f"{name}-{stay.kit.code}-{stay.pk}")

    return view


def report_of(stay: Deployment, request: HttpRequest) -> "StayPaper":
    address = request.build_absolute_uri(stay.get_absolute_url())
    return gather.stay_paper(stay, printed_at=timezone.now(), stay_url=address)


def make_shop_copy(stay: Deployment, request: HttpRequest) -> bytes:
    from reports.papers.handback import shop_copy_pdf

    return shop_copy_pdf(report_of(stay, request))


def make_customer_copy(stay: Deployment, request: HttpRequest) -> bytes:
    from reports.papers.customers_copy import customer_copy_pdf

    return customer_copy_pdf(report_of(stay, request))


def make_card(stay: Deployment, request: HttpRequest) -> bytes:
    from reports.papers.card import card_pdf

    return card_pdf(gather.leave_behind_card(stay, printed_at=timezone.now()))


def make_slip(stay: Deployment, request: HttpRequest) -> bytes:
    from reports.papers.slip import slip_pdf

    return slip_pdf(gather.leaving_slip(stay, printed_at=timezone.now()))


shop_copy = paper_view(make_shop_copy, "report-shop")
customer_copy = paper_view(make_customer_copy, "report-customer")
card = paper_view(make_card, "leave-behind-card")
slip = paper_view(make_slip, "leaving-slip")
