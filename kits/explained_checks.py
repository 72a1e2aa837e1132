"""How a check is made, in sentences: each method with what it is good for, its cautions, and its usual allowances (pure).

The cautions are the usual ones and no procedure; the page adds that local rules and the instruments' instructions come
first. Allowances are those of `kits.measuring.point.DEFAULT_BATHS`.
"""

from dataclasses import dataclass

from kits.measuring.point import DEFAULT_BATHS
from kits.units import Unit, difference_text


@dataclass(frozen=True)
class MethodTold:
    """One method in words."""

    key: str
    name: str
    sentence: str
    cautions: tuple[str, ...]
    uniformity: str
    stability: str
    why: str


SENTENCES = {
    "ice": (
        "Ice bath",
        "Crushed ice with just enough clean water to fill the gaps, in an insulated jug: 0.0 °C (32.0 °F). The best one "
        "to begin with, and it needs no certificate.",
    ),
    "stirred": (
        "Stirred bath",
        "Water at a temperature you choose, stirred all the time, the reference's tip among the sensors. For offsets at "
        "the temperatures you measure at.",
    ),
    "air": (
        "Side by side in air",
        "Sensors and reference bundled tip to tip in a box or under a towel until nothing moves any more. Quick, and much "
        "coarser than water.",
    ),
    "boiling": (
        "Boiling water",
        "Sensors in water at a full boil. Its temperature follows from the air pressure of this very place, so a "
        "barometer is needed. A second point far from ice.",
    ),
}
WATER = (
    "Keep the kit's box, its adapter and everything on mains power away from the water; only the leads go in."
)
CAUTIONS = {
    "ice": (
        WATER,
        "Check first that the sensors' tips and lead ends are sealed; a wet splice ruins the reading.",
    ),
    "stirred": (
        WATER,
        "Above 120 °F (49 °C) water scalds: long tongs, no reaching in, and nobody's elbow near the jug.",
    ),
    "air": ("Let nothing warm or blow on the bundle: no lamp, no sun, no hand, no fan aimed at it.",),
    "boiling": (
        "Boiling water and its steam scald: gloves, long tongs, the pot at the back, and nobody under the table.",
        WATER,
        "Only for leads rated to 212 °F (100 °C) and more; many tapes and glues are not.",
    ),
}


def methods_told(unit: Unit) -> list[MethodTold]:
    """Every method, with its usual allowances in the shop's unit."""
    return [
        MethodTold(
            key=key,
            name=name,
            sentence=sentence,
            cautions=CAUTIONS[key],
            uniformity=f"± {difference_text(DEFAULT_BATHS[key].uniformity_half_width_kelvin, unit, 2, signed=False)}",  # type: ignore[index]
            stability=f"± {difference_text(DEFAULT_BATHS[key].stability_half_width_kelvin, unit, 2, signed=False)}",  # type: ignore[index]
            why=DEFAULT_BATHS[key].why,  # type: ignore[index]
        )
        for key, (name, sentence) in SENTENCES.items()
    ]
