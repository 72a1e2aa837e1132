"""From kits and sensors to the plain records that labels are drawn from."""

from collections.abc import Iterable

from django.db.models import Prefetch

from kits.codes import label_text
from kits.models import Kit, Sensor, Shop, Wiring
from reports.papers.records import KitLabel, LidLabel, LidSensor, SensorFlag

WIRED_NOW = Prefetch(
    "wirings",
    Wiring.objects.filter(wired_until=None).select_related("sensor").order_by("terminal"),
    to_attr="wired_now",
)


def with_wirings(kits: Iterable[Kit]) -> list[Kit]:
    """These kits in their order, each with what is on its terminals now as `wired_now`."""
    rows = {
        kit.pk: kit for kit in Kit.objects.filter(pk__in=[kit.pk for kit in kits]).prefetch_related(WIRED_NOW)
    }
    return [rows[kit.pk] for kit in kits]


def kit_label(kit: Kit, shop: Shop) -> KitLabel:
    """The label on the box."""
    return KitLabel(
        code=kit.code, name=kit.name, shop_phone=shop.phone, text=label_text(shop.label_host, kit.code)
    )


def lid_label(kit: Kit, shop: Shop) -> LidLabel:
    """The label inside the lid of a kit from `with_wirings`."""
    return LidLabel(
        code=kit.code,
        name=kit.name,
        text=label_text(shop.label_host, kit.code),
        power=power_words(kit),
        sensors=tuple(
            LidSensor(
                terminal=wiring.terminal,
                tag=wiring.sensor.tag,
                tail=wiring.sensor.tail,
                tag_colour=colour_word(wiring.sensor),
            )
            for wiring in kit.wired_now  # type: ignore[attr-defined]
        ),
    )


def power_words(kit: Kit) -> str:
    """What the kit is fed with and how much it takes; what nobody wrote down is said to be missing."""
    drawn = kit.power_draw_volt_ampere
    return f"{kit.get_power_input_display()}, {f'{drawn.normalize():f} VA' if drawn is not None else 'VA not recorded'}"


def colour_word(sensor: Sensor) -> str:
    return sensor.get_tag_colour_display().lower() if sensor.tag_colour else ""


def kit_flags(kit: Kit) -> list[SensorFlag]:
    """A flag for each sensor on the terminals of a kit from `with_wirings`.

    Raises ValueError naming a sensor that has no tag yet: a flag without one would tell nothing.
    """
    flags = []
    for wiring in kit.wired_now:  # type: ignore[attr-defined]
        if not wiring.sensor.tag:
            raise ValueError(
                f"Sensor {wiring.sensor} on terminal {wiring.terminal} of {kit} has no tag."
                " Give it one, then print its flag."
            )
        flags.append(flag(wiring.sensor, kit.code))
    return flags


def sensor_flag(sensor: Sensor) -> SensorFlag:
    """The flag of one sensor: with its kit's code, or as a spare. ValueError when it has no tag."""
    if not sensor.tag:
        raise ValueError(f"Sensor {sensor} has no tag. Give it one, then print its flag.")
    wiring = sensor.wiring
    return flag(sensor, wiring.kit.code if wiring else "")


def flag(sensor: Sensor, kit_code: str) -> SensorFlag:
    return SensorFlag(tag=sensor.tag, rom=sensor.rom, kit_code=kit_code, tag_colour=colour_word(sensor))
