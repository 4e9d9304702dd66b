"""The pages beside the mat, as the tests use them: begin a lesson, tap, and count what is kept."""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Error, Locator, Page, Playwright
from tests.web.browser import PHONE, Browser, Size, browser, sign_in
from tests.web.conftest import Served

READ = """async sheet => {
  const done = asked => new Promise(told => { asked.onsuccess = () => told(asked.result); });
  const db = await done(indexedDB.open("standfast-mat", 1));
  const all = await done(db.transaction("records").objectStore("records").getAll());
  db.close();
  return all.filter(r => r.sheet === sheet).sort((a, b) => a.n - b.n);
}"""
FILLED = """() => {
  document.querySelectorAll("#logs input").forEach(one => { one.value = 5; });
  document.querySelector("#logs input")?.dispatchEvent(new Event("input"));
}"""
# Before the page's own script: its clock can be put on, as if time had gone by.
AHEAD = """(() => {
  const real = performance.now.bind(performance);
  window.ahead = 0;
  performance.now = () => real() + window.ahead;
})()"""


def ready(page: Page) -> None:
    """Waits until the page's script has drawn it; says what is there instead."""
    try:
        page.wait_for_selector("html[data-ready]", state="attached")
    except Error as error:
        with suppress(Error):
            error.add_note(f"{page.url}\n{page.content()[:2000]}")
        raise


def until(page: Page, holds: str, seconds: float = 8) -> None:
    """Waits until an expression is true; the pages' policy lets Playwright's own wait not run."""
    for _ in range(int(seconds * 50)):
        if page.evaluate(holds):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"never true: {holds}")


@dataclass
class Mat:
    """A lesson that is scored in a browser."""

    house: Served
    found: Browser
    page: Page
    address: str = ""

    @property
    def sheet(self) -> str:
        """The sheet's id."""
        return self.address.partition("#")[2]

    def prepare(self) -> None:
        """The first page, with its worker, and the kit fetched."""
        self.page.goto(f"{self.house.address}/mat")
        ready(self.page)
        self.page.wait_for_selector("html[data-worker=ready]", state="attached")
        self.page.select_option("#rubric", "low-trapeze-1")
        self.page.click("#choose button")
        self.page.wait_for_selector("#begin:not([hidden])")

    def fill(self, students: int, taught: tuple[str, ...], practical: str) -> None:
        """The form of the lesson to come; every log says 5."""
        self.page.fill("#practical", practical)
        self.page.fill("#students", str(students))
        self.page.dispatch_event("#students", "change")
        for skill in taught:
            self.page.check(f"#taught input[value={skill}]")
        self.page.evaluate(FILLED)

    def begin(
        self,
        students: int = 6,
        taught: tuple[str, ...] = ("long-hang",),
        practical: str = "mill-2026-11-24",
    ) -> None:
        """Begins a lesson."""
        self.prepare()
        self.fill(students, taught, practical)
        self.page.click("#go")
        self.page.wait_for_url(re.compile("/mat/lesson#"))
        ready(self.page)
        self.address = self.page.url

    def open(self) -> None:
        """Opens the lesson in a new page."""
        self.page = self.found.page()
        self.page.goto(self.address)
        ready(self.page)

    def crash(self) -> None:
        """Ends what draws the pages, as a system short of memory does; the browser lives on."""
        for folder in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                command = (folder / "cmdline").read_bytes()
                if str(self.found.profile).encode() in command and b"--type=renderer" in command:
                    os.kill(int(folder.name), signal.SIGKILL)

    def reopen(self) -> None:
        """Opens the lesson in a new tab after a crash; the dead tab is never waited for."""
        for _ in range(20):
            time.sleep(0.2)
            with suppress(Error):  # the tab that was kept ready died too
                self.open()
                return
        raise AssertionError("the browser opens no tab any more")

    def student(self, number: int) -> None:
        """Chooses a student."""
        self.page.tap(f"#who button:nth-child({number})")

    def answer(self, question: int, kind: str) -> None:
        """One tap: an answer to the question in that row."""
        self.button(question, kind).tap()

    def button(self, question: int, kind: str) -> Locator:
        """The button of an answer."""
        return self.page.locator(f"#marks .question-row:nth-child({question}) .{kind}")

    def kept(self) -> None:
        """Waits until the page says that the last tap is kept."""
        self.page.wait_for_selector("#said[data-how=kept]")

    def hurry(self, seconds: int) -> None:
        """The lesson's clock goes on by so much; the page was opened with `AHEAD`."""
        self.page.evaluate("s => { window.ahead += 1000 * s; }", seconds)

    def hold(self, words: str) -> None:
        """A button that does nothing unless it is held."""
        box = self.page.get_by_role("button", name=words).bounding_box()
        assert box
        self.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        self.page.mouse.down()
        self.page.wait_for_timeout(800)
        self.page.mouse.up()

    def sign(self) -> None:
        """Signs, on the page of the review; whatever may stay open stays so."""
        if self.page.locator("#reason").is_visible():
            self.page.fill("#reason", "A short lesson.")
        self.page.click("#do-sign")
        self.page.wait_for_selector("#signed:not([hidden])")

    def records(self) -> list[dict[str, Any]]:
        """What the device holds of the sheet, in order."""
        found: list[dict[str, Any]] = self.page.evaluate(READ, self.sheet)
        return found

    def kinds(self) -> list[str]:
        """The kinds of the records, in order."""
        return [one["body"]["kind"] for one in self.records()]

    def sent(self, words: str = "all sent") -> None:
        """Waits until the page says so of what is not sent."""
        self.page.get_by_text(words, exact=True).wait_for()

    def let_go(self) -> None:
        """Waits until the device has an answer for every record, and the page says so."""
        for _ in range(600):
            if not any("unsent" in one for one in self.records()):
                self.sent("all sent")
                return
            self.page.wait_for_timeout(20)
        raise AssertionError("something is not sent yet")

    def told(self) -> str:
        """What the page says of the last tap."""
        return self.page.inner_text("#said")


@contextmanager
def mat(
    profile: Path,
    house: Served,
    size: Size = PHONE,
    *,
    login: str = "hana",
    playwright: Playwright | None = None,
) -> Iterator[Mat]:
    """A browser whose visitor is signed in."""
    with browser(profile, size, playwright=playwright) as found:
        found.context.set_default_timeout(25_000)
        page = found.page()
        sign_in(page, house, login)
        yield Mat(house, found, page)


def whole(records: list[dict[str, Any]]) -> bool:
    """Whether the records are numbered from 1 without a gap, each of its own id."""
    numbers = [one["n"] for one in records]
    return numbers == list(range(1, len(numbers) + 1)) and len(
        {one["id"] for one in records}
    ) == len(numbers)
