"""The pages beside the mat in each of their states: read, hit, and nothing moves under a thumb.

Colours and hand are attributes of the page that an assessor may change at any time, so that one
walk through the states serves all four looks.  No state is judged by what the page says of itself.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page
from tests.schools import copied
from tests.web.browser import PHONE, TABLET, TALL_PHONE, Size
from tests.web.conftest import Clock, served
from tests.web.mat import AHEAD, Mat, mat, ready
from tests.web.measuring import (
    Places,
    crowded,
    cut,
    moved,
    outside,
    places,
    scrolled,
    small,
    violations,
)
from tests.web.walks import (
    MOST,
    pages_around_a_lesson,
    sheets_over_a_lesson,
    taps_of_a_lesson,
    troubles,
)

pytestmark = pytest.mark.xdist_group("chromium")

LOOKS = [(theme, hand) for theme in ("day", "dark") for hand in ("right", "left")]
READ = [("day", "right"), ("dark", "left")]
SIZES = [
    pytest.param(PHONE, 50, id="short phone"),
    pytest.param(TALL_PHONE, 60, id="phone"),
    pytest.param(TABLET, 110, id="tablet"),
    pytest.param({"width": 1180, "height": 820}, 60, id="tablet on its side"),
]


@pytest.fixture(scope="module")
def one_browser(tmp_path_factory: pytest.TempPathFactory, accounts_made: Path) -> Iterator[Mat]:
    """A browser for all these tests: starting one takes as long as half a walk."""
    folder = tmp_path_factory.mktemp("states")
    copied(accounts_made, folder / "school")
    with served(folder / "school", Clock()) as house, mat(folder / "profile", house) as mine:
        yield mine


@pytest.fixture
def mine(one_browser: Mat) -> Iterator[Mat]:
    """The pages in a tab of their own."""
    tab = Mat(one_browser.house, one_browser.found, one_browser.found.page())
    tab.page.add_init_script(AHEAD)
    tab.found.complaints.clear()
    yield tab
    tab.page.close()


def wear(page: Page, theme: str, hand: str) -> None:
    """The page in these colours, for that hand, as its own buttons would have it."""
    page.evaluate(
        "([theme, hand]) => Object.assign(document.documentElement.dataset, { theme, hand })",
        [theme, hand],
    )


def low(page: Page, least: int) -> list[str]:
    """Answers that are less high than a thumb finds without an eye on it."""
    heights: list[float] = page.evaluate(
        """() => [...document.querySelectorAll("#marks button")].filter(one =>
          one.checkVisibility({ visibilityProperty: true })).map(one => one.offsetHeight)"""
    )
    assert heights
    return [f"answer {height} high" for height in heights if height < least]


Fault = Callable[[Page], list[str]]


def faults(page: Page, state: str, *measures: Fault) -> list[str]:
    """What is wrong in that state, in each of the looks."""
    found: list[str] = []
    for look in LOOKS:
        wear(page, *look)
        # Both colours and both hands, each once: no rule of axe-core knows colour and hand at once.
        here = violations(page) if look in READ else []
        here += small(page)
        here += [fault for measure in measures for fault in measure(page)]
        found += [f"{state}, {', '.join(look)}: {fault}" for fault in here]
    return found


def scores(page: Page) -> list[str]:
    """Shares and percentages: what an assessor must not see while she scores."""
    return re.findall(r"\d+ ?(?:%|/ ?\d+)", page.inner_text("body"))


@pytest.mark.parametrize(("size", "least"), SIZES)
def test_nothing_moves_and_all_is_read_and_hit_while_a_lesson_is_scored(
    mine: Mat, size: Size, least: int
) -> None:
    first: dict[str, Places] = {}

    def still(page: Page) -> list[str]:
        here = places(page)
        hand = page.evaluate("document.documentElement.dataset.hand")
        return moved(first.setdefault(hand, here), here)

    def fits(page: Page) -> list[str]:
        return [*scrolled(page, size["width"]), *low(page, least)]

    found: list[str] = []
    mine.page.set_viewport_size(size)
    mine.begin(MOST)
    for walk in (taps_of_a_lesson, sheets_over_a_lesson, troubles):
        for state in walk(mine):
            more = (still, crowded, outside, cut, fits, scores)
            found += faults(mine.page, state, *more)

    assert found == []
    assert [text for text in mine.found.complaints if "Failed to load" not in text] == []


@pytest.mark.parametrize(
    "size", [PHONE, TALL_PHONE, TABLET], ids=["short phone", "phone", "tablet"]
)
def test_the_pages_around_a_lesson_are_read_and_hit(mine: Mat, size: Size) -> None:
    def wide(page: Page) -> list[str]:
        return [one for one in scrolled(page, size["width"]) if not one.startswith("scrolls")]

    mine.page.set_viewport_size(size)
    found = [
        fault
        for state in pages_around_a_lesson(mine)
        for fault in faults(mine.page, state, wide, cut)
    ]

    assert found == []
    assert [text for text in mine.found.complaints if "Failed to load" not in text] == []


def lesson(mine: Mat) -> None:
    """A lesson of six students, on the short phone."""
    mine.page.set_viewport_size(PHONE)
    mine.begin()


BROKEN = [
    pytest.param("#note", "height: 40px; min-height: 0", small, "small: note", id="a low button"),
    pytest.param("#note", "max-width: 43px; min-width: 0", small, "small: note", id="a narrow one"),
    pytest.param("#note", "margin-left: -4px", crowded, "crowded: note", id="a close neighbour"),
    pytest.param("#undo", "translate: 20px", outside, "outside: undo", id="off the screen"),
    pytest.param("#note", "width: 60px; flex: none; font-size: 40px", cut, "cut: note", id="cut"),
    pytest.param("#said", "color: #888", violations, "color-contrast", id="grey words"),
]


@pytest.mark.parametrize(("which", "style", "measure", "words"), BROKEN)
def test_a_page_that_is_broken_is_seen(
    mine: Mat, which: str, style: str, measure: Fault, words: str
) -> None:
    lesson(mine)
    wear(mine.page, "day", "right")
    assert measure(mine.page) == []
    mine.page.evaluate(
        "([which, style]) => { document.querySelector(which).style.cssText = style; }",
        [which, style],
    )

    assert any(one.startswith(words) for one in measure(mine.page)), measure(mine.page)


def test_a_page_that_moves_scrolls_or_scores_is_seen(mine: Mat) -> None:
    lesson(mine)
    before = places(mine.page)
    assert [*moved(before, places(mine.page)), *scrolled(mine.page, 390), *low(mine.page, 50)] == []
    assert scores(mine.page) == []
    mine.page.evaluate(
        """() => {
          document.body.classList.remove("lesson");
          document.getElementById("lesson").style.cssText = "height: 900px; padding-top: 9px";
          document.getElementById("said").textContent = "Kept: 3/4, so 75 %";
        }"""
    )

    assert any(one.startswith("moved: stop") for one in moved(before, places(mine.page)))
    assert scrolled(mine.page, 390) == ["scrolls: 900 of 664"]
    assert scrolled(mine.page, 400)[0] == "wide: 390 instead of 400"
    assert low(mine.page, 2000) != []
    assert scores(mine.page) == ["3/4", "75 %"]


def test_a_look_that_was_chosen_is_there_when_the_page_comes_back(mine: Mat) -> None:
    page = mine.page
    page.goto(f"{mine.house.address}/mat")
    ready(page)
    for words in ("Dark colours", "Left hand"):
        page.get_by_role("button", name=words).click()
    page.reload()
    ready(page)
    worn = page.evaluate("({ ...document.documentElement.dataset })")
    for words in ("Day colours", "Right hand"):
        page.get_by_role("button", name=words).click()

    assert (worn["theme"], worn["hand"]) == ("dark", "left")
