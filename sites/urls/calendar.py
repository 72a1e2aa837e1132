"""One's own calendar."""

from django.urls import URLPattern, path

from sites.views import calendar

urlpatterns: list[URLPattern] = [
    path("my-calendar/", calendar.my_calendar, name="my_calendar"),
    path("my-calendar/revoke/", calendar.calendar_revoke, name="calendar_revoke"),
    path("calendar/<str:token>.ics", calendar.calendar_feed, name="calendar_feed"),
]
