"""The truck list: what am I carrying, where does it go, in which order?"""

from django.db.models import OuterRef, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.models import Custody, Place, Role, User
from kits.web import EVERYBODY, for_roles
from sites.counting import count_of
from sites.trucks import truck_of


@require_safe
@for_roles(*EVERYBODY)
def truck(request: HttpRequest) -> HttpResponse:
    """One's own truck; the office looks at anybody's."""
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - for_roles let nobody else in
    asked = request.GET.get("technician", "")
    if user.is_technician:
        technician = user
    elif asked:
        technician = driver(asked)
    else:
        return render(request, "sites/trucks.html", {"drivers": drivers()})
    found = truck_of(technician, today=timezone.localdate(), now=timezone.now())
    return render(
        request, "sites/truck.html", {"truck": found, "mine": technician == user, "drivers": drivers(user)}
    )


def driver(asked: str) -> User:
    """The person whose truck is asked for."""
    found = User.objects.filter(pk=int(asked)).first() if asked.isdigit() and len(asked) < 10 else None
    if found is None:
        raise Http404
    return found


def drivers(user: User | None = None) -> list[User]:
    """Everybody who drives or whose truck holds a kit, with how many; nobody for a technician, who sees only one truck."""
    if user is not None and user.is_technician:
        return []
    held = Custody.objects.filter(technician=OuterRef("pk"), held_until=None, place=Place.TRUCK)
    people = User.objects.annotate(kits_held=count_of(held, "technician"))
    return list(people.filter(Q(role=Role.TECHNICIAN, is_active=True) | Q(kits_held__gt=0)).order_by("name"))
