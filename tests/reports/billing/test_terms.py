"""Terms and the price list: what is refused, in sentences, and that nothing is lost by it."""

from datetime import date
from decimal import Decimal

import pytest

from kits.actions.records import change_record
from kits.models import User
from kits.promises import Refused
from reports.actions.billing_terms import agree_terms
from reports.billing.terms import NEEDED, Contract, Shape
from reports.billing.terms import Terms as PlainTerms
from sites.models import Agreement, Terms
from sites.models import agreements as choices
from tests import make
from tests.reports.billing import shop

pytestmark = pytest.mark.django_db


def test_the_tables_words_are_the_computation_s() -> None:
    from reports.billing import calendar, terms

    for name in ("Shape", "Proration", "DayCount", "AllowanceOrder", "LostRule", "TaxRounding"):
        assert set(getattr(choices, name).values) == {str(one) for one in getattr(terms, name)}
    assert set(choices.Anchor.values) == {str(one) for one in calendar.Anchor}
    assert set(choices.TaxedKind.values) == {str(one) for one in terms.Taxed}


def agree(
    who: User, agreement: Agreement | None = None, from_day: date = shop.SINCE, **fields: object
) -> Terms:
    given = {"day_cents": "7.00", **fields}
    return agree_terms(shop.act(who), agreement=agreement, from_day=from_day, fields=given).row(Terms)


@pytest.mark.parametrize(
    ("fields", "field", "sentence"),
    [
        ({"day_cents": "-7.00"}, "day_cents", "A price is not negative"),
        ({"day_cents": "7.005"}, "day_cents", "more than two decimals"),
        ({"day_cents": "seven"}, "day_cents", "is no price"),
        ({"day_cents": ""}, "day_cents", "needs a price for a day"),
        ({"shape": "week"}, "week_cents", "needs a price for a week"),
        ({"shape": "month"}, "month_cents", "needs a price for a month"),
        ({"shape": "cheapest", "day_cents": None}, "day_cents", "give a price for a day"),
        ({"minimum_cents": "50.00", "cap_cents": "45.00"}, "minimum_cents", "must not be above the cap"),
        (
            {"monitoring_tax_rate": Decimal("1.2"), "monitoring_tax_code": "S"},
            "monitoring_tax_rate",
            "0 to below 100",
        ),
        ({"monitoring_tax_rate": Decimal("0.07")}, "monitoring_tax_code", "your accountant"),
        ({"priority_multiplier": Decimal("0.9")}, "priority_multiplier", "1 or more"),
        ({"inspection_percent": Decimal(101)}, "inspection_percent", "between 0 and 100"),
        ({"dead_below_hours": 25}, "dead_below_hours", "between 0 and 24"),
        ({"lost_rule": "depreciated", "life_months": 0}, "life_months", "months a kit lives"),
        ({"included_days": 10}, "included_days", "belong to an agreement"),
    ],
)
def test_terms_that_contradict_themselves_are_refused(
    manager: User, fields: dict, field: str, sentence: str
) -> None:
    with pytest.raises(Refused) as refusal:
        agree(manager, **fields)
    assert sentence in " ".join(refusal.value.message_dict[field])
    assert not Terms.objects.exists()


def test_unknown_words_are_refused(manager: User) -> None:
    with pytest.raises(Refused, match="something we do not know"):
        agree(manager, shape="fortnight")


def test_terms_begin_with_the_agreement_and_follow_each_other(manager: User) -> None:
    agreement = shop.agreement(manager, make.customer())
    with pytest.raises(Refused, match="begins on 01 Jan 2026"):
        agree(manager, agreement, date(2025, 12, 31))
    with pytest.raises(Refused, match="The first terms hold from the day the agreement begins"):
        agree(manager, agreement, date(2026, 2, 1))
    agree(manager, agreement)
    with pytest.raises(Refused, match="terms from 01 Jan 2026 already"):
        agree(manager, agreement)
    agree(manager, agreement, date(2026, 5, 1), day_cents="8.00")
    with pytest.raises(Refused, match="New ones begin after that"):
        agree(manager, agreement, date(2026, 4, 1))
    assert agreement.dated_terms.count() == 2


def test_terms_after_the_end_of_the_agreement_are_refused(manager: User) -> None:
    agreement = Agreement.objects.create(
        customer=make.customer(), since=shop.SINCE, until=date(2026, 6, 1), terms="Half a year."
    )
    agree(manager, agreement)
    with pytest.raises(Refused, match="ended on 01 Jun 2026"):
        agree(manager, agreement, date(2026, 6, 1))


def test_an_agreement_keeps_its_currency_and_its_years(manager: User) -> None:
    agreement = shop.agreement(manager, make.customer(), day_cents="7.00")
    with pytest.raises(Refused, match="An agreement keeps its currency; here are EUR and USD"):
        agree(manager, agreement, date(2026, 5, 1), currency="EUR")
    with pytest.raises(Refused, match="Contract years keep beginning"):
        agree(manager, agreement, date(2026, 5, 1), year_anchor="next_day")
    with pytest.raises(Refused, match="count from 2026-01-01"):
        change_record(shop.act(manager), row=agreement, changes={"since": date(2026, 2, 1)})


def test_days_that_were_billed_keep_their_price(manager: User) -> None:
    payer = make.customer()
    site = shop.house(payer)
    agreement = shop.agreement(manager, payer, site, day_cents="7.00")
    shop.stay(site, "2026-06-20", "2026-07-10")
    shop.close(manager, "2026-06")
    with pytest.raises(Refused, match="Days up to 01 Jul 2026 are billed already and keep their price"):
        agree(manager, agreement, date(2026, 6, 25), day_cents="9.00")
    agree(manager, agreement, date(2026, 7, 1), day_cents="9.00")


def test_only_a_manager_agrees_terms(office: User) -> None:
    with pytest.raises(Refused, match="by a manager"):
        agree(office)


def test_every_shape_needs_its_price() -> None:
    assert set(NEEDED) == set(Shape)
    assert all(PlainTerms(shape=shape).wrong() for shape in Shape)


def test_two_terms_of_one_day_are_told() -> None:
    one = PlainTerms(day_cents=700)
    contract = Contract(key=1, start=shop.SINCE, history=((shop.SINCE, one), (shop.SINCE, one)))
    assert contract.wrong() == ["Two terms begin on 01 Jan 2026. One day has one set of terms."]


def test_a_site_without_a_time_zone_is_refused(manager: User) -> None:
    from django.db import IntegrityError, transaction

    from sites.models import Site

    with pytest.raises(IntegrityError), transaction.atomic():
        Site.objects.create(street="1 Test Lane", city="Faketown", time_zone="")
    with pytest.raises(Exception, match="is no time zone"):
        Site(street="1 Test Lane", city="Faketown", time_zone="Mars/Crater").full_clean()
