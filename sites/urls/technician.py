"""What a technician does: the truck, scanning, a kit's face and its steps.

A label's symbol holds `HTTPS://HOST/K/CODE`, all upper case, so these paths ignore case and a slash at the end, and none
of them redirects: a redirect would lose what a phone posts.
"""

from django.urls import URLPattern, path, re_path

from sites.views import face, steps, technician


def any_case(text: str) -> str:
    """A pattern for `text` in any case. Character classes, since reverse() writes their first character.

    >>> any_case("k-x")
    '[kK]-[xX]'
    """
    return "".join(f"[{c}{c.upper()}]" if c.isalpha() else c for c in text)


def on_kit(step: str, view: object, name: str) -> URLPattern:
    return re_path(rf"^[kK]/(?P<code>[^/]+)/{any_case(step)}/?$", view, name=name)  # type: ignore[call-overload]


urlpatterns: list[URLPattern] = [
    path("truck/", technician.truck, name="truck"),
    path("scan/", face.scan, name="scan"),
    re_path(r"^[kK]/(?P<code>[^/]+)/?$", face.face, name="face"),
    on_kit("take", steps.take, "take"),
    on_kit("load", steps.load, "load"),
    on_kit("shelf", steps.shelve, "shelve"),
    on_kit("found", steps.found, "found"),
    on_kit("install", steps.install, "install"),
    on_kit("move", steps.move_sensor, "move_sensor"),
    on_kit("swap", steps.swap_lead, "swap_lead"),
    on_kit("remove", steps.remove, "remove"),
    on_kit("hand-back", steps.hand_back, "hand_back"),
    on_kit("settle", steps.settle, "settle"),
]
