"""Walks through the states of the pages beside the mat; each stops at a state and says its name."""

from __future__ import annotations

import re
from collections.abc import Iterator

from playwright.sync_api import Page
from tests.web.mat import Mat, ready, until

MOST = 14  # students in one lesson
RECORDS = "**/api/records"
STATE = "**/api/sheets/*"


def chosen_skill(mine: Mat, skill: str) -> None:
    """Chooses a skill by its title, wherever the list has it."""
    mine.page.tap("#skill")
    mine.page.evaluate(
        "document.querySelectorAll('#sheet details').forEach(d => { d.open = true })"
    )
    mine.page.locator("#sheet").get_by_role("button", name=skill).tap()


def opened(mine: Mat, *taps: str) -> None:
    """A sheet over the lesson, opened by these buttons."""
    for words in taps:
        mine.page.get_by_role("button", name=words, exact=True).tap()
    mine.page.wait_for_selector("#sheet[open]")


def taps_of_a_lesson(mine: Mat) -> Iterator[str]:
    """The states in which one looks at the mat, one after the other."""
    page = mine.page
    yield "fresh"
    mine.student(3)
    yield "student chosen"
    mine.answer(1, "yes")
    mine.kept()
    yield "mid-try"
    mine.student(9)
    yield "another student"
    chosen_skill(mine, "tuck and tip back, and return the same way")
    yield "a skill with the most questions"
    page.tap("#failed")
    page.tap("#all-yes")
    mine.kept()
    yield "a failed try"
    page.tap("#all-yes")
    page.tap("#held-back")
    mine.kept()
    yield "held back"
    mine.hurry(61)
    page.wait_for_selector("#look.due")
    yield "look due"
    page.tap("#look .of")
    yield "how many wait"
    page.get_by_role("button", name="12", exact=True).tap()
    yield "how many are idle"
    page.tap("#close")
    page.wait_for_selector("#look.due")
    yield "idle of 12"


def sheets_over_a_lesson(mine: Mat) -> Iterator[str]:
    """The states in which something lies over the lesson."""
    page = mine.page
    opened(mine, "More", "Ratings")
    page.tap("#sheet summary >> nth=0")
    yield "ratings open"
    page.tap("#close")
    page.tap("#skill")
    page.tap("#sheet summary")
    yield "skill chooser open"
    page.tap("#close")
    for words in ("Incident", "Note", "More"):
        opened(mine, words)
        yield f"{words} open"
        page.tap("#close")
    opened(mine, "More")
    page.get_by_role("button", name="Spot:").tap()
    yield "spot open"
    page.tap("#close")
    page.tap("#lock")
    yield "locked"
    page.tap("#stop")
    yield "stopped while locked"
    mine.hold("Hold to go on")
    mine.hold("Hold to unlock")
    yield "unlocked"
    page.tap("#stop")
    page.get_by_role("button", name="Somebody under the bar").tap()
    yield "stopped with a reason"
    mine.hold("Hold to go on")
    yield "gone on"


def signed_out(page: Page) -> None:
    """The server takes nothing any more until somebody signs in."""
    page.route(RECORDS, lambda route: route.fulfill(status=401, body="{}"))


def refused(page: Page) -> None:
    """The record book did not take the sheet."""
    problem = "name of the lesson: it names the candidate; name the lesson by place and day"
    told = {"state": "refused", "records": 3, "entry": None, "problems": [problem]}
    page.route(STATE, lambda route: route.fulfill(json=told))


def troubles(mine: Mat) -> Iterator[str]:
    """The states in which something is wrong with device or network."""
    page = mine.page
    page.evaluate("() => { navigator.wakeLock.request = () => Promise.reject(new Error()) }")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    mine.found.context.set_offline(offline=True)
    for _ in range(12):
        page.tap("#alone")
    page.get_by_text("12 not sent").wait_for()
    until(page, "document.getElementById('unsent').dataset.also.length > 0")
    yield "offline, and the screen may go dark"
    mine.found.context.set_offline(offline=False)
    signed_out(page)
    page.tap("#alone")
    page.get_by_text(re.compile("Sign in to send")).wait_for()
    yield "signed out"
    page.evaluate("() => { IDBObjectStore.prototype.put = () => { throw new DOMException() } }")
    page.tap("#alone")
    page.get_by_text(re.compile("NOT SAVED")).wait_for()
    yield "not saved"


def pages_around_a_lesson(mine: Mat) -> Iterator[str]:
    """The states of the first page, of the review and of what is typed from paper."""
    page = mine.page
    page.goto(f"{mine.house.address}/mat")
    ready(page)
    yield "nothing fetched"
    mine.prepare()
    yield "the form of a lesson"
    mine.fill(MOST, ("long-hang", "tuck-invert"), "mill-2026-11-24")
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    yield "with as many students as there may be"
    page.evaluate("document.querySelector('#logs input').value = ''")
    page.dispatch_event("#logs input >> nth=0", "input")
    page.check("#paper")
    yield "a count is missing, and it was scored on paper"
    page.check("#zero")
    page.fill("#began", "2026-11-24T09:00")
    page.fill("#minutes", "10")
    page.click("#go")
    page.wait_for_selector("#quick:not([hidden])")
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    yield "nothing typed"
    for line in ("0:30 2 1 g yn", "0:40 2 1 zz"):
        page.fill("#line", line)
        page.press("#line", "Enter")
        until(page, "document.getElementById('line') === document.activeElement")
    yield "a line typed, and one that is not understood"
    page.click("#totals button")
    mine.begin(MOST, practical="mill-again-2026-11-24")
    mine.student(1)
    mine.answer(1, "yes")
    mine.kept()
    page.goto(mine.address.replace("/lesson#", "/review#"))
    ready(page)
    yield "review of a lesson that has not ended"
    signed_out(page)
    page.get_by_role("button", name="It ended at").click()
    page.get_by_text("Sign in to send").wait_for()
    yield "review while nobody is signed in"
    page.unroute(RECORDS)
    page.evaluate("dispatchEvent(new Event('online'))")
    mine.sent()
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    yield "review with open points"
    page.get_by_role("button", name="Not seen").first.click()
    page.get_by_text("Kept:").wait_for()
    yield "review with nothing open but ratings"
    yield from _signed_and_refused(mine)
    page.goto(f"{mine.house.address}/mat")
    ready(page)
    yield "sheets on this device"


def _signed_and_refused(mine: Mat) -> Iterator[str]:
    """The states of a review that is signed, and whose sheet is opened again after a refusal."""
    page = mine.page
    mine.sign()
    yield "signed"
    refused(page)
    page.reload()
    page.wait_for_selector("#reopen:not([hidden])")
    yield "refused"
    page.click("#reopen")
    page.unroute(STATE)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    yield "opened again, to be mended"
