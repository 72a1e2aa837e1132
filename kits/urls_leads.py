"""The map of what kits send, and of telling which lead is which."""

from django.urls import path

from kits.views import leads, live, plugging

urlpatterns = [
    path("live/<str:code>/", live.live_in, name="live_in"),
    path("kits/<str:code>/live/", live.kit_live, name="kit_live"),
    path("kits/<str:code>/live/key/", live.kit_key_new, name="kit_key_new"),
    path("kits/<str:code>/live/revoke/", live.kit_key_revoke, name="kit_key_revoke"),
    path("kits/<str:code>/live/play/", live.kit_play, name="kit_play"),
    path("kits/<str:code>/live/stop/", live.kit_play_stop, name="kit_play_stop"),
    path("kits/<str:code>/leads/", leads.lead_warm, name="lead_warm"),
    path("kits/<str:code>/leads/typed/", leads.lead_typed, name="lead_typed"),
    path("kits/<str:code>/leads/undo/", leads.lead_undo, name="lead_undo"),
    path("kits/<str:code>/leads/plug/", plugging.lead_plug, name="lead_plug"),
]
