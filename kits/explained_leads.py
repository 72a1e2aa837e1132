"""How leads are told apart, in sentences: the cautions, and what to do step by step (pure).

The cautions are the usual ones and no procedure; the page adds that local rules and the equipment's instructions come
first.
"""

CAUTIONS = (
    "Do it on the bench, with the kit fed from its own bench supply. Nothing of it is wired to a unit meanwhile.",
    "Never reach into a unit that has power for this: the probes sit near 24 V and mains, fans and hot pipes.",
    "Not in a hot attic: it is no place to stand for minutes, and air as warm as a hand tells nothing.",
    "A tip that has just been in hot or freezing water, or in a duct, burns or bites a bare hand. Let it hang first.",
)
COLD_CAUTION = (
    "A freezer pack or sprayed refrigerant freezes skin. A cold drink can or a wet cloth is cold enough."
)
HAND_STEPS = (
    "Hang all leads up, apart, touching nothing. Fan and equipment off. Half a minute is needed.",
    "Close a bare hand round one metal tip. Say so here at once.",
    "Hold until the page says which one it is, half a minute to a minute and a half.",
    "Put its tape on, name it here, lay it apart. Take the next one.",
)
