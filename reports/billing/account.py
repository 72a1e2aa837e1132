"""Everything some stays cost up to a day, as lines: the recomputation that bills, credits and the audit all come from."""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from reports.billing import prices, reasons
from reports.billing.allowance import Segment, covered_days, segments
from reports.billing.calendar import first_of_month, next_month
from reports.billing.extras import extras
from reports.billing.lines import TAXED_AS, Kind, Line
from reports.billing.money import Cents, half_up
from reports.billing.stays import Stay
from reports.billing.terms import Shape, Terms


@dataclass(slots=True)
class Meter:
    """What a stay has come to so far, to the fraction of a cent. Started weeks and months run from the first charged day."""

    stay: Stay
    days: int = 0  # charged since the install
    clock: int = 0  # charged since the shape of the price last changed
    shape: Shape | None = None
    anchor: date = date.min
    base: Cents = 0  # by the plain price
    mixed: Cents = 0  # by the cheapest mix, where agreed
    due: Cents = 0  # below the cap

    def begin(self, terms: Terms, day: date) -> None:
        """Be ready to charge `day` under `terms`: another shape starts its weeks and months anew."""
        if self.shape != terms.shape:
            self.shape, self.clock, self.anchor = terms.shape, 0, day

    def run(self, terms: Terms, days: int) -> tuple[int, int, int]:
        """Charge `days` more: cents at the plain price, cents taken off as cheaper, cents taken off by the cap."""
        before = (half_up(self.base), half_up(self.mixed), half_up(self.due))
        priority, after = self.stay.priority, self.clock + days
        plain = mixed = self.step(prices.base, terms, after)
        if terms.shape == Shape.CHEAPEST:
            mixed = self.step(prices.cheapest, terms, after)
        self.base += plain
        self.mixed += mixed
        cap = terms.cap_for(priority)
        self.due = self.due + mixed if cap is None else max(self.due, min(self.due + mixed, cap))
        self.clock, self.days = after, self.days + days
        steps = [
            half_up(now) - was for now, was in zip((self.base, self.mixed, self.due), before, strict=True)
        ]
        return steps[0], steps[1] - steps[0], steps[2] - steps[1]

    def step(self, price: Callable[[Terms, int, date], Cents], terms: Terms, after: int) -> Cents:
        """What the days from the clock's count to `after` add, by `price`."""
        until, before = (
            prices.priced(price(terms, days, self.anchor), terms, self.stay.priority)
            for days in (after, self.clock)
        )
        return until - before


def account(
    stays: Iterable[Stay], through: date, cuts: Sequence[date] | None = None, *, told_from: date = date.min
) -> dict[int, list[Line]]:
    """All lines of each stay for its days before `through`, by the stay's key.

    Give all stays of an agreement together: they share its included days. Lines are cut at the months, or at `cuts`; the
    sums are the same however they are cut. Reasons are written from the cell `told_from` on; earlier ones are left empty.
    """
    known = list(stays)
    parts = {stay.key: segments(stay, through) for stay in known}
    covered = covered_days((part for mine in parts.values() for part in mine), through)
    return {
        stay.key: list(lines_of(stay, parts[stay.key], covered, through, cuts, told_from)) for stay in known
    }


def lines_for(
    stays: Iterable[Stay], start: date, until: date, cuts: Sequence[date] | None = None
) -> list[Line]:
    """The lines of the days [start, until) alone: what a close of that time bills when nothing changed since earlier ones."""
    marks = sorted({*(cuts or ()), start, until}) if cuts is not None else None
    found = account(stays, until, marks)
    return [line for lines in found.values() for line in lines if start <= line.cell < until]


def cell_of(day: date, cuts: Sequence[date] | None) -> date:
    """The first day of the stretch that `day` is billed in."""
    if cuts is None:
        return first_of_month(day)
    place = bisect_right(cuts, day)
    return cuts[place - 1] if place else date.min


def lines_of(
    stay: Stay,
    parts: Sequence[Segment],
    covered: Mapping[tuple[int, int, date], int],
    through: date,
    cuts: Sequence[date] | None,
    told_from: date,
) -> Iterator[Line]:
    meter = Meter(stay)
    last: Segment | None = None
    for part in parts:
        included = covered.get(part.place, 0)
        for start, until, payer in cut(part, cuts):
            days = stay.counted(start, until)
            inside = min(included, days)
            included -= inside
            if days:
                yield from priced_days(
                    meter, part, start, until, days, inside, payer, cell_of(start, cuts), told_from
                )
        last = part
    yield from extras(stay, last, meter.days, half_up(meter.due), through, lambda day: cell_of(day, cuts))


def cut(part: Segment, cuts: Sequence[date] | None) -> Iterator[tuple[date, date, int | None]]:
    """The segment's days, cut at the months (or `cuts`) and where the payer changes."""
    marks = {
        day
        for payer in part.stay.payers
        for day in (payer.since, payer.until)
        if day is not None and part.start < day < part.until
    }
    if cuts is None:
        month = next_month(part.start)
        while month < part.until:
            marks.add(month)
            month = next_month(month)
    else:
        marks.update(day for day in cuts if part.start < day < part.until)
    start = part.start
    for until in (*sorted(marks), part.until):
        yield start, until, part.stay.payer_on(start)
        start = until


def taken_off(line: Line, kind: Kind, cents: int, reason: str) -> Line:
    """The line below `line` that takes something off it."""
    return replace(
        line,
        kind=kind,
        days=0,
        covered=0,
        holes=(),
        quantity=1,
        unit_cents=cents,
        amount_cents=cents,
        reason=reason if line.reason else "",
    )


def priced_days(
    meter: Meter,
    part: Segment,
    start: date,
    until: date,
    days: int,
    covered: int,
    payer: int | None,
    cell: date,
    told_from: date,
) -> Iterator[Line]:
    """The lines of one stretch of days under one set of terms: the days, and what is taken off them."""
    stay, terms = part.stay, part.terms
    charged = days - covered
    while True:
        stretch = until
        take = charged
        if charged:
            meter.begin(terms, stay.nth_day(start, covered))
            if terms.shape == Shape.MONTH:
                _months, gone, length = prices.month_of(terms, meter.clock, meter.anchor)
                if charged > length - gone:
                    take = length - gone
                    stretch = stay.day_number(start, covered + take)
        clock = meter.clock
        plain, cheaper, capped = meter.run(terms, take) if take else (0, 0, 0)
        counted = covered + take
        told = cell >= told_from
        quantity, unit_cents = reasons.quantity_of(terms, stay.priority, clock, take)
        line = Line(
            stay=stay.key,
            contract=part.contract.key,
            terms=terms.key,
            payer=payer,
            cell=cell,
            kind=Kind.MONITORING,
            start=start,
            until=stretch,
            days=counted,
            covered=covered,
            holes=tuple(day for day in stay.holes if start <= day < stretch) if stay.uncounted else (),
            quantity=quantity,
            unit_cents=unit_cents,
            amount_cents=plain,
            tax=terms.tax_on(TAXED_AS[Kind.MONITORING]),
            tax_rounding=terms.tax_rounding,
            currency=terms.currency,
            reason=reasons.of_days(part, start, stretch, counted, covered, clock, meter, plain)
            if told
            else "",
        )
        yield line
        if cheaper:
            yield taken_off(line, Kind.CHEAPER, cheaper, reasons.of_cheaper(meter, cheaper))
        if capped:
            yield taken_off(line, Kind.CAP, capped, reasons.of_cap(terms, stay, capped))
        charged -= take
        if not charged:
            return
        start, days, covered = stretch, days - counted, 0
