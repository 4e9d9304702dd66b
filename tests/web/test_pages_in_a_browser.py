"""The pages in a real browser: what everybody can use, in both themes, wide and narrow."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page
from tests.web.browser import DESK, PHONE, Size, browser, sign_in
from tests.web.conftest import Served, filled_in, reached
from tests.web.mat import ready
from tests.web.records import post, record

# WCAG 2.2 AAA: text stands out 7 to 1, since it is read in the sun and at arm's length.
ALSO = {"rules": {"color-contrast-enhanced": {"enabled": True}}}
A_PLAN = (
    "/plan?day=2026-12-05&rubric=low-trapeze-1&slots=9:00-10:00%0A10:00-11:00&rooms=2&double=0.5"
    "&linked=no&trainers=beside&candidate-1=sasaki-hinano"
    "&candidate-2=konstantina-papadimitrakopoulou"
)
PAGES = (
    *("/", "/password", "/nothing/here", "/due", "/due?span=90d&site=&rubric=low-trapeze-1"),
    *("/due/forecast", "/plan", "/plan?day=2026-12-05&rubric=low-trapeze-1", A_PLAN),
    *("/mat", "/people", "/people?q=ines", "/people/import", "/people/ines-carvalho-teles"),
    *("/practicals", "/practicals/sandhof-2026-10-13", "/decisions"),
    *("/decisions/ines-carvalho-teles/low-trapeze-1", "/assessors", "/rubrics"),
    *("/appeals", "/appeals/appeal-2026-2", "/appeals/new/complaint/ines-carvalho-teles"),
    *("/rubrics/low-trapeze-1", "/book", "/book/held", "/book/devices"),
    *("/certificate", "/certificate?number=LT1-2026-0001"),
)


def unusable(page: Page) -> list[str]:
    """What axe-core finds on the page."""
    found = Axe().run(page, options=ALSO).response["violations"]
    return [f"{one['id']}: {node['html']}" for one in found for node in one["nodes"]]


def small_targets(page: Page) -> list[str]:
    """What is pressed and is under 44 pixels high or wide; links inside sentences apart.

    What stands in its label is pressed there too.
    """
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("button, input:not([type=hidden]), select, nav a")]
            .map(one => [one, (one.closest("label") ?? one).getBoundingClientRect()])
            .filter(([one, box]) => box.width && (box.height < 43.5 || box.width < 24))
            .map(([one, box]) => `${one.outerHTML.slice(0, 80)} ${box.width}x${box.height}`)"""
    )
    return found


def width(page: Page) -> tuple[int, int]:
    """Of the page with all that stands on it, and of what is shown of it."""
    measured: list[int] = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    return measured[0], measured[1]


@pytest.mark.parametrize(
    ("size", "dark"),
    [pytest.param(DESK, False, id="wide, by day"), pytest.param(PHONE, True, id="narrow, dark")],
)
def test_everybody_can_use_the_pages(
    tmp_path: Path, reading_house: Served, size: Size, dark: bool
) -> None:
    """Colours do not ask how wide it is, nor widths which colours there are."""
    with browser(tmp_path / "profile", size, touch=size is PHONE, dark=dark) as found:
        page = found.page()
        sign_in(page, reading_house, "all")
        for address in PAGES:
            page.goto(f"{reading_house.address}{address}")
            if address == "/mat":
                ready(page)

            assert unusable(page) == [], address
            assert small_targets(page) == [], address
            assert width(page) == (size["width"], size["width"]), address
        if size is PHONE:

            def got(address: str) -> str:
                page.goto(f"{reading_house.address}{address}")
                return page.content()

            for address, _ in reached(got):
                assert width(page) == (size["width"], size["width"]), address
        errors = [text for text in found.complaints if "404" not in text]
        assert errors == []


def test_axe_would_see_a_picture_without_words(tmp_path: Path, reading_house: Served) -> None:
    with browser(tmp_path / "profile") as found:
        page = found.page()
        page.goto(f"{reading_house.address}/sign-in")
        page.evaluate("document.body.append(document.createElement('img'))")

        assert any("image-alt" in one for one in unusable(page))


@pytest.mark.parametrize("dark", [False, True], ids=["day", "dark"])
def test_what_follows_from_doing_something_can_be_used_as_well(
    tmp_path: Path, house: Served, dark: bool
) -> None:
    post(house.visitor("hana"), record(2, kind="note", t=1, text="kept", extra=1))
    paper = {"document": "first-aid", "issued": "2026-10-01", "last_day": "2028-10-01"}
    noor = "/people/noor-van-der-veldt"
    filled_in(house.visitor("office"), noor, f"{noor}/documents", **paper)
    with browser(tmp_path / "profile", PHONE, dark=dark) as found:
        page = found.page()
        sign_in(page, house, "all", "/book/held")
        assert page.locator("section.card").count() == 1
        usable(page)
        page.goto(f"{house.address}/book/devices")
        page.fill("#name", "Tablet 1")
        page.click("button.main")
        assert page.locator("code.word").count() == 1
        usable(page)
        page.goto(f"{house.address}/book")
        page.click("button.main")
        page.get_by_text("No fault was found.").wait_for()
        usable(page)
        sign_in(page, house, "marit", "/decisions/noor-van-der-veldt/trapeze-refresher")
        page.click("button.main")
        page.get_by_role("heading", name="Awarded").wait_for()
        page.get_by_text("Take skills from its scope").click()
        usable(page)
        assert found.complaints == []


def usable(page: Page) -> None:
    assert unusable(page) == []
    assert small_targets(page) == []
    assert page.evaluate("innerWidth") == PHONE["width"]
