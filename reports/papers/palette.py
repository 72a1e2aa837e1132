"""The colours of the papers: dark ink, one working colour, two that call for attention. All read in black and white."""

from __future__ import annotations

from reportlab.lib.colors import Color, HexColor

INK: Color = HexColor("#1b211e")
QUIET_INK: Color = HexColor("#55605a")
"""Captions; 6.4 to 1 on white."""
HAIRLINE: Color = HexColor("#c9c5b8")
GROUND: Color = HexColor("#f7f4ec")
"""The paper of a tag, and of a box set apart."""
SPRUCE: Color = HexColor("#1f5a4a")
SPRUCE_GROUND: Color = HexColor("#eaf1ed")
BRASS: Color = HexColor("#7d5a0f")
"""Needs attention."""
BRASS_GROUND: Color = HexColor("#faf3e0")
BRICK: Color = HexColor("#96371f")
"""Late or unsafe."""
BRICK_GROUND: Color = HexColor("#faece7")
