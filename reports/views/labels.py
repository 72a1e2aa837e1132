"""Labels and flags: which, on what, from where on; the printers they come out of, and test sheets."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions.acting import Act, Done
from kits.actions.records import add_record, change_record
from kits.codes import label_text
from kits.models import Kit, Shop
from kits.ways import sent
from kits.web import EVERYBODY, OFFICE, for_roles, take_step
from reports import label_records
from reports.forms import LabelPrinterForm, LabelsForm, usual_stock
from reports.models import LabelPrinter
from reports.views.pdf import pdf

if TYPE_CHECKING:
    from reports.papers.sheets import Label
    from reports.papers.stock import LabelStock

SOME_CODE = "7M4Q2P"  # every code is as long as any other, and so is its symbol


@dataclass(frozen=True)
class Chosen:
    """A stock and the printer it is in, if one was chosen."""

    stock: "LabelStock"
    printer: LabelPrinter | None = None

    @property
    def dpi(self) -> int:
        return self.printer.dpi if self.printer else self.stock.dpi

    @property
    def nudge(self) -> dict[str, float]:
        """How far the print is moved, as the papers take it."""
        if self.printer is None:
            return {}
        return {"shift_x_mm": float(self.printer.shift_x_mm), "shift_y_mm": float(self.printer.shift_y_mm)}


def chosen(value: str) -> Chosen | None:
    """What a choice of "Printer and label stock" means: "printer-3", or the key of a stock."""
    from reports.papers.stock import STOCKS

    if value.startswith("printer-"):
        number = value.removeprefix("printer-")
        printer = LabelPrinter.objects.filter(pk=number).first() if number.isdecimal() else None
        return Chosen(STOCKS[printer.stock].at(printer.dpi), printer) if printer else None
    return Chosen(STOCKS[value]) if value in STOCKS else None


@dataclass(frozen=True)
class Fit:
    """What becomes of the shop's code on a stock, in words: told before anything is printed."""

    fits: bool
    sentence: str


def fit_of(on: Chosen, host: str) -> Fit:
    """Whether labels with this host scan from a stock, and which host would."""
    from reports.papers.fit import code_fit

    try:
        fit = code_fit(label_text(host, SOME_CODE), on.stock, on.dpi)
    except ValueError as too_small:
        return Fit(False, str(too_small))
    return Fit(
        True,
        f"The code comes out {fit.symbol_mm:.1f} mm wide, each of its squares {fit.module_mm:.2f} mm;"
        " a phone needs 0.4 mm.",
    )


@for_roles(*EVERYBODY)
@require_GET
def labels(request: HttpRequest) -> HttpResponse:
    """Choose kits, stock and first free label; the same address with `pdf=1` gives the sheet."""
    from reports.papers.sheets import labels_pdf  # reportlab only where a paper is made

    form = LabelsForm(request.GET)
    status = 200
    if "pdf" not in request.GET:
        form.errors.clear()
    elif form.is_valid():
        on = chosen(form.cleaned_data["stock"])
        if on is None:
            raise Http404
        start = 1 if on.stock.count == 1 else form.cleaned_data["start"]
        try:
            wanted = list(wanted_labels(form.cleaned_data))
            return pdf(labels_pdf(wanted, on.stock, start, dpi=on.dpi, **on.nudge), "labels")
        except ValueError as refusal:
            form.add_error(None, str(refusal))
            status = 422
    else:
        status = 422
    return render(request, "reports/labels.html", labels_context(form), status=status)


def wanted_labels(given: dict[str, Any]) -> "Iterator[Label]":
    """Kit by kit: box, lid, flags; then the flags of single sensors. ValueError for a sensor without a tag."""
    shop = Shop.current()
    for kit in label_records.with_wirings(given["kit"]):
        if "kits" in given["what"]:
            yield label_records.kit_label(kit, shop)
        if "lid" in given["what"]:
            yield label_records.lid_label(kit, shop)
        if "flags" in given["what"]:
            yield from label_records.kit_flags(kit)
    for sensor in given["sensor"]:
        yield label_records.sensor_flag(sensor)


def labels_context(form: LabelsForm) -> dict[str, Any]:
    """The form, the picture of the chosen sheet, and what fits on it."""
    from reports.papers.fit import longest_host
    from reports.papers.stock import STOCKS

    host, any_kit = Shop.current().label_host, Kit.objects.exists()
    on = chosen(form.data["stock"]) or chosen(usual_stock()) or Chosen(next(iter(STOCKS.values())))
    start = form.data["start"].strip()
    first = int(start) if start.isdecimal() and 1 <= int(start) <= on.stock.count else 1
    return {
        "form": form,
        "on": on,
        "fit": fit_of(on, host),
        "positions": range(1, on.stock.count + 1),
        "first": first,
        "host": host,
        "stocks": [
            {"stock": stock, "fit": fit_of(Chosen(stock), host), "longest_host": longest_host(stock)}
            for stock in STOCKS.values()
        ],
        "any_kit": any_kit,
        "nothing": not any_kit and not form.fields["sensor"].choices and not form.is_long and not form.errors,  # type: ignore[attr-defined]
    }


@for_roles(*EVERYBODY)
@require_GET
def test_sheet(request: HttpRequest) -> HttpResponse:
    """Outlines and rules of one stock, through the nudge of its printer if one is named."""
    from reports.papers.ruled import stock_test_pdf

    on = chosen(request.GET.get("stock", usual_stock()))
    if on is None:
        raise Http404
    return pdf(stock_test_pdf(on.stock, **on.nudge), f"test-sheet-{on.stock.key}")


@for_roles(*OFFICE)
@require_GET
def printers(request: HttpRequest) -> HttpResponse:
    """The printers of labels: what is in each, its nudge, and whether the shop's code fits."""
    host = Shop.current().label_host
    rows = []
    for printer in LabelPrinter.objects.order_by("-in_use", "name"):
        on = chosen(f"printer-{printer.pk}")
        rows.append({"printer": printer, "fit": fit_of(on, host) if on else None})
    return render(request, "reports/label_printers.html", {"rows": rows, "host": host})


@for_roles(*OFFICE)
@require_http_methods(["GET", "POST"])
def printer_new(request: HttpRequest) -> HttpResponse:
    """Add a printer."""
    initial = {"stock": Shop.current().label_stock}
    form = LabelPrinterForm(sent(request), instance=LabelPrinter(), initial=initial)

    def do(act: Act) -> Done:
        return add_record(act, row=LabelPrinter(), fields=form.given())

    return take_step(
        request,
        form,
        do,
        template="reports/label_printer.html",
        context={"printer": None},
        then=lambda done: reverse("label_printers"),
    )


@for_roles(*OFFICE)
@require_http_methods(["GET", "POST"])
def printer(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a printer: another stock in it, another nudge."""
    row = get_object_or_404(LabelPrinter, pk=pk)
    form = LabelPrinterForm(sent(request), instance=get_object_or_404(LabelPrinter, pk=pk))

    def do(act: Act) -> Done:
        return change_record(act, row=row, changes=form.given())

    return take_step(
        request,
        form,
        do,
        template="reports/label_printer.html",
        context={"printer": row},
        then=lambda done: reverse("label_printers"),
    )
