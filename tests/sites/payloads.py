"""What a phone sends for each step, as flat as a form: dull defaults, changed by keywords."""

from datetime import timedelta
from html import unescape
from typing import Any

from django.test import Client
from django.utils import timezone

from kits.actions import sensors as sensor_actions
from kits.models import KeptAt, Kit, Sensor, User
from tests import make
from tests.conftest import signed_in


def leads(kit: Kit) -> list[Sensor]:
    return [row.sensor for row in kit.wirings.filter(wired_until=None).order_by("terminal")]


def spare_on_truck(technician: User) -> Sensor:
    spare = make.sensor(tag="spare 7")
    sensor_actions.keep_spare(make.act(), sensor=spare, place=KeptAt.TRUCK, technician=technician)
    return spare


def days_from_now(count: int) -> str:
    return (timezone.localdate() + timedelta(days=count)).isoformat()


def install(kit: Kit, **changes: Any) -> dict[str, Any]:
    """A kit with at least two leads goes in: the first at supply, the second at return."""
    first, second, *_ = leads(kit)
    values = {
        "consent_by": "A. Tenant",
        "consent_part": "tenant",
        "wifi": "none",
        "take_out_by": days_from_now(14),
        "back_in_shop_by": days_from_now(16),
        "volts_dead": "0.0",
        "hookup_terminals": "R and C at the air handler board",
        "tap_place": "upstream",
        f"at_{first.rom}": "SA",
        f"at_{second.rom}": "RA",
        "ports_drilled": "2",
        "volts_after": "25.1",
    }
    return without_nothing({**values, **changes})


def remove(user: User, **changes: Any) -> dict[str, Any]:
    values = {
        "pulled_by": user.name,
        "carrier": str(user.pk),
        "ports_closed": "2",
        "wire_restored": "on",
        "system_ran": "on",
    }
    return without_nothing({**values, **changes})


def count(kit: Kit, **changes: Any) -> dict[str, Any]:
    ticked = {f"counted_{sensor.rom}": "on" for sensor in leads(kit)}
    return without_nothing({**ticked, "where": "shop", "account_wiped": "on", "wifi_wiped": "on", **changes})


def without_nothing(values: dict[str, Any]) -> dict[str, Any]:
    """None takes a name out: it is not sent at all."""
    return {name: value for name, value in values.items() if value is not None}


def send(client: Client | User, kit: Kit | str, step: str, values: dict[str, Any], **headers: Any) -> Any:
    client = client if isinstance(client, Client) else signed_in(client)
    code = kit if isinstance(kit, str) else kit.code
    return client.post(f"/k/{code}/{step}", values, **headers)


def said(response: Any) -> str:
    """The page as text with entities undone, for looking for sentences."""
    return unescape(response.content.decode())
