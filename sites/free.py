"""Which kits are free for a call and in which order they suit it, and why the others are not."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Count, Prefetch, Q

from kits.models import Condition, Custody, Kit, Place, Shop, Wiring
from kits.models.kit import KitQuerySet
from kits.readiness import Dated, against_dates, dated, dated_wirings
from sites.days import day_of, say_day, start_of_day
from sites.models import Deployment, ServiceCall

NEARNESS = {Place.SHELF: 0, Place.BENCH: 1, Place.TRUCK: 2, Place.SITE: 3}


@dataclass(kw_only=True)
class Candidate:
    """A kit looked at for a call: what speaks against it (then it is out), and what for it."""

    kit: Kit
    against: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    # Which sensors are not in date all through the stay; in `against` too when the shop's rule is strict.
    not_in_date: str = ""
    rank: tuple[int, ...] = ()

    @property
    def is_free(self) -> bool:
        return not self.against

    @property
    def only_not_in_date(self) -> bool:
        """Nothing but a sensor out of date speaks against it, so a manager may go on with a reason."""
        return self.against == [self.not_in_date]


def shop_zone() -> ZoneInfo:
    return ZoneInfo(Shop.current().time_zone)


def counted(number: int, word: str) -> str:
    """A number and its word: "1 sensor", "3 sensors"."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def hold_of(call_from: date, back_in_shop_by: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The span a plan holds its kit for: it ends as the back-in-shop day begins, so the kit may go out that day."""
    return start_of_day(call_from, zone), start_of_day(back_in_shop_by, zone)


def with_what_counts(kits: KitQuerySet, now: datetime) -> KitQuerySet:
    """Kits with all that `judge` looks at: custody, the sensors wired in (with how long the check of each holds), the
    stays not yet ended. A number of queries that does not grow with the kits.
    """
    wirings = Wiring.objects.filter(wired_until=None).select_related("sensor")
    wirings = dated_wirings(wirings, now).order_by("terminal")
    stays = Deployment.objects.running().select_related("call", "unit__site")
    left = Count("follow_ups", filter=Q(follow_ups__done_at=None), distinct=True)
    return (
        kits.with_custody()
        .annotate(left_count=left)
        .prefetch_related(
            Prefetch("wirings", queryset=wirings, to_attr="wired"),
            Prefetch("deployments", queryset=stays, to_attr="running_stays"),
        )
    )


def wired_into(kit: Kit) -> list[Wiring]:
    """The sensors of a kit read by `with_what_counts`."""
    return list(kit.__dict__["wired"])


def running_of(kit: Kit) -> list[Deployment]:
    """The stays, not yet ended, of a kit read by `with_what_counts`."""
    return list(kit.__dict__["running_stays"])


def candidates(
    call: ServiceCall,
    back_in_shop_by: date,
    *,
    now: datetime,
    take_out_by: date | None = None,
    among: Collection[int] | None = None,
) -> list[Candidate]:
    """Kits that are not retired (those `among` the given ids, else all), free ones first and best first, with reasons.

    Sensors are to be in date through `take_out_by`; without it, until the kit is back.
    """
    retired = Custody.objects.filter(held_until=None, place=Place.RETIRED)
    kits = with_what_counts(Kit.objects.exclude(pk__in=retired.values("kit")), now)
    stays = Deployment.objects.filter(installed_at__isnull=False)
    if among is not None:
        kits, stays = kits.filter(pk__in=among), stays.filter(kit__in=among)
    counts = stays.order_by().values("kit").annotate(count=Count("pk"))
    wear = {row["kit"]: row["count"] for row in counts}
    wanted, shop = call.wanted_positions.count(), Shop.current()
    found = [
        judge(
            kit,
            call,
            back_in_shop_by,
            take_out_by=take_out_by,
            wanted=wanted,
            now=now,
            wear=wear.get(kit.pk, 0),
            shop=shop,
        )
        for kit in kits
    ]
    return sorted(found, key=lambda candidate: (not candidate.is_free, candidate.rank, candidate.kit.code))


def judge(
    kit: Kit,
    call: ServiceCall,
    back_in_shop_by: date,
    *,
    wanted: int,
    now: datetime,
    wear: int,
    shop: Shop,
    take_out_by: date | None = None,
) -> Candidate:
    """What speaks against `kit` for this call and what for it. Expects a kit read by `with_what_counts`."""
    custody, wired = kit.custody, wired_into(kit)
    zone, through = ZoneInfo(shop.time_zone), take_out_by or back_in_shop_by
    same_truck = (
        custody.place == Place.TRUCK
        and custody.technician_id is not None
        and custody.technician_id == call.technician_id
    )
    dates = [dated(wiring, shop) for wiring in wired]
    late, strict = against_dates(dates, through), shop.sensors_must_be_in_date
    return Candidate(
        kit=kit,
        against=[
            *against_kit(kit),
            *against_window(kit, call, back_in_shop_by, zone),
            *against_sensors(kit, call, wanted),
            *([late] if late and strict else []),
        ],
        remarks=[
            whereabouts_remark(kit, day_of(now, zone), same_truck=same_truck),
            *dates_remarks(dates, late, through, strict=strict),
            f"{counted(wear, 'stay')} so far",
            *([f"{kit.__dict__['left_count']} still to do about it"] if kit.__dict__["left_count"] else []),
        ],
        not_in_date=late,
        rank=(
            0 if same_truck else 1,
            NEARNESS.get(Place(custody.place), len(NEARNESS)),
            sum(not one.in_date(through) for one in dates),
            sum(one.is_by_hand for one in dates),
            wear,
        ),
    )


def dates_remarks(dates: list[Dated], late: str, through: date, *, strict: bool) -> list[str]:
    """How well the kit's sensors are known, as far as it matters for choosing it."""
    if not dates:
        return []
    by_hand = sum(one.is_by_hand for one in dates)
    remarks = []
    if not late:
        remarks.append(f"all sensors in date through {say_day(through)}")
    elif not strict:
        remarks.append(late)
    if by_hand:
        remarks.append(f"{by_hand} of {counted(len(dates), 'offset')} entered by hand")
    return remarks


def whereabouts_remark(kit: Kit, today: date, *, same_truck: bool) -> str:
    """Where the kit is now, as far as it matters for choosing it."""
    custody = kit.custody
    if same_truck:
        return f"already on {custody.technician}'s truck"
    if custody.place == Place.SHELF:
        return "on the shelf"
    due = [stay.back_in_shop_by for stay in running_of(kit) if stay.installed_at]
    if custody.place == Place.SITE and due:
        return f"at a site now, due back {say_day(min(due), today)}"
    return f"now: {custody.word}"


def against_kit(kit: Kit) -> list[str]:
    """What keeps a kit from any work at all."""
    reasons = []
    if kit.custody.place == Place.MISSING:
        reasons.append("nobody knows where it is")
    if kit.custody.place == Place.RETIRED:
        reasons.append("it is retired")
    if kit.condition == Condition.NEEDS_WORK:
        reasons.append(f"it needs work: {kit.condition_why}")
    return reasons


def against_window(kit: Kit, call: ServiceCall, back_in_shop_by: date, zone: ZoneInfo) -> list[str]:
    """Other stays that hold the kit in the span this call needs it."""
    start, until = hold_of(call.window_from, back_in_shop_by, zone)
    return [
        f"promised to call {stay.call.number} from {say_day(day_of(stay.holds_from, zone))}"
        f" until {say_day(stay.back_in_shop_by)}"
        for stay in running_of(kit)
        if stay.holds_from < until and start < stay.holds_until
    ]


def against_sensors(kit: Kit, call: ServiceCall, wanted: int) -> list[str]:
    """Too few sensors for the wanted positions, or leads too short."""
    reasons, wired = [], wired_into(kit)
    if not wired:
        reasons.append("it carries no sensor")
    elif len(wired) < wanted:
        reasons.append(
            f"it carries {counted(len(wired), 'sensor')} and the call wants {counted(wanted, 'position')}"
        )
    longest = max((wiring.sensor.lead_length_m or 0 for wiring in wired), default=0)
    if call.lead_length_m and longest < call.lead_length_m:
        reasons.append(f"its longest lead is {longest} m and the call needs {call.lead_length_m} m")
    return reasons
