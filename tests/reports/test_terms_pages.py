"""Terms on their pages: what is typed, tried on an example stay, agreed or refused; what is marked about a stay's days."""

from datetime import date, timedelta

import pytest

from kits.models import User
from reports.billing.example import PRESETS, example_lines
from reports.billing_books import plain_terms
from reports.billing_words import amount_text
from reports.models import AccessOffer, CutLeads, DayMark, NoAccess
from sites.models import Agreement, Terms
from tests import make
from tests.reports.billing import shop
from tests.reports.billing.paging import LAST, SINCE, stay_of, step, text_of

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
PRICES = "/agreements/price-list/new/"


@pytest.fixture
def agreement(manager: User) -> Agreement:
    make.shop()
    who = make.customer("Ana")
    return shop.agreement(manager, who, shop.house(who, since=SINCE), since=SINCE)


def typed(**fields: object) -> dict[str, object]:
    told = {
        "from_day": SINCE,
        "charged": "day",
        "day_cents": "6.50",
        "included_days": "14",
        "day_count": "install",
    }
    usual = {
        "proration": "actual",
        "month_anchor": "last_day",
        "year_anchor": "last_day",
        "allowance_order": "installed_first",
        "kits_share_a_day": "on",
        "lost_rule": "nothing",
        "tax_rounding": "line",
        "example_in": "2026-05-08",
        "example_out": "2026-05-28",
    }
    return step(**{**usual, **told, **fields})


def new(agreement: Agreement) -> str:
    return f"/agreements/{agreement.pk}/terms/new/"


def test_the_manager_agrees_terms_and_the_office_reads_them(agreement, manager_client, office_client):
    answer = manager_client.post(new(agreement), typed(monitoring_tax_code="S1", monitoring_tax_rate="7.25"))
    assert answer.status_code == 302, text_of(answer)
    row = agreement.dated_terms.get()
    assert (row.day_cents, row.included_days, str(row.monitoring_tax_rate)) == (650, 14, "0.07250")
    assert row.cap_cents is None and row.dead_below_hours == 12 and row.currency == "USD"
    page = text_of(office_client.get(agreement.get_absolute_url()))
    assert "6.50 USD" in page and "14 of 14 days left" in page and "Monitoring 7.25 %" in page
    assert office_client.get(new(agreement)).status_code == 403
    assert office_client.post(new(agreement), typed()).status_code == 403


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"day_cents": "-6.50"}, "A price is not negative."),
        ({"day_cents": "6.505"}, "has more than two decimals"),
        ({"day_cents": ""}, "Charging by the day needs a price for a day."),
        ({"charged": "week"}, "Charging by the started week needs a price for a week."),
        ({"cap_cents": "10", "minimum_cents": "20"}, "The minimum must not be above the cap."),
        ({"from_day": SINCE - timedelta(days=1)}, "The agreement begins on"),
        ({"from_day": SINCE + timedelta(days=1)}, "The first terms hold from the day the agreement begins"),
        ({"monitoring_tax_rate": "7.25"}, "Give the code your accountant knows this tax by."),
        ({"example_out": "2026-05-01"}, "The example kit comes out after it went in."),
    ],
    ids=lambda value: "" if isinstance(value, str) else ",".join(value),
)
def test_bad_terms_are_refused_in_a_sentence_and_nothing_typed_is_lost(
    agreement, manager_client, changes, sentence
):
    page = manager_client.post(new(agreement), typed(name="Summer terms", **changes))
    assert page.status_code in (409, 422)
    assert sentence in text_of(page)
    assert 'value="Summer terms"' in page.content.decode()
    assert not Terms.objects.exists()


def test_a_second_set_of_terms_keeps_the_currency_and_follows_the_first(agreement, manager_client):
    manager_client.post(new(agreement), typed())
    same = manager_client.post(new(agreement), typed())
    assert "There are terms from" in text_of(same)
    other = manager_client.post(new(agreement), typed(from_day=LAST, currency="CAD"))
    assert "An agreement keeps its currency" in text_of(other)
    assert manager_client.post(new(agreement), typed(from_day=LAST, day_cents="7")).status_code == 302
    assert [row.day_cents for row in agreement.dated_terms.all()] == [650, 700]


@pytest.mark.parametrize("preset", PRESETS, ids=lambda preset: preset.key)
def test_a_preset_fills_the_form_and_its_example_is_the_computation(agreement, manager_client, preset):
    page = manager_client.get(f"{new(agreement)}?preset={preset.key}")
    assert page.status_code == 200
    form = page.context["form"]
    begins, ends = form.initial["example_in"], form.initial["example_out"]
    fields = {"included_days": 0, **preset.fields}
    lines = example_lines(
        plain_terms(Terms(from_day=begins, **fields)), installed_on=begins, days=(ends - begins).days
    )
    told = text_of(page)
    assert lines and all(line.reason in told for line in lines)
    assert f"Total {amount_text(sum(line.amount_cents for line in lines), 'USD')}" in told
    assert not Terms.objects.exists()


def test_the_example_is_worked_out_while_typing_and_keeps_nothing(agreement, manager_client):
    sent = typed(look="1", monitoring_tax_code="S1", monitoring_tax_rate="7.25")
    page = manager_client.post(new(agreement), sent, headers={"X-Part": "example"})
    # 20 days, 14 of them included: 6 x 6.50 = 39.00; 7.25 % of it is 2.8275, so 2.83.
    told = text_of(page)
    assert "Before tax 39.00" in told and "Tax 2.83" in told and "Total 41.83 USD" in told
    assert "<html" not in page.content.decode()
    assert "Total 41.83 USD" in text_of(manager_client.post(new(agreement), sent))
    assert not Terms.objects.exists()


def test_the_price_list_includes_no_days(manager_client, office_client):
    make.shop()
    assert "no price list yet" in text_of(office_client.get("/agreements/price-list/"))
    assert "included_days" not in manager_client.get(PRICES).content.decode()
    told = typed()
    del told["included_days"]
    assert manager_client.post(PRICES, told).status_code == 302
    assert "6.50 USD" in text_of(office_client.get("/agreements/price-list/"))


def test_agreements_ending_soon_are_few(agreement, office_client):
    page = office_client.get("/agreements/")
    assert "0 agreements end within 60 days" in text_of(page)
    Agreement.objects.filter(pk=agreement.pk).update(until=date.today() + timedelta(days=20))
    assert "1 agreement ends within 60 days" in text_of(office_client.get("/agreements/"))
    assert "Ana" in text_of(office_client.get("/agreements/?ending=60"))


# -- What is marked about a stay -------------------------------------------------------------------


def test_a_waived_day_is_the_managers_and_takes_its_price_off_the_stay(
    manager, manager_client, office_client
):
    make.shop()
    shop.price_list(manager, from_day=SINCE, day_cents="7.00")
    stay = stay_of("Ana")
    before = text_of(office_client.get(stay.get_absolute_url()))
    assert "70.00 USD, tax and all" in before and "the kit was taken out" in before
    first = LAST + timedelta(days=2)
    told = {"kind": "waived", "first": first, "why": "Goodwill"}
    assert office_client.post(f"/stays/{stay.pk}/days/", step(**told)).status_code == 422
    assert manager_client.post(f"/stays/{stay.pk}/days/", step(**told)).status_code == 302
    assert "63.00 USD, tax and all" in text_of(office_client.get(stay.get_absolute_url()))
    back = step(kind="counts", first=first, why="Paid after all")
    assert office_client.post(f"/stays/{stay.pk}/days/", back).status_code == 302
    assert "70.00 USD, tax and all" in text_of(office_client.get(stay.get_absolute_url()))
    assert DayMark.objects.count() == 2


def test_a_day_outside_the_stay_is_refused_with_what_was_typed(manager, office_client):
    make.shop()
    stay = stay_of("Ana")
    told = step(kind="no_readings", first=LAST, hours="3", cause="kit", why="Board hung")
    page = office_client.post(f"/stays/{stay.pk}/days/", told)
    assert "was not in the house yet" in text_of(page) and 'value="Board hung"' in page.content.decode()


def test_no_access_is_charged_after_two_written_offers_by_the_manager(manager_client, office_client):
    make.shop()
    stay = stay_of("Ana")
    page = manager_client.post(f"/stays/{stay.pk}/no-access/", step(why="Nobody came"))
    assert "Two written offers of access come before this charge" in text_of(page)
    for number in (3, 5):
        day = LAST + timedelta(days=number)
        told = step(offered_on=day, for_day=day + timedelta(days=1), how="email")
        assert office_client.post(f"/stays/{stay.pk}/access/", told).status_code == 302
    assert office_client.get(f"/stays/{stay.pk}/no-access/").status_code == 403
    assert manager_client.post(f"/stays/{stay.pk}/no-access/", step(why="Nobody came")).status_code == 302
    assert AccessOffer.objects.count() == 2 and NoAccess.objects.count() == 1


def test_cut_leads_are_written_down(office_client):
    make.shop()
    stay = stay_of("Ana")
    told = step(leads="2", seen_on=LAST + timedelta(days=4), why="The gardener")
    assert office_client.post(f"/stays/{stay.pk}/cut-leads/", told).status_code == 302
    assert CutLeads.objects.get().leads == 2
    assert "2 leads cut" in text_of(office_client.get(stay.get_absolute_url()))
