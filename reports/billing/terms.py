"""What was agreed: every convention that changes a total, as one plain record in force from a day on."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from itertools import pairwise

from reports.billing.calendar import Anchor, anniversary
from reports.billing.money import half_up, money_text


class Shape(StrEnum):
    """How days become money."""

    DAY = "day"  # so much a day
    WEEK = "week"  # so much a started week, counted from the install
    MONTH = "month"  # so much a month from the install, the last one by its days
    CHEAPEST = "cheapest"  # days, started weeks and started months, mixed as is cheapest for the customer


class Proration(StrEnum):
    """What a part of a month is a part of; a whole month always costs the month's price."""

    ACTUAL = "actual"  # the days of that very month
    THIRTY = "thirty"  # thirty days
    YEAR_365 = "year_365"  # twelve months are 365 days


class DayCount(StrEnum):
    """Which of the two ends count. However it is, a stay counts at least one day."""

    INSTALL = "install"
    BOTH = "both"
    NEITHER = "neither"


class AllowanceOrder(StrEnum):
    """Which kit takes the last included day when two hang on the same day."""

    INSTALLED_FIRST = "installed_first"
    PRIORITY_FIRST = "priority_first"


class LostRule(StrEnum):
    """What a kit that never comes back costs."""

    NOTHING = "nothing"
    LIST = "list"  # its replacement value
    DEPRECIATED = "depreciated"  # less for each month of its life that has passed


class TaxRounding(StrEnum):
    """Where tax is rounded to the cent: the seller may choose either, and keeps to it."""

    LINE = "line"
    BILL = "bill"


class Taxed(StrEnum):
    """Kinds of charge that a tax authority may treat differently."""

    MONITORING = "monitoring"
    SET_UP = "set_up"
    LOST_KIT = "lost_kit"
    PARTS = "parts"
    VISIT = "visit"


@dataclass(frozen=True, slots=True)
class Tax:
    """The code the accountant knows it by, and the rate as a fraction: 0.0725 is 7.25 %."""

    code: str = ""
    rate: Decimal = Decimal(0)


NO_TAX = Tax()


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What is in force from a day on. Prices are whole cents; None: there is no such price or limit."""

    key: int = 0
    currency: str = "USD"
    shape: Shape = Shape.DAY
    day_cents: int | None = None
    week_cents: int | None = None
    month_cents: int | None = None
    proration: Proration = Proration.ACTUAL
    month_anchor: Anchor = Anchor.LAST_DAY
    included_days: int = 0
    year_anchor: Anchor = Anchor.LAST_DAY
    kits_share_a_day: bool = True
    allowance_order: AllowanceOrder = AllowanceOrder.INSTALLED_FIRST
    carry_over: bool = False
    set_up_cents: int | None = None
    minimum_cents: int | None = None
    cap_cents: int | None = None
    priority_multiplier: Decimal = Decimal(1)
    priority_scales_cap: bool = False
    day_count: DayCount = DayCount.INSTALL
    lost_rule: LostRule = LostRule.NOTHING
    life_months: int = 36
    deposit_cents: int = 0
    found_within_days: int = 60
    inspection_percent: Decimal = Decimal(0)
    cut_lead_cents: int | None = None
    no_access_cents: int | None = None
    dead_below_hours: int = 12
    taxes: Mapping[Taxed, Tax] = field(default_factory=dict)
    tax_rounding: TaxRounding = TaxRounding.LINE

    def tax_on(self, what: Taxed) -> Tax:
        return self.taxes.get(what, NO_TAX)

    def cap_for(self, priority: bool) -> int | None:
        """The most that the days of one stay may cost, in whole cents."""
        if self.cap_cents is None or not (priority and self.priority_scales_cap):
            return self.cap_cents
        return half_up(self.cap_cents * self.priority_multiplier)

    def wrong(self) -> dict[str, str]:
        """What cannot be agreed like this: a sentence for each field; empty when all is well."""
        found: dict[str, str] = {}
        for name in PRICES:
            cents = getattr(self, name)
            if cents is not None and cents < 0:
                found[name] = "A price is not negative. What the shop gives back is a credit note."
        for name, need in NEEDED[self.shape]:
            if getattr(self, name) is None:
                found[name] = need
        if self.included_days < 0:
            found["included_days"] = "Included days are 0 or more."
        elif self.included_days > 366:
            found["included_days"] = "A contract year has at most 366 days."
        if self.priority_multiplier < 1:
            found["priority_multiplier"] = "Priority multiplies the price by 1 or more."
        if self.cap_cents is not None and (self.minimum_cents or 0) > self.cap_cents:
            found["minimum_cents"] = (
                f"A stay would cost at least {money_text(self.minimum_cents or 0)} and at most "
                f"{money_text(self.cap_cents)}. The minimum must not be above the cap."
            )
        if self.lost_rule == LostRule.DEPRECIATED and self.life_months < 1:
            found["life_months"] = "Give the months a kit lives; its charge falls over them."
        if self.found_within_days < 0:
            found["found_within_days"] = "Give 0 days or more."
        if not 0 <= self.inspection_percent <= 100:
            found["inspection_percent"] = "An inspection costs between 0 and 100 percent of the charge."
        if not 0 <= self.dead_below_hours <= 24:
            found["dead_below_hours"] = "A day has between 0 and 24 hours of readings."
        for what, tax in self.taxes.items():
            if not 0 <= tax.rate < 1:
                found[f"{what}_tax_rate"] = "A tax rate is a percentage from 0 to below 100."
            elif tax.rate and not tax.code:
                found[f"{what}_tax_code"] = "Give the code your accountant knows this tax by."
        return found


PRICES = (
    "day_cents",
    "week_cents",
    "month_cents",
    "set_up_cents",
    "minimum_cents",
    "cap_cents",
    "deposit_cents",
    "cut_lead_cents",
    "no_access_cents",
)
NEEDED = {
    Shape.DAY: [("day_cents", "Charging by the day needs a price for a day.")],
    Shape.WEEK: [("week_cents", "Charging by the started week needs a price for a week.")],
    Shape.MONTH: [("month_cents", "Charging by the month needs a price for a month.")],
    Shape.CHEAPEST: [("day_cents", "What is cheapest is compared with single days: give a price for a day.")],
}


@dataclass(frozen=True, kw_only=True)
class Contract:
    """An agreement with all its terms, or the shop's price list (key 0). Its years count from its own start."""

    key: int
    start: date
    history: tuple[tuple[date, Terms], ...]  # (in force from, terms), in the order of their days

    @cached_property
    def _days(self) -> list[date]:
        return [day for day, _terms in self.history]

    def terms_on(self, day: date) -> Terms | None:
        """The terms in force on `day`; None before the first."""
        place = bisect_right(self._days, day)
        return self.history[place - 1][1] if place else None

    def terms_between(self, start: date, until: date) -> Iterator[tuple[date, date, Terms]]:
        """[start, until) cut where the terms change; days before the first terms are left out."""
        for number, (since, terms) in enumerate(self.history):
            to = self.history[number + 1][0] if number + 1 < len(self.history) else until
            first, last = max(since, start), min(to, until)
            if first < last:
                yield first, last, terms

    @cached_property
    def counts_years(self) -> bool:
        """Whether any of its terms include days, so that contract years matter."""
        return any(terms.included_days or terms.carry_over for _day, terms in self.history)

    def year_start(self, number: int) -> date:
        """The day contract year `number` (0 is the first) begins, always computed from the original start."""
        if number not in self._years:
            self._years[number] = anniversary(self.start, 12 * number, self.history[0][1].year_anchor)
        return self._years[number]

    @cached_property
    def _years(self) -> dict[int, date]:
        return {}

    def year_of(self, day: date) -> int:
        """Which contract year `day` lies in; days before the start lie in the first."""
        number = max(0, day.year - self.start.year)
        while number and self.year_start(number) > day:
            number -= 1
        return number

    def years_between(self, start: date, until: date) -> Iterator[tuple[date, date, int]]:
        """[start, until) cut at the anniversaries, each part with the number of its year."""
        if not self.counts_years:
            yield start, until, 0
            return
        number = self.year_of(start)
        while start < until:
            end = min(self.year_start(number + 1), until)
            if start < end:
                yield start, end, number
            start, number = max(start, end), number + 1

    def wrong(self) -> list[str]:
        """What does not fit together among its terms, in sentences."""
        days = self._days
        found = [
            f"Two terms begin on {day:%d %b %Y}. One day has one set of terms."
            for day, later in pairwise(days)
            if day == later
        ]
        if days != sorted(days):
            found.append("The terms do not stand in the order of their days.")
        currencies = sorted({terms.currency for _day, terms in self.history})
        if len(currencies) > 1:
            found.append(
                f"An agreement keeps its currency; here are {' and '.join(currencies)}. "
                "Make a new agreement for the other one."
            )
        return found
