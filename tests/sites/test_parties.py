"""Who is what at a site, and a house that changes hands while a kit hangs in it."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kits.models import Event, FollowUp
from sites.actions import places
from sites.models import Party, PartyRole, Site, Stage
from tests import make
from tests.refusals import refused

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def today(site: Site):
    return timezone.now().astimezone(site.zone).date()


@pytest.fixture
def house(db):
    """A house with an owner who lives there, since a year."""
    site, owner = make.site(), make.customer()
    for part in (PartyRole.OWNS, PartyRole.LIVES_THERE):
        places.add_party(make.act(), site=site, customer=owner, part=part, since=today(site) - 365 * DAY)
    return site, owner


def test_a_new_site_takes_its_customers_parts_from_today_on():
    owner = make.customer()
    fields = {"street": "1 Test Lane", "city": "Faketown", "time_zone": "America/Los_Angeles"}
    done = places.add_site(make.act(), fields=fields, customer=owner, parts=(PartyRole.OWNS, PartyRole.PAYS))
    site = done.row(Site)
    assert set(site.parties.values_list("part", "since")) == {
        ("owns", today(site)),
        ("pays", today(site)),
    }


def test_a_site_without_a_real_time_zone_is_refused():
    fields = {"street": "1 Test Lane", "city": "Faketown", "time_zone": "Eastern"}
    assert "America/New_York" in refused(places.add_site, make.act(), fields=fields)


def test_the_same_part_twice_is_refused_in_words(house):
    site, owner = house
    given = {"site": site, "customer": owner, "part": PartyRole.OWNS, "since": today(site)}
    assert f"{owner} already owns at this site" in refused(places.add_party, make.act(), **given)


def test_a_part_ends_once_and_not_before_it_began(house):
    site, _owner = house
    party = site.parties.get(part=PartyRole.OWNS)
    assert "It began on" in refused(places.end_party, make.act(), party=party, until=party.since - DAY)
    places.end_party(make.act(), party=party, until=today(site))
    assert "already" in refused(places.end_party, make.act(), party=party, until=today(site))


def test_a_sold_house_ends_all_parts_begins_the_new_owners_and_asks_for_access(house):
    site, owner = house
    stay = make.stay(Stage.INSTALLED, call=make.call(unit=make.unit(site=site)))
    elsewhere = make.stay(Stage.INSTALLED)
    buyer, on = make.customer(), today(site) - DAY
    done = places.house_sold(make.act(), site=site, on=on, new_owner=buyer)
    assert not Party.objects.on(on).filter(customer=owner).exists()
    assert Party.objects.on(on - DAY).filter(customer=owner).count() == 2
    assert set(site.parties.filter(customer=buyer).values_list("part", flat=True)) == set(PartyRole.values)
    todo = FollowUp.objects.get()
    assert todo.kit == stay.kit and "new owner" in todo.what and todo.due_on == on
    kinds = set(Event.objects.get(pk=done.event_id).abouts.values_list("kind", "subject_id"))
    assert ("stay", stay.pk) in kinds and ("customer", owner.pk) in kinds
    assert ("stay", elsewhere.pk) not in kinds


def test_a_house_is_sold_without_knowing_to_whom(house):
    site, _owner = house
    places.house_sold(make.act(), site=site, on=today(site))
    assert not Party.objects.on(today(site)).filter(site=site).exists()


def test_an_event_never_names_the_customers(house):
    site, owner = house
    places.house_sold(make.act(), site=site, on=today(site))
    assert all(owner.name not in event.summary + event.why for event in Event.objects.all())


def test_a_sale_to_come_or_to_somebody_who_is_there_already_is_refused(house):
    site, owner = house
    ahead = {"site": site, "on": today(site) + DAY}
    assert "still to come" in refused(places.house_sold, make.act(), **ahead)
    same = {"site": site, "on": today(site), "new_owner": owner}
    assert "has a part here already" in refused(places.house_sold, make.act(), **same)
