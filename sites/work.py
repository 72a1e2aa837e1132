"""Which calls want a kit, and where each call stands."""

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from sites.models import Deployment, ServiceCall


def calls_needing_kit() -> QuerySet[ServiceCall]:
    """Open calls that want positions watched, or lost their kit, and have no kit promised, out, or been there."""
    stays = Deployment.objects.filter(call=OuterRef("pk"))
    wanted = ServiceCall.wanted_positions.through.objects.filter(servicecall=OuterRef("pk"))
    return (
        ServiceCall.objects.filter(closed_on=None)
        .filter(~Exists(stays.filter(ended_at=None)))
        .filter(~Q(needs_kit_why="") | Q(Exists(wanted), ~Exists(stays.filter(installed_at__isnull=False))))
    )


def calls_with_state() -> QuerySet[ServiceCall]:
    """Calls with where they stand: `running_stays` (one or none), `wants_kit`, and `was_watched` (a kit hung there)."""
    running = Deployment.objects.running().select_related("kit")
    installed = Deployment.objects.filter(call=OuterRef("pk"), installed_at__isnull=False)
    return (
        ServiceCall.objects.select_related("unit__site", "technician")
        .prefetch_related(Prefetch("deployments", running, to_attr="running_stays"))
        .annotate(
            wants_kit=Exists(calls_needing_kit().filter(pk=OuterRef("pk"))), was_watched=Exists(installed)
        )
    )
