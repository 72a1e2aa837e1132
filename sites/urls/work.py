"""The day sheet, calls, and what the office does about stays."""

from django.urls import URLPattern, path

from sites.views import assign, calls, day_sheet, doubts, stays

urlpatterns: list[URLPattern] = [
    path("", day_sheet.day_sheet, name="day_sheet"),
    path("calls/", calls.calls, name="calls"),
    path("calls/new/", calls.call_new, name="call_new"),
    path("calls/<int:number>/", calls.call, name="call"),
    path("calls/<int:number>/edit/", calls.call_edit, name="call_edit"),
    path("calls/<int:number>/close/", calls.call_close, name="call_close"),
    path("calls/<int:number>/assign/", assign.assign, name="assign"),
    path("checks/<int:pk>/doubts/", doubts.check_doubts, name="check_doubts"),
    path("stays/<int:pk>/extend/", stays.extend, name="extend"),
    path("stays/<int:pk>/call-off/", stays.call_off, name="call_off"),
    path("stays/<int:pk>/not-recovered/", stays.not_recovered, name="not_recovered"),
    path("stays/<int:pk>/correct-time/", stays.correct_time, name="correct_time"),
    path("stays/<int:pk>/asked/", stays.customer_asked, name="customer_asked"),
]
