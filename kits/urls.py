"""The map of this app: the bench and the sensors."""

from django.urls import URLPattern, path

from kits import urls_checks, urls_leads
from kits.views import bench, sensors, wiring

sensor_urls = [  # a ROM ID in any usual writing
    path("sensors/", sensors.sensor_list, name="sensors"),
    path("sensors/new/", sensors.sensor_new, name="sensor_new"),
    path("sensors/<str:rom>/", sensors.sensor, name="sensor"),
    path("sensors/<str:rom>/change/", sensors.sensor_change, name="sensor_change"),
    path("sensors/<str:rom>/keep/", sensors.sensor_keep, name="sensor_keep"),
    path("sensors/<str:rom>/offset/", sensors.sensor_offset, name="sensor_offset"),
    path("sensors/<str:rom>/wire-in/", wiring.sensor_wire_in, name="sensor_wire_in"),
    path("sensors/<str:rom>/wire-out/", wiring.sensor_wire_out, name="sensor_wire_out"),
]

bench_urls = [
    path("bench/", bench.bench, name="bench"),
    path("bench/follow-ups/<int:pk>/", bench.follow_up_done, name="follow_up_done"),
    path("kits/<str:code>/condition/", bench.kit_condition, name="kit_condition"),
    path("kits/<str:code>/wire-in/", wiring.kit_wire_in, name="kit_wire_in"),
]

urlpatterns: list[URLPattern] = [*sensor_urls, *bench_urls, *urls_checks.urlpatterns, *urls_leads.urlpatterns]
