"""What is measured on a page: can everybody read it and hit it, and is all of it where it was?

Each measure gives what is wrong, in words; an empty list is what a test asks for.
"""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# WCAG 2.2 AAA, text stands out 7 to 1; only faults are asked for, since a page has many states.
ASKED = """() => axe.run({
  rules: { "color-contrast-enhanced": { enabled: true } }, resultTypes: ["violations"],
  preload: false, selectors: false,
}).then(found => found.violations.flatMap(one => one.nodes.map(n => `${one.id}: ${n.html}`)))"""

Places = dict[str, list[float]]
"""Left, top, width and height of each button, in CSS pixels."""

# What a finger can reach now: seen, not inert, and in front of a modal dialog if there is one.  A
# tick box is hit through the whole of its label; what scrolls is hit where it is not cut off.
REACHED = """
  const modal = document.querySelector("dialog:modal");
  const pressed = "a[href], button, select, summary, textarea, input";
  const target = one => one.type === "checkbox" ? one.closest("label") : one;
  const reached = [...document.querySelectorAll(pressed)]
    .filter(one => one.checkVisibility({ visibilityProperty: true }) && !one.closest("[inert]"))
    .filter(one => !modal || modal.contains(one))
    .map(one => [one, target(one).getBoundingClientRect()]);
  const scrolls = one => one.closest("#sheet-inside");
  const buttons = reached.filter(([one]) => one.localName === "button");
  const said = one => one.id || one.textContent.trim() || one.outerHTML.slice(0, 60);
  const size = box => `${box.width.toFixed(1)}x${box.height.toFixed(1)}`;
"""


def _asked(page: Page, script: str, given: object = None) -> list[str]:
    found: list[str] = page.evaluate(f"given => {{ {REACHED} {script} }}", given)
    return found


def violations(page: Page) -> list[str]:
    """What axe-core finds, with the contrast of WCAG 2.2 AAA (7:1, large text 4.5:1)."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    found: list[str] = page.evaluate(ASKED)
    return found


def small(page: Page, least: float = 44) -> list[str]:
    """What can be pressed and is less than that many pixels wide or high (WCAG 2.2, 2.5.5)."""
    return _asked(
        page,
        """return reached.filter(([_, box]) => Math.min(box.width, box.height) < given - 0.05)
          .map(([one, box]) => `small: ${said(one)} ${size(box)}`);""",
        least,
    )


def crowded(page: Page, least: float = 6) -> list[str]:
    """Pairs of buttons with less than that many pixels between them; not what lies under."""
    return _asked(
        page,
        """const end = one => scrolls(one)?.getBoundingClientRect().bottom ?? Infinity;
        const seen = (one, { x, y, width, bottom }) =>
          new DOMRect(x, y, width, Math.min(bottom, end(one)) - y);
        const on = buttons.filter(([one, box]) => one.contains(
            document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2)))
          .map(([one, box]) => [one, seen(one, box)]);
        const apart = (a, b) => Math.max(
          a.left - b.right, b.left - a.right, a.top - b.bottom, b.top - a.bottom);
        return on.flatMap(([one, box], i) => on.slice(i + 1)
          .filter(([_, other]) => apart(box, other) < given - 0.05)
          .map(([two, other]) => `crowded: ${said(one)}, ${said(two)} ${apart(box, other)}`));""",
        least,
    )


def outside(page: Page) -> list[str]:
    """Buttons that are not wholly on the screen."""
    return _asked(
        page,
        """return buttons.filter(([one, box]) => !scrolls(one) && (
            box.left < 0 || box.top < 0 || box.right > innerWidth || box.bottom > innerHeight))
          .map(([one]) => `outside: ${said(one)}`);""",
    )


def cut(page: Page) -> list[str]:
    """Buttons, questions and the line at the top with more words than there is room for."""
    return _asked(
        page,
        """const over = one => one.scrollWidth > one.clientWidth + 1
          || one.scrollHeight > one.clientHeight + 1;
        const rows = [...document.querySelectorAll(".question-row")];
        const lines = [...document.querySelectorAll(".told #unsent")];
        const longer = rows.map(row => row.firstElementChild).filter(one =>
          one.scrollHeight > one.parentElement.clientHeight + 1);
        return [...longer, ...[...buttons.map(([one]) => one), ...lines].filter(over)]
          .map(one => `cut: ${said(one)}`);""",
    )


def scrolled(page: Page, width: int) -> list[str]:
    """Whether the page is wider or higher than the screen."""
    told: dict[str, Any] = page.evaluate(
        "() => ({ width: innerWidth, high: innerHeight,"
        " whole: document.documentElement.scrollHeight })"
    )
    wide = [f"wide: {told['width']} instead of {width}"] if told["width"] != width else []
    high = [f"scrolls: {told['whole']} of {told['high']}"] if told["whole"] > told["high"] else []
    return wide + high


def places(page: Page) -> Places:
    """Where each button of the lesson is, whatever lies over it."""
    found: Places = page.evaluate(
        """() => Object.fromEntries(
          [...document.querySelectorAll("#lesson button")].map((one, i) => {
            const box = one.getBoundingClientRect();
            const all = [box.x, box.y, box.width, box.height].map(x => Math.round(10 * x) / 10);
            return [`${one.id || one.className || "button"} ${i}`, all];
          }))"""
    )
    return found


def moved(before: Places, after: Places) -> list[str]:
    """Buttons that are not where they were."""
    return [
        f"moved: {which} from {before.get(which)} to {after.get(which)}"
        for which in before.keys() | after.keys()
        if before.get(which) != after.get(which)
    ]
