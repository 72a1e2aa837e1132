"""What a check that found a sensor out of limit says about earlier stays."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from kits.models import CalibrationCheck
from kits.views.references import unit_of
from kits.web import EVERYBODY, for_roles
from sites.doubts import doubts_of_check


@for_roles(*EVERYBODY)
@require_GET
def check_doubts(request: HttpRequest, pk: int) -> HttpResponse:
    """The stays whose papers a check puts in doubt, each with the size of the doubt."""
    check = get_object_or_404(CalibrationCheck.objects.select_related("withdrawal"), pk=pk)
    unit = unit_of(request)
    found = [(one, one.sentence(unit)) for one in doubts_of_check(check.pk)]
    context = {"check": check, "found": found, "stay_count": len({one.stay.pk for one, _ in found})}
    return render(request, "sites/check_doubts.html", context)
