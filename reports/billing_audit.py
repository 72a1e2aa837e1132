"""Do the papers add up? Everything is computed again from the stays, and every difference is explained or told."""

import hashlib
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date

from reports.billing.calendar import next_month
from reports.billing.compare import Comparison
from reports.billing.money import money_text
from reports.billing_books import Books, read_books
from reports.billing_credits import comparison_of, last_billed
from reports.billing_standing import standing_lines
from reports.models import (
    Bill,
    BillLine,
    CreditLine,
    CreditNote,
    DayClaim,
    PaperNumber,
    Series,
    StoredPaper,
)


@dataclass
class Audit:
    """What came out: sums by currency, why they differ, and what should not be."""

    recomputed: Counter[str] = field(default_factory=Counter)  # cents without tax, by currency
    billed: Counter[str] = field(default_factory=Counter)  # bills less credit notes
    explained: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    @property
    def adds_up(self) -> bool:
        return not self.wrong


def audit(through: date | None = None) -> Audit:
    """Hold all papers against the stays, up to `through` (default: the end of the last month that was billed)."""
    told = Audit()
    papers_are_whole(told)
    through = through or last_billed()
    if through is None:
        told.explained.append("Nothing was ever billed.")
        return told
    books = read_books(through)
    explain(told, books, comparison_of(books))
    claims_fit(told, books)
    return told


def explain(told: Audit, books: Books, comparison: Comparison) -> None:
    """Recomputation less papers is what is still to be billed, less what is due back; and nothing else."""
    currency_of_bill = dict(Bill.objects.values_list("pk", "currency"))
    for line in books.lines:
        told.recomputed[line.currency] += line.amount_cents
    for row in books.standing:
        told.billed[currency_of_bill[row.bill]] += row.amount_cents
    left: Counter[str] = Counter(told.recomputed)
    left.subtract(told.billed)
    groups = (
        ("still to be billed", [line for line in comparison.new if line.payer is not None]),
        ("not billed, because nobody pays there", [line for line in comparison.new if line.payer is None]),
        ("to be billed anew once the credits are given", comparison.waiting),
    )
    for words, lines in groups:
        sums: Counter[str] = Counter()
        for line in lines:
            sums[line.currency] += line.amount_cents
        for currency, cents in sums.items():
            if cents:
                told.explained.append(f"{money_text(cents)} {currency} {words}")
        left.subtract(sums)
    back: dict[tuple[str, str], int] = defaultdict(int)
    for correction in comparison.corrections:
        currency = currency_of_bill[correction.bill]
        back[correction.number, currency] += correction.amount_cents
        left[currency] += correction.amount_cents
    told.explained += [
        f"{money_text(cents)} {currency} due back on {number}"
        for (number, currency), cents in sorted(back.items())
    ]
    told.wrong += [
        f"{money_text(cents)} {currency} between the stays and the papers that nothing explains"
        for currency, cents in left.items()
        if cents
    ]


def papers_are_whole(told: Audit) -> None:
    """Each paper is sealed, adds up, has a number without gaps, and is stored as it was drawn."""
    lines_of_bill: dict[int, list[BillLine]] = defaultdict(list)
    for line in BillLine.objects.order_by("place"):
        lines_of_bill[line.bill_id].append(line)
    lines_of_note: dict[int, list[CreditLine]] = defaultdict(list)
    for credit in CreditLine.objects.order_by("place"):
        lines_of_note[credit.credit_note_id].append(credit)
    bills, notes = list(Bill.objects.all()), list(CreditNote.objects.all())
    for paper in (*bills, *notes):
        lines = lines_of_bill[paper.pk] if isinstance(paper, Bill) else lines_of_note[paper.pk]
        if paper.issued_at is None:
            told.wrong.append(f"{paper} was begun and never issued")
        if sum(line.amount_cents for line in lines) != paper.amount_cents:
            told.wrong.append(f"the lines of {paper} do not come to its sum")
        if sum(line.tax_cents for line in lines) != paper.tax_cents:
            told.wrong.append(f"the tax of the lines of {paper} does not come to its tax")
    for bill in bills:
        told.wrong += [
            f"{bill} has a line of another payer"
            for line in lines_of_bill[bill.pk]
            if line.payer_id != bill.payer_id
        ]
    numbers_have_no_gap(told, Series.BILL, Counter(bill.year for bill in bills))
    numbers_have_no_gap(told, Series.CREDIT, Counter(note.year for note in notes))
    for stored in StoredPaper.objects.select_related("bill", "credit_note").iterator(chunk_size=50):
        if hashlib.sha256(bytes(stored.content)).hexdigest() != stored.sha256:
            told.wrong.append(f"the stored paper of {stored.paper} is not what was drawn")


def numbers_have_no_gap(told: Audit, series: Series, given: Counter[int]) -> None:
    """As many papers as numbers given, each year: numbers are unique, so then none is missing."""
    counters = dict(PaperNumber.objects.filter(series=series).values_list("year", "last"))
    told.wrong += [
        f"{series.label.lower()} of {year}: {counters.get(year, 0)} numbers given, {given[year]} papers there"
        for year in sorted({*counters, *given})
        if counters.get(year, 0) != given[year]
    ]


def claims_fit(told: Audit, books: Books) -> None:
    """The days that stand on lines are the days that are claimed."""
    claimed: dict[int, set[date]] = defaultdict(set)
    standing = books.standing
    claims = DayClaim.objects.filter(released_by=None, line__cell__lt=books.through)
    for line, day in claims.values_list("line_id", "day"):
        claimed[line].add(day)
    for row in standing:
        if row.days and set(row.claimed()) != claimed.get(row.line, set()):
            told.wrong.append(f"the days of a line of {row.number} are not the days it claims")
    of_lines = {row.line for row in standing if row.days}
    if lost := sum(len(days) for line, days in claimed.items() if line not in of_lines):
        told.wrong.append(f"{lost} claimed days stand on no line")


def audit_of_month(month: date) -> Audit:
    """The audit up to the end of a month."""
    return audit(next_month(month))


def standing_cents(bill: Bill) -> int:
    """What of a bill stands after its credits, without tax."""
    return sum(row.amount_cents for row in standing_lines(bills=[bill.pk]))
