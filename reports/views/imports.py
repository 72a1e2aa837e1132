"""Spreadsheets coming in: sending one, looking at what its rows would do, doing it, and the refused rows as a file."""

from typing import Any

from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kits.actions.acting import Act, Done
from kits.exporting import CSV_TYPE
from kits.ways import sent
from kits.web import OFFICE, for_roles, take_step
from reports.actions.imports import bring_in, keep_file, tell_columns
from reports.import_forms import BringInForm, ColumnsForm, ImportStepForm, SendFileForm
from reports.importing.fields import KINDS, Kind
from reports.importing.grid import BadFile
from reports.intake.dry_run import (
    Outcome,
    Reading,
    RowPlan,
    counts,
    digest,
    other_kinds,
    plan_rows,
    read_file,
    refused_csv,
)
from reports.models import ImportFile, ImportKind

ROWS_A_PAGE = 100
FILES_SHOWN = 20
ROWS_SOON_IN = 4_000  # more than these take long enough to be told so


@for_roles(*OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def import_start(request: HttpRequest) -> HttpResponse:
    """Send a spreadsheet; nothing goes into the books yet."""
    asked = request.GET.get("kind", "")
    initial = {"kind": asked if asked in ImportKind.values else ImportKind.CUSTOMERS}
    form = SendFileForm(sent(request), request.FILES or None, initial=initial)

    def do(act: Act) -> Done:
        file = form.cleaned_data["file"]
        return keep_file(act, kind=form.cleaned_data["kind"], name=file.name, content=file.read())

    recent = ImportFile.objects.defer("content").select_related("sent_by", "done_by")[:FILES_SHOWN]
    return take_step(
        request,
        form,
        do,
        template="reports/import_start.html",
        context={"recent": recent, "kinds": KINDS.values()},
        then=lambda done: reverse("import_file", args=[done.subjects[0][1]]),
    )


def opened(pk: int) -> tuple[ImportFile, Reading, list[RowPlan]]:
    """A file, how it is read, and what its rows would do; without the columns it needs, no rows."""
    file = get_object_or_404(ImportFile.objects.select_related("sent_by", "done_by"), pk=pk)
    try:
        reading = read_file(file)
    except BadFile as bad:  # it could be read when it was sent
        raise Http404(str(bad)) from bad
    # A file that went in with nothing refused has nothing left to look at.
    all_in = file.done_at and not file.result.get(Outcome.REFUSED)
    return file, reading, [] if reading.missing or all_in else plan_rows(reading)


def page_of(
    request: HttpRequest,
    file: ImportFile,
    reading: Reading,
    plans: list[RowPlan],
) -> dict[str, Any]:
    """What the page of a file shows."""
    found = counts(plans)
    wanted = Outcome.REFUSED if file.done_at else request.GET.get("show", "")
    shown = [plan for plan in plans if plan.outcome == wanted] if wanted in list(Outcome) else plans
    page = Paginator(shown, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return {
        "file": file,
        "kind": reading.kind,
        "reading": reading,
        "missing": reading.missing,
        "other_kinds": again_as(file, reading) if file.done_at or reading.missing else [],
        "counts": file.result if file.done_at else found,
        "still_refused": found["refused"],
        "to_do": found["new"] + found["changed"],
        "outcomes": [(outcome, found[outcome]) for outcome in Outcome],
        "show": wanted,
        "next_kind": next_kind(file),
        "takes_a_while": found["new"] + found["changed"] > ROWS_SOON_IN,
        "page": page,
        "total": len(plans),
        "do_form": BringInForm(initial={"seen": digest(plans)}, subject=file),
        "columns_form": ColumnsForm(reading=reading, subject=file),
    }


def again_as(file: ImportFile, reading: Reading) -> list[tuple[Kind, ImportStepForm]]:
    """What else the file seems to hold, each with the form that reads it so."""
    return [(kind, ImportStepForm(auto_id=f"as_{kind.key}_%s")) for kind in other_kinds(file, reading)]


def next_kind(file: ImportFile) -> ImportKind | None:
    """What a new shop brings in after this."""
    following = ImportKind.values.index(file.kind) + 1
    return ImportKind(ImportKind.values[following]) if following < len(ImportKind.values) else None


@for_roles(*OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def import_file(request: HttpRequest, pk: int) -> HttpResponse:
    """What each row of the file would do; sent, it does it."""
    if request.method != "POST":
        return render(request, "reports/import_file.html", page_of(request, *opened(pk)))
    file = get_object_or_404(ImportFile.objects.defer("content"), pk=pk)
    form = BringInForm(sent(request), subject=file)
    context: dict[str, Any] = {}

    def do(act: Act) -> Done:
        try:
            return bring_in(act, file=file, seen=form.cleaned_data["seen"])
        except ValidationError:
            # The page then shows the rows as they are now, and its button does just those.
            context.update(page_of(request, *opened(pk)), refusal=form)
            raise

    if not form.is_valid():
        context.update(page_of(request, *opened(pk)), refusal=form)
    return take_step(
        request,
        form,
        do,
        template="reports/import_file.html",
        context=context,
        then=lambda done: file.get_absolute_url(),
    )


@for_roles(*OFFICE)
@require_POST
def import_columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what the columns of a file hold."""
    file, reading, plans = opened(pk)
    form = ColumnsForm(sent(request), reading=reading, subject=file)
    return take_step(
        request,
        form,
        lambda act: tell_columns(act, file=file, **form.told()),
        template="reports/import_file.html",
        context={**page_of(request, file, reading, plans), "columns_form": form, "columns_open": True},
        then=lambda done: file.get_absolute_url(),
    )


@for_roles(*OFFICE)
@require_POST
def import_as(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """Read the same file once more, for another kind of rows that stands in it."""
    if kind not in ImportKind.values:
        raise Http404(f"There are no rows of {kind}.")
    file = get_object_or_404(ImportFile, pk=pk)
    return take_step(
        request,
        ImportStepForm(sent(request)),
        lambda act: keep_file(act, kind=kind, name=file.name, content=bytes(file.content)),
        template="reports/import_file.html",
        context=page_of(request, *opened(pk)),
        then=lambda done: reverse("import_file", args=[done.subjects[0][1]]),
    )


@for_roles(*OFFICE)
@require_safe
def import_refused(request: HttpRequest, pk: int) -> HttpResponse:
    """The refused rows as a file, each with the reason, to mend and send again."""
    file, reading, plans = opened(pk)
    answer = HttpResponse(refused_csv(reading, plans), content_type=CSV_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="{file.kind}-refused.csv"'
    return answer
