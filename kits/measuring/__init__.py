"""The arithmetic behind a calibration check (pure, no Django): plain numbers in, plain records out.

Temperatures are °C, differences K, pressures Pa, all as floats; `rounding` makes the decimals that are stored.
The rules are those of the GUM (JCGM 100:2008, Guide to the expression of uncertainty in measurement).

Read in this order: `budget` (what the uncertainty is made of), `reference` and `boiling` (what is trusted), `point`
(one sensor at one temperature), `verdict` (good enough?), `line` (several temperatures), `difference` (two sensors
against each other), then `due`, `doubt` and `drift` (what follows from a check).

What cannot be computed raises `CannotCompute` with a sentence for the person who typed it.
"""
