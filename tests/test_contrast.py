"""Ink on its ground, as the stylesheet has it, by the WCAG 2.2 contrast formula.

The formula is first held against the published vectors in tests/outside/wcag.json (source beside each), then used on
every pair of tokens that meets on a page, by day and in the attic.
"""

import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CSS = ROOT / "config" / "static" / "css"
WCAG = json.loads((ROOT / "tests" / "outside" / "wcag.json").read_text())

TEXT_ENHANCED, TEXT, OUTLINE = 7.0, 4.5, 3.0  # success criteria 1.4.6, 1.4.3, 1.4.11

GROUNDS = ("ground", "sheet")
WASHES = {"spruce": "spruce-wash", "brass": "brass-wash", "brick": "brick-wash"}
PAIRS = [
    *((ink, ground, TEXT_ENHANCED) for ink in ("ink", "ink-soft", "spruce", "brick", "brass") for ground in GROUNDS),
    *(("ink", wash, TEXT_ENHANCED) for wash in WASHES.values()),
    *(("ink-soft", wash, TEXT) for wash in WASHES.values()),
    *((colour, wash, TEXT_ENHANCED) for colour, wash in WASHES.items()),
    *((ink, "manila", TEXT) for ink in ("ink", "ink-soft", "spruce", "brass", "brick")),
    ("ink", "manila", TEXT_ENHANCED),
    ("spruce-deep", "ground", TEXT_ENHANCED),
    ("spruce-deep", "spruce-wash", TEXT_ENHANCED),
    ("on-spruce", "spruce", TEXT_ENHANCED),
    ("on-spruce", "spruce-deep", TEXT_ENHANCED),
    ("on-brick", "brick", TEXT_ENHANCED),
    ("ground", "ink", TEXT_ENHANCED),
    *((line, ground, OUTLINE) for line in ("edge", "focus", "manila-edge") for ground in GROUNDS),
    ("manila-edge", "manila", OUTLINE),
]  # fmt: skip


def channel(byte: int) -> float:
    share = byte / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def luminance(colour: str) -> float:
    red, green, blue = (channel(int(colour[place : place + 2], 16)) for place in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """1 to 21; which of the two is the text does not matter."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def tokens() -> dict[str, tuple[str, str]]:
    """Every colour token as (by day, in the attic)."""
    found = re.findall(
        r"--([\w-]+):\s*light-dark\((#[0-9a-f]{6}),\s*(#[0-9a-f]{6})\)", (CSS / "tokens.css").read_text()
    )
    return {name: (day, attic) for name, day, attic in found}


@pytest.mark.parametrize("vector", WCAG["contrast_vectors"], ids=lambda v: f"{v['fg']} on {v['bg']}")
def test_the_formula_gives_the_published_ratio(vector: dict) -> None:
    ratio = contrast(vector["fg"], vector["bg"])
    assert round(ratio, 4) == pytest.approx(vector["ratio"], abs=0.0001)
    assert (ratio >= TEXT, ratio >= TEXT_ENHANCED, ratio >= OUTLINE) == (
        vector["aa"],
        vector["aaa"],
        vector["non_text"],
    )


@pytest.mark.parametrize("light", [0, 1], ids=["by day", "in the attic"])
@pytest.mark.parametrize(("ink", "ground", "least"), PAIRS, ids=lambda part: str(part))
def test_ink_stands_out_from_its_ground(ink: str, ground: str, least: float, light: int) -> None:
    colours = tokens()
    ratio = contrast(colours[ink][light], colours[ground][light])
    assert ratio >= least, f"{ink} on {ground}: {ratio:.2f}, at least {least}"


def test_a_component_never_names_a_colour() -> None:
    for sheet in ("elements", "components", "forms", "shell"):
        css = re.sub(r"/\*.*?\*/", "", (CSS / f"{sheet}.css").read_text(), flags=re.DOTALL)
        named = re.findall(r"#[0-9a-f]{3,8}\b|\b(?:rgb|hsl|oklch|light-dark)\(", css)
        assert [name for name in named if name != "rgb("] == [], f"{sheet}.css names a colour"


def test_every_token_used_is_made() -> None:
    sheets = [path.read_text() for path in CSS.glob("*.css")]
    made = {name for css in sheets for name in re.findall(r"(--[\w-]+)\s*:", css)}
    used = {name for css in sheets for name in re.findall(r"var\((--[\w-]+)", css)}
    assert used <= made
