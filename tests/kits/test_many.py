"""Many rows at once leave the same in the books as one by one: rows, versions, search text, events."""

import re

import pytest
from django.db import transaction

from kits.actions.acting import Act
from kits.actions.arrivals import kit_arrives, sensor_arrives, spare_goes_in
from kits.actions.kits import add_kits
from kits.actions.many import Many, add_one, change_one
from kits.actions.records import add_record, change_record
from kits.actions.sensors import add_sensor, wire_in
from kits.codes import draw_code
from kits.models import Event, Kit, Sensor
from sites.actions.arrivals import party_arrives, site_arrives
from sites.actions.places import add_party, add_site
from sites.models import Customer, PartyRole, Site, Unit
from tests import make

pytestmark = pytest.mark.django_db

CODE = draw_code()
KIT = {"name": "Héron", "built_on": make.utc(2026, 1, 5).date(), "controller": "Board B"}
SITE = {"street": "9 Elm", "city": "Faketown", "time_zone": "America/New_York"}


def one_by_one(act: Act, roms: list[str]) -> None:
    def again() -> Act:
        return make.act(act.typed_by, happened_at=act.happened_at, recorded_at=act.recorded_at)

    kit = add_kits(again(), fields=KIT, codes=[CODE]).row(Kit)
    spare = add_sensor(again(), rom=roms[0], fields={"tag": "1"}).row(Sensor)
    add_sensor(again(), rom=roms[1], fields={"tag": "2"}, kit=kit, terminal=2)
    wire_in(again(), kit=kit, sensor=spare, terminal=1)
    change_record(again(), row=kit, changes={"name": "Wren", "notes": "x"})
    ana = add_record(again(), row=Customer(), fields={"name": "Ana Díaz"}).row(Customer)
    site = add_site(again(), fields=SITE).row(Site)
    add_party(again(), site=site, customer=ana, part=PartyRole.PAYS, since=KIT["built_on"])
    add_record(again(), row=Unit(site=site), fields={"name": "Upstairs", "kind": "furnace"})


def all_at_once(act: Act, roms: list[str]) -> None:
    many = Many(act)
    kit = kit_arrives(many, code=CODE, fields=KIT)
    spare = sensor_arrives(many, rom=roms[0], fields={"tag": "1"})
    many.save()
    many = Many(act_after(act))
    sensor_arrives(many, rom=roms[1], fields={"tag": "2"}, kit=kit, terminal=2)
    spare_goes_in(many, sensor=spare, spare=spare.spare_place, kit=kit, terminal=1)
    change_one(many, Kit.objects.get(), {"name": "Wren", "notes": "x"})
    ana = add_one(many, Customer(), {"name": "Ana Díaz"})
    site = site_arrives(many, fields=SITE)
    party_arrives(many, site=site, customer=ana, part=PartyRole.PAYS, since=KIT["built_on"])
    add_one(many, Unit(site=site), {"name": "Upstairs", "kind": "furnace"})
    many.save()


def act_after(act: Act) -> Act:
    return make.act(act.typed_by, happened_at=act.happened_at, recorded_at=act.recorded_at)


def left(roms: list[str]) -> list[object]:
    """All that stands in the books, by what people know it by instead of by number."""
    names = {("kit", kit.pk): kit.code for kit in Kit.objects.all()}
    names |= {("sensor", sensor.pk): sensor.rom for sensor in Sensor.objects.all()}
    rows = [
        (type(row), row.version, row.folded)
        for model in (Kit, Sensor, Customer, Site, Unit)
        for row in model.objects.all()
    ]
    kit = Kit.objects.get()
    wired = [(one.sensor.rom, one.terminal, one.wired_from, one.wired_until) for one in kit.wirings.all()]
    kept = [
        (one.sensor.rom, one.place, one.kept_from, one.kept_until)
        for rom in roms
        for one in Sensor.objects.get(rom=rom).spare_places.all()
    ]
    custody = [(one.place, one.held_from, one.held_until) for one in kit.custodies.all()]
    events = [
        (event.what, re.sub(r"(?i)\bsite \d+", "site", event.summary), event.details, event.typed_by_id, event.happened_at,
         [(about.kind, names.get((about.kind, about.subject_id)), about.version) for about in event.abouts.all()])
        for event in Event.objects.order_by("pk")
    ]  # fmt: skip
    return [rows, wired, kept, custody, sorted(events, key=str)]


def test_many_at_once_leave_what_one_by_one_leaves():
    act, roms = make.act(), [make.rom(), make.rom()]
    found = []
    for way in (one_by_one, all_at_once):
        with transaction.atomic():
            way(act, roms)
            found.append(left(roms))
            transaction.set_rollback(True)
    single, many = found
    for ours, theirs in zip(many, single, strict=True):
        assert ours == theirs


def test_events_of_one_act_have_request_ids_of_their_own_and_the_same_again_for_the_same_act():
    act = make.act()
    many = Many(act)
    for name in ("Ana", "Bob"):
        add_one(many, Customer(), {"name": name})
    many.save()
    ids = set(Event.objects.values_list("request_id", flat=True))
    assert len(ids) == 2 and act.request_id not in ids


@pytest.mark.parametrize("number", [3, 30])
def test_more_rows_ask_the_database_no_more_often(number, django_assert_num_queries):
    many = Many(make.act())
    for _ in range(number):
        kit_arrives(many, code=draw_code(), fields=KIT)
    # Kits, custodies, events and what they are about, each in a savepoint of two statements where it may be refused.
    with django_assert_num_queries(8):
        many.save()
