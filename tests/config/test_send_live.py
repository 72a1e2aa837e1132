"""The simulated kit of the demo: it says what it is, and the pages tell from it the lead it says it holds."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from config.management.commands import send_live
from kits import live
from kits.models import KitKey, LiveReading
from kits.senml import read_pack, temperatures
from kits.telling_leads import Hold, Telling
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


class Clock:
    """Time that goes by only when somebody sleeps, and what was sent meanwhile."""

    def __init__(self) -> None:
        self.now = timezone.now() - timedelta(minutes=10)

    def sleep(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)

    def monotonic(self) -> float:
        return self.now.timestamp()


@pytest.fixture
def clock(monkeypatch):
    clock = Clock()
    monkeypatch.setattr(send_live, "time", clock)
    return clock


def test_it_says_that_it_is_a_simulation_and_holds_what_it_says(monkeypatch, clock):
    make.manager()
    kit = make.kit(sensors=0)
    for _ in range(2):
        make.sensor(kit=kit, tag="")

    def send(self, records):
        live.keep(kit, temperatures(read_pack(json.dumps(records), now=clock.now)), now=timezone.now())

    monkeypatch.setattr(send_live.Command, "send", send)
    said = StringIO()
    call_command("send_live", kit.code, seconds=1, stdout=said)
    assert said.getvalue().startswith("SIMULATION, no real kit")
    assert KitKey.objects.filter(kit=kit, revoked_at=None).exists()
    # 45 s of quiet, 60 s of the first lead, 45 s of quiet, 60 s of the second.
    end_s, rom = clock.now.timestamp(), live.wired(kit)[0].sensor.rom
    began_s = end_s - 165
    assert f"the lead of …{rom[-4:]}" in said.getvalue()
    assert Telling(kit, Hold(began_s), began_s + 50, "C").judgement.rom == rom


def test_leads_plugged_in_appear_one_at_a_time(monkeypatch, clock):
    make.manager()
    kit = make.kit(sensors=0)
    sent = []
    monkeypatch.setattr(send_live.Command, "send", lambda self, records: sent.append(len(records)))
    call_command("send_live", kit.code, plug=2, seconds=30, stdout=StringIO())
    assert sent[0] == 1 and sent[-1] == 2 and sent == sorted(sent)
    assert not LiveReading.objects.exists()


@pytest.mark.parametrize(
    ("code", "says"), [("22222P", "No kit has this code"), ("", "carries no sensor. Try --plug 5")]
)
def test_what_it_cannot_simulate_it_says(code, says):
    make.manager()
    kit = make.kit(sensors=0)
    with pytest.raises(CommandError, match=says):
        call_command("send_live", code or kit.code, stdout=StringIO())
