"""From the shop's rows to the plain records that billing computes with: stays, agreements, what stands on papers."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property, lru_cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import Q

from kits.models import Custody, Place
from reports.billing.account import account
from reports.billing.calendar import months_between
from reports.billing.compare import Comparison, Standing, compare
from reports.billing.lines import Line
from reports.billing.stays import Cover, Payer, Stay
from reports.billing.terms import (
    AllowanceOrder,
    Anchor,
    Contract,
    DayCount,
    LostRule,
    Proration,
    Shape,
    Tax,
    Taxed,
    TaxRounding,
)
from reports.billing.terms import Terms as PlainTerms
from reports.billing_standing import standing_lines
from reports.models import OWN_FAULT, CutLeads, DayMark, MarkKind, NoAccess
from sites.models import Agreement, Deployment, Party, PartyRole, Terms

PRICE_LIST = 0  # the key of the price list among the contracts
FOR_EVER = date.max
STAY_COLUMNS = (
    "pk",
    "kit_id",
    "kit__code",
    "installed_at",
    "removed_at",
    "customer_asked_on",
    "take_out_by",
    "not_recovered_at",
    "unit__site_id",
    "unit__site__time_zone",
    "unit__site__street",
    "unit__site__city",
    "unit__name",
    "call__agreement_id",
    "call__priority",
    "kit__replacement_value_cents",
    "kit__built_on",
)


@dataclass(frozen=True, slots=True)
class Told:
    """How a stay is called on a paper."""

    kit_code: str
    site_words: str
    site: int


@dataclass
class Books:
    """Everything billing needs to know about some stays, up to a day."""

    through: date
    stays: list[Stay]
    told: dict[int, Told]
    contracts: dict[int, Contract]
    without_price: set[int] = field(default_factory=set)  # agreements that have no dated terms yet

    @cached_property
    def lines(self) -> list[Line]:
        """The recomputation: every line that is right."""
        return [line for lines in account(self.stays, self.through).values() for line in lines]

    @cached_property
    def standing(self) -> list[Standing]:
        """What stands on papers for the months up to `through`."""
        rows = standing_lines([stay.key for stay in self.stays])
        return [row for row in rows if row.cell < self.through]

    @cached_property
    def comparison(self) -> Comparison:
        return compare(self.lines, self.standing)

    def stay(self, key: int) -> Stay:
        return self._by_key[key]

    @cached_property
    def _by_key(self) -> dict[int, Stay]:
        return {stay.key: stay for stay in self.stays}


@lru_cache(maxsize=64)
def zone_called(name: str) -> ZoneInfo:
    return ZoneInfo(name)


def read_books(through: date, *, stays: Iterable[int] | None = None) -> Books:
    """All stays installed before `through`; with `stays`, those and every stay that shares an agreement with them."""
    rows = stays_to_read(through, None if stays is None else set(stays))
    contracts, agreements = read_contracts()
    covering = covers_by_site(agreements)
    paying, owning = read_parties({row[8] for row in rows})
    keys = None if stays is None else [row[0] for row in rows]
    marks, cut, access, found = read_marks(keys), read_cut_leads(keys), read_no_access(keys), read_found(rows)
    known, told = [], {}
    covers_for: dict[tuple[int | None, ...], tuple[Cover, ...]] = {}  # alike for all houses of an agreement
    for row in rows:
        (pk, _kit, code, installed_at, removed_at, asked_on, take_out_by, lost_at) = row[:8]
        (site, zone_name, street, city, unit, agreement, priority, value_cents, built_on) = row[8:]
        if not zone_name:
            raise ValueError(f"The site {street} has no time zone, so its days are not known.")
        zone = zone_called(zone_name)
        installed_on = day_in(installed_at, zone)
        if installed_on >= through:
            continue
        beside = (agreement, *(row.pk for row in covering.get(site, ())))
        if (covers := covers_for.get(beside, ())) == ():
            covers = covers_of(covering.get(site, ()), agreements.get(agreement), contracts)
            covers_for[beside] = covers
        lost_on = day_in(lost_at, zone) if lost_at else None
        known.append(
            Stay(
                key=pk,
                order=int(installed_at.timestamp()),
                installed_on=installed_on,
                removed_on=day_in(removed_at, zone) if removed_at else None,
                asked_on=asked_on,
                agreed_end=take_out_by,
                sold_on=sold_on(owning.get(site, ()), installed_on),
                lost_on=lost_on,
                found_on=day_in(found[pk], zone) if pk in found else None,
                priority=priority,
                uncounted=uncounted(marks.get(pk, {}), covers, installed_on),
                covers=covers,
                payers=payers_of(paying.get(site, ()), covers, agreements),
                replacement_cents=value_cents or 0,
                kit_age_months=months_between(built_on, lost_on) if lost_on and built_on else 0,
                cut_leads=cut[pk].leads if pk in cut else 0,
                cut_leads_on=cut[pk].seen_on if pk in cut else None,
                no_access_on=access.get(pk),
            )
        )
        told[pk] = Told(code, f"{street}, {city}: {unit}", site)
    used = {cover.contract.key for stay in known for cover in stay.covers}
    bare = {key for key in used if key != PRICE_LIST and not contracts[key].history}
    return Books(through, known, told, contracts, bare)


def day_in(instant: datetime, zone: ZoneInfo) -> date:
    return instant.astimezone(zone).date()


def stays_to_read(through: date, only: set[int] | None) -> list[tuple[Any, ...]]:
    """Rows of installed stays. The day is compared later, in each site's own zone; here a day is left over on top."""
    found = Deployment.objects.filter(
        installed_at__lt=datetime.combine(through, time(), UTC) + timedelta(days=1)
    )
    if only is not None:
        beside = Agreement.objects.filter(
            Q(calls__deployments__in=only) | Q(sites__units__deployments__in=only)
        )
        agreements = list(beside.values_list("pk", flat=True).distinct())
        found = found.filter(
            Q(pk__in=only) | Q(call__agreement__in=agreements) | Q(unit__site__agreements__in=agreements)
        ).distinct()
    return list(found.order_by("installed_at", "pk").values_list(*STAY_COLUMNS))


# Agreements and terms


def plain_terms(row: Terms) -> PlainTerms:
    """The terms of a row (saved or not) as billing computes with them."""
    return PlainTerms(
        key=row.pk or 0,
        currency=row.currency,
        shape=Shape(row.shape),
        day_cents=row.day_cents,
        week_cents=row.week_cents,
        month_cents=row.month_cents,
        proration=Proration(row.proration),
        month_anchor=Anchor(row.month_anchor),
        included_days=row.included_days,
        year_anchor=Anchor(row.year_anchor),
        kits_share_a_day=row.kits_share_a_day,
        allowance_order=AllowanceOrder(row.allowance_order),
        carry_over=row.carry_over,
        set_up_cents=row.set_up_cents,
        minimum_cents=row.minimum_cents,
        cap_cents=row.cap_cents,
        priority_multiplier=Decimal(row.priority_multiplier),
        priority_scales_cap=row.priority_scales_cap,
        day_count=DayCount(row.day_count),
        lost_rule=LostRule(row.lost_rule),
        life_months=row.life_months,
        deposit_cents=row.deposit_cents,
        found_within_days=row.found_within_days,
        inspection_percent=Decimal(row.inspection_percent),
        cut_lead_cents=row.cut_lead_cents,
        no_access_cents=row.no_access_cents,
        dead_below_hours=row.dead_below_hours,
        taxes={
            kind: Tax(getattr(row, f"{kind}_tax_code"), Decimal(getattr(row, f"{kind}_tax_rate")))
            for kind in Taxed
        },
        tax_rounding=TaxRounding(row.tax_rounding),
    )


def plain_contract(agreement: Agreement | None, rows: Sequence[Terms]) -> Contract:
    """An agreement (None: the price list) with its dated terms, in order."""
    history = tuple((row.from_day, plain_terms(row)) for row in sorted(rows, key=lambda row: row.from_day))
    if agreement is None:
        return Contract(key=PRICE_LIST, start=history[0][0] if history else date.min, history=history)
    return Contract(key=agreement.pk, start=agreement.since, history=history)


def read_contracts() -> tuple[dict[int, Contract], dict[int, Agreement]]:
    """Every agreement as billing sees it, and the price list under its own key."""
    rows: dict[int, list[Terms]] = defaultdict(list)
    for terms in Terms.objects.order_by("from_day"):
        rows[terms.agreement_id or PRICE_LIST].append(terms)
    agreements = {row.pk: row for row in Agreement.objects.defer("terms", "folded").order_by("since", "pk")}
    contracts = {pk: plain_contract(row, rows.get(pk, [])) for pk, row in agreements.items()}
    contracts[PRICE_LIST] = plain_contract(None, rows.get(PRICE_LIST, []))
    return contracts, agreements


def covers_by_site(agreements: Mapping[int, Agreement]) -> dict[int, list[Agreement]]:
    """The agreements that cover a site, the oldest first."""
    sites: dict[int, list[int]] = defaultdict(list)
    for key, site in Agreement.sites.through.objects.values_list("agreement_id", "site_id"):
        sites[key].append(site)
    found: dict[int, list[Agreement]] = defaultdict(list)
    for key, agreement in agreements.items():
        for site in sites[key]:
            found[site].append(agreement)
    return found


def covers_of(
    at_site: Sequence[Agreement], of_call: Agreement | None, contracts: Mapping[int, Contract]
) -> tuple[Cover, ...]:
    """Which agreement each day of a stay falls under: the call's own, else the oldest that covers the site, else the
    price list."""
    free = [(date.min, FOR_EVER)]
    covers = []
    for agreement in ([of_call] if of_call else []) + [row for row in at_site if row != of_call]:
        left = []
        for start, until in free:
            first, last = max(start, agreement.since), min(until, agreement.until or FOR_EVER)
            if first >= last:
                left.append((start, until))
                continue
            covers.append(Cover(first, last, contracts[agreement.pk]))
            left += [span for span in ((start, first), (last, until)) if span[0] < span[1]]
        free = left
    covers += [Cover(start, until, contracts[PRICE_LIST]) for start, until in free]
    return tuple(sorted(covers, key=lambda cover: cover.since))


# People


class AtSite(NamedTuple):
    """Who pays, or owns, at a site during [since, until)."""

    since: date
    until: date | None
    customer_id: int


def read_parties(sites: set[int]) -> tuple[dict[int, list[AtSite]], dict[int, list[AtSite]]]:
    """Who pays and who owns, by site, the longest there first."""
    paying: dict[int, list[AtSite]] = defaultdict(list)
    owning: dict[int, list[AtSite]] = defaultdict(list)
    rows = Party.objects.filter(part__in=[PartyRole.PAYS, PartyRole.OWNS]).order_by("since", "pk")
    columns = ("site_id", "part", "since", "until", "customer_id")
    for site, part, since, until, customer in rows.values_list(*columns):
        if site in sites:
            (paying if part == PartyRole.PAYS else owning)[site].append(AtSite(since, until, customer))
    return paying, owning


def payers_of(
    paying: Sequence[AtSite], covers: Sequence[Cover], agreements: Mapping[int, Agreement]
) -> tuple[Payer, ...]:
    """Who pays, first choice first: who *pays* at the site, the agreement's own customer before others; where nobody
    does, the agreement's customer."""
    customers = {agreements[cover.contract.key].customer_id for cover in covers if cover.contract.key}
    at_site = sorted(paying, key=lambda party: party.customer_id not in customers)
    return tuple(
        [Payer(party.since, party.until, party.customer_id) for party in at_site]
        + [
            Payer(cover.since, cover.until, agreements[cover.contract.key].customer_id)
            for cover in covers
            if cover.contract.key != PRICE_LIST
        ]
    )


def sold_on(owning: Sequence[AtSite], installed_on: date) -> date | None:
    """The first day on which nobody owns the house any more of those who owned it when the kit went in."""
    ends = [
        party.until
        for party in owning
        if party.since <= installed_on and (party.until is None or party.until > installed_on)
    ]
    if not ends or None in ends:
        return None
    return max(end for end in ends if end is not None)


# What was marked


def read_marks(keys: Sequence[int] | None) -> dict[int, dict[date, DayMark]]:
    """The last mark of each marked day, by stay."""
    rows = DayMark.objects.order_by("pk")
    if keys is not None:
        rows = rows.filter(deployment__in=keys)
    found: dict[int, dict[date, DayMark]] = defaultdict(dict)
    for mark in rows:
        found[mark.deployment_id][mark.day] = mark
    return found


def uncounted(
    marks: Mapping[date, DayMark], covers: Sequence[Cover], installed_on: date
) -> tuple[tuple[date, str], ...]:
    """The marked days that are not charged, with the reason as it stands on a line."""
    found = []
    for day in sorted(marks):
        mark = marks[day]
        if mark.kind == MarkKind.WAIVED:
            found.append((day, "waived"))
        elif mark.kind == MarkKind.NO_READINGS and is_dead(
            mark.hours or Decimal(0), mark.cause, hours_needed(covers, day)
        ):
            found.append((day, f"{mark.hours:.0f} h of readings"))
    return tuple(found)


def is_dead(hours: Decimal, cause: str, needed: int) -> bool:
    """The rule that days marked by hand and days of readings both go through."""
    return hours < needed and cause in OWN_FAULT


def hours_needed(covers: Sequence[Cover], day: date) -> int:
    for cover in covers:
        if cover.since <= day < (cover.until or FOR_EVER):
            terms = cover.contract.terms_on(day)
            return terms.dead_below_hours if terms else 0
    return 0


def read_cut_leads(keys: Sequence[int] | None) -> dict[int, CutLeads]:
    rows = CutLeads.objects.order_by("pk")
    if keys is not None:
        rows = rows.filter(deployment__in=keys)
    return {row.deployment_id: row for row in rows}


def read_no_access(keys: Sequence[int] | None) -> dict[int, date]:
    rows = NoAccess.objects.all()
    if keys is not None:
        rows = rows.filter(deployment__in=keys)
    return dict(rows.values_list("deployment_id", "charged_on"))


def read_found(rows: Sequence[tuple[Any, ...]]) -> dict[int, datetime]:
    """When a kit given up as not recovered turned up again, by stay."""
    lost = {(row[1], row[7]): row[0] for row in rows if row[7] is not None}
    if not lost:
        return {}
    missing = Custody.objects.filter(
        place=Place.MISSING, held_until__isnull=False, kit__in={kit for kit, _at in lost}
    )
    return {
        lost[row.kit_id, row.held_from]: row.held_until
        for row in missing
        if (row.kit_id, row.held_from) in lost and row.held_until is not None
    }
