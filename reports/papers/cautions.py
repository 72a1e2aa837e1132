"""The usual cautions, and what the customer must know the box is not. Local codes and licensed practice come first."""

from __future__ import annotations

from reports.papers.records import Unit

NOT_AN_ALARM = (
    "This is not an alarm. Nobody watches it day and night. It does not detect smoke, gas, carbon monoxide,"
    " freezing or water. If something is wrong, call us."
)
NOT_AN_ALARM_HEADING = "This is not an alarm."
NOT_AN_ALARM_REST = (
    "Nobody watches it day and night. It does not detect smoke, gas, carbon monoxide, freezing or water."
    " If something is wrong, call us."
)

WIFI_SENDS = (
    "It sends temperatures, signal strength and whether it has power to our shop. It does not look at your other"
    " devices. You type the password into the box; we never see or keep it."
)
WIFI_NOT_USED = "It does not use your Wi-Fi: we read the box when we pick it up."


def crew_cautions(unit: Unit) -> tuple[str, ...]:
    """What whoever opens the unit next must not forget, one sentence or two each."""
    hot = "120 °F" if unit == "F" else "49 °C"
    return (
        "Power off at the disconnect, locked out and proved dead with a meter before a panel comes off or a wire moves;"
        " that goes for mains and for 24 V AC. Never hold a door switch in to take a reading.",
        "Never bridge a float switch or any other safety switch, not for a minute.",
        f"Attic above {hot}: 15 minutes at a time, with water, and somebody at the hatch. Step on framing only.",
        "Ladder on firm ground, tied or held. No extension cord through the hatch.",
        "Before drilling, know what is behind: coil, refrigerant line, wire. Wrapped old ducts and pebbly insulation may be"
        " asbestos: do not drill. Magnets away from pacemakers.",
        "Local codes come first, and electrical and refrigerant work is for those licensed for it.",
    )
