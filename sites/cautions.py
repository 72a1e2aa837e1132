"""What a crew is reminded of where the work can hurt somebody, as sentences (pure, no Django).

They are the usual cautions and no procedure: the page adds that local code, the equipment's instructions and the licence
come first. Each set stands where its danger is met, in the order of the work at the unit: locked out and proved dead,
then drill, hook up, place, then panels on, then power, then volts.
"""

from decimal import Decimal
from typing import Literal

from kits.units import celsius_to_fahrenheit, temperature_text

# An unvented attic in summer; 140 °F is a published figure. Heat at which people work by the clock: 120 °F.
ATTIC_CELSIUS = Decimal("60")
HEAT_GATE_CELSIUS = Decimal("48.9")

Unit = Literal["F", "C"]

ON_THE_TRUCK = (
    "Strap the box down; no lead under a toolbox. A lead with cut insulation goes to the bench, not into a plenum.",
    "Take the plugs, foil tape, a lock and tag, and a meter that was proved on a live circuit.",
)

AT_THE_DOOR = (
    "Ask whether somebody here has a pacemaker or another implant: the kit's magnets stay an arm's length away.",
    "Ladder on firm ground, tied or held. Roof edge or a tight crawl space: two people or not at all. No extension cord "
    "through the hatch.",
)

AT_THE_DOOR_SAY = (
    "This is not an alarm. Nobody watches it day and night. It does not detect smoke, gas, carbon monoxide, freezing or "
    "water. If something is wrong, call us.",
    "It sends temperatures, signal strength and whether it has power to our shop. It does not look at your other devices. "
    "You type the password into the box; we never see or keep it. A guest network is best. Or use no Wi-Fi: we read the "
    "box when we pick it up.",
)

BEFORE_A_PANEL = (
    "Lock out and tag the indoor unit and the condenser; prove both dead, line voltage and 24 V, before a panel comes "
    "off, with a meter tried on a live circuit before and after.",
    "Look from inside before you drill: never into a coil box, heat exchanger or drain pan, nor where pipe, wire, gas or "
    "the blower can lie. Short bit with a stop.",
    "Wrapped old ducts, pebbly or loose gray insulation may be asbestos: do not drill, do not stir it, come back down.",
    "Class 2, 24 V only: spare conductors, R and C of one transformer, behind its fuse, never in a raceway with power.",
    "Never bridge or hold in a float, limit, rollout, pressure or door switch. Magnets away from them: a magnet can hold "
    "one closed.",
    "Leads out of pan and trap, off strips and flue, a drip loop on each. Never block or move a refrigerant leak sensor.",
)

PANELS_ON_FIRST = (
    "Panels on first, then power, then volts: read them at the kit's plug or at the thermostat, never with a door switch "
    "held in.",
    "Under 22 V with everything pulled in, take the kit off again.",
)

BEFORE_IT_COMES_OUT = (
    "Lock out and prove dead before the panel comes off, as when it went in.",
    "Every hole gets a snap-in plug and foil tape or mastic; no cloth duct tape.",
    "Wires back on the terminals they came from, panels on, then power. See the system run before you leave.",
    "Wipe the house's Wi-Fi from the box while you stand there.",
)

WITH_A_LEAD_IN_HAND = (
    "Lock out and prove dead before a panel comes off or a wire moves.",
    "Strap a pipe lead on clean copper, upper half of the pipe, foam over it. Magnets away from float and door switches.",
    "A new hole: look from inside first, never into a coil box, heat exchanger or drain pan. Plug and tape the old one.",
)


def at_the_unit(location: str) -> str:
    """The heading of what is done where the unit stands, by what is written about that place.

    >>> at_the_unit("Attic over the garage"), at_the_unit("Rooftop"), at_the_unit("")
    ('In the attic', 'At the unit', 'At the unit')
    """
    return "In the attic" if "attic" in location.lower() else "At the unit"


def in_the_heat(unit: Unit) -> str:
    """The gate before an attic, in the shop's degrees."""
    gate = celsius_to_fahrenheit(HEAT_GATE_CELSIUS) if unit == "F" else HEAT_GATE_CELSIUS
    return (
        f"Attic above {gate:.0f} °{unit}: 15 minutes at a time, with water, and somebody at the hatch. Step on framing "
        "only. Too hot is a reason to come back early in the morning; nobody asks for another."
    )


def about_the_box(
    *, rated_to_celsius: Decimal | None, adapter_isolated: str, has_battery: bool, unit: Unit
) -> list[str]:
    """What this very box cannot bear, where it matters in an attic. `adapter_isolated` is yes, no or unknown."""
    attic = temperature_text(ATTIC_CELSIUS, unit, 0)
    place = "put it on the return side or in the closet"
    found = []
    if rated_to_celsius is None:
        found.append(f"What heat this box bears is not recorded. An attic can reach {attic}: {place}.")
    elif rated_to_celsius < ATTIC_CELSIUS:
        rated = temperature_text(rated_to_celsius, unit, 0)
        found.append(f"This box is rated to {rated} and an attic can reach {attic}: {place}.")
    if adapter_isolated != "yes":
        known = "is not isolated" if adapter_isolated == "no" else "may not be isolated"
        found.append(
            f"The adapter {known}: a metal box on its magnets can short the transformer through the cabinet. Use insulated feet."
        )
    if has_battery:
        found.append(f"There is a battery inside: keep the box out of the heat, {place}.")
    return found
