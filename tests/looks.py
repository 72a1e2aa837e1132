"""What a browser is asked about a page: who is barred, what is too small, what is cut off, what touches."""

from pathlib import Path
from typing import Any

from playwright.sync_api import Page

LEAST_TARGET_PX = 44
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ALL = {"type": "tag", "values": TAGS}
COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}  # what the light changes
# What the width of a page changes: how large targets are and how near each other, and what lies in a scrolling box.
SIZES = {"type": "rule", "values": ["target-size", "scrollable-region-focusable"]}


def axe_source() -> str:
    import axe_playwright_python

    (found,) = Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")
    return found.read_text()


AXE = axe_source()

SMALL_TARGETS = """
least => {
  const found = [];
  for (const one of document.querySelectorAll("a[href], button, input, select, textarea, summary")) {
    if (one.type === "hidden" || !one.checkVisibility({visibilityProperty: true}) || one.closest(".visually-hidden")) continue;
    // A radio button or a tick box is hit on its label.
    const target = ["radio", "checkbox"].includes(one.type) ? one.closest("label") ?? one : one;
    const inSentence = one.matches("p a, li a, dd a, td a, th a, h1 a") && getComputedStyle(one).display === "inline";
    if (inSentence || one.matches(".skip")) continue;
    const box = target.getBoundingClientRect();
    if (box.width === 0 || box.height === 0) continue;
    if (box.height < least - 0.5 || box.width < least - 0.5)
      found.push(`${one.outerHTML.slice(0, 90)} ${Math.round(box.width)} x ${Math.round(box.height)}`);
  }
  return found;
}
"""

# Words that a box hides: it does not scroll, and they are larger than it.
CUT_WORDS = """
() => {
  const found = [];
  for (const one of document.querySelectorAll("body *")) {
    if (one.closest(".visually-hidden, .skip, svg, textarea, select") || !one.checkVisibility({visibilityProperty: true})) continue;
    const style = getComputedStyle(one);
    const hides = way => ["hidden", "clip"].includes(way);
    const wide = hides(style.overflowX) && one.scrollWidth > one.clientWidth + 1;
    const high = hides(style.overflowY) && one.scrollHeight > one.clientHeight + 2;
    // An ellipsis with the whole in its title is meant.
    if (style.textOverflow === "ellipsis" && (one.title || one.matches("small"))) continue;
    if ((wide || high) && one.innerText?.trim()) found.push(`${one.tagName}.${one.className}: ${one.innerText.slice(0, 60)}`);
    if (one.matches("input:not([type=hidden], [type=checkbox], [type=radio], [type=date], [type=time], [type=datetime-local], [type=file])")
        && one.placeholder && !one.value && one.scrollWidth > one.clientWidth + 1) found.push(`placeholder: ${one.placeholder}`);
  }
  return found;
}
"""

# Words that lie on other words. What floats over the page (a bar at the foot, a column that stays in view) may.
TOUCHING_WORDS = """
() => {
  const pieces = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const floats = element => {
    for (let one = element; one && one !== document.body; one = one.parentElement)
      if (["fixed", "sticky"].includes(getComputedStyle(one).position) || one.matches(".visually-hidden, .skip, title, option, [popover]:not(:popover-open)")) return true;
    return false;
  };
  const scrolls = element => element.closest(".ledger, .weeks");
  while (walker.nextNode()) {
    const text = walker.currentNode, parent = text.parentElement;
    if (!text.data.trim() || !parent.checkVisibility({visibilityProperty: true, opacityProperty: true}) || floats(parent)) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects())
      if (box.width > 2 && box.height > 2) {
        // A line is taller than its letters.
        const slack = box.height * 0.22;
        pieces.push({text, parent, left: box.left + 1, right: box.right - 1, top: box.top + slack, bottom: box.bottom - slack, scroll: scrolls(parent)});
      }
  }
  pieces.sort((one, other) => one.top - other.top);
  const found = [];
  for (let i = 0; i < pieces.length; i++)
    for (let j = i + 1; j < pieces.length && pieces[j].top < pieces[i].bottom; j++) {
      const a = pieces[i], b = pieces[j];
      if (a.text === b.text || a.scroll !== b.scroll) continue;
      if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - b.top > 1)
        found.push(`${a.text.data.trim().slice(0, 40)} | ${b.text.data.trim().slice(0, 40)}`);
    }
  return found.slice(0, 6);
}
"""


def barriers(page: Page, only: dict[str, Any]) -> list[str]:
    """What axe-core finds, one line a finding."""
    if not page.evaluate("typeof window.axe === 'object'"):
        page.evaluate(AXE)
    found = page.evaluate(
        "only => axe.run(document, {runOnly: only, resultTypes: ['violations']}).then(done => done.violations)",
        only,
    )
    return [f"{one['id']}: " + ", ".join(str(node["target"]) for node in one["nodes"][:4]) for one in found]


def overflow_px(page: Page) -> int:
    """How far the page is wider than the screen."""
    return int(page.evaluate("document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"))


def small_targets(page: Page) -> list[str]:
    """What a thumb is to hit and is smaller than 44 px. Links within a sentence are spared, as WCAG 2.5.5 spares them."""
    return list(page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX))


def cut_words(page: Page) -> list[str]:
    """Words that their box hides."""
    return list(page.evaluate(CUT_WORDS))


def touching_words(page: Page) -> list[str]:
    """Words that lie on other words."""
    return list(page.evaluate(TOUCHING_WORDS))
