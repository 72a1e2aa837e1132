"""Sensors on the page: added by ROM ID, wired in and out, kept as spares, given offsets by hand."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.actions import sensors as actions
from kits.models import KeptAt, Kit, Offset, Sensor, TemperatureUnit, Wiring
from sites.models import Stage
from tests import make
from tests.seen import words

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


@pytest.fixture(autouse=True)
def the_shop(db):
    return make.shop()


def offset_to(client, sensor, **typed):
    values = {
        "offset_kelvin": "-0.54",
        "in_force_from": (timezone.now() - timedelta(days=2)).strftime("%Y-%m-%dT%H:%M"),
        **typed,
    }
    return client.post(f"/sensors/{sensor.rom}/offset/", values)


# -- The list ------------------------------------------------------------------------------------


def test_an_empty_list_says_what_to_do(technician_client):
    said = words(technician_client.get("/sensors/"))
    assert "No sensors yet" in said and "Add a sensor" in said


def test_the_list_tells_where_each_sensor_is_and_what_is_added(technician_client, office):
    kit = make.kit(sensors=1, name="Heron", checked=False)
    spare = make.sensor(tag="7")
    actions.give_offset(
        make.act(office), sensor=spare, offset_kelvin=Decimal("-0.3"), in_force_from=make.long_ago()
    )
    said = words(technician_client.get("/sensors/"))
    assert "Heron , terminal 1" in said
    assert "spare: bench" in said
    assert "−0.54\u202f°F" in said or "−0.54 °F" in said
    assert said.startswith("Bench 1 sensor has no offset")
    assert kit.wirings.get().sensor.rom in said


@pytest.mark.parametrize(
    ("question", "found"),
    [
        pytest.param("where=kit", {"wired"}, id="in a kit"),
        pytest.param("where=spare", {"spare"}, id="spare"),
        pytest.param("where=missing", {"lost"}, id="missing"),
        pytest.param("where=scrapped", {"dead"}, id="scrapped"),
        pytest.param("without_offset=on", {"spare", "lost", "dead"}, id="without an offset"),
        pytest.param("q=spare", {"spare"}, id="by tag"),
        pytest.param("due=on", {"spare"}, id="due for a check"),
    ],
)
def test_the_list_is_narrowed(technician_client, office, question, found):
    wired = make.sensor(tag="wired", kit=make.kit(sensors=0))
    actions.give_offset(
        make.act(office), sensor=wired, offset_kelvin=Decimal("0"), in_force_from=make.long_ago()
    )
    for tag, place in (("spare", KeptAt.BENCH), ("lost", KeptAt.MISSING), ("dead", KeptAt.SCRAPPED)):
        actions.keep_spare(make.act(office), sensor=make.sensor(tag=tag), place=place)
    rows = technician_client.get(f"/sensors/?{question}").context["table"].data
    assert {sensor.tag for sensor in rows} == found


def test_the_list_goes_out_as_a_file_in_kelvin(technician_client, office):
    sensor = make.sensor(tag="4", kit=(kit := make.kit(sensors=0)))
    actions.give_offset(
        make.act(office), sensor=sensor, offset_kelvin=Decimal("-0.3"), in_force_from=make.long_ago()
    )
    answer = technician_client.get("/sensors/?_export=csv")
    assert answer["Content-Type"].startswith("text/csv")
    assert f"4,{sensor.rom},{kit.code} terminal 1," in answer.content.decode()
    assert "Offset (added), K" in answer.content.decode() and ",-0.300," in answer.content.decode()


def test_a_longer_list_asks_the_database_no_more_often(technician_client, django_assert_max_num_queries):
    def queries() -> int:
        with django_assert_max_num_queries(14) as asked:
            assert technician_client.get("/sensors/").status_code == 200
        return len(asked)

    make.kit(sensors=2)
    make.sensor()
    few = queries()
    for _ in range(6):
        make.kit(sensors=4)
    for _ in range(3):
        make.sensor()
    assert queries() == few


# -- Adding --------------------------------------------------------------------------------------


def separated(rom: str) -> str:
    return ":".join(rom[i : i + 2] for i in range(0, 16, 2)).lower()


def reversed_bytes(rom: str) -> str:
    return bytes.fromhex(rom)[::-1].hex()


@pytest.mark.parametrize("written", [separated, reversed_bytes, str])
def test_a_rom_id_in_any_writing_is_the_same_sensor(technician_client, written):
    rom = make.rom(0x1E64FF)
    assert technician_client.post("/sensors/new/", {"rom": written(rom), "place": "bench"}).status_code == 302
    assert Sensor.objects.get().rom == rom


def test_a_rom_id_typed_crc_first_is_turned_round_and_that_is_said(technician_client):
    rom = make.rom(77)
    answer = technician_client.post(
        "/sensors/new/", {"rom": reversed_bytes(rom), "place": "bench"}, follow=True
    )
    assert "typed CRC first and has been turned round" in words(answer)


def wrong_crc() -> str:
    rom = make.rom(4_242)
    return rom[:-1] + ("0" if rom[-1] != "0" else "1")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param(wrong_crc(), "The CRC does not fit the other digits", id="wrong CRC"),
        pytest.param("0" * 16, "A ROM ID of all zeros", id="all zero"),
        # The worked example of Maxim application note 27, a button of family 02.
        pytest.param("021CB801000000A2", "Family 02 is a multikey button", id="another family"),
        pytest.param("28FF", "A ROM ID has sixteen digits; this has 4", id="too short"),
        pytest.param("28FFZZ0000000000", "Character 5, Z, cannot be right", id="no such digit"),
    ],
)
def test_a_rom_id_that_cannot_be_is_refused_and_nothing_typed_is_lost(technician_client, typed, sentence):
    answer = technician_client.post(
        "/sensors/new/", {"rom": typed, "tag": "3", "housing": "steel sleeve", "place": "shelf"}
    )
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert f'value="{typed}"' in answer.content.decode() and 'value="steel sleeve"' in answer.content.decode()
    assert not Sensor.objects.exists()


def test_a_sensor_the_shop_has_already_is_told_with_where_it_is(technician_client):
    kit = make.kit(sensors=1, name="Wren")
    answer = technician_client.post("/sensors/new/", {"rom": kit.wirings.get().sensor.rom, "place": "bench"})
    assert answer.status_code == 409
    assert "The shop has this sensor already" in words(answer) and "in Wren" in words(answer)


def test_a_new_sensor_goes_onto_the_first_free_terminal(technician_client):
    kit = make.kit(sensors=2)
    typed = f"{kit.code[:3].lower()} {kit.code[3:].lower()}"
    technician_client.post("/sensors/new/", {"rom": make.rom(), "kit": typed, "place": "bench"})
    assert kit.wirings.filter(wired_until=None).last().terminal == 3


def test_a_wrong_kit_code_offers_the_near_one(technician_client):
    kit = make.kit(sensors=0, name="Finch")
    slip = kit.code[1] + kit.code[0] + kit.code[2:] if kit.code[0] != kit.code[1] else kit.code[:-1] + "@"
    answer = technician_client.post("/sensors/new/", {"rom": make.rom(), "kit": slip, "place": "bench"})
    assert answer.status_code == 422
    assert f"Near it: Finch ({kit.code})" in words(answer)


def test_a_spare_on_a_truck_is_on_somebodys_truck(technician_client, technician):
    answer = technician_client.post("/sensors/new/", {"rom": make.rom(), "place": "truck"})
    assert answer.status_code == 422 and "Say whose truck" in words(answer)
    technician_client.post(
        "/sensors/new/", {"rom": make.rom(), "place": "truck", "technician": str(technician.pk)}
    )
    assert Sensor.objects.get().spare_place.technician == technician


# -- One sensor ----------------------------------------------------------------------------------


def test_the_page_tells_the_whole_history(technician_client, office):
    kit = make.kit(sensors=1, name="Osprey")
    sensor = kit.wirings.get().sensor
    actions.give_offset(
        make.act(office, at=make.long_ago() + timedelta(days=1)),
        sensor=sensor,
        offset_kelvin=Decimal("0.2"),
        in_force_from=make.long_ago(),
        how="Crushed ice",
    )
    actions.wire_out(make.act(office), kit=Kit.objects.get(pk=kit.pk), sensor=sensor, place=KeptAt.SHELF)
    said = words(technician_client.get(f"/sensors/{sensor.rom}/"))
    assert "is a spare" in said and "Shelf, since" in said
    assert "Osprey , terminal 1" in said
    assert "Crushed ice" in said and "+0.36" in said
    assert "taken out of Osprey" in said


def test_any_writing_of_the_rom_id_leads_to_the_page(technician_client):
    sensor = make.sensor()
    answer = technician_client.get(f"/sensors/{reversed_bytes(sensor.rom)}/")
    assert answer.status_code == 302 and answer["Location"] == f"/sensors/{sensor.rom}/"
    assert technician_client.get(f"/sensors/{wrong_crc()}/").status_code == 404


def test_a_change_based_on_what_somebody_else_changed_is_told(technician_client, office_client):
    sensor = make.sensor(tag="4")
    seen = Sensor.objects.get(pk=sensor.pk).version
    office_client.post(f"/sensors/{sensor.rom}/change/", {"tag": "5", "based_on": seen})
    late = technician_client.post(
        f"/sensors/{sensor.rom}/change/", {"tag": "6", "housing": "glued", "based_on": seen}
    )
    assert late.status_code == 409
    assert "Nothing of yours was saved" in words(late) and 'value="glued"' in late.content.decode()
    assert Sensor.objects.get(pk=sensor.pk).tag == "5"


# -- Offsets -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "typed", "kelvin"),
    [
        # A difference of 1 °F is 5/9 K and no 32 comes in (NIST SP 811, appendix B.8: 5.555 556 E-01).
        pytest.param(TemperatureUnit.FAHRENHEIT, "-0.54", "-0.300", id="°F"),
        pytest.param(TemperatureUnit.FAHRENHEIT, "1.8", "1.000", id="1.8 °F is 1 K"),
        pytest.param(TemperatureUnit.FAHRENHEIT, "−0.54", "-0.300", id="with a true minus"),
        pytest.param(TemperatureUnit.CELSIUS, "-0.31", "-0.310", id="K as typed"),
        pytest.param(TemperatureUnit.CELSIUS, "0", "0.000", id="nothing to add is an offset too"),
    ],
)
def test_an_offset_is_typed_in_the_shops_unit_and_kept_in_kelvin(technician_client, unit, typed, kelvin):
    make.shop(temperature_unit=unit)
    sensor = make.sensor()
    assert offset_to(technician_client, sensor, offset_kelvin=typed).status_code == 302
    assert sensor.offsets.get().offset_kelvin == Decimal(kelvin)


@pytest.mark.parametrize(
    ("unit", "example"),
    [(TemperatureUnit.FAHRENHEIT, "type −0.5"), (TemperatureUnit.CELSIUS, "type −0.31")],
)
def test_the_sign_is_explained_by_ice(technician_client, unit, example):
    make.shop(temperature_unit=unit)
    said = words(technician_client.get(f"/sensors/{make.sensor().rom}/offset/"))
    assert "it reads" in said and "too high" in said and example in said


@pytest.mark.parametrize(
    ("typed", "status", "sentence"),
    [
        pytest.param({"offset_kelvin": "two"}, 422, "Write it as a number", id="no number"),
        pytest.param({"offset_kelvin": "50"}, 422, "cannot be more than 36", id="not believable"),
        pytest.param({"uncertainty_kelvin": "-1"}, 422, "cannot be less than 0", id="negative uncertainty"),
        pytest.param({"in_force_from": "2999-01-01T00:00"}, 409, "still to come", id="from tomorrow on"),
        pytest.param({"in_force_from": ""}, 422, "This is needed.", id="no instant"),
    ],
)
def test_an_offset_that_cannot_be_is_refused(technician_client, typed, status, sentence):
    sensor = make.sensor()
    answer = offset_to(technician_client, sensor, how="beside the mercury one", **typed)
    assert answer.status_code == status
    assert sentence in words(answer)
    assert 'value="beside the mercury one"' in answer.content.decode()
    assert not Offset.objects.exists()


def test_an_offset_never_changes_a_new_one_takes_over(technician_client):
    sensor = make.sensor()
    earlier = (timezone.now() - timedelta(days=9)).strftime("%Y-%m-%dT%H:%M")
    offset_to(technician_client, sensor, offset_kelvin="0.9", in_force_from=earlier)
    offset_to(technician_client, sensor, offset_kelvin="1.8")
    assert sensor.offset_at(timezone.now()).offset_kelvin == Decimal("1.000")
    assert sensor.offset_at(timezone.now() - timedelta(days=5)).offset_kelvin == Decimal("0.500")
    again = offset_to(technician_client, sensor, offset_kelvin="3", in_force_from=earlier)
    assert again.status_code == 409 and "offset from that very instant" in words(again)


# -- Wiring --------------------------------------------------------------------------------------


def test_a_spare_is_wired_in_by_its_tag(technician_client):
    kit, spare = make.kit(sensors=1), make.sensor(tag="blue 9")
    answer = technician_client.post(f"/kits/{kit.code}/wire-in/", {"sensor": "BLUE 9", "terminal": "4"})
    assert answer.status_code == 302
    assert Wiring.objects.get(sensor=spare, wired_until=None).terminal == 4


def test_a_spare_is_wired_in_by_the_end_of_its_rom_id(technician_client):
    kit, spare = make.kit(sensors=1), make.sensor(tag="")
    technician_client.post(f"/kits/{kit.code}/wire-in/", {"sensor": spare.tail})
    assert Wiring.objects.get(sensor=spare).terminal == 2


def test_a_sensor_in_another_kit_is_refused_naming_that_kit(technician_client):
    other, kit = make.kit(sensors=1, name="Plover"), make.kit(sensors=0)
    sensor = other.wirings.get().sensor
    answer = technician_client.post(f"/kits/{kit.code}/wire-in/", {"sensor": sensor.rom})
    assert answer.status_code == 409
    assert f"is wired into Plover ({other.code}), terminal 1. Take it out there first." in words(answer)
    assert f'value="{sensor.rom}"' in answer.content.decode()


def test_a_terminal_that_is_taken_is_refused_naming_what_it_carries(technician_client):
    kit, spare = make.kit(sensors=1), make.sensor(tag="9")
    carried = kit.wirings.get().sensor
    answer = technician_client.post(f"/kits/{kit.code}/wire-in/", {"sensor": spare.rom, "terminal": "1"})
    assert answer.status_code == 409
    assert f"carries sensor {carried}. Choose another terminal." in words(answer)


def test_a_tag_that_several_carry_asks_for_the_digits(technician_client):
    kit = make.kit(sensors=0)
    one, two = make.sensor(tag="3"), make.sensor(tag="3")
    answer = technician_client.post(f"/kits/{kit.code}/wire-in/", {"sensor": "3"})
    assert answer.status_code == 422
    assert f"…{one.tail}" in words(answer) and f"…{two.tail}" in words(answer)


def test_of_several_alike_the_only_spare_one_is_meant(technician_client):
    kit = make.kit(sensors=0)
    make.sensor(tag="3", kit=make.kit(sensors=0))
    spare = make.sensor(tag="3")
    technician_client.post(f"/kits/{kit.code}/wire-in/", {"sensor": "3"})
    assert spare.wiring.kit == kit


def test_a_full_kit_takes_no_more(technician_client):
    kit, spare = make.kit(sensors=5), make.sensor()
    answer = technician_client.post(f"/sensors/{spare.rom}/wire-in/", {"kit": kit.code})
    assert answer.status_code == 409 and "All 5 terminals" in words(answer)


def test_a_sensor_comes_out_and_is_kept_somewhere(technician_client):
    kit = make.kit(sensors=1)
    sensor = kit.wirings.get().sensor
    answer = technician_client.post(
        f"/sensors/{sensor.rom}/wire-out/", {"place": "scrapped", "why": "cut by a hatch"}
    )
    assert answer.status_code == 302
    assert sensor.spare_place.place == KeptAt.SCRAPPED and sensor.spare_place.why == "cut by a hatch"
    again = technician_client.post(f"/sensors/{sensor.rom}/wire-out/", {"place": "shelf"})
    assert again.status_code == 409 and "is in no kit" in words(again)


def test_a_sensor_that_measures_in_a_house_cannot_simply_come_out(technician_client):
    stay = make.stay(Stage.INSTALLED)
    sensor = stay.placements.first().sensor
    answer = technician_client.post(f"/sensors/{sensor.rom}/wire-out/", {"place": "bench"})
    assert answer.status_code == 409 and "swap the lead" in words(answer)
    assert sensor.wiring.kit == stay.kit


def test_scrapping_a_spare_says_why(technician_client):
    spare = make.sensor()
    answer = technician_client.post(f"/sensors/{spare.rom}/keep/", {"place": "scrapped"})
    assert answer.status_code == 422 and "Say why it is scrapped" in words(answer)
    technician_client.post(f"/sensors/{spare.rom}/keep/", {"place": "scrapped", "why": "reads 85 always"})
    assert spare.spare_place.place == KeptAt.SCRAPPED
