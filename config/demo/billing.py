"""What the demo shop charged: terms and a price list, months closed one after the other, and what came of the bills."""

from datetime import timedelta

from config.demo.story import DAYS_OF_HISTORY, Story
from reports.actions.billing import close_month
from reports.actions.billing_after import ask_about_line, mark_paid, mark_sent, store_paper
from reports.actions.billing_credits import credit_difference
from reports.actions.billing_marks import mark_days, note_cut_leads
from reports.actions.billing_terms import agree_terms
from reports.billing.calendar import first_of_month, next_month
from reports.billing_books import day_in
from reports.billing_close import look_at
from reports.billing_drawing import draw, undrawn
from reports.models import Bill, BillLine, MarkKind
from sites.actions.corrections import correct_time
from sites.models import Agreement, Deployment, Stage

MONTHS_CLOSED = 12
TAX = {
    f"{kind}_tax_{part}": value
    for kind in ("monitoring", "set_up", "parts", "lost_kit", "visit")
    for part, value in (("code", "S"), ("rate", "0.06625"))
}


def terms(story: Story) -> None:
    """Two agreements with terms of their own, and prices for everybody else."""
    started = story.day(DAYS_OF_HISTORY)
    extras = {"cut_lead_cents": "28.00", "no_access_cents": "45.00", "lost_rule": "depreciated", **TAX}
    act = story.act("manager", story.at(DAYS_OF_HISTORY, 11))
    prices = {"day_cents": "7.00", "set_up_cents": "49.00", "cap_cents": "250.00", **extras}
    agree_terms(act, agreement=None, from_day=started, fields=prices)
    for agreement in Agreement.objects.order_by("pk"):
        watch = agreement.customer.name.startswith("Dana")
        fields = (
            {"name": "A month with the new system", "included_days": 30, "day_cents": "7.00"}
            if watch
            else {"name": "Fourteen days a year", "included_days": 14, "day_cents": "6.50"}
        )
        act = story.act("manager", story.at(299))
        agree_terms(act, agreement=agreement, from_day=agreement.since, fields={**fields, **extras})


def bills(story: Story) -> None:
    """The last months are closed; one bill is paid, others wait, one is asked about, one was too high."""
    month = first_of_month(story.day(0))
    for _ in range(MONTHS_CLOSED):
        month = first_of_month(month - timedelta(days=1))
    waive_a_day(story)
    while next_month(month) <= story.day(0):
        closed_on = next_month(month)
        days_ago = max((story.day(0) - closed_on).days - 1, 0)
        act = story.act("manager", story.at(days_ago, 8, 30))
        if look_at(month, act.recorded_at).drafts:
            close_month(act, month=month)
            for bill in Bill.objects.filter(month=month).order_by("serial"):
                sent = story.act("office", max(act.recorded_at, story.at(days_ago, 9)))
                mark_sent(sent, paper=bill, how="post")
        month = next_month(month)
    follow_up(story)
    for paper in undrawn():
        act = story.act("manager", story.at(0, 8))
        store_paper(act, paper=paper, content=draw(paper))


def waive_a_day(story: Story) -> None:
    """The shop came a day late to a stay of the months to close, and does not charge that day."""
    begins = story.day(75)
    for stay in Deployment.objects.filter(removed_at__isnull=False).order_by("installed_at"):
        zone = stay.unit.site.zone
        if stay.installed_at and day_in(stay.installed_at, zone) >= begins and stay.removed_at:
            day = day_in(stay.removed_at, zone) - timedelta(days=1)
            act = story.act("manager", stay.removed_at + timedelta(hours=5))
            mark_days(act, stay=stay, days=[day], kind=MarkKind.WAIVED, why="We came a day late")
            note = story.act("office", stay.removed_at + timedelta(hours=5))
            note_cut_leads(note, stay=stay, leads=1, why="The painter cut one")
            return


def follow_up(story: Story) -> None:
    """Old bills are paid but for one, those of the last months wait; one is asked about, of one a part is given back."""
    known = list(Bill.objects.order_by("month", "serial"))
    month = first_of_month(story.day(62))
    old = [bill for bill in known if bill.month < month]
    recent = [bill for bill in known if bill.month >= month]
    for bill in old[:-1]:
        due_at = story.at((story.day(0) - bill.due_on).days, 10)
        act = story.act("office", max(due_at, bill.issued_at or due_at))
        paid_on = min(bill.due_on, story.day(0))
        reference = f"Check {4400 + bill.serial}"
        mark_paid(act, bill=bill, paid_on=paid_on, amount_cents=bill.total_cents, reference=reference)
    give_back(story, recent)
    lines = BillLine.objects.filter(bill__in=recent, kind="monitoring", amount_cents__gt=0)
    line = lines.filter(bill__credit_notes=None).order_by("-pk").first()
    if line is not None:
        ask_about_line(
            story.act("office", story.at(1, 11)),
            line=line,
            asked_by=line.bill.payer_name[:120],
            answer_by=story.day(-8),
            day=line.start,
            question="The house had no power that day. Is it charged?",
        )


def give_back(story: Story, among: list[Bill]) -> None:
    """A removal was written down two days late: the bill was too high, and the difference is given back."""
    lines = BillLine.objects.filter(
        bill__in=among, kind="monitoring", days__gte=4, amount_cents__gte=1400, agreement=None,
        deployment__removed_at__isnull=False, deployment__handed_back_at__isnull=False,
    ).select_related("bill", "deployment__unit__site")  # fmt: skip
    for line in lines.order_by("pk"):
        stay = line.deployment
        removed = stay.removed_at
        if removed is None or day_in(removed, stay.unit.site.zone) != line.until:
            continue
        if stay.take_out_by < line.until or line.bill.lines.filter(deployment=stay, kind="cap").exists():
            continue
        at = removed - timedelta(days=2)
        why = "The photo of the kit in the van is two days older"
        act = story.act("manager", story.at(1, 9))
        correct_time(act, stay=stay, stage=Stage.REMOVED, to=at, why=why)
        act = story.act("manager", story.at(1, 9, 20))
        credit_difference(act, bill=line.bill, why="It came out two days earlier.")
        return


CHAPTERS = (terms, bills)
