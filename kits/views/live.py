"""What a kit sends: the door it knocks at with its key, the page that tells what came, its key, and files played instead."""

import hmac
import json
from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_POST

from kits import live
from kits.actions import live as actions
from kits.actions.acting import Act, Done
from kits.forms.leads import PlayForm, PressForm
from kits.models import Kit, KitKey, LiveReading
from kits.replaying import played_from
from kits.senml import CELSIUS, PREFIX, BadPack, read_pack, temperatures
from kits.ways import sent
from kits.web import BENCH, EVERYBODY, for_roles, take_step, user_of, wants_json

LARGEST_PACK_BYTES = 64 * 1024
MOST_RECORDS = 1_000
MOST_PACKS_A_MINUTE = 120
PAGE = "kits/live.html"


# -- The door ------------------------------------------------------------------------------------------------------------


@csrf_exempt  # a box has no cookies; its key stands in a header that no page can make a browser send
@login_not_required
@require_POST
def live_in(request: HttpRequest, code: str) -> JsonResponse:
    """A kit sends a SenML pack of temperatures, with its key. All of it is kept or none."""
    kit = Kit.objects.filter(code=code.upper()).first()
    refused = refused_key(request, kit)
    if refused is not None or kit is None:
        return refused or refusal(401, "No kit has this key.")
    if too_many(kit):
        answer = refusal(
            429, f"More than {MOST_PACKS_A_MINUTE} packs in a minute. Put several readings into a pack."
        )
        answer.headers["Retry-After"] = "60"
        return answer
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_PACK_BYTES:
        return refusal(
            413, f"The pack is larger than {LARGEST_PACK_BYTES // 1024} KiB. Send fewer records at once."
        )
    now = timezone.now()
    try:
        records = read_pack(request.body, now=now)
        if len(records) > MOST_RECORDS:
            return refusal(413, f"The pack has more than {MOST_RECORDS} records. Send fewer at once.")
        taken = live.take_readings(kit, temperatures(records), now=now)
    except (BadPack, live.TooFarAhead) as bad:
        return refusal(400, str(bad))
    return answered(200, {"ok": True, "kept": taken.kept, "again": taken.again, "too_old": taken.too_old})


def refused_key(request: HttpRequest, kit: Kit | None) -> JsonResponse | None:
    """The answer to a request whose key does not open this kit; None when it does."""
    scheme, _, key = request.headers.get("Authorization", "").partition(" ")
    if scheme.casefold() != "bearer" or not key.strip():
        return refusal(401, "Send the kit's key: Authorization: Bearer, a blank, the key.")
    sha256 = live.key_sha256(key.strip())
    ours = live.open_key(kit) if kit else None
    if hmac.compare_digest(sha256, ours.sha256 if ours else ""):
        return None
    # Whoever holds a key that was good once may hear why it is not now; to others all kits look alike.
    known = KitKey.objects.filter(sha256=sha256).select_related("kit").first()
    if known is None:
        return refusal(401, "No kit has this key.")
    if known.revoked_at is not None:
        return refusal(401, "This key was revoked. Make a new one on the kit's page.")
    return refusal(403, f"This key belongs to kit {known.kit.code}. Each kit has a key of its own.")


def too_many(kit: Kit) -> bool:
    """Whether this kit has sent more packs within a minute than any box needs. Each worker counts for itself."""
    key = f"live-packs-{kit.pk}"
    cache.add(key, 0, timeout=60)
    try:
        return cache.incr(key) > MOST_PACKS_A_MINUTE
    except ValueError:  # the minute ended in between
        return False


def refusal(status: int, sentence: str) -> JsonResponse:
    answer = answered(status, {"ok": False, "sentence": sentence})
    if status == 401:
        answer.headers["WWW-Authenticate"] = 'Bearer realm="Kitperch"'
    return answer


def answered(status: int, content: dict[str, Any]) -> JsonResponse:
    answer = JsonResponse(content, status=status)
    answer.headers["Cache-Control"] = "no-store"
    return answer


# -- The page ------------------------------------------------------------------------------------------------------------


@never_cache
@for_roles(*EVERYBODY)
@require_GET
def kit_live(request: HttpRequest, code: str) -> HttpResponse:
    """What this kit sends now; as JSON for whoever asks for that."""
    kit = get_object_or_404(Kit, code=code.upper())
    if wants_json(request):
        return told(kit)
    template = "kits/_newest.html" if "part" in request.GET else PAGE
    return render(request, template, shown(request, kit))


def told(kit: Kit) -> JsonResponse:
    """The newest reading of each sensor, uncorrected, in °C."""
    now = timezone.now()
    readings = [
        {
            "rom": one.rom,
            "tag": one.sensor.tag if one.sensor else "",
            "celsius": float(one.celsius),
            "read_at": one.read_at.isoformat(),
            "age_s": one.age_s,
        }
        for one in live.newest_readings(kit, now)
    ]
    return JsonResponse({"kit": kit.code, "now": now.isoformat(), "readings": readings})


def shown(request: HttpRequest, kit: Kit, **more: Any) -> dict[str, Any]:
    """What the page tells: the newest readings, the key without its secret, and a file being played."""
    now = timezone.now()
    newest = live.newest_readings(kit, now)
    rest = (
        LiveReading.objects.filter(kit=kit, read_at__gt=now)
        .order_by("-read_at")
        .values_list("read_at", flat=True)
    )
    return {
        "kit": kit,
        "newest": newest,
        "sending": [one for one in newest if not one.is_silent],
        "key": live.open_key(kit),
        "playing_until": rest.first(),
        "may_work": user_of(request).role in BENCH,
        "address": request.build_absolute_uri(reverse("live_in", args=[kit.code])),
        "example": example_pack([row.sensor.rom for row in live.wired(kit)]),
        "press": PressForm(auto_id=False),
        "play": PlayForm(),
        **more,
    }


def example_pack(roms: Sequence[str]) -> str:
    """A pack as this kit's box would send it, for whoever writes its program."""
    names = [rom.lower() for rom in roms[:2]] or ["28ff641e0f000034"]
    first = {"bn": PREFIX, "bu": CELSIUS, "n": names[0], "v": 22.5}
    return json.dumps([first, *({"n": name, "v": 22.4375} for name in names[1:])], indent=1)


@never_cache
@for_roles(*BENCH)
@require_POST
def kit_key_new(request: HttpRequest, code: str) -> HttpResponse:
    """Makes a key and shows it in the answer to that very request, never again."""
    kit = get_object_or_404(Kit, code=code.upper())
    fresh: list[str] = []

    def make(act: Act) -> Done:
        key = live.new_key()
        done = actions.make_key(act, kit=kit, sha256=live.key_sha256(key))
        if not done.again:
            fresh.append(key)
        return done

    answer = pressed(request, kit, make)
    if not fresh:
        return answer
    if wants_json(request):
        return JsonResponse({**json.loads(answer.content), "key": fresh[0]})
    return render(request, PAGE, shown(request, kit, fresh=fresh[0]))


@for_roles(*BENCH)
@require_POST
def kit_key_revoke(request: HttpRequest, code: str) -> HttpResponse:
    """The kit's key opens nothing any more."""
    kit = get_object_or_404(Kit, code=code.upper())
    return pressed(request, kit, lambda act: actions.revoke_key(act, kit=kit))


@for_roles(*BENCH)
@require_POST
def kit_play(request: HttpRequest, code: str) -> HttpResponse:
    """A file of readings is played as if the kit sent them now."""
    kit = get_object_or_404(Kit, code=code.upper())
    form = PlayForm(sent(request), request.FILES)

    def do(act: Act) -> Done:
        file = form.cleaned_data["file"]
        readings = played_from(form.readings, act.recorded_at)
        return actions.play_file(act, kit=kit, readings=readings, name=file.name)

    return take_step(
        request, form, do, template=PAGE, context=shown(request, kit, play=form), then=lambda done: here(kit)
    )


@for_roles(*BENCH)
@require_POST
def kit_play_stop(request: HttpRequest, code: str) -> HttpResponse:
    """What is left of a file is not told."""
    kit = get_object_or_404(Kit, code=code.upper())
    return pressed(request, kit, lambda act: actions.stop_file(act, kit=kit))


def pressed(request: HttpRequest, kit: Kit, do: Any) -> HttpResponse:
    """A press of a button on the page."""
    form = PressForm(sent(request))
    return take_step(
        request,
        form,
        do,
        template=PAGE,
        context=shown(request, kit, refused=form),
        then=lambda done: here(kit),
    )


def here(kit: Kit) -> str:
    return reverse("kit_live", args=[kit.code])
