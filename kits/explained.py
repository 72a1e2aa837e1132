"""What technical fields mean, in plain words, for whoever meets them the first time (no Django here).

By the field's name in forms. Facts of the trade are common practice unless a source is named.
"""

EXPLAINED = {
    "rom": (
        "Every sensor of this kind carries a number burnt in at the factory, 16 digits of 0-9 and A-F. The reader "
        "program prints it; any way of writing it will do. Its last two digits prove the others, so a slip is found."
    ),
    "offset_kelvin": (
        "What is ADDED to the raw reading to get the truth. In stirred crushed ice the truth is 0.0 °C (32 °F): a "
        "sensor that shows 0.31 °C there gets an offset of -0.31. It belongs to the sensor, never to the position."
    ),
    "uncertainty_kelvin": (
        "How far the corrected reading may still be off, both ways, 95 times in 100. Crushed ice without a certified "
        "thermometer is good for about 0.1 K."
    ),
    "terminal": "The numbered screw inside the box that the lead goes to. A kit has five at the most.",
    "tap_place": (
        "A float switch that breaks R cuts everything after it when the drain pan fills. Only if we know whether the "
        "kit hangs before or after the switch can a power gap be told from a full pan."
    ),
    "float_switch": (
        "The switch in the drain pan. One that breaks R takes power from the thermostat and the board; one that breaks "
        "Y stops only the outdoor unit. Look where its two wires go."
    ),
    "transformer_volt_ampere": (
        "The VA on the transformer's nameplate, often 40. All that runs at once on it should stay below 80 % of that."
    ),
    "power_draw_volt_ampere": (
        "What the kit takes from the 24 V transformer. A small adapter takes more VA than watts: reckon 2 to 3 VA for "
        "1 W, 4 to 5 for 2 W."
    ),
    "adapter_isolated": (
        "Isolated: no wire goes straight through from the 24 V side to the kit's side. If it does and the metal box "
        "touches the cabinet, a diode shorts and the board's fuse blows. Not sure? Say so, and use insulated feet."
    ),
    "has_aux_contact": (
        "A relay in the box that can switch something on a schedule or condition. It never stands in place of a "
        "safety switch, nor in series with one."
    ),
    "rated_to": (
        "The hottest air the box may hang in, by its parts' data sheets; 140 °F (60 °C) is a usual attic in summer. "
        "Plug adapters are often good for 104 °F (40 °C) only."
    ),
    "lead_length_m": "From the box to the tip. It decides which units the kit can reach.",
    "volts_dead": (
        "What the meter shows at the hook-up once the power is locked out. Prove the meter on something live first."
    ),
    "volts_after": (
        "24 or more is good. Under 22 with everything pulled in, the transformer is too small: take the kit off again."
    ),
    "hookup_terminals": (
        "R is the hot side of the 24 V, C the common. Colours are habit, not proof, and on some boards C means "
        "compressor: read the terminal and measure."
    ),
    "label_host": (
        "What a phone's browser has to reach when a label is scanned. It is printed into every label, so choose one "
        "you will keep; short ones give a code that is easier to scan."
    ),
}
