"""Bills, credit notes and day lists: what the payer reads. Every line says which days and which arithmetic made it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from decimal import Decimal
from itertools import groupby

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Spacer, TableStyle

from reports.billing.calendar import say_month, say_span
from reports.billing.money import money_text
from reports.papers.bill_records import BillPaper, CreditRow, DayListPaper, LineRow, StayDays
from reports.papers.blocks import Cell, beside, box, facts, listing
from reports.papers.page import CONTENT, Sheet, flow_pdf
from reports.papers.type import marked, quiet, safe, say, strong, type_scale
from reports.papers.words import day, listed, sentence

T = type_scale()


def bill_pdf(paper: BillPaper) -> bytes:
    """A bill or a credit note, of as many pages as its lines need."""
    kind = "Credit note" if paper.is_credit else "Bill"
    sheet = _sheet(paper, f"{kind} {paper.number}", f"issued {day(paper.issued_on)}")
    return flow_pdf(sheet, list(_story(paper, kind)))


def _sheet(paper: BillPaper | DayListPaper, title: str, foot: str) -> Sheet:
    """What stands on every page: no kit's tag, but whom the paper goes to."""
    month = say_month(paper.month)
    return Sheet(
        shop=paper.shop,
        title=title,
        subject=f"Monitoring, {month}",
        kit_code="",
        kit_name="",
        stage="",
        running=f"{paper.payer_lines[0]}, {month}",
        copy="Your copy",
        foot=foot,
        head_lines=paper.payer_lines,
    )


def _story(paper: BillPaper, kind: str) -> Iterator[Flowable]:
    yield say(f"{kind} {paper.number}", T.title)
    yield say(f"Monitoring service, {say_month(paper.month)}", T.subtitle)
    yield beside([[_dates(paper)], [_sum(paper)]], [CONTENT * 0.56, CONTENT * 0.44])
    if paper.is_credit:
        what = "all" if paper.whole else "part"
        yield Spacer(1, 6)
        yield box(
            "plain",
            f"This takes back {what} of bill {paper.of_bill}",
            [say(f"Issued {day(paper.of_bill_issued_on)}. {sentence(paper.why)}", T.body)],
            CONTENT,
            T,
        )
    yield say("What is given back, and why" if paper.is_credit else "What it is for", T.heading)
    yield _lines(paper)
    yield Spacer(1, 6)
    yield KeepTogether([_totals(paper)])
    if paper.credits:
        yield KeepTogether([say("Credit notes since your last bill", T.heading), _credits(paper)])
    yield Spacer(1, 10)
    yield KeepTogether([box("plain", "A question about a line?", [say(_ask(paper), T.body)], CONTENT, T)])


def _ask(paper: BillPaper) -> str:
    phone = f" at {paper.shop.phone}" if paper.shop.phone else ""
    more = " A list of every day is there for the asking." if not paper.is_credit else ""
    return f"Call us{phone} and name the number of this paper and the line. While we look into it, that line waits.{more}"


def _dates(paper: BillPaper) -> Flowable:
    pairs: list[tuple[str, Cell]] = [
        ("Number", say(paper.number, T.cell_bold)),
        ("Issued", say(day(paper.issued_on), T.cell)),
        ("For", say(_service_days(paper.lines), T.cell)),
    ]
    if paper.due_on and not paper.is_credit:
        pairs.append(("To be paid by", say(day(paper.due_on), T.cell_bold)))
    return facts(pairs, CONTENT * 0.56 - 16, T)


def _service_days(lines: Sequence[LineRow]) -> str:
    first = min(line.start for line in lines)
    last = max(line.until for line in lines) - timedelta(days=1)
    return day(first) if first == last else f"{day(first)} to {day(last)}"


def _sum(paper: BillPaper) -> Flowable:
    """The figure that is looked for first."""
    caption = "Given back" if paper.is_credit else "To pay"
    total = f"{money_text(paper.total_cents)} {paper.currency}"
    return box("spruce", caption, [marked(strong(total), T.lead)], CONTENT * 0.44, T)


def _lines(paper: BillPaper) -> Flowable:
    rows: list[list[Cell]] = []
    houses: list[int] = []  # the rows, counted below the head, that name a house
    for house, group in groupby(paper.lines, key=lambda line: line.house):
        houses.append(len(rows) + 1)
        rows.append([marked(strong(house), T.cell), "", "", ""])
        rows += [
            [
                marked(f"{safe(line.what)}<br/>{quiet(line.reason)}", T.cell),
                say(say_span(line.start, line.until), T.cell),
                say(_rate(line.tax_rate), T.figure),
                say(money_text(line.amount_cents), T.figure),
            ]
            for line in group
        ]
    heads = ("", "Days", "Tax", f"Amount, {paper.currency}")
    widths = [CONTENT * share for share in (0.58, 0.2, 0.08, 0.14)]
    table = listing(heads, rows, widths, T, right=(2, 3))
    for row in houses:  # a house stays with its first line, and has the width for itself
        table.setStyle(TableStyle([("NOSPLIT", (0, row), (-1, row + 1)), ("SPAN", (0, row), (-1, row))]))
    return table


def _rate(rate: Decimal) -> str:
    return f"{(rate * 100).normalize():f} %" if rate else "none"


def _totals(paper: BillPaper) -> Flowable:
    rows: list[list[Cell]] = [
        [say("Without tax", T.cell), say(money_text(paper.amount_cents), T.figure)],
        *(
            [
                say(
                    f"Tax {_rate(tax.rate)} on {money_text(tax.base_cents)}"
                    + (f" ({tax.code})" if tax.code else ""),
                    T.cell,
                ),
                say(money_text(tax.tax_cents), T.figure),
            ]
            for tax in paper.taxes
            if tax.rate
        ),
        [
            marked(strong("Given back in all" if paper.is_credit else "To pay"), T.cell),
            marked(strong(f"{money_text(paper.total_cents)} {paper.currency}"), T.figure),
        ],
    ]
    width = CONTENT * 0.5
    table = listing(("", ""), rows, [width * 0.62, width * 0.38], T, right=(1,))
    table.hAlign = "RIGHT"
    return table


def _credits(paper: BillPaper) -> Flowable:
    def row(credit: CreditRow) -> list[Cell]:
        return [
            say(credit.number, T.cell_bold),
            say(f"{day(credit.on)}, of bill {credit.of_bill}", T.cell),
            say(money_text(credit.total_cents), T.figure),
        ]

    widths = [CONTENT * share for share in (0.2, 0.6, 0.2)]
    heads = ("Credit note", "Issued", f"Given back, {paper.currency}")
    return listing(heads, [row(credit) for credit in paper.credits], widths, T, right=(2,))


def day_list_pdf(paper: DayListPaper) -> bytes:
    """Every day that stands on a bill, and how it was counted."""
    sheet = _sheet(paper, f"Days of bill {paper.number}", f"bill issued {day(paper.issued_on)}")
    story: list[Flowable] = [
        say(f"Days of bill {paper.number}", T.title),
        say(f"Monitoring service, {say_month(paper.month)}", T.subtitle),
    ]
    for stay in paper.stays:
        story += _stay_days(stay)
    return flow_pdf(sheet, story)


def _stay_days(stay: StayDays) -> list[Flowable]:
    """In two columns, read downwards."""
    half = (len(stay.days) + 1) // 2
    left, right = stay.days[:half], [*stay.days[half:], None]
    rows: list[list[Cell]] = [
        [
            say(day(one.on), T.cell),
            say(one.words, T.cell),
            say(day(two.on) if two else "", T.cell),
            say(two.words if two else "", T.cell),
        ]
        for one, two in zip(left, right, strict=False)
    ]
    widths = [CONTENT * share for share in (0.17, 0.33, 0.17, 0.33)]
    return [
        CondPageBreak(90),
        say(stay.house, T.heading),
        say(listed([f"{len(stay.days)} {'day' if len(stay.days) == 1 else 'days'} in all"]), T.caption),
        listing(("Day", "", "Day", ""), rows, widths, T),
    ]
