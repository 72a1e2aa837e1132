"""Kits, the shelf, and the positions sensors sit at."""

from django.urls import URLPattern, path

from sites.views import kit_steps, kits, shelf, weeks

urlpatterns: list[URLPattern] = [
    path("kits/", kits.kits, name="kits"),
    path("kits/new/", kits.kit_new, name="kit_new"),
    path("kits/built/<int:event>/", kits.kits_built, name="kits_built"),
    path("kits/weeks/", weeks.weeks, name="weeks"),
    path("kits/shelf-count/", shelf.shelf_count, name="shelf_count"),
    path("kits/shelf-count/<int:pk>/", shelf.shelf_count_result, name="shelf_count_result"),
    # A code in any writing; the page itself leads to the one on the label.
    path("kits/<str:code>/", kits.kit, name="kit"),
    path("kits/<str:code>/change/", kits.kit_change, name="kit_change"),
    path("kits/<str:code>/parts/", kits.kit_parts, name="kit_parts"),
    path("kits/<str:code>/shelf/", kit_steps.kit_shelf, name="kit_shelf"),
    path("kits/<str:code>/bench/", kit_steps.kit_bench, name="kit_bench"),
    path("kits/<str:code>/truck/", kit_steps.kit_truck, name="kit_truck"),
    path("kits/<str:code>/missing/", kit_steps.kit_missing, name="kit_missing"),
    path("kits/<str:code>/found/", kit_steps.kit_found, name="kit_found"),
    path("kits/<str:code>/retire/", kit_steps.kit_retire, name="kit_retire"),
    path("kits/<str:code>/bring-back/", kit_steps.kit_bring_back, name="kit_bring_back"),
    path("kits/<str:code>/undo-take/<int:event>/", kit_steps.undo_take, name="undo_take"),
    path("positions/", shelf.positions, name="positions"),
]
