"""Sites that come in by the many, and who is who there: told as `add_site` and `add_party` tell them one by one."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from kits.actions.many import Many
from sites.models import Customer, Party, PartyRole, Site


def site_arrives(many: Many, *, fields: Mapping[str, Any]) -> Site:
    """A site that the shop did not have."""
    site = many.add(Site(**fields))
    many.tell("site added", lambda: f"Site {site.pk} added", site)
    return site


def party_arrives(many: Many, *, site: Site, customer: Customer, part: PartyRole, since: date) -> None:
    """A customer lives at, owns, pays for a site, or may say yes there, from a day on."""
    many.add(Party(site=site, customer=customer, part=part, since=since))
    many.tell("party added", lambda: f"Somebody {part.label} at site {site.pk}", site, customer)
