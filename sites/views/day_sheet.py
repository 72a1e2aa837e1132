"""The front page: the office's day sheet. Technicians start at their truck."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.models import Place
from kits.web import EVERYBODY, for_roles
from sites.day_lines import read_people
from sites.day_sheet import day_sheet as sheet_at

# In the order in which a kit moves; what is not here (retired) is out of the day's business.
PLACES = {
    Place.SHELF: "on the shelf",
    Place.BENCH: "on the bench",
    Place.TRUCK: "on trucks",
    Place.SITE: "in houses",
    Place.MISSING: "missing",
}

# Of each part, the most pressing; a shop with more has a page to scroll if it asks for it.
LINES_AT_FIRST = 60
LEAVING_AT_FIRST = 5
ONE_KIT = {Place.TRUCK: "on a truck", Place.SITE: "in a house"}


@for_roles(*EVERYBODY)
@require_safe
def day_sheet(request: HttpRequest) -> HttpResponse:
    """What has to move today, what is late, what is about to go wrong?"""
    if request.user.is_technician:  # type: ignore[union-attr]
        return redirect("truck")
    now = timezone.now()
    sheet = sheet_at(now)
    standing = [
        f"{count} {ONE_KIT.get(place, words) if count == 1 else words}"
        for place, words in PLACES.items()
        if (count := sheet.places[place])
    ]
    most = None if "all" in request.GET else LINES_AT_FIRST
    read_people(sheet.lines(most))
    each = None if most is None else max(LEAVING_AT_FIRST, most // max(len(sheet.leaves), 1))
    context = {
        "sheet": sheet,
        "now": now,
        "standing": ", ".join(standing),
        "most": most,
        "each": each,  # of what leaves with one technician
    }
    return render(request, "sites/day_sheet.html", context)
