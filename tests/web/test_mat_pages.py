"""What the pages beside the mat do with a tap, a hold, a line that is typed, and a signature."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.web.conftest import Served
from tests.web.mat import AHEAD, Mat, mat, ready, until

pytestmark = pytest.mark.xdist_group("chromium")


@pytest.fixture
def mine(tmp_path: Path, house: Served) -> Iterator[Mat]:
    with mat(tmp_path / "profile", house) as found:
        found.page.add_init_script(AHEAD)
        yield found
        assert found.found.complaints == []


def pressed(mine: Mat, question: int) -> list[str]:
    """The answers to a question that the page shows as given."""
    found: list[str] = mine.page.evaluate(
        """n => [...document.querySelectorAll("#marks .question-row")][n - 1]
          .querySelectorAll("[aria-pressed=true]").values().map(one => one.className).toArray()""",
        question,
    )
    return found


def state_of(mine: Mat) -> dict[str, Any]:
    """What the server says of the sheet."""
    answer = mine.found.context.request.get(f"{mine.house.address}/api/sheets/{mine.sheet}")
    found: dict[str, Any] = answer.json()
    return found


def test_another_answer_takes_one_record_and_undo_goes_back_to_the_first(mine: Mat) -> None:
    mine.begin()
    mine.student(1)
    mine.answer(1, "yes")
    mine.answer(1, "no")
    mine.kept()
    assert pressed(mine, 1) == ["no"]
    mine.page.tap("#undo")
    mine.page.get_by_text("Undone: S1 no: Short cues while the student moves").wait_for()

    assert pressed(mine, 1) == ["yes"]
    assert mine.kinds() == ["begin", "mark", "mark", "undo"]


def test_what_a_hold_brings_after_it_presses_nothing_else(mine: Mat) -> None:
    mine.begin()
    page = mine.page
    page.focus("#stop")
    page.keyboard.press("Enter")
    page.wait_for_selector("#stopped[open]")
    page.focus("#resume")
    page.keyboard.press("Enter")
    page.wait_for_timeout(900)
    assert mine.kinds() == ["begin", "stop"]

    page.keyboard.down("Enter")
    for _ in range(12):  # the key repeats while it is held
        page.wait_for_timeout(100)
        page.keyboard.down("Enter")
    page.keyboard.up("Enter")
    page.wait_for_timeout(200)

    assert mine.kinds() == ["begin", "stop", "resume"]
    assert page.locator("dialog[open]").count() == 0
    mine.student(1)
    mine.answer(1, "yes")
    mine.kept()


def test_a_stop_shows_where_first_aid_is_and_a_reason_is_given_and_taken_back(mine: Mat) -> None:
    mine.prepare()
    mine.page.fill("#first-aid", "by the door")
    mine.fill(2, ("long-hang",), "mill-2026-11-24")
    mine.page.click("#go")
    mine.page.wait_for_url("**/mat/lesson#*")
    ready(mine.page)
    mine.address = mine.page.url
    mine.page.tap("#stop")
    assert mine.page.locator("#stopped").get_by_text("First aid: by the door").is_visible()
    reason = mine.page.get_by_role("button", name="Assessor stepped in")
    reason.tap()
    until(mine.page, "document.getElementById('resume').hidden")
    reason.tap()
    until(mine.page, "!document.getElementById('resume').hidden")

    assert mine.kinds() == ["begin", "stop", "incident", "undo"]


def test_a_lesson_that_was_scored_is_signed_and_taken_by_the_server(mine: Mat) -> None:
    mine.begin(2)
    for student in (1, 2):
        mine.student(student)
        for question in (1, 2):
            mine.answer(question, "yes")
    mine.kept()
    mine.hurry(95)  # the first look was due at 1:00 and its time is over
    until(mine.page, "document.getElementById('clock').textContent >= '1:35'")
    mine.page.tap("#more")
    mine.hold("Hold to end the lesson")
    mine.page.wait_for_url("**/mat/review#*")
    ready(mine.page)
    assert mine.page.get_by_text("Looks: 0 answered, 1 missed (1)").is_visible()
    mine.sign()
    mine.let_go()

    told = state_of(mine)
    assert told["state"] == "signed", told
    assert mine.kinds()[-3:] == ["end", "reason", "sign"]


def test_a_sheet_from_paper_goes_on_only_when_its_totals_match(mine: Mat) -> None:
    page = mine.page
    mine.prepare()
    mine.fill(2, ("long-hang",), "mill-2026-11-24")
    page.check("#paper")
    page.fill("#began", "2026-11-24T09:00")
    page.fill("#minutes", "2")
    page.click("#go")
    page.wait_for_url("**/mat/quick#*")
    ready(page)
    mine.address = page.url
    for line in ("0:30 1 1 g yn", "0:40 2 1 y-", "0:50 2 1 yy", "x", "w 1 1 0", "i 7 1:10 2"):
        page.fill("#line", line)
        page.press("#line", "Enter")
        until(page, "document.getElementById('line').value === ''")
    totals = {"tries": 2, "yes": 2, "no": 1, "unseen": 1, "go": 1, "back": 0, "looks": 1}
    for name, count in {**totals, "incidents": 2}.items():
        page.fill(f"#totals [name={name}]", str(count))
    page.click("#totals button")
    page.get_by_text("Not the same: incidents 2 on paper, 1 typed.").wait_for()
    page.fill("#totals [name=incidents]", "1")
    page.click("#totals button")
    page.wait_for_url("**/mat/review#*")
    ready(page)
    mine.sign()
    mine.let_go()

    told = state_of(mine)
    assert told["state"] == "signed", told


def test_a_sheet_that_the_book_refused_is_opened_again_and_mended(mine: Mat) -> None:
    """A note that names somebody of the record book would outlive the erasure of her name."""
    mine.begin(students=2)
    page = mine.page
    mine.student(1)
    page.tap("#all-yes")
    page.tap("#note")
    page.fill("#sheet textarea", "Leilani Kahananui looked on.")
    page.get_by_role("button", name="Keep the note").tap()
    page.tap("#stop")
    page.tap("#over")
    page.wait_for_url("**/mat/review#*")
    ready(page)
    sign(mine)
    page.get_by_text("The record book did not take the sheet.").wait_for()
    page.tap("#reopen")
    page.locator("#events").get_by_role("button", name="Take back").tap()
    page.get_by_text("Undone: note").wait_for()
    sign(mine)
    page.get_by_text("The office has the sheet.").wait_for()

    assert mine.kinds()[-5:] == ["sign", "reopened", "undo", "reason", "sign"]
    assert state_of(mine)["state"] == "signed"
    assert page.is_hidden("#reopen")


def sign(mine: Mat) -> None:
    """Signs with a reason for the ratings that are open."""
    mine.page.fill("#reason", "short lesson")
    mine.page.tap("#do-sign")


SHIFT = """() => new Promise(done => {
  let sum = 0;
  new PerformanceObserver(list => { for (const one of list.getEntries()) sum += one.value; })
    .observe({ type: "layout-shift", buffered: true });
  setTimeout(() => done(sum), 300);
})"""
MOST_SHIFT = 0.02


def test_nothing_shifts_while_a_page_opens(mine: Mat) -> None:
    """As Lighthouse counts it (Layout Instability API)."""
    mine.begin(students=2)
    mine.page.tap("#all-yes")
    mine.let_go()
    for address in ("/mat", f"/mat/lesson#{mine.sheet}", f"/mat/review#{mine.sheet}"):
        mine.page.goto(f"{mine.house.address}/")
        mine.page.goto(f"{mine.house.address}{address}")
        ready(mine.page)
        shown = mine.page.evaluate("getComputedStyle(document.querySelector('main')).visibility")

        assert shown == "visible"
        assert mine.page.evaluate(SHIFT) < MOST_SHIFT, address
    mine.page.evaluate(
        """() => { const one = document.createElement("div"); one.style.height = "200px";
          document.querySelector("main").prepend(one); }"""
    )
    assert mine.page.evaluate(SHIFT) > MOST_SHIFT  # what moves is seen


def test_a_page_that_the_worker_did_not_take_hold_of_asks_for_it(
    tmp_path: Path, house: Served
) -> None:
    """As one that was on its way meanwhile; a reload past the worker leaves it so too."""
    with mat(tmp_path / "profile", house) as mine:
        mine.prepare()
        mine.found.context.new_cdp_session(mine.page).send("Page.reload", {"ignoreCache": True})
        mine.page.wait_for_selector("html[data-worker=ready]", state="attached")

        assert mine.page.evaluate("navigator.serviceWorker.controller !== null")
