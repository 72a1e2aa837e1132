"""Rows against the books: what each would do and why, all or nothing, the same file twice, refused rows mended."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest

from kits.codes import draw_code
from kits.models import Custody, Event, KeptAt, Kit, Place, Receipt, Sensor
from kits.promises import Refused
from reports.actions.imports import bring_in, tell_columns
from reports.importing.fields import KINDS
from reports.intake.dry_run import digest, read_file, refused_csv
from reports.models import ColumnMapping, ImportFile
from sites.actions.places import add_party
from sites.models import Customer, Party, PartyRole, Site, Unit
from tests import make
from tests.reports.spreadsheets import book_of, brought_in, counted, csv_of, look, looked, outcomes, sent

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop() -> None:
    make.shop()


def why(kind: str, text: str) -> str:
    """Why the one row of such a file is refused."""
    (plan,) = look(kind, text.encode())
    assert plan.outcome == "refused", plan.details
    return plan.why


def rom_rows(*rows: str) -> str:
    """Rows of sensors; {n} stands for the ROM ID with that serial."""
    text = "ROM ID,Tag,Kit,Terminal\n" + "\n".join(rows)
    for number in range(1, 10):
        text = text.replace(f"{{{number}}}", make.rom(number))
    return text


# -- Customers -------------------------------------------------------------------------------------


def test_customers_come_in_and_the_same_file_twice_changes_nothing():
    data = (
        "Client;Tel.;E-Mail;Comments\nJosé Núñez;+1 201 555 0101;jose@example.com;Dog\nAna Diaz;;;\n".encode(
            "cp1252"
        )
    )
    done = brought_in("customers", data)
    assert done.sentence == "Customers brought in: 2 new, 0 changed, 0 left alone"
    jose = Customer.objects.get(name="José Núñez")
    assert (jose.phone, jose.email, jose.notes) == ("+1 201 555 0101", "jose@example.com", "Dog")
    before = Event.objects.count(), list(Customer.objects.values_list("version", flat=True))
    assert counted("customers", data) == {"same": 2}
    brought_in("customers", data)
    assert Customer.objects.count() == 2
    assert list(Customer.objects.values_list("version", flat=True)) == before[1]
    # Keeping the file and bringing it in are an event each; no customer has a further one.
    assert Event.objects.count() == before[0] + 3


def test_a_customer_is_told_by_name_and_phone_however_it_is_written():
    make.customer("Ana Diaz", phone="(201) 555-0101")
    plans = look(
        "customers", b"Name,Phone,E-mail\nANA  DIAZ,+1 201 555 0101,ana@example.com\nAna Diaz,201 555 0199,\n"
    )
    assert outcomes(plans) == ["changed", "new"]
    assert "E-mail: ana@example.com, was nothing" in plans[0].details
    assert "Somebody else has this name" in plans[1].details[-1]


def test_first_and_last_name_make_a_name():
    brought_in("customers", b"First Name,Last Name,Phone\nAna,Diaz,1\n")
    assert Customer.objects.get().name == "Ana Diaz"


def test_namesakes_are_told_apart_or_asked_about():
    make.customer("Ana Diaz", phone="201 555 0101")
    make.customer("Ana Diaz", phone="201 555 0102")
    assert "More than one customer is called Ana Diaz" in why("customers", "Name,Notes\nAna Diaz,x\n")
    assert counted("customers", b"Name,Phone\nAna Diaz,2015550102\n") == {"changed": 1}


def test_an_empty_cell_changes_nothing():
    make.customer("Ana Diaz", phone="201 555 0101", email="ana@example.com")
    assert counted("customers", b"Name,Phone,E-mail\nAna Diaz,201 555 0101,\n") == {"same": 1}


def test_a_row_that_stands_twice_counts_once_and_one_that_says_otherwise_is_refused():
    plans = look("customers", b"Name,Phone,Notes\nAna,1234567,x\nAna,1234567,x\nAna,1234567,y\n")
    assert outcomes(plans) == ["new", "same", "refused"]
    assert "Line 2 is about the same customer" in plans[2].why


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (",201 555 0101,", "Name: Empty"),
        ("Ana,1,not-an-address", "E-mail: “not-an-address” is no e-mail address."),
        (f"{'A' * 121},1,", "Name: It has 121 characters; at most 120 are kept"),
        ("#REF!,1,", "error of the spreadsheet"),
    ],
)
def test_a_customer_that_cannot_be_says_which_field_and_why(row, sentence):
    assert sentence in why("customers", f"Name,Phone,E-mail\n{row}\n")


# -- Sites -----------------------------------------------------------------------------------------


def test_a_site_comes_in_with_its_customer_and_their_parts():
    ana = make.customer("Ana Diaz", phone="201 555 0101")
    data = b'Owner,Service Address,City,ST,Zip,Role\nAna Diaz,9 Elm St,Faketown,NJ,07001,"owner, pays"\n'
    brought_in("sites", data)
    site = Site.objects.get()
    assert (site.street, site.region, site.postal_code, site.time_zone) == (
        "9 Elm St",
        "NJ",
        "07001",
        "America/New_York",
    )
    assert {(party.customer_id, party.part) for party in Party.objects.all()} == {
        (ana.pk, "owns"),
        (ana.pk, "pays"),
    }
    assert counted("sites", data) == {"same": 1}


def test_a_site_that_names_a_customer_nobody_knows_is_refused_with_the_nearest():
    make.customer("Ana Diaz", phone="201 555 0101")
    reason = why("sites", "Street,City,Customer\n9 Elm St,Faketown,Anna Diaz\n")
    assert "There is no customer Anna Diaz." in reason and "Near it: Ana Diaz." in reason


def test_a_site_whose_row_tells_how_to_reach_the_customer_brings_the_customer_too():
    data = b"Street,City,Customer,Customer phone\n9 Elm St,Faketown,Ana Diaz,201 555 0101\n12 Elm St,Faketown,Ana Diaz,201 555 0101\n"
    brought_in("sites", data)
    ana = Customer.objects.get()
    assert Party.objects.filter(customer=ana).count() == 4  # lives there and pays, at both
    assert counted("sites", data) == {"same": 2}


def test_two_rows_about_one_site_bring_two_customers():
    make.customer("Ana Diaz")
    make.customer("Bob Lee")
    data = b"Street,City,Customer,Role\n9 Elm St,Faketown,Ana Diaz,lives there\n9 Elm St,Faketown,Bob Lee,owner\n"
    assert outcomes(look("sites", data)) == ["new", "changed"]
    brought_in("sites", data)
    assert Site.objects.count() == 1
    assert sorted(Party.objects.values_list("customer__name", "part")) == [
        ("Ana Diaz", "lives_there"),
        ("Bob Lee", "owns"),
    ]


def test_sites_of_one_street_are_told_by_postal_code():
    make.site(street="9 Elm St", city="Faketown", postal_code="07001")
    make.site(street="9 Elm St", city="Othertown", postal_code="07002")
    assert "More than one site is at 9 Elm St" in why("sites", "Street,Access notes\n9 Elm St,Bell\n")
    plans = look("sites", b"Street,City,Zip,Access\n9 ELM st,Othertown,07002,Bell\n")
    assert plans[0].details == ["Access notes: Bell, was nothing"]


@pytest.mark.parametrize(
    ("head", "row", "sentence"),
    [
        ("Street,City", ",Faketown", "Street: Empty"),
        ("Street,City", "9 Elm,", "City: Empty"),
        ("Street,City,Time zone", "9 Elm,Faketown,Nowhere", "Time zone: “Nowhere” is no time zone"),
        ("Street,City,Lat", "9 Elm,Faketown,40.1", "Give both latitude and longitude"),
        ("Street,City,Lat,Lon", "9 Elm,Faketown,forty,1", "Latitude: “forty” is no number"),
        ("Street,City,Customer,Role", "9 Elm,Faketown,Ana,butler", "“butler” is no part we know"),
        (
            "Street,City,Who is who there",
            "9 Elm,Faketown,Ana lives",
            "Write it like: Ana Diaz: lives there, pays",
        ),
    ],
)
def test_a_site_that_cannot_be_says_which_field_and_why(head, row, sentence):
    assert sentence in why("sites", f"{head}\n{row}\n")


# -- Units -----------------------------------------------------------------------------------------


def test_units_name_their_site_and_kinds_in_trade_words():
    make.site(street="9 Elm St", city="Faketown", postal_code="07001")
    data = b'Address,System,Type,Tons,Transformer (VA),Float switch\n9 Elm St,Upstairs,AHU,3 tons,40 VA,breaks R\n"9 Elm St, Faketown",Downstairs,Heat Pump,2.5,,\n'
    brought_in("units", data)
    upstairs = Unit.objects.get(name="Upstairs")
    assert (upstairs.kind, upstairs.capacity_tons, upstairs.transformer_volt_ampere) == (
        "air_handler",
        Decimal("3.0"),
        40,
    )
    assert upstairs.float_switch == "breaks_r"
    assert Unit.objects.get(name="Downstairs").kind == "heat_pump"
    assert counted("units", data) == {"same": 2}


def test_a_unit_at_a_site_nobody_knows_is_refused_with_the_nearest():
    make.site(street="9 Elm Street", city="Faketown")
    reason = why("units", "Address,Unit,Kind\n9 Elm Stret,Upstairs,furnace\n")
    assert "There is no site at 9 Elm Stret." in reason and "Near it: 9 Elm Street." in reason


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("9 Elm St,,furnace", "Name of the unit: Empty"),
        ("9 Elm St,Up,", "Kind: Empty"),
        ("9 Elm St,Up,toaster", "Kind: “toaster” is no kind of unit. Use one of: air handler, furnace, heat pump, packaged unit."),
        (",Up,furnace", "Site: street: Empty"),
    ],
)  # fmt: skip
def test_a_unit_that_cannot_be_says_which_field_and_why(row, sentence):
    make.site(street="9 Elm St", city="Faketown")
    assert sentence in why("units", f"Address,Unit,Kind\n{row}\n")


# -- Kits ------------------------------------------------------------------------------------------


def test_kits_that_are_labelled_keep_their_codes_and_others_get_one():
    code = draw_code()
    data = f"Label,Kit name,Built,Cost,Battery\n{code.lower()},Heron,3/4/2026,$185.50,no\n,Wren,,,\n".encode()
    brought_in("kits", data)
    heron, wren = Kit.objects.get(name="Heron"), Kit.objects.get(name="Wren")
    assert (heron.code, heron.built_on, heron.replacement_value_cents) == (code, date(2026, 3, 4), 18_550)
    assert len(wren.code) == 6
    assert set(Custody.objects.values_list("place", flat=True)) == {Place.BENCH}
    assert counted("kits", data) == {"same": 2}


def test_a_kit_code_with_one_wrong_character_is_refused_with_the_nearest():
    kit = make.kit(sensors=0, name="Heron")
    wrong = kit.code[:2] + next(c for c in "34567" if c != kit.code[2]) + kit.code[3:]
    assert f"Near it: Heron ({kit.code})." in why("kits", f"Kit code,Name\n{wrong},Heron\n")


def test_a_kit_is_changed_where_its_row_says_something_else():
    kit = make.kit(sensors=0, name="Heron")
    data = f"Kit code,Name,Replacement value,Power\n{kit.code},Heron II,200,12 V DC\n".encode()
    (plan,) = look("kits", data)
    assert plan.details == ["Name: Heron II, was Heron", "Replacement value: 200.00, was 185.00", "Power input: 12 V DC, was 24 V AC through adapter"]  # fmt: skip
    brought_in("kits", data)
    kit.refresh_from_db()
    assert (kit.name, kit.replacement_value_cents, kit.power_input) == ("Heron II", 20_000, "12vdc")


@pytest.mark.parametrize(
    ("head", "row", "sentence"),
    [
        ("Code,Name,Terminals", ",Heron,6", "A kit has 1 to 5 terminals"),
        ("Code,Name,Terminals", ",,3", "Give the code on the kit's label, or a name"),
        ("Code,Name,Built", ",Heron,31/31/2026", "Built on: “31/31/2026” is no date"),
        ("Code,Name,Power", ",Heron,steam", "is no power input"),
        ("Code,Name,Value", ",Heron,cheap", "Replacement value: “cheap” is no number"),
        ("Code,Name", "ABC0EF,Heron", "Character 4, 0, cannot be right"),
    ],
)
def test_a_kit_that_cannot_be_says_which_field_and_why(head, row, sentence):
    assert sentence in why("kits", f"{head}\n{row}\n")


def test_two_kits_of_one_name_are_asked_about():
    make.kit(sensors=0, name="Heron")
    make.kit(sensors=0, name="Heron")
    assert "More than one kit is called Heron" in why("kits", "Name,Notes\nHeron,x\n")


# -- Sensors ---------------------------------------------------------------------------------------


def test_sensors_are_wired_into_the_kit_they_name_by_code_or_name():
    kit = make.kit(sensors=0, name="Heron", place=Place.BENCH)
    data = rom_rows(f"{{1}},1,{kit.code},2", "{2},2,heron,", "{3},3,,").encode()
    plans = look("sensors", data)
    assert [plan.details[-1] for plan in plans] == [f"wired into {kit}, terminal 2", f"wired into {kit}, terminal 1", "a spare on the bench"]  # fmt: skip
    brought_in("sensors", data)
    wired = {row.sensor.tag: row.terminal for row in kit.wirings.select_related("sensor")}
    assert wired == {"1": 2, "2": 1}
    assert Sensor.objects.get(tag="3").spare_place.place == KeptAt.BENCH
    assert counted("sensors", data) == {"same": 3}


def test_a_spare_that_names_a_kit_now_is_wired_in():
    kit = make.kit(sensors=0, name="Heron", place=Place.BENCH)
    spare = make.sensor(tag="7", rom=make.rom(1))
    brought_in("sensors", rom_rows(f"{{1}},7,{kit.code},4").encode())
    assert (spare.wiring.kit, spare.wiring.terminal) == (kit, 4)


def test_lengths_in_feet_and_dates_day_first_are_read_as_told():
    data = f"ROM,Tag,Lead (ft),Purchased\n{make.rom(1)},1,10,20/5/2024\n{make.rom(2)},2,6,3/4/2024\n".encode()
    brought_in("sensors", data)
    one, two = Sensor.objects.order_by("tag")
    assert (one.lead_length_m, one.bought_on) == (Decimal("3.05"), date(2024, 5, 20))
    assert two.bought_on == date(2024, 4, 3)  # the other row tells which way round


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("{1},1,NOSUCH,1", "There is no kit NOSUCH"),
        ("{1},1,,3", "Name the kit too"),
        ("{1},1,Heron,6", "there is no terminal 6"),
        ("{1},1,Heron,1", "carries sensor"),
        (",1,Heron,2", "ROM ID: Empty"),
        ("28FF,1,Heron,2", "ROM ID: A ROM ID has sixteen digits"),
    ],
)
def test_a_sensor_that_cannot_be_says_which_field_and_why(row, sentence):
    make.sensor(kit=make.kit(sensors=0, name="Heron", place=Place.BENCH), rom=make.rom(9))
    assert sentence in why("sensors", rom_rows(row))


def test_two_sensors_for_one_terminal_and_six_for_one_kit_are_refused():
    make.kit(sensors=0, name="Heron", place=Place.BENCH)
    plans = look("sensors", rom_rows("{1},1,Heron,2", "{2},2,Heron,2").encode())
    assert outcomes(plans) == ["new", "refused"]
    plans = look("sensors", rom_rows(*(f"{{{n}}},{n},Heron," for n in range(1, 7))).encode())
    assert outcomes(plans) == ["new"] * 5 + ["refused"]
    assert "All 5 terminals" in plans[5].why


def test_a_sensor_wired_elsewhere_is_not_moved_by_a_file():
    heron = make.kit(sensors=0, name="Heron", place=Place.BENCH)
    make.kit(sensors=0, name="Wren", place=Place.BENCH)
    make.sensor(kit=heron, rom=make.rom(1), tag="1")
    assert "is wired into Heron" in why("sensors", rom_rows("{1},1,Wren,1"))


# -- All or nothing --------------------------------------------------------------------------------


def test_looking_writes_nothing():
    before = Event.objects.count(), Receipt.objects.count()
    file = sent("customers", b"Name\nAna\n")
    looked(file)
    assert Customer.objects.count() == 0
    assert (Event.objects.count(), Receipt.objects.count()) == (
        before[0] + 1,
        before[1] + 1,
    )  # the file alone


def test_good_rows_go_in_and_refused_ones_stay_out():
    done = brought_in("customers", b"Name,E-mail\nAna,ana@example.com\nBob,nonsense\n")
    assert done.sentence == "Customers brought in: 1 new, 0 changed, 0 left alone; 1 refused and not in"
    assert [one.name for one in Customer.objects.all()] == ["Ana"]


def test_a_row_that_fails_while_going_in_undoes_all_rows(monkeypatch):
    from reports.intake.things import KitPlanner

    monkeypatch.setattr(
        KitPlanner, "code", lambda self, typed: typed
    )  # a check forgotten: the database still refuses
    with pytest.raises(
        Refused, match=r"Line 3 \(Wren \(AAAAAB\)\) could not go in, so nothing was saved: .*code"
    ):
        brought_in("kits", f"Code,Name\n{draw_code()},Heron\nAAAAAB,Wren\n{draw_code()},Swift\n".encode())
    assert Kit.objects.count() == 0
    assert ImportFile.objects.get().done_at is None


def test_nothing_goes_in_when_the_books_changed_since_the_rows_were_looked_at():
    file = sent("customers", b"Name,Phone\nAna,1234567\n")
    seen = digest(looked(file))
    make.customer("Ana", phone="1234567")
    with pytest.raises(Refused, match="The books changed since"):
        bring_in(make.act(), file=file, seen=seen)


def test_a_file_goes_in_once():
    file = sent("customers", b"Name\nAna\n")
    seen = digest(looked(file))
    act = make.act()
    first = bring_in(act, file=file, seen=seen)
    assert bring_in(act, file=file, seen=seen).again  # the very same request
    with pytest.raises(Refused, match="in the books already"):
        bring_in(make.act(), file=file, seen=seen)
    assert Customer.objects.count() == 1
    assert first.sentence.startswith("Customers brought in")


def test_each_row_has_an_event_of_its_own_that_follows_from_the_one_request():
    office = make.office()
    brought_in("customers", b"Name\nAna\nBob\n", by=None)
    events = Event.objects.filter(what="customer added")
    assert events.count() == 2
    assert len(set(events.values_list("request_id", flat=True))) == 2
    assert all("Ana" not in event.summary for event in Event.objects.all())
    assert office


# -- Refused rows, mended --------------------------------------------------------------------------


def test_refused_rows_come_back_as_a_file_that_can_be_mended_and_sent_again():
    file = sent(
        "customers",
        b"Our people\nName,Phone,E-mail\nAna,+1 201 555 0101,ana@example.com\nBob,=1+1,nonsense\n",
    )
    reading = read_file(file)
    data = refused_csv(reading, looked(file))
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
    assert rows[0] == ["Name", "Phone", "E-mail", "Why refused"]
    assert rows[1][:3] == ["Bob", "'=1+1", "nonsense"]
    assert rows[1][3].startswith("E-mail: ")
    mended = data.replace(b"nonsense", b"bob@example.com")
    brought_in("customers", mended)
    bob = Customer.objects.get()
    assert (bob.name, bob.phone, bob.email) == ("Bob", "=1+1", "bob@example.com")


def test_a_refused_row_of_a_workbook_keeps_its_days_as_days():
    file = sent("sensors", book_of(Probes=[["ROM ID", "Bought on", "Tag"], ["28", date(2024, 5, 20), "1"]]))
    data = refused_csv(read_file(file), looked(file)).decode("utf-8-sig")
    assert data.splitlines()[1].startswith("28,2024-05-20,1,")


# -- Columns ---------------------------------------------------------------------------------------


def test_what_the_columns_hold_can_be_corrected_and_is_remembered_for_the_same_headings():
    data = b"Wer,Wo\nAna,201 555 0101\n"
    file = sent("customers", data)
    assert read_file(file).missing == ["Name or Last name"]
    with pytest.raises(Refused, match="No column holds: Name"):
        bring_in(make.act(), file=file, seen="")
    tell_columns(
        make.act(), file=file, sheet="", header_line=1, day_first=False, columns={"0": "name", "1": "phone"}
    )
    assert outcomes(looked(ImportFile.objects.get(pk=file.pk))) == ["new"]
    assert ColumnMapping.objects.count() == 1
    again = sent("customers", b"Wer,Wo\nBob,201 555 0102\n")
    assert read_file(again).targets == {0: "name", 1: "phone"}
    other_kind = sent("kits", data)
    assert read_file(other_kind).targets == {}


def test_two_columns_cannot_hold_the_same():
    file = sent("customers", b"Name,Alias\nAna,A\n")
    with pytest.raises(Refused, match="Two columns are told to hold “Name”"):
        tell_columns(
            make.act(),
            file=file,
            sheet="",
            header_line=1,
            day_first=False,
            columns={"0": "name", "1": "name"},
        )


def test_another_sheet_is_guessed_anew():
    data = book_of(Kits=[["Kit code", "Name"], ["", "Heron"]], Old=[["x"], ["Name", "Board"], ["Wren", "B1"]])
    file = sent("kits", data)
    assert file.sheet == "Kits"
    tell_columns(make.act(), file=file, sheet="Old", header_line=2, day_first=False, columns={"0": "code"})
    file.refresh_from_db()
    assert read_file(file).targets == {0: "name", 1: "controller"}


def test_kinds_of_the_model_and_of_the_reader_are_the_same():
    from reports.models import ImportKind

    assert list(KINDS) == ImportKind.values


def test_a_party_held_already_is_left_alone():
    ana, site = make.customer("Ana Diaz", phone="2015550101"), make.site(street="9 Elm St", city="Faketown")
    add_party(make.act(), site=site, customer=ana, part=PartyRole.OWNS, since=date(2026, 1, 1))
    rows = [["Street", "City", "Customer", "Role"], ["9 Elm St", "Faketown", "Ana Diaz", "owner"]]
    assert counted("sites", csv_of(rows)) == {"same": 1}


# -- As shops really write -------------------------------------------------------------------------


def test_what_stands_in_a_column_tells_what_it_is_where_its_heading_does_not():
    codes = draw_code(), draw_code()
    rows = f"Box #,Box name,Max temp (F)\n{codes[0]},Box 1,140\n{codes[1]},Box 2,140\n"
    assert read_file(sent("kits", rows.encode())).targets == {0: "code", 1: "name", 2: "rated_to_celsius@°F"}
    rows = f"Probe,No,ID\n{make.rom()},1,17\n{make.rom()},2,18\n"
    assert read_file(sent("sensors", rows.encode())).targets == {0: "rom", 1: "tag"}
    reading = read_file(sent("kits", b"ID,Name\n17,Box 1\n18,Box 2\n"))
    assert (reading.targets, reading.unread) == ({1: "name"}, ["ID"])
    assert read_file(sent("kits", b"Kit code,Name\n17,Box 1\n")).targets == {0: "code", 1: "name"}


def test_the_sheet_whose_cells_look_like_rom_ids_is_read_for_sensors():
    kits = [["Box", "Board", "Notes"], ["Box 1", "B", ""]]
    probes = [["Probe ID", "Box", "Notes"], [make.rom(), "Box 1", ""], [make.rom(), "Box 1", ""]]
    assert sent("sensors", book_of(Boxes=kits, Probes=probes)).sheet == "Probes"


def test_a_line_of_totals_at_the_end_is_no_row():
    reading = read_file(
        sent("customers", b"Name,Phone,Notes\nTotal Comfort,1234567,x\nAna,2345678,x\n,,\nTotal: 2,,\n")
    )
    assert [line.number for line in reading.layout.rows] == [2, 3]
    assert "Line 5 looks like a total and is left out." in reading.layout.notes


def test_a_row_that_says_less_than_an_earlier_one_is_left_alone():
    plans = look("sites", b"Street,City,Notes\n9 Elm,Faketown,Bell\n9 Elm,Faketown,\n9 Elm,Faketown,Gate\n")
    assert outcomes(plans) == ["new", "same", "refused"]
    assert plans[2].why.startswith("Access notes: Line 2 is about the same site")


def test_last_name_first_is_the_same_customer():
    ana = make.customer("Diaz, Ana", phone="201 555 0101")
    brought_in("sites", b"Street,City,Owner,Phone\n9 Elm,Faketown,Ana Diaz,201-555-0101\n")
    assert [party.customer for party in Party.objects.all()] == [ana, ana]
    make.customer("Fox Heating, LLC", phone="201 555 0102")
    assert outcomes(look("customers", b'Name,Phone\n"Fox Heating, LLC",201 555 0102\n')) == ["same"]


def test_a_postal_code_gets_back_the_zero_that_a_spreadsheet_dropped():
    brought_in(
        "sites", book_of(Sites=[["Street", "City", "State", "Zip"], ["9 Elm", "Faketown", "NJ", 7001]])
    )
    assert Site.objects.get().postal_code == "07001"
    again = book_of(Units=[["Street", "Zip", "Unit", "Type"], ["9 Elm", 7001, "Upstairs", "RTU"]])
    assert outcomes(look("units", again)) == ["new"]


def test_words_of_the_shop_are_explained_once_and_remembered():
    make.site(street="9 Elm", postal_code="")
    rows = b"Street,Unit,Type\n9 Elm,Up,Split A/C\n9 Elm,Down,split ac\n9 Elm,Shop,Furnace\n"
    file = sent("units", rows)
    (strange,) = read_file(file).strange_words()
    assert (strange.word, strange.rows, strange.field.name) == ("Split A/C", 2, "kind")
    columns = {"0": "street", "1": "name", "2": "kind"}
    tell_columns(make.act(), file=file, sheet="", header_line=1, day_first=False, columns=columns, words={strange.key: "air_handler"})  # fmt: skip
    again = sent("units", rows + b"9 Elm,Attic,SPLIT-AC\n")
    assert outcomes(looked(again)) == ["new"] * 4
    brought_in("units", rows)
    assert sorted(Unit.objects.values_list("kind", flat=True)) == ["air_handler", "air_handler", "furnace"]


def test_customers_and_parties_of_later_rows_go_in_with_those_of_earlier_ones():
    ana = make.customer("Ana", phone="201 555 0101")
    brought_in(
        "sites",
        b"Street,City,Owner,Phone\n9 Elm,Faketown,Ana,201 555 0101\n8 Elm,Faketown,Bob,201 555 0102\n",
    )
    assert {party.customer.name for party in Party.objects.all()} == {ana.name, "Bob"}


def test_a_site_that_is_not_on_earth_is_refused_before_it_goes_in():
    assert "Latitude: 95" in why("sites", "Street,City,Lat,Lon\n9 Elm,Faketown,95,0\n")
