"""What was billed against what is right: which lines are new, and which credits are due.

Lines are held together by stay, payer and cell (the month they belong to). A cell nothing was billed for yet simply becomes
lines of the next bill. A cell that was billed and is no longer right is mended by the difference where that can be told
plainly, else by taking all of it back and billing it anew; either way the sums come to the recomputation.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import groupby

from reports.billing.calendar import say_span
from reports.billing.lines import ONCE, Kind, Line
from reports.billing.money import half_up, money_text
from reports.billing.tax import tax_cents
from reports.billing.terms import Tax, TaxRounding

ONE_DAY = timedelta(days=1)
Key = tuple[int, int | None, date]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A line of an issued bill as it stands today: credits are already taken off, days taken back are among the holes.

    What a credit note added (a minimum that came to bear) stands as a row of its own kind under the line it names.
    """

    line: int
    bill: int
    number: str
    stay: int
    payer: int | None
    cell: date
    kind: Kind
    start: date
    until: date
    days: int = 0
    holes: tuple[date, ...] = ()
    amount_cents: int = 0
    tax_cents: int = 0
    tax: Tax = field(default_factory=Tax)
    tax_rounding: TaxRounding = TaxRounding.LINE

    def claimed(self) -> Iterator[date]:
        if not self.days:
            return
        for number in range((self.until - self.start).days):
            day = self.start + timedelta(days=number)
            if day not in self.holes:
                yield day


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack:
    """One line of a credit note: what of a billed line is given back (negative: something of it is added)."""

    line: int
    kind: Kind
    start: date
    until: date
    days: tuple[date, ...] = ()
    amount_cents: int = 0
    tax_cents: int = 0
    tax: Tax = field(default_factory=Tax)
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A credit that is due on one bill."""

    bill: int
    number: str
    stay: int
    payer: int | None
    cell: date
    whole: bool  # everything billed for this stay and month is taken back, and is billed anew afterwards
    lines: tuple[TakenBack, ...]

    @property
    def amount_cents(self) -> int:
        return sum(line.amount_cents for line in self.lines)

    @property
    def total_cents(self) -> int:
        return sum(line.amount_cents + line.tax_cents for line in self.lines)


@dataclass(slots=True)
class Comparison:
    """What is still to be billed, what is due back, and what waits until that has been given back."""

    new: list[Line] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)
    waiting: list[Line] = field(default_factory=list)


def compare(
    expected: Iterable[Line], standing: Iterable[Standing], on_bills: Sequence[Standing] = ()
) -> Comparison:
    """Hold the right lines against the billed ones.

    `on_bills`: every standing line of the bills concerned, for tax that is rounded once a bill (default: `standing`).
    """
    right: dict[Key, list[Line]] = defaultdict(list)
    for line in expected:
        right[line.stay, line.payer, line.cell].append(line)
    billed: dict[Key, list[Standing]] = defaultdict(list)
    for row in standing:
        if row.amount_cents or row.days:
            billed[row.stay, row.payer, row.cell].append(row)
    told = Comparison()
    bases = bases_of(on_bills or [row for rows in billed.values() for row in rows])
    for key in sorted({*right, *billed}, key=lambda key: (key[2], key[0], key[1] or 0)):
        compare_cell(key, right.get(key, []), billed.get(key, []), bases, told)
    hold_back_claimed(told, billed)
    return told


def hold_back_claimed(told: Comparison, billed: dict[Key, list[Standing]]) -> None:
    """A new line waits while its days, or its charge made once a stay, still stand elsewhere, to be taken back first."""
    if not told.corrections or not told.new:
        return
    stays = {correction.stay for correction in told.corrections}
    days: dict[int, set[date]] = defaultdict(set)
    charges: dict[tuple[int, Kind], set[Key]] = defaultdict(set)
    for key, rows in billed.items():
        if key[0] in stays:
            for row in rows:
                days[key[0]].update(row.claimed())
                if row.kind in ONCE and row.amount_cents:
                    charges[key[0], row.kind].add(key)
    ready: list[Line] = []
    for line in told.new:
        elsewhere = charges[line.stay, line.kind] - {(line.stay, line.payer, line.cell)}
        clash = line.stay in stays and (elsewhere or not days[line.stay].isdisjoint(line.claimed()))
        (told.waiting if clash else ready).append(line)
    told.new = ready


def bases_of(rows: Iterable[Standing]) -> dict[tuple[int, Tax], int]:
    """What stands on each bill at each rate, where tax is rounded once a bill."""
    bases: dict[tuple[int, Tax], int] = defaultdict(int)
    for row in rows:
        if row.tax_rounding == TaxRounding.BILL:
            bases[row.bill, row.tax] += row.amount_cents
    return bases


def sums(lines: Iterable[Line | Standing]) -> dict[Kind, int]:
    found: dict[Kind, int] = defaultdict(int)
    for line in lines:
        found[line.kind] += line.amount_cents
    return {kind: cents for kind, cents in found.items() if cents}


def days_of(lines: Iterable[Line | Standing]) -> set[date]:
    return {day for line in lines for day in line.claimed()}


def same_at_a_glance(right: Sequence[Line], billed: Sequence[Standing]) -> bool:
    """Line by line the same days and amounts: most cells, most of the time."""
    return len(right) == len(billed) and all(
        (one.kind, one.start, one.until, one.amount_cents, one.days, one.holes)
        == (row.kind, row.start, row.until, row.amount_cents, row.days, row.holes)
        for one, row in zip(right, billed, strict=True)
    )


def compare_cell(
    key: Key, right: list[Line], billed: list[Standing], bases: dict[tuple[int, Tax], int], told: Comparison
) -> None:
    if not billed:
        told.new += right
        return
    if same_at_a_glance(right, billed):
        return
    due, had = sums(right), sums(billed)
    due_days, had_days = days_of(right), days_of(billed)
    if due == had and due_days == had_days:
        return
    more = sum(due.values()) - sum(had.values())
    if more <= 0 and due_days <= had_days and len({row.bill for row in billed}) == 1:
        told.corrections.append(difference_back(key, right, due_days, billed, bases))
    elif more >= 0 and due_days >= had_days:
        told.new += difference_on_top(right, due, had, due_days - had_days, billed)
    else:
        for _bill, rows in groupby(sorted(billed, key=lambda row: row.bill), key=lambda row: row.bill):
            told.corrections.append(all_back(list(rows), bases))
        told.waiting += right


def all_back(rows: Sequence[Standing], bases: dict[tuple[int, Tax], int] | None = None) -> Correction:
    """Everything that stands of these lines of one bill is given back; without `bases`, with just the tax they bear."""
    first = rows[0]
    backs = [
        TakenBack(
            line=row.line,
            kind=row.kind,
            start=row.start,
            until=row.until,
            days=tuple(row.claimed()),
            amount_cents=row.amount_cents,
            tax_cents=row.tax_cents,
            tax=row.tax,
            reason=f"{say_span(row.start, row.until)}: taken back as a whole",
        )
        for row in rows
    ]
    if bases is not None:
        backs = with_tax(backs, rows, bases)
    return Correction(
        bill=first.bill,
        number=first.number,
        stay=first.stay,
        payer=first.payer,
        cell=first.cell,
        whole=True,
        lines=tuple(backs),
    )


def difference_back(
    key: Key,
    right: Sequence[Line],
    due_days: set[date],
    billed: Sequence[Standing],
    bases: dict[tuple[int, Tax], int],
) -> Correction:
    """Only what is too much is given back, line by line, with the days that are no longer charged."""
    backs: list[TakenBack] = []
    carrier = max(billed, key=lambda row: (row.kind == Kind.MONITORING, row.start))
    for kind in Kind:
        rows = [row for row in billed if row.kind == kind]
        lines = [line for line in right if line.kind == kind]
        for row, back in zip(rows, too_much(rows, lines, due_days), strict=True):
            released = tuple(day for day in row.claimed() if day not in due_days)
            if back or released:
                backs.append(taken_back(row, kind, back, released))
        if not rows:
            backs += [
                taken_back(carrier, kind, -line.amount_cents, ()) for line in lines if line.amount_cents
            ]
    return Correction(
        bill=billed[0].bill,
        number=billed[0].number,
        stay=key[0],
        payer=key[1],
        cell=key[2],
        whole=False,
        lines=tuple(with_tax(backs, billed, bases)),
    )


def too_much(rows: Sequence[Standing], lines: Sequence[Line], due_days: set[date]) -> list[int]:
    """What each billed line of a kind has too much. Lines that begin on the same day are the same line, now shorter, so
    that each bears the tax it would have borne; where they do not pair, the last lines give first."""
    due = {line.start: line.amount_cents for line in lines}
    starts = {row.start for row in rows}
    paired = len(due) == len(lines) and len(starts) == len(rows) and starts >= due.keys()
    if paired and all(row.start in due or due_days.isdisjoint(row.claimed()) for row in rows):
        return [row.amount_cents - due.get(row.start, 0) for row in rows]
    rest = sum(row.amount_cents for row in rows) - sum(due_line.amount_cents for due_line in lines)
    backs = []
    for row in reversed(rows):
        has_more = abs(rest) >= abs(row.amount_cents) and rest * row.amount_cents > 0
        back = row.amount_cents if has_more and row is not rows[0] else rest
        rest -= back
        backs.append(back)
    return backs[::-1]


def taken_back(row: Standing, kind: Kind, cents: int, released: tuple[date, ...]) -> TakenBack:
    start, until = (released[0], released[-1] + ONE_DAY) if released else (row.start, row.until)
    if released:
        told = (
            f"{say_span(start, until)}: {len(released)} {'day' if len(released) == 1 else 'days'} taken back"
        )
        if cents and cents % len(released) == 0:
            told += f", {len(released)} × {money_text(cents // len(released))}"
    elif cents >= 0:
        told = f"{say_span(start, until)}: {money_text(cents)} less than billed, by what is known now"
    else:
        told = f"{say_span(start, until)}: {money_text(-cents)} more, by what is known now"
    return TakenBack(
        line=row.line,
        kind=kind,
        start=start,
        until=until,
        days=released,
        amount_cents=cents,
        tax=row.tax,
        reason=told,
    )


def with_tax(
    backs: Sequence[TakenBack], rows: Sequence[Standing], bases: dict[tuple[int, Tax], int]
) -> list[TakenBack]:
    """Tax at the original rate, so that what is left bears exactly the tax it would have borne on a bill of its own."""
    told = []
    of_line = {row.line: row for row in rows} | {(row.line, row.kind): row for row in rows}
    for back in backs:
        row = of_line.get((back.line, back.kind)) or of_line[back.line]
        if row.tax_rounding == TaxRounding.BILL:
            base = bases[row.bill, row.tax]
            bases[row.bill, row.tax] = base - back.amount_cents
            cents = tax_cents(base, row.tax.rate) - tax_cents(base - back.amount_cents, row.tax.rate)
        elif back.kind == row.kind:
            cents = row.tax_cents - tax_cents(row.amount_cents - back.amount_cents, row.tax.rate)
        else:
            cents = -tax_cents(-back.amount_cents, row.tax.rate)
        told.append(replace(back, tax_cents=half_up(cents)))
    return told


def difference_on_top(
    right: Sequence[Line],
    due: dict[Kind, int],
    had: dict[Kind, int],
    new_days: set[date],
    billed: Sequence[Standing],
) -> list[Line]:
    """Only what is still missing, kind by kind, as lines that name the bill the rest stands on."""
    numbers = ", ".join(dict.fromkeys(row.number for row in billed))
    told = []
    for kind in [
        kind for kind in Kind if kind in due or kind in had or (kind == Kind.MONITORING and new_days)
    ]:
        more = due.get(kind, 0) - had.get(kind, 0)
        days = sorted(new_days) if kind == Kind.MONITORING else []
        if not more and not days:
            continue
        like = next((line for line in right if line.kind == kind), right[0])
        start, until = (days[0], days[-1] + ONE_DAY) if days else (like.start, like.until)
        holes = tuple(
            day
            for number in range((until - start).days)
            if days and (day := start + timedelta(days=number)) not in new_days
        )
        why = f"{like.reason}; " if like.kind == kind and like.reason else ""
        told.append(
            replace(
                like,
                kind=kind,
                start=start,
                until=until,
                days=len(days),
                covered=0,
                holes=holes,
                quantity=1,
                unit_cents=more,
                amount_cents=more,
                reason=f"{why}{money_text(had.get(kind, 0))} of it stands on {numbers}: the difference",
            )
        )
    return told
