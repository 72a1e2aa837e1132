"""Papers: what is printed of a stay."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET

from kits.models import CalibrationCheck
from kits.web import EVERYBODY, for_roles
from reports import gather
from reports.views.pdf import pdf
from sites.models import Deployment

if TYPE_CHECKING:
    from reports.papers.records import StayPaper


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


@for_roles(*EVERYBODY)
@require_GET
def quick_card(request: HttpRequest) -> HttpResponse:
    """One page that tells a technician the whole job, with a slip to fill in by hand."""
    from reports.papers.quick_card import quick_card_pdf

    return pdf(quick_card_pdf(gather.shop_record(), printed_at=timezone.localtime()), "technicians-card")


@for_roles(*EVERYBODY)
@require_GET
def check_record(request: HttpRequest, pk: int) -> HttpResponse:
    """The calibration record of a closed check."""
    from reports.gather_checks import check_paper
    from reports.papers.check_record import check_record_pdf

    rows = CalibrationCheck.objects.exclude(closed_at=None)
    rows = rows.select_related(
        "reference",
        "certificate",
        "begun_by",
        "closed_by",
        "out_of_date_allowed_by",
        "withdrawal__withdrawn_by",
    )
    check = get_object_or_404(rows, pk=pk)
    return pdf(
        check_record_pdf(check_paper(check, printed_at=timezone.now())), f"calibration-record-{check.pk}"
    )
