"""The map of the bench's measuring: references, checks and what follows from them for a sensor."""

from django.urls import path

from kits.views import check_begin, check_points, checks, references

urlpatterns = [
    path("references/", references.reference_list, name="references"),
    path("references/new/", references.reference_new, name="reference_new"),
    path("references/<int:pk>/", references.reference, name="reference"),
    path("references/<int:pk>/change/", references.reference_change, name="reference_change"),
    path("references/<int:pk>/certificate/", references.certificate_new, name="certificate_new"),
    path("checks/", checks.check_list, name="checks"),
    path("checks/new/", check_begin.check_new, name="check_new"),
    path("checks/<int:pk>/", checks.check, name="check"),
    path("checks/<int:pk>/close/", checks.check_close, name="check_close"),
    path("checks/<int:pk>/withdraw/", checks.check_withdraw, name="check_withdraw"),
    path("checks/<int:pk>/drop/", checks.check_drop, name="check_drop"),
    path("checks/<int:pk>/points/", check_points.point_new, name="check_point_new"),
    path("checks/<int:pk>/points/<int:number>/", check_points.point, name="check_point"),
    path("checks/<int:pk>/points/<int:number>/paste/", check_points.paste, name="check_paste"),
    path("checks/<int:pk>/points/<int:number>/live/", check_points.live, name="check_live"),
    path("checks/<int:pk>/shape/", checks.check_shape, name="check_shape"),
    path("sensors/<str:rom>/due-now/", checks.due_now, name="sensor_due_now"),
]
