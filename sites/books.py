"""Whether the books tell one story: what no single constraint can say, looked through kit by kit."""

from itertools import pairwise

from kits.models import Custody, Kit, Place
from sites.models import Deployment, Stage


def contradictions(kit: Kit) -> list[str]:
    """Sentences, one for each thing that does not fit together about a kit; none when all is well."""
    custodies = list(kit.custodies.order_by("held_from", "pk"))
    stays = list(kit.deployments.order_by("pk"))
    return [
        *one_open_custody(kit, custodies),
        *no_gaps(custodies),
        *stage_fits_custody(kit, stays),
        *site_spans_match(kit, custodies, stays),
        *placements_fit(stays),
    ]


def one_open_custody(kit: Kit, custodies: list[Custody]) -> list[str]:
    count = sum(1 for row in custodies if row.held_until is None)
    return [] if count == 1 else [f"{kit} has {count} open custody rows"]


def no_gaps(custodies: list[Custody]) -> list[str]:
    return [
        f"{row}: nobody held it from {row.held_until} until {after.held_from}"
        for row, after in pairwise(custodies)
        if row.held_until != after.held_from
    ]


def stage_fits_custody(kit: Kit, stays: list[Deployment]) -> list[str]:
    """A loaded or removed kit is on a truck, an installed one at a site, and only an installed one is at a site."""
    wanted = {Stage.LOADED: Place.TRUCK, Stage.INSTALLED: Place.SITE, Stage.REMOVED: Place.TRUCK}
    now = kit.custodies.filter(held_until=None).first()
    out = [stay for stay in stays if stay.ended_at is None and stay.loaded_at is not None]
    if now is None:
        return []
    if not out and now.place == Place.SITE:
        return [f"{kit} is at a site by its custody, but on no stay"]
    return [
        f"{stay} is {stay.stage.label.lower()}, but the kit is on {now.word}"
        for stay in out
        if now.place != wanted[stay.stage]
    ]


def site_spans_match(kit: Kit, custodies: list[Custody], stays: list[Deployment]) -> list[str]:
    """The times at a site by custody are exactly the times in a house by the stays."""
    held = {
        (row.held_from, row.held_until)
        for row in custodies
        if row.place == Place.SITE and row.held_from != row.held_until
    }
    stayed = {
        (stay.installed_at, stay.removed_at or stay.not_recovered_at) for stay in stays if stay.installed_at
    }
    stayed = {(start, until) for start, until in stayed if start != until}
    return [
        f"{kit}: at a site {span} by only one of custody and stays" for span in sorted(held ^ stayed, key=str)
    ]


def placements_fit(stays: list[Deployment]) -> list[str]:
    """No sensor sits anywhere outside the time its kit was in the house."""
    wrong = []
    for stay in stays:
        end = stay.removed_at or stay.not_recovered_at
        for row in stay.placements.all():
            begins_early = stay.installed_at is None or row.placed_from < stay.installed_at
            ends_late = end is not None and (row.placed_until is None or row.placed_until > end)
            if begins_early or ends_late:
                wrong.append(f"{stay}: {row} lies outside the time in the house")
    return wrong
