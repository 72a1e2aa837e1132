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
    "tag_other": (
        "Numbers go on the tape first: red, white, green, yellow and blue are colours of thermostat wires too, and "
        "nobody reads a number as a wire. Add a colour for attics, where a band is seen before a digit."
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
    # References and checks.
    "resolution_kelvin": (
        "Within one step the display cannot tell temperatures apart: a reading of 0.1 may be anything from 0.05 to 0.15. "
        "That goes into the uncertainty."
    ),
    "allowance_kelvin": (
        "Ice and boiling water have no certificate. Crushed ice packed tight with a little clean water stays within a tenth "
        "of a degree; cubes floating in water can be off by several tenths."
    ),
    "expanded_uncertainty_kelvin": (
        "The ± of the certificate: with 95 in 100 the truth lies within it. If the paper gives one for each temperature, "
        "take the largest."
    ),
    "coverage_factor": (
        "U is k times the standard uncertainty. k = 2 stands for about 95 %. It is printed beside U, often in small letters."
    ),
    "confidence_percent": "Some papers give the share of cases instead of k: 95 % stands for k = 1.96, 99 % for k = 2.58.",
    "drift_allowance_kelvin": (
        "Instruments wander after they were certified. Compare its last two certificates, or take the maker's figure for "
        "a year; left empty, nothing is allowed for it."
    ),
    "table_gives": (
        "A correction is added to the reading. An error is reading minus true, so it has the other sign. The heading of "
        "the table says which."
    ),
    "points": (
        "An offset found in ice holds at ice; 80 K further on it may be another one. Check near the temperatures you measure: "
        "a supply duct in cooling is about 55 °F (13 °C), in gas heat 120 °F (49 °C)."
    ),
    "uniformity": (
        "Two places in one bath are never quite alike, and each sensor sits in its own. Move one sensor about in the bath "
        "and see how far it changes: that is the figure."
    ),
    "stability": (
        "The whole bath warms or cools while you read. Look at the reference over the time it takes to read them all: half "
        "of what it moved is the figure."
    ),
    "shape": (
        "One offset is what most shops need. With two points or more each can keep its own, straight between them. A "
        "straight line needs three or more, and also tells how well it knows what lies between."
    ),
    "pressure": (
        "Water boils at 212 °F (100 °C) only at sea level in average weather; in Denver at about 202 °F (95 °C). What counts "
        "is the pressure in this room, which a barometer or many phones show as station pressure."
    ),
    "sensor_limit_kelvin": (
        "How far a sensor may be off and still be called good. The maker of the usual sensor promises 0.5 K (0.9 °F) from "
        "-10 to 85 °C."
    ),
    "decision_rule": (
        "A check is not perfect either. The simple rule looks at the error alone. The guarded one passes a sensor only if "
        "it would still be within the limit were the check off by its own uncertainty."
    ),
    "guard_factor": (
        "How much of the uncertainty is kept as a distance from the limit. With r = 1 fewer than 25 in 1,000 sensors that "
        "only just pass are truly outside (ILAC-G8:09/2019)."
    ),
    "drift_share_percent": (
        "A sensor that moved much since its last check will move again. Past this share of the limit its next check comes "
        "in half the time."
    ),
    "replace_beyond_kelvin": (
        "An offset mends what is small and steady. A sensor off by 2 °F is wet inside, badly mounted or no original part."
    ),
    "charged": (
        "How days become money. By the started week, a stay of eight days costs two weeks. Whatever is "
        "cheapest mixes days, weeks and months, and takes the difference off the bill as a line of its own. "
        "Weeks and months count from the install."
    ),
    "included_days": (
        "Days that cost nothing, in each year counted from the agreement's first day. All houses of the "
        "agreement share them."
    ),
    "set_up_cents": "Charged once a stay, on the bill of its first month.",
    "cap_cents": (
        "However long a stay is, its days cost no more than this. Set-up, cut leads and a lost kit come on "
        "top."
    ),
    "day_count": (
        "A kit that went in on Monday and came out on Wednesday has two days, three, or one. A stay always "
        "counts at least one day."
    ),
    "proration": "A whole month costs the month's price. This says how the days of a part of a month are reckoned.",
    "month_anchor": "A month that began on the 31st ends where? April has no 31st.",
    "year_anchor": (
        "A contract year that began on 29 February begins again when, in years without that day? It stays as "
        "first agreed."
    ),
    "kits_share_a_day": "Ticked: two kits under the agreement on one day use one included day. Not ticked: they use two.",
    "allowance_order": "When one included day is left and two kits hang, one of them gets it.",
    "carry_over": "Days nobody used in a contract year are added to the next. Not ticked: they lapse.",
    "minimum_cents": "When a stay is over and came to less, a line makes up the difference.",
    "priority_multiplier": "A call with priority costs so many times the price: 1.5 is half as much again, 1 is no difference.",
    "priority_scales_cap": "Ticked: the most a stay costs is multiplied too.",
    "lost_rule": (
        "What is charged when a kit is given up as not recovered. Less its age: each month of its life takes "
        "an equal part off."
    ),
    "deposit_cents": "Money of the customer that you hold already; it is taken off the charge for a lost kit.",
    "found_within_days": "If the kit turns up within so many days, the charge is given back, less the inspection.",
    "dead_below_hours": (
        "A day with fewer hours of readings is not charged when the kit or the shop was the cause. Power or "
        "network of the customer is no such cause."
    ),
    "no_access_cents": (
        "Charged once a stay when nobody let you in after two written offers, and only when a manager says "
        "yes."
    ),
    "tax_rounding": "Half a cent goes up, on each line or once a bill. Choose what your accountant does, and keep to it.",
}
