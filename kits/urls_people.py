"""The map of the shop's own pages: signing in, settings, people."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from kits.views import people
from kits.web import EVERYBODY, for_roles

urlpatterns = [
    path("sign-in/", people.SignIn.as_view(), name="sign_in"),
    path("sign-out/", for_roles(*EVERYBODY)(LogoutView.as_view()), name="sign_out"),
    path("first-run/", people.first_run, name="first_run"),
    path("my-password/", people.MyPassword.as_view(), name="my_password"),
    path("shop/", people.shop, name="shop"),
    path("shop/logo.png", people.logo, name="shop_logo"),
    path("people/", people.person_list, name="people"),
    path("people/new/", people.add_person, name="add_person"),
    path("people/<int:pk>/", people.change_person, name="person"),
]
