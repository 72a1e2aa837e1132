"""The map of the product. Each app keeps its own streets."""

from importlib.util import find_spec

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", LoginView.as_view(redirect_authenticated_user=True), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    *(path("", include(f"{app}.urls")) for app in ("kits", "sites", "reports") if find_spec(f"{app}.urls")),
]
