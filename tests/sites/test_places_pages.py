"""The office's pages of customers, sites, units and agreements: what people see, and what a step did."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from kits.models import Event, FollowUp
from sites.models import Agreement, Customer, Party, PartyRole, Site, Stage, Unit
from sites.templatetags.contact import geo, phone, tel
from tests import make

pytestmark = pytest.mark.django_db

TODAY = timezone.now().astimezone(ZoneInfo("America/New_York")).date()  # where the sites of tests.make lie
SITE = {"street": "9 Elm Terrace", "city": "Faketown", "region": "NJ", "time_zone": "America/New_York"}


def body(answer) -> str:
    return answer.content.decode()


def party(site: Site, customer: Customer, part: str = "owns", days_ago: int = 400, **fields) -> Party:
    since = TODAY - timedelta(days=days_ago)
    return Party.objects.create(site=site, customer=customer, part=part, since=since, **fields)


# -- Customers -----------------------------------------------------------------------------------


def test_a_customer_is_written_down_and_changed(office_client):
    answer = office_client.post("/customers/new/", {"name": "Zoë Núñez", "phone": "201 555 0142"})
    customer = Customer.objects.get()
    assert answer.url == customer.get_absolute_url()
    page = body(office_client.get(answer.url))
    assert "Zoë Núñez" in page and 'href="tel:2015550142"' in page
    office_client.post(f"/customers/{customer.pk}/edit/", {"name": "Zoë Núñez-Ray", "phone": ""})
    customer.refresh_from_db()
    assert customer.name == "Zoë Núñez-Ray"
    assert Event.objects.filter(what="customer changed").count() == 1


def test_a_refused_customer_keeps_what_was_typed(office_client):
    answer = office_client.post(
        "/customers/new/", {"name": "", "phone": "201 555 0142", "email": "no address"}
    )
    assert answer.status_code == 422
    assert "201 555 0142" in body(answer) and "no address" in body(answer)
    assert not Customer.objects.exists()


def test_somebody_who_changed_it_meanwhile_is_named(office_client, office):
    customer = make.customer("Ana")
    form = {"name": "Ana Two", "based_on": str(customer.version)}
    office_client.post(f"/customers/{customer.pk}/edit/", form)
    answer = office_client.post(f"/customers/{customer.pk}/edit/", {**form, "name": "Ana Three"})
    assert answer.status_code == 409
    assert "Meanwhile" in body(answer) and office.name in body(answer) and "Ana Three" in body(answer)
    customer.refresh_from_db()
    assert customer.name == "Ana Two"


def test_a_customer_page_shows_parts_now_and_before_and_only_their_own_years(office_client):
    site, other = make.site(street="1 Now Lane"), make.site(street="2 Then Lane")
    seller, buyer = make.customer("Seller"), make.customer("Buyer")
    party(other, seller, until=TODAY - timedelta(days=30))
    party(other, buyer, days_ago=30)
    party(site, seller)
    make.stay(Stage.INSTALLED, call=make.call(unit=make.unit(site=other)))
    sellers, buyers = (body(office_client.get(row.get_absolute_url())) for row in (seller, buyer))
    assert "1 Now Lane" in sellers and "Before (1)" in sellers
    assert "No kit stood at their place yet" in sellers
    assert "No kit stood at their place yet" not in buyers


@pytest.mark.parametrize("word", ["nunez", "NÚÑEZ", "555 0142", "zoe"])
def test_customers_are_found_without_case_and_accents(office_client, word):
    make.customer("Zoë Núñez", phone="201 555 0142")
    make.customer("Someone Else")
    page = body(office_client.get("/customers/", {"q": word}))
    assert "Zoë Núñez" in page and "Someone Else" not in page


# -- Sites ---------------------------------------------------------------------------------------


def test_a_site_with_a_new_customer_is_one_step(office_client):
    form = {**SITE, "new_name": "Rosa Quist", "new_phone": "201 555 0177", "parts": ["owns", "pays"]}
    answer = office_client.post("/sites/new/", form)
    site, customer = Site.objects.get(), Customer.objects.get()
    # The event stays without an address; the page after it may name it.
    assert f"{site} added." in body(office_client.get(answer.url))
    assert site.street not in Event.objects.get(what="site added").summary
    assert answer.url == site.get_absolute_url()
    assert {row.part for row in site.parties.filter(customer=customer)} == {PartyRole.OWNS, PartyRole.PAYS}
    page = body(office_client.get(answer.url))
    assert "Rosa Quist" in page and "owns since" in page and "geo:0,0?q=9%20Elm%20Terrace" in page


def test_a_site_sent_twice_is_made_once_with_one_customer(office_client):
    form = {
        **SITE,
        "new_name": "Rosa Quist",
        "parts": ["owns"],
        "request_id": "5a2f1c1e-7e1b-4a53-9c55-2f3f8d6f0a11",
    }
    first, second = (office_client.post("/sites/new/", form) for _ in range(2))
    assert first.url == second.url
    assert (Site.objects.count(), Customer.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        pytest.param(
            {"time_zone": "America/Nowhere"}, "is no time zone. Write it like America/New_York", id="zone"
        ),
        pytest.param({"parts": ["owns"]}, "Say who that is", id="part of nobody"),
        pytest.param({"new_name": "Rosa"}, "tick at least one", id="somebody without a part"),
        pytest.param(
            {"new_phone": "201 555 0177"}, "Give the new customer&#x27;s name too", id="phone of nobody"
        ),
        pytest.param({"latitude": "40.1"}, "Give both latitude and longitude", id="half a place"),
        pytest.param({"latitude": "95", "longitude": "10"}, "from -90 (south) to 90", id="off the earth"),
    ],
)
def test_a_site_that_cannot_be_is_refused_in_a_sentence_and_nothing_is_lost(office_client, changes, sentence):
    answer = office_client.post("/sites/new/", {**SITE, "access_notes": "Key under the pot", **changes})
    assert answer.status_code == 422
    assert sentence in body(answer) and "Key under the pot" in body(answer)
    assert not Site.objects.exists() and not Customer.objects.exists()


def test_choosing_a_customer_and_typing_a_new_one_is_refused(office_client):
    known = make.customer("Known")
    form = {**SITE, "customer": known.pk, "new_name": "New", "parts": ["owns"]}
    assert "not both" in body(office_client.post("/sites/new/", form))


def test_a_new_site_takes_the_zone_of_the_shop(office_client):
    make.shop(time_zone="America/Denver")
    assert 'value="America/Denver"' in body(office_client.get("/sites/new/"))


def test_a_site_shows_what_was_watched_and_the_kit_that_is_there(office_client):
    stay = make.stay(Stage.INSTALLED)
    page = body(office_client.get(stay.unit.site.get_absolute_url()))
    assert "Here now" in page and stay.kit.name in page and "1 stay so far, 1 kit here now" in page
    for code in ("SA", "RA"):
        assert f">{code}</abbr>" in page


def test_parts_are_added_and_ended(office_client):
    site = make.site()
    since = TODAY - timedelta(days=10)
    form = {"new_name": "Hal Orme", "part": "lives_there", "since": since.isoformat()}
    office_client.post(reverse("party_new", args=[site.pk]), form)
    row = site.parties.get()
    assert (row.customer.name, row.part, row.since) == ("Hal Orme", "lives_there", since)
    again = {"customer": row.customer_id, "part": "lives_there", "since": TODAY.isoformat()}
    answer = office_client.post(reverse("party_new", args=[site.pk]), again)
    assert answer.status_code == 409 and "already lives there at this site" in body(answer)
    early = office_client.post(reverse("party_end", args=[row.pk]), {"until": "2001-01-01"})
    assert early.status_code == 409 and "Give a later day" in body(early)
    office_client.post(reverse("party_end", args=[row.pk]), {"until": TODAY.isoformat()})
    row.refresh_from_db()
    assert row.until == TODAY


def test_a_sold_house_ends_every_part_begins_the_new_owners_and_wants_its_kit_back(office_client):
    stay = make.stay(Stage.INSTALLED)
    site = stay.unit.site
    seller = party(site, make.customer("Seller"))
    url = reverse("house_sold", args=[site.pk])
    assert stay.kit.name in body(office_client.get(url))
    day = (timezone.now().astimezone(site.zone)).date()
    office_client.post(url, {"on": day.isoformat(), "new_name": "Buyer", "new_phone": "201 555 0166"})
    seller.refresh_from_db()
    assert seller.until == day
    assert {row.part for row in site.parties.filter(customer__name="Buyer")} == set(PartyRole.values)
    assert FollowUp.objects.get(kit=stay.kit).what.startswith("House changed hands")
    page = body(office_client.get("/"))
    assert "house sold" in page and stay.kit.name in page and "Buyer" in page


def test_a_house_cannot_be_sold_tomorrow(office_client):
    site = make.site()
    tomorrow = timezone.now().astimezone(site.zone).date() + timedelta(days=1)
    answer = office_client.post(reverse("house_sold", args=[site.pk]), {"on": tomorrow, "new_name": "Buyer"})
    assert answer.status_code == 409 and "still to come" in body(answer)
    assert not Customer.objects.exists()


# -- Units and agreements ------------------------------------------------------------------------


def test_a_unit_is_written_down_with_all_its_facts(office_client):
    site = make.site()
    form = {
        "name": "upstairs system",
        "kind": "heat_pump",
        "make": "Northfield",
        "serial": "N-1",
        "capacity_tons": "3.5",
        "transformer_volt_ampere": "40",
        "float_switch": "breaks_y",
    }
    answer = office_client.post(reverse("unit_new", args=[site.pk]), form)
    unit = Unit.objects.get()
    assert answer.url == unit.get_absolute_url()
    page = body(office_client.get(answer.url))
    for fact in ("Heat pump", "Northfield", "N-1", "3.5", "40", "Breaks Y"):
        assert fact in page
    again = office_client.post(reverse("unit_new", args=[site.pk]), form)
    assert again.status_code == 422 and "Another unit at this site has this name" in body(again)


def test_an_agreement_is_the_managers_to_write_and_the_offices_to_read(office_client, manager_client):
    customer, site = make.customer("Payer"), make.site(street="1 Paid Lane")
    form = {
        "customer": customer.pk,
        "sites": [site.pk],
        "since": "2026-01-01",
        "until": "",
        "terms": "Two weeks free.",
    }
    assert office_client.post("/agreements/new/", form).status_code == 403
    answer = manager_client.post("/agreements/new/", form)
    agreement = Agreement.objects.get()
    assert list(agreement.sites.all()) == [site]
    assert "Two weeks free." in body(office_client.get(answer.url))
    assert "in force" in body(office_client.get("/agreements/"))
    bad = manager_client.post(f"/agreements/{agreement.pk}/edit/", {**form, "until": "2025-12-31"})
    assert (
        bad.status_code == 422 and "must end after it begins" in body(bad) and "Two weeks free." in body(bad)
    )


@pytest.mark.parametrize("path", ["/customers/", "/sites/", "/agreements/", "/sites/new/", "/customers/new/"])
def test_these_pages_are_not_a_technicians(technician_client, path):
    assert technician_client.get(path).status_code == 403


# -- Lists ---------------------------------------------------------------------------------------


def grow(count: int) -> None:
    for _ in range(count):
        site, customer = make.site(), make.customer()
        make.unit(site=site)
        party(site, customer)
        agreement = Agreement.objects.create(customer=customer, since=TODAY, terms="None.")
        agreement.sites.add(site)


@pytest.mark.parametrize("path", ["/customers/", "/sites/", "/agreements/"])
def test_a_list_costs_the_same_queries_at_3_and_30_rows(office_client, django_assert_max_num_queries, path):
    grow(3)
    with django_assert_max_num_queries(14) as few:
        office_client.get(path)
    grow(27)
    with django_assert_max_num_queries(len(few)):
        office_client.get(path)


@pytest.mark.parametrize("path", ["/customers/", "/sites/", "/agreements/", "/calls/"])
def test_an_empty_list_says_what_to_do(office_client, path):
    assert 'class="empty"' in body(office_client.get(path))


def test_a_list_as_csv_holds_every_row_and_no_formula(office_client):
    make.customer("=HYPERLINK(1)", phone="+1 201 555 0100")
    for number in range(60):
        make.customer(f"Row {number}")
    text = office_client.get("/customers/", {"_export": "csv"}).content.decode("utf-8-sig")
    assert text.count("Row ") == 60
    assert "'=HYPERLINK(1)" in text and "\n=HYPERLINK" not in text
    assert "'+1 201 555 0100" in text


# -- Links a phone acts on -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "address"),
    [
        # RFC 3966: digits, a leading plus, ;ext= for an extension; visual separators may go.
        ("+1 201 555 0100", "tel:+12015550100"),
        ("(201) 555-0100 x 12", "tel:2015550100;ext=12"),
        ("ask at the desk", ""),
        (None, ""),
    ],
)
def test_a_number_becomes_an_address_a_phone_can_dial(number, address):
    assert tel(number) == address


def test_a_number_that_is_none_is_shown_as_it_stands_and_html_in_it_is_harmless():
    assert phone("ask") == "ask"
    assert "<b>" not in phone("<b>201 555 0100</b>")


def test_a_place_is_written_as_rfc_5870_has_it():
    site = make.site(street="9 Elm & Oak", city="Faketown", latitude="40.12345", longitude="-74.5")
    assert geo(site).startswith("geo:40.12345,-74.5?q=9%20Elm%20%26%20Oak")


# -- More customers than a list holds ------------------------------------------------------------


@pytest.fixture
def many_customers(monkeypatch):
    """Four customers, in a shop where three are already too many for a list."""
    monkeypatch.setattr("sites.forms.who.CHOSEN_FROM_A_LIST", 3)
    make.customer("Zoë Núñez", phone="201 555 0142")
    make.customer("Ada Núñez", phone="201 555 0143")
    make.customer("Hal Orme")
    make.customer("Orla Hale")


def test_of_many_customers_one_is_found_by_a_part_of_the_name(office_client, many_customers):
    page = body(office_client.get("/sites/new/"))
    assert "Customer in the books" in page and "Hal Orme" not in page and "Which of them" not in page
    office_client.post("/sites/new/", {**SITE, "find_customer": "zoe", "parts": ["owns"]})
    assert Site.objects.get().parties.get().customer.name == "Zoë Núñez"


def test_where_several_fit_they_are_offered_and_one_is_chosen(office_client, many_customers):
    form = {**SITE, "find_customer": "nunez", "parts": ["owns"]}
    answer = office_client.post("/sites/new/", form)
    page = body(answer)
    assert answer.status_code == 422 and not Site.objects.exists()
    assert "2 customers fit this. Choose one below" in page
    assert "Zoë Núñez, 201 555 0142" in page and "Ada Núñez, 201 555 0143" in page and "Hal Orme" not in page
    ada = Customer.objects.get(name="Ada Núñez")
    office_client.post("/sites/new/", {**form, "customer": ada.pk})
    assert Site.objects.get().parties.get().customer == ada


@pytest.mark.parametrize(
    ("typed", "chosen", "sentence"),
    [
        pytest.param("nobody", None, "No customer in the books fits this", id="nobody fits"),
        pytest.param("nunez", "Hal Orme", "2 customers fit this", id="chosen for an earlier search"),
        pytest.param("", None, "Say who that is", id="nothing typed"),
    ],
)
def test_a_customer_that_is_not_found_is_refused_and_what_was_typed_stays(
    office_client, many_customers, typed, chosen, sentence
):
    customer = Customer.objects.get(name=chosen).pk if chosen else ""
    form = {**SITE, "find_customer": typed, "customer": customer, "parts": ["owns"]}
    page = body(office_client.post("/sites/new/", form))
    assert (sentence in page and f'value="{typed}"' in page) or not typed
    assert sentence in page and not Site.objects.exists()


def test_a_site_opened_from_a_customers_page_has_that_customer_chosen_among_many(
    office_client, many_customers
):
    hal = Customer.objects.get(name="Hal Orme")
    page = body(office_client.get("/sites/new/", {"customer": hal.pk}))
    assert "Hal Orme" in page and "checked" in page and "Orla Hale" not in page
    office_client.post("/sites/new/", {**SITE, "customer": hal.pk, "parts": ["pays"]})
    assert Site.objects.get().parties.get().customer == hal


@pytest.mark.parametrize("typed", ["nobody", "nunez"])
def test_who_was_looked_for_in_vain_is_typed_in_as_new(office_client, many_customers, typed):
    form = {**SITE, "find_customer": typed, "new_name": "Ines Núñez", "parts": ["owns"]}
    office_client.post("/sites/new/", form)
    assert Site.objects.get().parties.get().customer.name == "Ines Núñez"


def test_one_who_is_found_and_a_new_one_are_not_taken_both(office_client, many_customers):
    form = {**SITE, "find_customer": "orme", "new_name": "Ines Núñez", "parts": ["owns"]}
    assert "not both" in body(office_client.post("/sites/new/", form))
    assert not Site.objects.exists()
