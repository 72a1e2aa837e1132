"""The lines of the day sheet: one thing each, in words, with whom to call and what to do next."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, prefetch_related_objects

from kits.models import Condition, Custody, FollowUp, Kit, Place
from kits.ways import way_to
from sites.days import day_of, say_day
from sites.free import counted
from sites.models import Deployment, Party, PartyRole, ServiceCall, Site, Stage

COMES_HOME_WITHIN_DAYS = 3
# How the follow-up begins that `sites.actions.places.house_sold` opens for each kit inside.
HOUSE_SOLD = "House changed hands"


@dataclass(frozen=True)
class Clock:
    """The instant that is asked about, and the shop's zone."""

    now: datetime
    zone: ZoneInfo

    @property
    def today(self) -> date:
        return day_of(self.now, self.zone)

    def day_at(self, site: Site) -> date:
        """What day it is at a site."""
        return day_of(self.now, site.zone)

    def day(self, instant: datetime) -> str:
        """An instant's day in the shop, in words."""
        return say_day(day_of(instant, self.zone), self.today)


@dataclass(frozen=True)
class Contact:
    """Somebody to call: a name, what they are, a number (perhaps none)."""

    name: str
    part: str
    phone: str


@dataclass(frozen=True, kw_only=True)
class Line:
    """One thing on the day sheet: a word with its tone, what is so, where, whom to call, what to do next."""

    word: str
    tone: str
    what: str
    kit: Kit | None = None
    stay: Deployment | None = None
    call: ServiceCall | None = None
    site: Site | None = None
    technicians: tuple[Contact, ...] = ()
    house: tuple[Site, date] | None = None  # where somebody may be called, on that day
    actions: tuple[tuple[str, str], ...] = ()
    where: str = ""  # where the kit is, as a word
    is_note: bool = False  # `what` is a remark of its own, not the rest of a sentence about the kit
    rank: tuple[int, ...] = ()

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """Whom to call: the technicians, then somebody at the house. Told of the lines that are shown alone."""
        return self.technicians + (contacts_at(*self.house) if self.house else ())


# -- Words ---------------------------------------------------------------------------------------


def on_day(day: date, today: date) -> str:
    """Today, tomorrow, yesterday, or on the day itself."""
    return {0: "today", 1: "tomorrow", -1: "yesterday"}.get((day - today).days, f"on {say_day(day, today)}")


def by_day(day: date, today: date) -> str:
    """By today, by tomorrow, or by the day itself."""
    return {0: "today", 1: "by tomorrow"}.get((day - today).days, f"by {say_day(day, today)}")


def late_since(day: date, today: date) -> str:
    """Yesterday, or on the day itself with how long ago that is."""
    ago = (today - day).days
    return "yesterday" if ago == 1 else f"{on_day(day, today)}, {ago} days ago"


def whereabouts(custody: Custody) -> str:
    """Where a kit is, for a sentence: "on the shelf", "on Ben's truck", "in a house"."""
    if custody.place == Place.TRUCK:
        return f"on {custody.word}"
    return "in a house" if custody.place == Place.SITE else f"on the {custody.word}"


def call_begins(call: ServiceCall, today: date) -> str:
    return f"Call {call.number} {'begins' if call.window_from >= today else 'began'} {on_day(call.window_from, today)}"


# -- People and links ----------------------------------------------------------------------------


def contacts_at(site: Site, today: date) -> tuple[Contact, ...]:
    """Whom to call about a site: its contact, else who lives there, owns or pays, by the parts that hold today."""
    if site.contact_phone:
        return (Contact(site.contact_name or "Contact", "at the house", site.contact_phone),)
    held = [
        party
        for party in site.parties.all()
        if party.since <= today and not (party.until and party.until <= today) and party.customer.phone
    ]
    order = [PartyRole.LIVES_THERE, PartyRole.OWNS, PartyRole.PAYS, PartyRole.MAY_SAY_YES]
    held.sort(key=lambda party: order.index(PartyRole(party.part)))
    return tuple(Contact(row.customer.name, row.get_part_display(), row.customer.phone) for row in held[:1])


def read_people(lines: Iterable[Line]) -> None:
    """Read who is who at the houses of these lines in one go, before their contacts are told."""
    houses = [line.house[0] for line in lines if line.house]
    prefetch_related_objects(houses, Prefetch("parties", Party.objects.select_related("customer")))


def technician_of(*works: Deployment | ServiceCall) -> tuple[Contact, ...]:
    """The technicians behind stays and calls, each once."""
    people = [work.technician or getattr(getattr(work, "call", None), "technician", None) for work in works]
    return tuple(Contact(who.name, "technician", who.phone) for who in dict.fromkeys(people) if who)


def stay_url(stay: Deployment) -> str:
    """The stay's own page."""
    return way_to("stay", stay.pk)


# -- Call someone now ----------------------------------------------------------------------------


def is_late(stay: Deployment, clock: Clock) -> bool:
    """Past the day the kit should be out of the house (the house's day) or back in the shop (the shop's)."""
    in_house_too_long = stay.stage == Stage.INSTALLED and stay.take_out_by < clock.day_at(stay.unit.site)
    return in_house_too_long or stay.back_in_shop_by < clock.today


def overdue(stay: Deployment, clock: Clock, custodies: Mapping[int, Custody]) -> Line | None:
    """A kit that should be out of the house or back in the shop by now, or that the customer wants gone."""
    if stay.stage == Stage.INSTALLED:
        return overdue_in_house(stay, clock)
    late = (clock.today - stay.back_in_shop_by).days
    if stay.loaded_at is None or late <= 0:
        return None
    custody = custodies[stay.kit_id]
    came = "came out of the house" if stay.removed_at else "was loaded and never installed"
    return Line(
        word="late",
        tone="late",
        what=(
            f"should have been back in the shop {late_since(stay.back_in_shop_by, clock.today)}. "
            f"It {came}; it is {whereabouts(custody)} since {clock.day(custody.held_from)}."
        ),
        kit=stay.kit,
        stay=stay,
        call=stay.call,
        site=stay.unit.site,
        technicians=technician_of(stay),
        actions=(("See the stay", stay_url(stay)),),
        rank=(0, -late),
    )


def overdue_in_house(stay: Deployment, clock: Clock) -> Line | None:
    site = stay.unit.site
    today = clock.day_at(site)
    late = (today - stay.take_out_by).days
    asked = (
        f"The customer asked for it {on_day(stay.customer_asked_on, today)}."
        if stay.customer_asked_on
        else ""
    )
    if late <= 0 and not asked:
        return None
    due = f"should have come out {late_since(stay.take_out_by, today)}." if late > 0 else "is still there."
    return Line(
        word="late" if late > 0 else "customer asked",
        tone="late" if late > 0 else "attention",
        what=f"{due} {asked}".strip(),
        kit=stay.kit,
        stay=stay,
        call=stay.call,
        site=site,
        technicians=technician_of(stay),
        house=(site, today),
        actions=(("See the stay", stay_url(stay)), ("Agree a later day", way_to("extend", stay.pk))),
        rank=(0 if late > 0 else 2, -late),
    )


def plan_in_trouble(stay: Deployment, clock: Clock, out: Mapping[int, Deployment]) -> Line | None:
    """A plan that will not come true unless somebody calls: its kit is away, needs work, or was not taken along."""
    if stay.installed_at:
        return None
    call, today = stay.call, clock.today
    other = out.get(stay.kit_id)
    if other and other != stay and (is_late(other, clock) or call.window_from <= today):
        return kit_not_home(stay, other, clock)
    if stay.loaded_at is None and stay.kit.condition == Condition.NEEDS_WORK:
        return promised_line(
            stay,
            clock,
            word="kit needs work",
            what=f"needs work: {stay.kit.condition_why}. {call_begins(call, today)} and is promised this kit.",
        )
    leads, wanted = stay.__dict__["lead_count"], stay.__dict__["wanted_count"]
    if stay.loaded_at is None and leads < max(wanted, 1):
        carries = f"carries {counted(leads, 'lead') if leads else 'no lead'}"
        wants = f"and wants {counted(wanted, 'position')} watched" if wanted else "and is promised this kit"
        return promised_line(
            stay, clock, word="kit short", what=f"{carries}. {call_begins(call, today)} {wants}."
        )
    if call.window_from > today or (stay.loaded_at and call.window_until >= today):
        return None
    passed = call.window_until < today
    last = f"its last day {'was' if passed else 'is'} {say_day(call.window_until, today)}"
    last = "today is its last day" if call.window_until == today else last
    return Line(
        word="not installed" if stay.loaded_at else "not loaded",
        tone="late" if passed else "attention",
        what=f"is {'loaded but not installed' if stay.loaded_at else 'not loaded'}. {call_begins(call, today)}, {last}.",
        kit=stay.kit,
        stay=stay,
        call=call,
        site=stay.unit.site,
        technicians=technician_of(stay),
        house=(stay.unit.site, today) if passed else None,
        actions=(("See the call", way_to("call", call.number)),),
        rank=(1 if passed else 3, (call.window_until - today).days),
    )


def kit_not_home(stay: Deployment, other: Deployment, clock: Clock) -> Line:
    """A promised kit is still out on another stay."""
    where = (
        f"still in the house at {other.unit.site}"
        if other.stage == Stage.INSTALLED
        else "not back in the shop"
    )
    return promised_line(
        stay,
        clock,
        word="kit not home",
        what=f"is {where}. {call_begins(stay.call, clock.today)} and is promised this kit.",
        other=other,
    )


def promised_line(
    stay: Deployment, clock: Clock, *, word: str, what: str, other: Deployment | None = None
) -> Line:
    actions = [("Choose another kit", way_to("call_off", stay.pk) + "?then=assign")]
    if other:
        actions.append(("See where it is", stay_url(other)))
    return Line(
        word=word,
        tone="late" if stay.call.window_from <= clock.today else "attention",
        what=what,
        kit=stay.kit,
        stay=stay,
        call=stay.call,
        site=stay.unit.site,
        technicians=technician_of(*([other] if other else []), stay),
        actions=tuple(actions),
        rank=(1, (stay.call.window_from - clock.today).days),
    )


def needs_kit(call: ServiceCall, clock: Clock) -> Line:
    """A call without a kit, and why it has none."""
    begun = call.window_from <= clock.today
    why = f"{call.needs_kit_why}." if call.needs_kit_why else "No kit was chosen yet."
    return Line(
        word="needs a kit",
        tone="late" if begun else "attention",
        what=f"{'began' if call.window_from < clock.today else 'begins'} {on_day(call.window_from, clock.today)}. {why}",
        call=call,
        site=call.unit.site,
        technicians=technician_of(call),
        house=(call.unit.site, clock.today) if begun else None,
        actions=(("Choose a kit", way_to("assign", call.number)),),
        rank=(1, (call.window_from - clock.today).days),
    )


def follow_up(row: FollowUp, stay: Deployment | None, clock: Clock) -> Line:
    """Something still to be done about a kit, with the people at the house it came up in.

    `stay` is the last one the kit was installed for when the follow-up was opened, if any.
    """
    sold = row.what.startswith(HOUSE_SOLD)
    due_in = (row.due_on - clock.today).days if row.due_on else None
    due = f" Due {on_day(row.due_on, clock.today)}." if row.due_on and not sold else ""
    is_due = due_in is not None and due_in <= 0
    site = stay.unit.site if stay else None
    see_stay = (("See the stay", stay_url(stay)),) if stay and sold else ()
    return Line(
        word="house sold" if sold else "still to do",
        tone="attention" if is_due else "plain",
        what=f"{row.what}.{due} Noted {clock.day(row.opened_at)}.",
        is_note=True,
        kit=row.kit,
        stay=stay,
        call=stay.call if stay else None,
        site=site,
        technicians=technician_of(stay) if stay and row.due_on else (),
        house=(stay.unit.site, clock.today) if stay and row.due_on else None,
        actions=(*see_stay, ("It is done", way_to("follow_up_done", row.pk) + "?back=/")),
        rank=(1 if sold else 4, due_in or 0),
    )


# -- Leaves, comes home, bench -------------------------------------------------------------------


def leaves(stay: Deployment, clock: Clock, custody: Custody) -> Line:
    """A kit that goes out today or tomorrow, or should have gone."""
    call, today = stay.call, clock.today
    until = (
        "" if call.window_until == call.window_from else f", at the latest {on_day(call.window_until, today)}"
    )
    verb = "goes out" if call.window_from >= today else "was to go out"
    elsewhere = not stay.loaded_at and custody.place == Place.TRUCK and custody.technician != stay.technician
    rides = f" It rides on {custody.word}: call them." if elsewhere else ""
    return Line(
        word="loaded" if stay.loaded_at else "to load",
        tone="good" if stay.loaded_at else "attention" if elsewhere or call.window_from <= today else "plain",
        what=f"{verb} {on_day(call.window_from, today)}{until}.{rides}",
        where=custody.word,
        kit=stay.kit,
        stay=stay,
        call=call,
        site=stay.unit.site,
        house=(stay.unit.site, today),
        actions=(("See the call", way_to("call", call.number)),),
    )


def comes_home(stay: Deployment, clock: Clock, custodies: Mapping[int, Custody]) -> Line | None:
    """A kit to be taken out, or to be brought to the shop, within the next days; late ones stand further up."""
    site, today = stay.unit.site, clock.today
    back = by_day(stay.back_in_shop_by, today)
    if stay.installed_at and not stay.removed_at:
        local = clock.day_at(site)
        left = (stay.take_out_by - local).days
        what = f"must come out of the house {by_day(stay.take_out_by, local)} and be back in the shop {back}."
        word, house = "take out", (site, local)
    elif stay.removed_at:
        left = (stay.back_in_shop_by - today).days
        what = f"came out {on_day(day_of(stay.removed_at, site.zone), today)} and must be back in the shop {back}."
        word, house = "bring back", None
    else:
        return None
    if not 0 <= left <= COMES_HOME_WITHIN_DAYS:
        return None
    return Line(
        word=word,
        tone="attention" if left == 0 else "plain",
        what=what,
        where=custodies[stay.kit_id].word,
        kit=stay.kit,
        stay=stay,
        call=stay.call,
        site=site,
        technicians=technician_of(stay),
        house=house,
        actions=(("See the stay", stay_url(stay)),),
        rank=(left,),
    )


def on_bench(custodies: Iterable[Custody], clock: Clock) -> list[Line]:
    """Kits on the bench, and kits on the shelf that need work, the longest there first."""
    lines = []
    for row in sorted(custodies, key=lambda row: row.held_from):
        needs_work = row.kit.condition == Condition.NEEDS_WORK
        if row.place == Place.BENCH or (needs_work and row.place == Place.SHELF):
            since = clock.day(row.held_from)
            why = f"{row.kit.condition_why}. " if needs_work else ""
            lines.append(
                Line(
                    word="needs work" if needs_work else "on the bench",
                    tone="attention" if needs_work else "plain",
                    what=f"{why}On the {row.word} since {since}.",
                    where=row.word,
                    kit=row.kit,
                    actions=(("See the kit", way_to("kit", row.kit.code)),),
                )
            )
    return lines
