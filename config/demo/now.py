"""The demo's year of stays that are over, and the week the shop is in now: one of everything that can be going on."""

from dataclasses import replace
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from config.demo.bench import CHAPTERS as BENCH_CHAPTERS
from config.demo.billing import CHAPTERS as BILLING_CHAPTERS
from config.demo.people import KITS
from config.demo.story import DAYS_OF_HISTORY, Story
from kits.actions import kits as kit_actions
from kits.models import KeptAt, Kit, SparePlace, Told
from sites.actions import corrections, custody, placements, places, planning, stays
from sites.models import Customer, HandBackPlace, Position, Stage

CHECKED_WITHIN_DAYS = 165  # the shop checks every six months
HEAT_PUMP_KITS = ("Heron", "Linnet")
TECHNICIANS = ("technician", "ana", "tom")


def tell(now: datetime) -> None:
    """Fill an empty database with the demo."""
    with transaction.atomic():  # a demo is there whole or not at all
        story = Story(now)
        story.open_shop()
        story.build_kits()
        story.open_houses()
        tell_past(story)
        for chapter in (*CHAPTERS, *BENCH_CHAPTERS, *BILLING_CHAPTERS):
            chapter(story)


def tell_past(story: Story) -> None:
    """Stays of every kit, one after the other, each with sensors in date, and a check after the last of them."""
    for number, plan in enumerate(KITS):
        began, unit, checked = DAYS_OF_HISTORY - 8 - 3 * number, number, DAYS_OF_HISTORY + 20 - number
        while (length := story.chance.choice((7, 10, 14, 14, 21))) < began - plan.checked_days_ago - 3:
            if checked - (began - length) > CHECKED_WITHIN_DAYS:
                checked = began + 3
                story.bench.check_kit(plan.name, checked)
            story.whole_stay(plan.name, unit, TECHNICIANS[(number + unit) % 3], began, length)
            began -= length + story.chance.choice((5, 9, 16, 25))
            unit += 5
        last = story.bench.three_points if plan.name in HEAT_PUMP_KITS else story.bench.check_kit
        last(plan.name, plan.checked_days_ago)


def running(story: Story) -> None:
    """Wren is at work; one lead was replaced and one moved meanwhile, and the customer agreed to another week."""
    stay = story.plan("Wren", story.book(11, 0, "technician", wanted=5), 11, 14)
    story.load(stay, 11)
    story.install(stay, 11, wifi="guest", tap_place="downstream")
    kit = story.kit("Wren")
    old = stay.placements.get(position__code="LL").sensor
    spare = next(row.sensor for row in spares(KeptAt.TRUCK))
    placements.swap_lead(
        story.act("technician", story.at(7, 13, 5)),
        kit=kit,
        old=old,
        new=spare,
        why="Lead cut by a mower",
        cut_by="the gardener",
        old_goes_to=KeptAt.TRUCK,
        technician=story.people["technician"],
    )
    moved = stay.placements.get(position__code="OA", placed_until=None).sensor
    act = story.act("technician", story.at(7, 13, 20), typed_at=story.at(7, 18, 40))
    attic = Position.objects.get_or_create(code="AT", defaults={"name": "Attic air"})[0]
    placements.move_sensor(act, kit=story.kit("Wren"), sensor=moved, position=attic)
    planning.extend(
        story.act("office", story.at(2, 11, 30)),
        stay=stay,
        agreed_by="Priya Whitcombe",
        agreed_on=story.at(2).date(),
        how="phone",
        take_out_by=stay.take_out_by + timedelta(days=7),
        back_in_shop_by=stay.back_in_shop_by + timedelta(days=7),
    )


def spares(place: KeptAt) -> QuerySet[SparePlace]:
    return SparePlace.objects.filter(kept_until=None, place=place).select_related("sensor").order_by("pk")


def overdue(story: Story) -> None:
    """Finch should have been out nine days ago, and is promised again for the day after tomorrow."""
    stay = story.plan("Finch", story.book(30, 3, "ana"), 30, 21)
    story.load(stay, 30)
    story.install(stay, 30, consent_part="tenant")
    act = story.act("office", story.at(5, 10))
    planning.note_customer_asked(act, stay=stay, asked_on=story.at(6).date())
    story.plan("Finch", story.book(-2, 10, "ana"), 0, 10)


def loaded_for_today(story: Story) -> None:
    """Robin is on Ben's truck for today; Heron rides with Ana without a stay."""
    stay = story.plan("Robin", story.book(0, 6, "technician"), 0, 14)
    story.load(stay, 0, 6)


def planned(story: Story) -> None:
    """Heron leaves tomorrow; a plan for Martin was called off."""
    story.plan("Heron", story.book(-1, 8, "tom"), 0, 14)
    stay = story.plan("Martin", story.book(-9, 2, "tom"), 0, 7)
    act = story.act("office", story.at(0, 8, 20))
    planning.call_off(act, stay=stay, why="Customer has the system replaced instead")


def needs_work(story: Story) -> None:
    """Kestrel came home with a sensor missing and a port nobody closed; the bench has it."""
    stay = story.plan("Kestrel", story.book(28, 11, "tom"), 28, 14)
    story.load(stay, 28)
    story.install(stay, 28)
    story.remove(stay, 14, ports_closed=1)
    kit = story.kit("Kestrel")
    left = stay.placements.get(position__code="VL").sensor
    wired = frozenset(row.sensor for row in kit.wirings.filter(wired_until=None).select_related("sensor"))
    story.hand_back(
        stay,
        13,
        sensors=wired - {left},
        missing_parts=("1 of 4 Pipe strap",),
        needs_work="Adapter hums and runs hot",
        condition_note="Box scratched, magnets fine",
    )
    act = story.act("manager", story.at(12, 9))
    corrections.correct_time(
        act,
        stay=stay,
        stage=Stage.REMOVED,
        to=story.at(14, 12, 45),
        why="Technician's note says before lunch",
    )


def not_recovered(story: Story) -> None:
    """The house with Plover in it was sold; the kit was given up. The new owner has the house since."""
    stay = story.plan("Plover", story.book(66, 13, "ana"), 66, 14)
    story.load(stay, 66)
    story.install(stay, 66)
    new_owner = Customer.objects.create(name="Harriet Solberg", phone="+1 201 555 0113")
    sold_on = story.at(48).date()
    places.house_sold(
        story.act("office", story.at(46, 9)), site=stay.unit.site, on=sold_on, new_owner=new_owner
    )
    custody.not_recovered(
        story.act("manager", story.at(20, 15)),
        stay=stay,
        why="New owner found no box; two letters, three calls",
    )
    for asked in story.kit("Plover").follow_ups.filter(done_at=None):
        act = story.act("manager", story.at(20, 15, 20))
        kit_actions.finish_follow_up(act, follow_up=asked, outcome="Asked three times, no box in the house")


def on_the_way_home(story: Story) -> None:
    """Swift came out this morning and rides on Ana's truck, pulled by a helper without a login."""
    stay = story.plan("Swift", story.book(15, 5, "ana"), 15, 14)
    story.load(stay, 15)
    story.install(stay, 15)
    act = replace(
        story.act("office", story.at(0, 8, 5), typed_at=story.now - timedelta(minutes=4)),
        did_by=None,
        did_by_name="Luis, helper",
        told=Told.PHONE,
        answers_for=story.people["ana"],
    )
    pull = stays.Pull(pulled_by="Luis, helper", ports_closed=2, wire_restored=True, system_ran=True)
    stays.remove(act, kit=story.kit("Swift"), carrier=story.people["ana"], pull=pull)


def came_home_late(story: Story) -> None:
    """Martin was found on the bench while the books had it in a house; a call that had begun lost it."""
    stay = story.plan("Martin", story.book(26, 9, "tom"), 26, 14)
    story.load(stay, 26)
    story.install(stay, 26)
    story.plan("Martin", story.book(3, 4, "technician", window_days=4), 5, 10)
    kit = Kit.objects.get(pk=stay.kit_id)
    wired = frozenset(row.sensor for row in kit.wirings.filter(wired_until=None).select_related("sensor"))
    stays.settle(
        story.act("office", story.at(1, 9, 10), told=Told.FOUND),
        kit=kit,
        pull=stays.Pull(pulled_by="nobody remembers", ports_closed=None, wire_restored=True, system_ran=True),
        count=stays.Count(where=HandBackPlace.SHOP, sensors=wired, account_wiped=True, wifi_wiped=False),
    )


CHAPTERS = (
    running,
    overdue,
    loaded_for_today,
    planned,
    needs_work,
    not_recovered,
    on_the_way_home,
    came_home_late,
)
