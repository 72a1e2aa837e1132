"""The door at which a kit sends its readings: who is let in, what is taken, what is refused, and what is kept of it."""

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from kits import live
from kits.actions import live as actions
from kits.models import Event, Kit, KitKey, LiveReading
from kits.views import live as views
from tests import make

pytestmark = pytest.mark.django_db
KEY = "a-key-of-the-test-with-many-characters"


@pytest.fixture(autouse=True)
def nothing_counted():
    cache.clear()


@pytest.fixture
def kit() -> Kit:
    made = make.kit(sensors=2)
    actions.make_key(make.act(), kit=made, sha256=live.key_sha256(KEY))
    return made


def rom_of(kit: Kit) -> str:
    return live.wired(kit)[0].sensor.rom


def one_reading(kit: Kit, **more: object) -> list[dict[str, object]]:
    return [{"n": f"urn:dev:ow:{rom_of(kit).lower()}", "u": "Cel", "v": 21.5, **more}]


def send(kit: Kit, pack: object, key: str = KEY, **headers: str):
    body = pack if isinstance(pack, str | bytes) else json.dumps(pack)
    headers = {"Authorization": f"Bearer {key}", **headers}
    client = Client(enforce_csrf_checks=True)
    return client.post(f"/live/{kit.code}/", body, content_type="application/senml+json", headers=headers)


def test_a_pack_is_kept_with_the_raw_reading(kit):
    answer = send(kit, one_reading(kit, t=-3))
    assert (answer.status_code, answer.json()) == (200, {"ok": True, "kept": 1, "again": 0, "too_old": 0})
    row = LiveReading.objects.get()
    assert (row.kit, row.rom, row.celsius) == (kit, rom_of(kit), Decimal("21.5"))
    assert abs((timezone.now() - row.read_at).total_seconds() - 3) < 5


def test_the_same_pack_again_changes_nothing(kit):
    pack = one_reading(kit, t=timezone.now().timestamp() - 2)
    send(kit, pack)
    assert send(kit, pack).json() == {"ok": True, "kept": 0, "again": 1, "too_old": 0}
    assert LiveReading.objects.count() == 1


@pytest.mark.parametrize("authorization", ["", "Bearer", "Bearer ", "Basic abc", "Bearer wrong", KEY])
def test_without_its_key_nobody_gets_in(kit, authorization):
    answer = send(kit, one_reading(kit), Authorization=authorization)
    assert answer.status_code == 401 and answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert not LiveReading.objects.exists()


def test_a_kit_that_is_not_there_is_answered_like_a_wrong_key(kit):
    kit.code = "22222P"
    client = Client()
    answer = client.post(
        "/live/22222P/", "[]", content_type="application/json", headers={"Authorization": "Bearer x"}
    )
    assert (answer.status_code, answer.json()["sentence"]) == (401, "No kit has this key.")


def test_the_key_of_another_kit_is_told_apart(kit):
    other = make.kit(sensors=1)
    answer = send(other, one_reading(other))
    assert answer.status_code == 403 and kit.code in answer.json()["sentence"]


def test_a_new_key_revokes_the_one_before_and_a_revoked_one_says_so(kit):
    actions.make_key(make.act(), kit=kit, sha256=live.key_sha256("another"))
    assert "revoked" in send(kit, one_reading(kit)).json()["sentence"]
    assert send(kit, one_reading(kit), key="another").status_code == 200
    actions.revoke_key(make.act(), kit=kit)
    assert send(kit, one_reading(kit), key="another").status_code == 401


@pytest.mark.parametrize(
    ("pack", "says"),
    [
        ("", "no JSON"),
        ("no json", "no JSON"),
        (b"\xff\xfe", "no JSON"),
        ({"n": "a"}, "array of records"),
        ([], "empty"),
        ([{"n": "supply", "u": "Cel", "v": 1}], "supply is no sensor"),
        ([{"n": "urn:dev:ow:28ff641e0f000035", "u": "Cel", "v": 1}], "urn:dev:ow:28ff641e0f000035: The CRC"),
        ([{"n": "urn:dev:ow:10e2073a01080063", "u": "Cel", "v": 1}], "DS18S20"),
    ],
)
def test_what_cannot_be_taken_is_refused_by_name(kit, pack, says):
    answer = send(kit, pack)
    assert answer.status_code == 400 and says in answer.json()["sentence"]


def test_one_bad_record_and_nothing_of_the_pack_is_kept(kit):
    assert send(kit, [*one_reading(kit), *one_reading(kit, u="K", v=294.6)]).status_code == 400
    assert not LiveReading.objects.exists()


def test_readings_of_times_to_come_are_refused_with_how_far_the_clock_is_ahead(kit):
    answer = send(kit, one_reading(kit, t=40))
    assert answer.status_code == 400 and "40 s ahead" in answer.json()["sentence"]


def test_what_is_older_than_an_hour_is_not_kept(kit):
    assert send(kit, [*one_reading(kit), *one_reading(kit, t=-3700)]).json()["too_old"] == 1
    assert LiveReading.objects.count() == 1


def test_what_has_become_old_goes_with_the_next_pack(kit):
    now = timezone.now()
    for kit_ in (kit, make.kit(sensors=1)):
        LiveReading.objects.create(
            kit=kit_, rom=rom_of(kit_), celsius=20, read_at=now - timedelta(hours=2), received_at=now
        )
    send(kit, one_reading(kit))
    assert LiveReading.objects.filter(kit=kit).count() == 1
    call_command("forget_live", "--dry-run")
    assert LiveReading.objects.count() == 2
    call_command("forget_live")
    assert LiveReading.objects.count() == 1


def test_a_pack_that_is_too_large_is_refused_unread(kit):
    assert send(kit, b" " * (views.LARGEST_PACK_BYTES + 1)).status_code == 413
    many = [
        {"bn": f"urn:dev:ow:{rom_of(kit)}", "bu": "Cel", "v": 1},
        *[{"v": 1, "t": -n} for n in range(1000)],
    ]
    assert send(kit, many).status_code == 413
    assert not LiveReading.objects.exists()


def test_a_kit_that_sends_too_often_is_told_to_wait(kit, monkeypatch):
    monkeypatch.setattr(views, "MOST_PACKS_A_MINUTE", 2)
    answers = [send(kit, one_reading(kit)) for _ in range(3)]
    assert [one.status_code for one in answers] == [200, 200, 429]
    assert answers[2].headers["Retry-After"] == "60"


def test_it_takes_packs_and_nothing_else(kit):
    assert Client().get(f"/live/{kit.code}/").status_code == 405


# -- The page ------------------------------------------------------------------------------------------------------------


@pytest.mark.one_database
def test_a_key_is_shown_once_and_only_its_fingerprint_is_kept(technician_client):
    made = make.kit(sensors=1)
    page = technician_client.post(f"/kits/{made.code}/live/key/", {}, headers={"Accept": "application/json"})
    key = page.json()["key"]
    assert send(made, one_reading(made), key=key).status_code == 200
    assert KitKey.objects.get(kit=made).sha256 == live.key_sha256(key)
    assert key not in technician_client.get(f"/kits/{made.code}/live/").content.decode()
    assert key not in json.dumps([[event.summary, event.details] for event in Event.objects.all()])


@pytest.mark.one_database
def test_what_it_sends_is_told_as_json_newest_first_known(technician_client, kit):
    send(kit, [*one_reading(kit, t=-5), *one_reading(kit, v=22.25)])
    told = technician_client.get(f"/kits/{kit.code}/live/", headers={"Accept": "application/json"}).json()
    assert [(one["rom"], one["celsius"]) for one in told["readings"]] == [(rom_of(kit), 22.25)]
    assert told["kit"] == kit.code


@pytest.mark.one_database
def test_a_file_is_played_as_if_the_kit_sent_it_now(technician_client, kit):
    rows = "".join(f"{second},{rom_of(kit)},{20 + second}\n" for second in range(0, 10, 5))
    file = make_file(f"time,rom,celsius\n{rows}")
    answer = technician_client.post(f"/kits/{kit.code}/live/play/", {"file": file}, follow=True)
    assert "A file is being played until" in answer.content.decode()
    now = timezone.now()
    first, second = LiveReading.objects.order_by("read_at")
    assert first.read_at <= now < second.read_at <= now + timedelta(seconds=5)
    assert [one.celsius for one in live.newest_readings(kit, now)] == [20]
    technician_client.post(f"/kits/{kit.code}/live/stop/", {})
    assert LiveReading.objects.get() == first


@pytest.mark.one_database
def test_a_file_that_cannot_be_read_says_why(technician_client, kit):
    answer = technician_client.post(f"/kits/{kit.code}/live/play/", {"file": make_file("a,b\n")})
    assert answer.status_code == 422 and "Missing: time, rom, celsius" in answer.content.decode()


def make_file(text: str):
    from django.core.files.uploadedfile import SimpleUploadedFile

    return SimpleUploadedFile("bench.csv", text.encode())
