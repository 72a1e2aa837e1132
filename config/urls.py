"""The map of the product. Each app keeps its own streets."""

from importlib.util import find_spec

from django.urls import URLPattern, URLResolver, include, path

from config.search import search

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("kits.urls_people")),
    path("search/", search, name="search"),
    *(path("", include(f"{app}.urls")) for app in ("kits", "sites", "reports") if find_spec(f"{app}.urls")),
]
