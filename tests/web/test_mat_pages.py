"""What the pages beside the mat do with a tap, a hold, a line that is typed, and a signature."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.web.conftest import Served
from tests.web.mat import AHEAD, FILLED, Mat, mat, ready, until
from tests.web.walks import refused

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


def test_a_lesson_begins_only_when_something_is_taught(mine: Mat) -> None:
    mine.prepare()
    mine.fill(2, (), "mill-2026-11-24")
    mine.page.click("#go")
    why = mine.page.locator("#taught input").first

    assert "Tick what is taught" in str(why.evaluate("one => one.validationMessage"))
    assert mine.page.url.endswith("/mat")
    mine.page.check("#taught input[value=long-hang]")
    mine.page.evaluate(FILLED)
    mine.page.click("#go")
    mine.page.wait_for_url("**/mat/lesson#*")


def test_what_was_chosen_stays_chosen_after_it_was_fetched(mine: Mat) -> None:
    mine.prepare()
    last = "document.getElementById('candidate').options.length - 1"
    mine.page.select_option("#candidate", index=int(mine.page.evaluate(last)))
    chosen = mine.page.input_value("#candidate")
    mine.page.click("#choose button")
    until(mine.page, "document.querySelectorAll('#kits li').length === 2")

    assert mine.page.input_value("#candidate") == chosen
    assert mine.page.input_value("#rubric") == "low-trapeze-1"


def test_that_a_device_may_send_is_not_said_before_it_did(mine: Mat) -> None:
    mine.prepare()
    mine.page.click("main > details summary")
    mine.page.fill("#token", "anything")
    mine.page.click("#keep-token")

    told = mine.page.inner_text("#device-says")
    assert told == "Kept. Whether this device may send is seen when it sends."


def test_a_lesson_that_has_another_ones_name_is_named_anew_and_signed_anew(mine: Mat) -> None:
    """One assessor has one sheet of a lesson: the record book does not take a second."""
    page = mine.page
    for _ in range(2):
        mine.begin(students=2)
        reviewed(mine)
        sign(mine)
        page.get_by_text("The record book did not take the sheet.").or_(
            page.get_by_text("The office has the sheet.")
        ).wait_for()
    assert "has a sheet of practical mill-2026-11-24 already" in page.inner_text("#server-says")
    before = mine.records()
    page.tap("#reopen")
    page.fill("#practical", "mill-b-2026-11-24")
    page.fill("#site", "The mill")
    page.tap("#keep-head")
    page.get_by_text("Kept: lesson mill-b-2026-11-24").first.wait_for()
    sign(mine)
    page.get_by_text("The office has the sheet.").wait_for()

    kept = mine.records()
    assert kept[: len(before)] == [
        {k: v for k, v in one.items() if k != "unsent"} for one in before
    ]
    assert mine.kinds()[len(before) :] == ["reopened", "mended", "reason", "sign"]
    assert kept[-1]["body"]["count"] == len(kept) - 1
    assert "mill-b-2026-11-24" in page.inner_text("#whose")
    found = mine.found.context.request.get(f"{mine.house.address}/api/sheets").json()
    assert [one["practical"] for one in found] == ["mill-2026-11-24", "mill-b-2026-11-24"]


def test_a_lesson_cannot_be_said_to_have_begun_later_than_now(mine: Mat) -> None:
    mine.begin(students=2)
    reviewed(mine)
    page = mine.page
    page.tap("#mending summary")
    page.fill("#began", "2199-01-01T09:00")
    page.tap("#keep-head")

    assert page.locator("#began").evaluate("one => one.validity.rangeOverflow") is True
    assert "mended" not in mine.kinds()
    page.fill("#began", "2026-11-23T09:00")
    page.tap("#keep-head")
    page.get_by_text("Kept: lesson mill-2026-11-24").first.wait_for()
    assert mine.records()[-1]["body"]["began"].startswith("2026-11-23T09:00:00")


def test_after_a_refusal_each_single_record_can_be_taken_back(mine: Mat) -> None:
    mine.begin(students=2)
    mine.student(1)
    mine.page.tap("#all-yes")
    mine.page.tap("#alone")
    reviewed(mine)
    page = mine.page
    assert page.is_hidden("#each-part")
    refused(page)
    sign(mine)
    page.tap("#reopen")
    page.tap("#each-part summary")
    alone = page.locator("#each li").filter(has_text="S1 alone")
    alone.get_by_role("button", name="Take back").tap()
    page.get_by_text("Undone: S1 alone").wait_for()

    assert alone.count() == 0
    assert "Alone: 0" in page.inner_text("#counts")


def test_a_note_that_names_the_candidate_is_told_before_it_is_signed(mine: Mat) -> None:
    mine.begin(students=2)
    page = mine.page
    name = kit_of(mine)["candidate"]["name"]
    page.tap("#note")
    page.fill("#sheet textarea", f"{name.upper()} looked away.")
    page.get_by_role("button", name="Keep the note").tap()
    reviewed(mine)

    assert f"names {name}" in page.inner_text("#open")
    assert page.is_disabled("#do-sign")
    page.locator("#open").get_by_role("button", name="Take back").tap()
    page.get_by_text("Undone: note").wait_for()
    page.fill("#reason", f"{name} was ill.")
    page.tap("#do-sign")
    assert f"The reason names {name}" in page.inner_text("#sign-says")
    page.tap("#writing summary")
    page.fill("#text", "The candidate looked away.")
    page.tap("#write button")
    page.get_by_text("Kept: note: The candidate looked away.").wait_for()
    sign(mine)
    mine.let_go()
    assert state_of(mine)["state"] == "signed"


def test_a_look_that_an_incident_cut_short_does_not_stop_the_sheet_from_being_taken(
    mine: Mat,
) -> None:
    mine.begin(students=2)
    page = mine.page
    mine.hurry(62)
    page.wait_for_selector("#look.due")
    page.tap("#stop")
    page.get_by_role("button", name="Somebody under the bar").tap()
    mine.hurry(200)
    page.wait_for_timeout(600)
    page.tap("#over")
    page.wait_for_url("**/mat/review#*")
    ready(page)
    sign(mine)
    mine.let_go()

    told = state_of(mine)
    assert told["state"] == "signed", told
    (look,) = (one["body"] for one in mine.records() if one["body"]["kind"] == "look")
    assert (look["look"], look["waiting"]) == (1, None)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        pytest.param(["0:30 1 3 yn"], "g, let go, before the answers", id="nobody let her go"),
        pytest.param(["0:30 1 3 h", "0:40 1 3 yn"], "was held back", id="held back before"),
        pytest.param(["0:30 1 3 h yn"], "was held back", id="held back and tried"),
    ],
)
def test_what_the_record_book_would_not_take_is_not_typed_from_paper(
    mine: Mat, lines: list[str], words: str
) -> None:
    typed(mine, "mill-2026-11-24")
    for line in lines:
        mine.page.fill("#line", line)
        mine.page.press("#line", "Enter")
        mine.page.wait_for_timeout(50)

    assert words in mine.page.inner_text("#said")


def typed(mine: Mat, practical: str) -> None:
    """A sheet of paper, ready to be typed."""
    mine.prepare()
    mine.fill(2, ("long-hang",), practical)
    mine.page.check("#paper")
    mine.page.fill("#began", "2026-11-24T09:00")
    mine.page.fill("#minutes", "2")
    mine.page.click("#go")
    mine.page.wait_for_url("**/mat/quick#*")
    ready(mine.page)
    mine.address = mine.page.url


def reviewed(mine: Mat) -> None:
    """Ends the lesson; its review."""
    mine.page.tap("#stop")
    mine.page.tap("#over")
    mine.page.wait_for_url("**/mat/review#*")
    ready(mine.page)


def kit_of(mine: Mat) -> dict[str, Any]:
    """What was fetched for the lesson."""
    found: dict[str, Any] = mine.page.evaluate(
        """sheet => new Promise(told => {
          indexedDB.open("standfast-mat", 1).onsuccess = ({ target: { result: db } }) => {
            db.transaction("sheets").objectStore("sheets").get(sheet).onsuccess = found => {
              db.close();
              told(found.target.result.kit);
            };
          };
        })""",
        mine.sheet,
    )
    return found


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
