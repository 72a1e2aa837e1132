"""From the rows of an issued bill or credit note to the record that its paper is drawn from."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from reports.gather import shop_record
from reports.models import Bill, BillLine, CreditLine, CreditNote, DayMark, MarkKind
from reports.papers.bill_records import (
    BillPaper,
    CreditRow,
    DayListPaper,
    DayRow,
    LineRow,
    StayDays,
    TaxRow,
)
from sites.days import day_of
from sites.free import shop_zone
from sites.models import Site


def bill_paper(bill: Bill) -> BillPaper:
    """What the paper of an issued bill says."""
    lines = list(bill.lines.select_related("deployment__unit"))
    return BillPaper(
        shop=shop_record(),
        number=bill.number,
        payer_lines=payer_lines(bill.payer_name, lines),
        month=bill.month,
        issued_on=issued_on(bill),
        currency=bill.currency,
        lines=tuple(line_row(line, line) for line in lines),
        taxes=tuple(taxes_of(lines)),
        amount_cents=bill.amount_cents,
        tax_cents=bill.tax_cents,
        due_on=bill.due_on,
        credits=tuple(credits_since_the_last(bill)),
    )


def credit_paper(note: CreditNote) -> BillPaper:
    """What the paper of an issued credit note says. What is given back stands as a positive amount."""
    lines = list(note.lines.select_related("bill_line__deployment__unit"))
    return BillPaper(
        shop=shop_record(),
        number=note.number,
        payer_lines=payer_lines(note.payer_name, [line.bill_line for line in lines]),
        month=note.bill.month,
        issued_on=issued_on(note),
        currency=note.currency,
        lines=tuple(line_row(line, line.bill_line) for line in lines),
        taxes=tuple(taxes_of(lines)),
        amount_cents=note.amount_cents,
        tax_cents=note.tax_cents,
        of_bill=note.bill.number,
        of_bill_issued_on=issued_on(note.bill),
        whole=note.whole,
        why=note.why,
    )


def issued_on(paper: Bill | CreditNote) -> date:
    if paper.issued_at is None:
        raise ValueError(f"{paper} was never issued, so it has no paper.")
    return day_of(paper.issued_at, shop_zone())


def payer_lines(name: str, lines: Iterable[BillLine]) -> tuple[str, ...]:
    """The payer's name, and the address when the paper is about a single house."""
    sites = {line.deployment.unit.site_id for line in lines}
    if len(sites) != 1:
        return (name,)
    return (name, *Site.objects.get(pk=sites.pop()).address_lines())


def line_row(line: BillLine | CreditLine, about: BillLine) -> LineRow:
    return LineRow(
        house=about.site_words,
        what=line.get_kind_display(),
        reason=line.reason,
        start=line.start,
        until=line.until,
        amount_cents=line.amount_cents,
        tax_rate=line.tax_rate,
    )


def taxes_of(lines: Iterable[BillLine | CreditLine]) -> list[TaxRow]:
    """What each rate comes to, the highest first."""
    bases: dict[tuple[str, Decimal], int] = defaultdict(int)
    taxes: dict[tuple[str, Decimal], int] = defaultdict(int)
    for line in lines:
        key = (line.tax_code, line.tax_rate.normalize())
        bases[key] += line.amount_cents
        taxes[key] += line.tax_cents
    return [
        TaxRow(code=code, rate=rate, base_cents=bases[code, rate], tax_cents=taxes[code, rate])
        for code, rate in sorted(bases, key=lambda key: (-key[1], key[0]))
    ]


def credits_since_the_last(bill: Bill) -> list[CreditRow]:
    """The credit notes this payer was given between the bill before and this one."""
    before = (
        Bill.objects.filter(payer=bill.payer, issued_at__lt=bill.issued_at).order_by("-issued_at").first()
    )
    notes = CreditNote.objects.filter(payer=bill.payer, issued_at__lte=bill.issued_at, currency=bill.currency)
    if before:
        notes = notes.filter(issued_at__gt=before.issued_at)
    return [
        CreditRow(
            number=note.number, on=issued_on(note), of_bill=note.bill.number, total_cents=note.total_cents
        )
        for note in notes.select_related("bill").order_by("serial")
    ]


def day_list(bill: Bill) -> DayListPaper:
    """Every day that a bill took for itself, with what was marked about it since."""
    lines = list(
        bill.lines.select_related("deployment__unit").prefetch_related("day_claims__released_by__credit_note")
    )
    stays = {line.deployment_id for line in lines}
    marks = {
        (mark.deployment_id, mark.day): mark
        for mark in DayMark.objects.filter(deployment__in=stays).order_by("pk")
    }
    days: dict[tuple[int, str], list[DayRow]] = defaultdict(list)
    for line in lines:
        for claim in line.day_claims.all():
            words = [day_words(marks.get((line.deployment_id, claim.day)))]
            if claim.released_by:
                words.append(f"given back by {claim.released_by.credit_note.number}")
            days[line.deployment_id, line.site_words].append(DayRow(on=claim.day, words=", ".join(words)))
    return DayListPaper(
        shop=shop_record(),
        number=bill.number,
        payer_lines=payer_lines(bill.payer_name, lines),
        month=bill.month,
        issued_on=issued_on(bill),
        stays=tuple(
            StayDays(house=house, days=tuple(sorted(rows, key=lambda row: row.on)))
            for (_stay, house), rows in days.items()
        ),
    )


def day_words(mark: DayMark | None) -> str:
    """ "counted", "21 h of readings", "6 h of readings, the kit failed"."""
    if mark is None or mark.kind == MarkKind.COUNTS:
        return "counted"
    if mark.kind == MarkKind.WAIVED:
        return "waived"
    hours = f"{mark.hours.normalize():f} h of readings" if mark.hours is not None else "readings are missing"
    return f"{hours}, {mark.get_cause_display()[0].lower()}{mark.get_cause_display()[1:]}"
