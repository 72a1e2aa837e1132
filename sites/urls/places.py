"""Customers, sites, units, agreements."""

from django.urls import URLPattern, path

from sites.views import agreements, customers, places

urlpatterns: list[URLPattern] = [
    path("customers/", customers.customers, name="customers"),
    path("customers/new/", customers.customer_new, name="customer_new"),
    path("customers/<int:pk>/", customers.customer, name="customer"),
    path("customers/<int:pk>/edit/", customers.customer_edit, name="customer_edit"),
    path("sites/", places.sites, name="sites"),
    path("sites/new/", places.site_new, name="site_new"),
    path("sites/<int:pk>/", places.site, name="site"),
    path("sites/<int:pk>/edit/", places.site_edit, name="site_edit"),
    path("sites/<int:pk>/sold/", places.sold, name="house_sold"),
    path("sites/<int:pk>/parties/new/", places.party_new, name="party_new"),
    path("sites/<int:pk>/units/new/", places.unit_new, name="unit_new"),
    path("parties/<int:pk>/end/", places.party_end, name="party_end"),
    path("units/<int:pk>/", places.unit, name="unit"),
    path("units/<int:pk>/edit/", places.unit_edit, name="unit_edit"),
    path("agreements/new/", agreements.agreement_new, name="agreement_new"),
    path("agreements/<int:pk>/edit/", agreements.agreement_edit, name="agreement_edit"),
]
