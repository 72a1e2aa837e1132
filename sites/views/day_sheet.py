"""The front page: the office's day sheet. Technicians start at their truck."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from kits.models import Place
from kits.web import EVERYBODY, for_roles
from sites.day_sheet import day_sheet as sheet_at

# In the order in which a kit moves; what is not here (retired) is out of the day's business.
PLACES = (Place.SHELF, Place.BENCH, Place.TRUCK, Place.SITE, Place.MISSING)
WORDS = {
    Place.SHELF: "on the shelf",
    Place.BENCH: "on the bench",
    Place.TRUCK: "on trucks",
    Place.SITE: "in houses",
}


@for_roles(*EVERYBODY)
def day_sheet(request: HttpRequest) -> HttpResponse:
    """What has to move today, what is late, what is about to go wrong?"""
    if request.user.is_technician:  # type: ignore[union-attr]
        return redirect("truck")
    now = timezone.now()
    sheet = sheet_at(now)
    whereabouts = [
        (WORDS.get(place, place.label.lower()), sheet.places[place], place.value) for place in PLACES
    ]
    return render(request, "sites/day_sheet.html", {"sheet": sheet, "now": now, "whereabouts": whereabouts})
