"""From a stay in the tables to bills and credits: the worked examples B08, B10 and B12 on the database in use."""

import json
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from kits.models import Kit, User
from kits.promises import Refused
from reports.actions.billing_credits import credit_difference, credit_whole
from reports.actions.billing_marks import mark_days
from reports.billing_credits import proposed
from reports.models import Bill, CreditNote, DayClaim, MonthClaim
from sites.actions import custody, planning
from sites.actions.corrections import correct_time
from sites.models import Customer, Deployment, Party, PartyRole, ServiceCall, Stage
from tests import make
from tests.reports.billing import shop
from tests.reports.billing.build import cents

pytestmark = pytest.mark.django_db

FILE = Path(__file__).parents[2] / "outside" / "billing_examples.json"
EXAMPLES = {row["id"]: row for row in json.loads(FILE.read_text(encoding="utf-8"))["examples"]}


def test_b08_the_cap_holds_over_all_closes(manager: User) -> None:
    row = EXAMPLES["B08"]
    shop.price_list(
        manager,
        shape="week",
        week_cents=row["plan"]["per_started_week"],
        cap_cents=row["plan"]["cap_per_stay"],
    )
    shop.stay(shop.house(make.customer()), row["install"], row["removal"])
    (june,), (july,) = shop.close(manager, "2026-06"), shop.close(manager, "2026-07")
    assert (june.amount_cents, july.amount_cents) == (17_500, 7_500)
    assert june.amount_cents + july.amount_cents == cents(row["expected"]["total"])
    with pytest.raises(Refused, match="Nothing is left to bill"):
        shop.close(manager, "2026-08")


def dead_days(manager: User, stay: Deployment) -> None:
    """Five days without the kit's readings, one with 18 hours, three of a tripped float switch."""
    facts = EXAMPLES["B10"]["facts"]
    first = date(2026, 6, 3)
    for days, hours, cause in (
        (facts["dead_days_kit_fault"], "4", "kit"),
        (facts["partial_day_6h_lost"], "18", "kit"),
        (facts["float_trip_days"], "0", "float_switch"),
    ):
        given = [first + timedelta(days=number) for number in range(days)]
        first = given[-1] + timedelta(days=1)
        mark_days(
            shop.act(manager),
            stay=stay,
            days=given,
            kind="no_readings",
            cause=cause,
            hours=Decimal(hours),
            why="Seen in the readings.",
        )


def test_b10_dead_days_after_the_bill_are_given_back_at_the_price_charged(manager: User) -> None:
    row = EXAMPLES["B10"]
    expected = row["expected"]
    shop.price_list(manager, day_cents=row["plan"]["per_day"], **shop.TAXES)
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-21")
    (bill,) = shop.close(manager, "2026-06")
    assert bill.total_cents == cents(expected["invoice_total"]) and proposed() == []
    dead_days(manager, stay)
    (due,) = proposed()
    assert due.total_cents == cents(expected["credit_total"])
    note = credit_difference(shop.act(manager), bill=bill, why="The kit was dead.", seen=due.total_cents).row(
        CreditNote
    )
    assert note.total_cents == cents(expected["credit_total"])
    assert bill.total_cents - note.total_cents == cents(expected["net"]) == shop.net_cents()
    assert DayClaim.objects.filter(released_by=None).count() == 15 and proposed() == []


def june_call() -> ServiceCall:
    call = make.call()
    ServiceCall.objects.filter(pk=call.pk).update(window_from=date(2026, 6, 1), window_until=date(2026, 6, 3))
    return ServiceCall.objects.get(pk=call.pk)


def removal_a_week_late(manager: User) -> Deployment:
    """B12 by the shop's own steps: the removal was written down on 18 June, the kit was in the van on the 12th."""
    row = EXAMPLES["B12"]
    taxes = {"monitoring_tax_code": "S1", "monitoring_tax_rate": row["plan"]["tax_rate"]}
    shop.price_list(manager, day_cents=row["plan"]["per_day"], **taxes)
    call = june_call()
    Party.objects.create(site=call.unit.site, customer=make.customer(), part=PartyRole.PAYS, since=shop.SINCE)
    kit = make.kit(sensors=2, at=shop.morning("2026-05-01"))
    far = {"take_out_by": date(2026, 6, 25), "back_in_shop_by": date(2026, 6, 27)}
    stay = planning.plan(make.act(at=shop.morning("2026-05-20")), call=call, kit=kit, **far).row(Deployment)
    for step, on in (
        (Stage.LOADED, row["install"]),
        (Stage.INSTALLED, row["install"]),
        (Stage.REMOVED, row["removal_recorded"]),
        (Stage.HANDED_BACK, row["removal_recorded"]),
    ):
        make.go_on(
            Deployment.objects.get(pk=stay.pk),
            step,
            at=shop.morning(on) + timedelta(hours=5 + list(Stage).index(step)),
        )
    return Deployment.objects.get(pk=stay.pk)


def correct_removal(manager: User, stay: Deployment) -> None:
    stay = Deployment.objects.get(pk=stay.pk)
    true = shop.morning(EXAMPLES["B12"]["removal_true"]) + timedelta(hours=7)
    correct_time(
        shop.act(manager), stay=stay, stage=Stage.REMOVED, to=true, why="Photo of the kit in the van."
    )


def test_b12_a_removal_corrected_after_the_bill_proposes_its_credit_by_itself(manager: User) -> None:
    expected = EXAMPLES["B12"]["expected"]
    stay = removal_a_week_late(manager)
    (bill,) = shop.close(manager, "2026-06")
    assert bill.total_cents == cents(expected["issued"]) and proposed() == []
    correct_removal(manager, stay)
    (due,) = proposed()
    assert (due.bill, due.total_cents) == (bill, cents(expected["refund_way_B"]))
    note = credit_difference(shop.act(manager), bill=bill, why="Removed earlier.").row(CreditNote)
    assert note.bill == bill and note.total_cents == cents(expected["refund_way_B"])
    assert [line.reason for line in note.lines.all()] == ["12-17 Jun: 6 days taken back, 6 × 7.00"]
    assert shop.net_cents() == cents(expected["reissued"])


def test_b12_taken_back_whole_and_billed_anew_comes_to_the_same(manager: User) -> None:
    expected = EXAMPLES["B12"]["expected"]
    stay = removal_a_week_late(manager)
    (bill,) = shop.close(manager, "2026-06")
    correct_removal(manager, stay)
    done = credit_whole(shop.act(manager), bill=bill, why="Removed earlier.", bill_anew=True)
    note, anew = done.row(CreditNote), done.rows(Bill)[1]
    assert (note.total_cents, anew.total_cents) == (cents(expected["issued"]), cents(expected["reissued"]))
    assert note.total_cents - anew.total_cents == cents(expected["refund_way_A"])
    assert shop.net_cents() == cents(expected["reissued"]) and proposed() == []
    assert done.sentence.endswith("billed anew as B2026-0002")
    assert Bill.objects.count() == 2  # the one taken back stays in the series


def test_a_credit_names_its_bill_gives_back_its_days_and_never_comes_twice(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    (bill,) = shop.close(manager, "2026-06")
    shop.removed_on(stay, "2026-06-09")
    credit_difference(shop.act(manager), bill=bill, why="Earlier.")
    with pytest.raises(Refused, match="right by what is known now"):
        credit_difference(shop.act(manager), bill=bill, why="Earlier.")
    released = DayClaim.objects.exclude(released_by=None)
    assert sorted(claim.day.day for claim in released) == [9, 10]
    note = credit_whole(shop.act(manager), bill=bill, why="All of it.").row(CreditNote)
    assert note.amount_cents == 5_600 and shop.net_cents() == 0
    assert not MonthClaim.objects.filter(released_by=None).exists()
    with pytest.raises(Refused, match="taken back before"):
        credit_whole(shop.act(manager), bill=bill, why="Again.")
    (anew,) = shop.close(manager, "2026-06")
    assert anew.amount_cents == 5_600


def test_what_was_looked_at_and_changed_meanwhile_is_not_credited(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    (bill,) = shop.close(manager, "2026-06")
    shop.removed_on(stay, "2026-06-09")
    with pytest.raises(Refused, match=r"now 14\.00 is due back"):
        credit_difference(shop.act(manager), bill=bill, why="Earlier.", seen=700)
    assert not CreditNote.objects.exists()


def test_a_credit_without_a_reason_or_a_manager_is_refused(manager: User, office: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    (bill,) = shop.close(manager, "2026-06")
    shop.removed_on(stay, "2026-06-09")
    with pytest.raises(Refused, match="Say why"):
        credit_difference(shop.act(manager), bill=bill, why=" ")
    with pytest.raises(Refused, match="by a manager"):
        credit_difference(shop.act(office), bill=bill, why="Earlier.")
    assert not CreditNote.objects.exists()


def test_other_days_than_billed_are_given_back_first_and_billed_with_the_next_close(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    payer = make.customer()
    stay = shop.stay(shop.house(payer), "2026-06-01", "2026-06-11")
    (bill,) = shop.close(manager, "2026-06")
    moved = stay.installed_at + timedelta(days=3)
    Deployment.objects.filter(pk=stay.pk).update(installed_at=moved)
    shop.removed_on(stay, "2026-06-14")
    (due,) = proposed()
    assert due.is_billed_anew and due.amount_cents == 7_000
    with pytest.raises(Refused, match="Nothing is left"):
        shop.close(manager, "2026-07")
    credit_difference(shop.act(manager), bill=bill, why="Other days.")
    (july,) = shop.close(manager, "2026-07")
    assert july.amount_cents == 7_000 and shop.net_cents() == 7_000 and proposed() == []


def test_more_days_than_billed_come_with_the_next_bill_and_name_the_first(manager: User) -> None:
    shop.price_list(manager, day_cents="7.00")
    stay = shop.stay(shop.house(make.customer()), "2026-06-01", "2026-06-11")
    (bill,) = shop.close(manager, "2026-06")
    shop.removed_on(stay, "2026-06-13")
    assert proposed() == []
    (july,) = shop.close(manager, "2026-07")
    (line,) = july.lines.all()
    assert line.amount_cents == 1_400 and f"70.00 of it stands on {bill}" in line.reason
    assert shop.net_cents() == 8_400


def test_a_bill_that_is_not_paid_by_the_right_one_is_taken_back_and_billed_to_the_other(
    manager: User,
) -> None:
    shop.price_list(manager, day_cents="7.00", set_up_cents="49.00")
    wrong, right = make.customer("Wrong"), make.customer("Right")
    site = shop.house(wrong)
    shop.stay(site, "2026-06-01", "2026-06-11")
    (bill,) = shop.close(manager, "2026-06")
    Party.objects.filter(site=site).update(customer=right)
    credit_difference(shop.act(manager), bill=bill, why="The landlord pays.")
    (anew,) = shop.close(manager, "2026-06")
    assert (anew.payer, anew.amount_cents) == (right, 11_900) and shop.net_cents() == 11_900


def lost_in_june(manager: User) -> tuple[Deployment, Customer]:
    """B11 by the shop's own steps: a kit of fourteen months is given up on 20 June."""
    plan = EXAMPLES["B11"]["plan"]
    payer = make.customer()
    shop.price_list(
        manager,
        day_cents="0",
        lost_rule="depreciated",
        life_months=plan["life_months"],
        deposit_cents=plan["deposit_held"],
        found_within_days=plan["found_within_days"],
        inspection_percent=Decimal(plan["inspection_fee_pct"]),
    )
    call = june_call()
    Party.objects.create(site=call.unit.site, customer=payer, part=PartyRole.PAYS, since=shop.SINCE)
    kit = make.kit(sensors=2, at=shop.morning("2026-04-01"), replacement_value_cents=38_500)
    Kit.objects.filter(pk=kit.pk).update(built_on=date(2025, 4, 15))
    stay = make.stay(Stage.INSTALLED, call=call, kit=kit, began=shop.morning("2026-06-01"))
    custody.not_recovered(shop.act(manager, "2026-06-20"), stay=stay, why="Nobody opens, three letters.")
    return Deployment.objects.get(pk=stay.pk), payer


def test_b11_a_lost_kit_is_charged_less_its_age_and_given_back_less_inspection_when_it_is_found(
    manager: User,
) -> None:
    expected = EXAMPLES["B11"]["expected"]
    stay, _payer = lost_in_june(manager)
    (bill,) = shop.close(manager, "2026-06", on="2026-07-02")
    assert bill.lines.get(kind="lost_kit").amount_cents == cents(expected["charge"])
    assert bill.total_cents == cents(expected["due_after_deposit"])
    on_day_41 = shop.act(manager, date(2026, 6, 20) + timedelta(days=41))
    custody.found_again(on_day_41, kit=Kit.objects.get(pk=stay.kit_id))
    (due,) = proposed()
    assert due.amount_cents == cents(expected["credit_note"])
    note = credit_difference(shop.act(manager), bill=bill, why="Found.").row(CreditNote)
    assert note.total_cents == cents(expected["credit_note"])
