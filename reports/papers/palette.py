"""The colours of the papers: those of the pages by day (`config/static/css/tokens.css`), grounds a little lighter for print.

Every one reads in black and white: a colour only repeats what a word says.
"""

from __future__ import annotations

from reportlab.lib.colors import Color, HexColor

INK: Color = HexColor("#1b1915")
QUIET_INK: Color = HexColor("#47423a")
HAIRLINE: Color = HexColor("#cdc4b1")
MANILA: Color = HexColor("#f7edd3")
"""The tie-on tag."""
MANILA_EDGE: Color = HexColor("#8a6d33")
GROUND: Color = HexColor("#f8f5ee")
"""A box set apart."""
SPRUCE: Color = HexColor("#12493a")
SPRUCE_GROUND: Color = HexColor("#e9f1ea")
BRASS: Color = HexColor("#614200")
"""Needs attention."""
BRASS_GROUND: Color = HexColor("#fbf1d6")
BRICK: Color = HexColor("#7f2217")
"""Late or unsafe."""
BRICK_GROUND: Color = HexColor("#fae8e1")
