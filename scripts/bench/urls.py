"""The product's addresses, and the floors'."""

from django.urls import include, path

from scripts.bench import floors

urlpatterns = [
    path("floor/face/<str:code>/", floors.face),
    path("floor/kits/", floors.kits),
    path("", include("config.urls")),
]
