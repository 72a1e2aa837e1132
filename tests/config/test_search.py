"""The one search box: what it finds, for whom, and where a whole code leads."""

import pytest

from kits.codes import ALPHABET, check_character
from sites.models import Stage
from tests import make

pytestmark = pytest.mark.django_db


def body(answer) -> str:
    return answer.content.decode()


def found(client, text: str) -> str:
    answer = client.get("/search/", {"q": text})
    assert answer.status_code == 200
    return body(answer)


@pytest.mark.parametrize(
    "written",
    [
        pytest.param("{}", id="as it stands"),
        pytest.param("{0[0]}{0[1]}{0[2]} {0[3]}{0[4]}{0[5]}", id="with a blank"),
        pytest.param("HTTPS://127.0.0.1:8000/K/{}", id="scanned"),
    ],
)
@pytest.mark.parametrize("lower", [False, True])
def test_a_whole_code_leads_straight_to_its_kit(office_client, written, lower):
    kit = make.kit()
    text = written.format(kit.code)
    answer = office_client.get("/search/", {"q": text.lower() if lower else text})
    assert (answer.status_code, answer.url) == (302, kit.get_absolute_url())


def test_a_code_with_one_wrong_character_offers_the_kit_that_was_meant(office_client):
    kit = make.kit(name="Heron")
    wrong = next(c for c in ALPHABET if c != kit.code[2])
    page = found(office_client, kit.code[:2] + wrong + kit.code[3:])
    assert "Did you mean" in page and "Heron" in page


def test_a_code_the_shop_does_not_have_is_said_to_be_that(office_client):
    payload = next(p for p in (f"2345{c}" for c in ALPHABET) if check_character(p) in ALPHABET)
    page = found(office_client, payload + check_character(payload))
    assert "this shop has no kit with it" in page


def test_sensors_are_found_by_tail_whole_rom_in_any_writing_and_tag(office_client):
    sensor = make.sensor(tag="blue 3", kit=make.kit(sensors=0, name="Carrier"))
    other = make.sensor(tag="other")
    pairs = [sensor.rom[i : i + 2] for i in range(0, 16, 2)]
    for text in (
        sensor.tail,
        sensor.tail.lower(),
        f"…{sensor.tail}",
        sensor.rom,
        ":".join(pairs),
        "blue 3",
        "BLUE",
    ):
        page = found(office_client, text)
        assert sensor.rom in page and "Carrier" in page, text
    assert other.rom not in found(office_client, sensor.rom)


@pytest.mark.parametrize("text", ["nunez", "Núñez", "ZOË NU", "555 0142"])
def test_customers_are_found_without_case_and_accents(office_client, text):
    customer = make.customer("Zoë Núñez", phone="201 555 0142")
    assert customer.get_absolute_url() in found(office_client, text)


@pytest.mark.parametrize("kept", ["+1 201 555 0142", "(201) 555-0142"])
@pytest.mark.parametrize(
    "dialled", ["2015550142", "+1 201 555 0142", "201.555.0142", "(201) 555-0142", "0142"]
)
def test_whoever_calls_is_found_by_the_number_shown(office_client, kept, dialled):
    customer, site = make.customer("Zoë Núñez", phone=kept), make.site(contact_phone=kept)
    page = found(office_client, dialled)
    assert customer.get_absolute_url() in page and site.get_absolute_url() in page


def test_sites_kits_and_calls_are_found_by_what_people_say(office_client):
    site = make.site(street="230 Harbor Street")
    call = make.call(unit=make.unit(site=site))
    kit = make.kit(name="Sandpiper")
    assert site.get_absolute_url() in found(office_client, "harbor 230")
    assert kit.get_absolute_url() in found(office_client, "sandp")
    for text in (str(call.number), f"call {call.number}", f"#{call.number}"):
        assert call.get_absolute_url() in found(office_client, text)


def test_a_technician_finds_kits_sensors_and_own_calls_only(technician_client, technician):
    site = make.site(street="230 Harbor Street", contact_name="Secret Person")
    customer = make.customer("Secret Payer")
    own = make.stay(Stage.LOADED, call=make.call(technician=technician))
    foreign = make.call(unit=make.unit(site=site))
    kit = make.kit(name="Sandpiper")
    assert kit.get_absolute_url() in found(technician_client, "sandpiper")
    assert own.get_absolute_url() in found(technician_client, str(own.call.number))
    for text in (str(foreign.number), "harbor", "secret"):
        page = found(technician_client, text)
        assert "Nothing found" in page
        assert customer.get_absolute_url() not in page and "230 Harbor" not in page


@pytest.mark.parametrize(
    "text", ["", "   ", "…", "%", "_", "'", "\\", "<b>x</b>", "a" * 500, "\N{NO-BREAK SPACE}", "::::"]
)
def test_odd_searches_are_answered(office_client, text):
    make.kit()
    make.sensor()
    answer = office_client.get("/search/", {"q": text})
    assert answer.status_code == 200 and answer.context["count"] == 0
    assert "<b>x</b>" not in body(answer)


def test_a_search_costs_the_same_queries_however_much_is_found(office_client, django_assert_max_num_queries):
    def grow(count: int) -> None:
        for number in range(count):
            customer = make.customer(f"Alike {number}")
            site = make.site(street=f"Alike {number}")
            site.parties.create(customer=customer, part="owns", since="2020-01-01")
            make.call(unit=make.unit(site=site), told_us="Alike")
            make.kit(name=f"Alike {number}", sensors=0)
            make.sensor(tag=f"Alike {number}")

    grow(2)
    with django_assert_max_num_queries(16) as few:
        office_client.get("/search/", {"q": "alike"})
    grow(6)
    with django_assert_max_num_queries(len(few)):
        office_client.get("/search/", {"q": "alike"})


def test_more_than_twenty_are_cut_and_it_says_so(office_client):
    for number in range(21):
        make.customer(f"Alike {number}")
    assert "the first 20; add a word" in found(office_client, "alike")
