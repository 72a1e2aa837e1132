"""The map of this app: kits and where they are, places, work, and what technicians do."""

from sites.urls import calendar, kits, places, technician, work

urlpatterns = [
    *kits.urlpatterns,
    *places.urlpatterns,
    *work.urlpatterns,
    *technician.urlpatterns,
    *calendar.urlpatterns,
]
