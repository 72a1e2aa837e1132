"""Who is what where, in words: the parts of customers at sites, and which kits hang at a site."""

from collections.abc import Iterable

from sites.models import Customer, Deployment, Party, PartyRole, Site


def in_order(parties: Iterable[Party]) -> list[Party]:
    """Lives there, owns, pays, may say yes; the longest there first."""
    return sorted(parties, key=lambda party: (PartyRole.values.index(party.part), party.since, party.pk))


def parties_by_customer(parties: Iterable[Party]) -> list[tuple[Customer, list[Party]]]:
    """Each customer once, with all their parts."""
    found: dict[Customer, list[Party]] = {}
    for party in in_order(parties):
        found.setdefault(party.customer, []).append(party)
    return list(found.items())


def parts_by_customer(parties: Iterable[Party]) -> list[tuple[Customer, str]]:
    """Each customer once, with all their parts in words: [(Ana, "lives there, pays")]."""
    return [
        (customer, ", ".join(party.get_part_display() for party in held))
        for customer, held in parties_by_customer(parties)
    ]


def parts_by_site(parties: Iterable[Party]) -> list[tuple[Site, str]]:
    """Each site once, with all the parts held there: [(9 Elm, "owns, pays")]."""
    parts: dict[Site, list[str]] = {}
    for party in in_order(parties):
        parts.setdefault(party.site, []).append(party.get_part_display())
    return [(site, ", ".join(words)) for site, words in parts.items()]


def stays_here(site: Site) -> list[Deployment]:
    """The stays whose kit hangs at this site now."""
    return [stay for unit in site.units.all() for stay in unit.stays_here]  # type: ignore[attr-defined]
