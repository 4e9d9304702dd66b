"""Nothing that was tapped is lost or doubled, whatever happens to browser, network and server."""

from __future__ import annotations

import json
import os
import random
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import rmtree

import pytest
from playwright.sync_api import Page, Playwright, Route, sync_playwright
from tests.counting import say
from tests.web.browser import browser, sign_in
from tests.web.conftest import Clock, Sent, Served, served
from tests.web.mat import Mat, mat, ready, until, whole
from tests.web.measuring import violations

from standfast.web.routes import mat_pages

pytestmark = pytest.mark.xdist_group("chromium")

KILLS = int(os.environ.get("MAT_KILLS", "6"))
LEAVES = 50
WIPES = 3

# Taps as fast as each is kept; says how many are, which is less than how many were begun.
TAPPING = """() => {
  document.querySelector("#who button").click();
  let kept = 0;
  const said = document.getElementById("said");
  const which = () => `#marks .${kept % 3 ? "yes" : "no"}:not([aria-pressed=true])`;
  const tap = () => document.querySelector(which()).click();
  const next = () => { kept += 1; console.log("KEPT", kept); tap(); };
  new MutationObserver(() => { if (said.dataset.how === "kept") next(); })
    .observe(said, { attributes: true, attributeFilter: ["data-how"] });
  tap();
}"""


@pytest.fixture
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as started:
        yield started


def killed(mine: Mat, rng: random.Random, end: Callable[[], None]) -> list[int]:
    """Taps until the end; the last number is how many were told to be kept, once it is all read."""
    told = [0]
    mine.page.on(
        "console",
        lambda line: (
            told.append(int(line.text.split()[1])) if line.text.startswith("KEPT") else None
        ),
    )
    mine.page.evaluate(TAPPING)
    mine.page.wait_for_timeout(rng.uniform(5, 250))
    end()
    return told


@pytest.mark.slow
def test_no_kept_mark_is_lost_when_the_browser_is_killed(
    tmp_path: Path, house: Served, playwright: Playwright
) -> None:
    rng = random.Random(5)
    with mat(tmp_path / "profile", house, playwright=playwright) as mine:
        mine.begin()
        address, before = mine.address, 1
        told = killed(mine, rng, mine.found.kill)
    lost, total = 0, 0
    for run in range(KILLS + 1):
        with browser(tmp_path / "profile", playwright=playwright) as found:
            mine = Mat(house, found, found.page(), address)
            mine.page.goto(address)
            ready(mine.page)
            there = mine.records()
            lost += max(before + told[-1] - len(there), 0)
            total += told[-1]
            assert whole(there)
            before = len(there)
            told = killed(mine, rng, found.kill) if run < KILLS else [0]
    say(
        f"{KILLS + 1} kills of the browser: {total} marks told to be kept, {before - 1} came"
        f" back, {lost} lost"
    )

    assert total > KILLS
    assert lost == 0


@pytest.mark.slow
def test_a_sheet_comes_back_when_the_browser_throws_its_database_away(
    tmp_path: Path, house: Served, server: Sent, playwright: Playwright
) -> None:
    rng, profile = random.Random(11), tmp_path / "profile"
    with mat(profile, house, playwright=playwright) as mine:
        mine.begin()
        address, before = mine.address, 1
        told = killed(mine, rng, mine.found.kill)
    lost, total = 0, 0
    for run in range(WIPES):
        rmtree(profile / "Default" / "IndexedDB")
        with browser(profile, playwright=playwright) as found:
            mine = Mat(house, found, found.page(), address)
            mine.page.goto(address)
            ready(mine.page)
            there = mine.records()
            assert whole(there)
            lost += max(before + told[-1] - len(there), 0)
            total += told[-1]
            before = len(there)
            if run + 1 < WIPES:
                told = killed(mine, rng, found.kill)
            else:
                sign_in(mine.page, house, "hana")
                mine.page.goto(address)
                mine.let_go()
                held = mine.records()
    say(
        f"{WIPES} times killed and its database deleted: {total} marks told to be kept,"
        f" {before - 1} came back, {lost} lost"
    )

    assert [one for one in held if "held" in one] == []
    assert server.records.keys() == {one["id"] for one in there}
    assert total > WIPES
    assert lost == 0


def test_no_mark_is_sent_before_its_second_copy_is_written(tmp_path: Path, house: Served) -> None:
    slow = """() => {
      const close = FileSystemWritableFileStream.prototype.close;
      window.order = [];
      FileSystemWritableFileStream.prototype.close = async function () {
        await new Promise(done => setTimeout(done, 200));
        await close.call(this);
        window.order.push("copied");
      };
      const real = window.fetch;
      window.fetch = (...given) => {
        if (given[0] === "/api/records") window.order.push("sent");
        return real(...given);
      };
    }"""
    with mat(tmp_path / "profile", house) as mine:
        mine.page.add_init_script(f"({slow})()")
        mine.begin()
        mine.let_go()
        until(mine.page, "window.order.includes('copied')")
        mine.student(1)
        mine.page.evaluate("window.order = []")
        for question in (1, 2):
            mine.answer(question, "yes")
            mine.kept()
            mine.let_go()

        assert mine.page.evaluate("window.order") == ["copied", "sent"] * 2


@pytest.mark.slow
def test_no_kept_mark_is_lost_when_only_the_tab_is_killed(tmp_path: Path, house: Served) -> None:
    rng = random.Random(7)
    lost, total, before = 0, 0, 1
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        for _ in range(KILLS):
            told = killed(mine, rng, mine.crash)
            mine.reopen()
            there = mine.records()
            assert whole(there)
            lost += max(before + told[-1] - len(there), 0)
            total += told[-1]
            before = len(there)
    say(
        f"{KILLS} kills of the tab alone: {total} marks told to be kept, {before - 1} came back,"
        f" {lost} lost"
    )

    assert total > KILLS
    assert lost == 0


@pytest.mark.slow
def test_a_tap_is_kept_when_the_page_is_left_at_once(tmp_path: Path, house: Served) -> None:
    leave = """([kind, to]) => {
      document.querySelector("#who button").click();
      document.querySelector(`#marks .${kind}:not([aria-pressed=true])`).click();
      location.assign(to);
    }"""
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        for n in range(LEAVES):
            mine.page.evaluate(leave, ["yes" if n % 2 else "unseen", f"{house.address}/health"])
            mine.page.wait_for_url(re.compile("/health"))
            mine.page.goto(mine.address)
            ready(mine.page)
        there = mine.records()

    marks = [one for one in there if one["body"]["kind"] == "mark"]
    say(f"tapped and left at once: {len(marks)} of {LEAVES} kept")
    assert whole(there)
    assert len(marks) == LEAVES


def test_the_lesson_goes_on_without_network(tmp_path: Path, house: Served, server: Sent) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        mine.found.context.set_offline(offline=True)
        mine.page.reload()
        ready(mine.page)

        assert mine.page.evaluate("navigator.onLine") is False

        mine.student(1)
        for question in (1, 2):
            mine.answer(question, "yes")
        mine.sent("2 not sent")
        assert len(mine.records()) == 3

        mine.found.context.set_offline(offline=False)
        mine.let_go()
        assert {one["body"]["kind"] for one in server.records.values()} == {"begin", "mark"}
        assert len(server.records) == 3


def test_the_lesson_goes_on_when_the_server_is_dead(
    tmp_path: Path, school: Path, server: Sent, playwright: Playwright
) -> None:
    with served(school, Clock()) as first:
        port = int(first.address.rpartition(":")[2])
        held = mat(tmp_path / "profile", first, playwright=playwright)
        mine = held.__enter__()
        mine.begin()
    try:
        mine.page.reload()
        ready(mine.page)

        assert mine.page.evaluate("navigator.onLine") is True

        mine.student(1)
        mine.answer(1, "no")
        mine.page.wait_for_selector("#said[data-how=kept]")
        with served(school, Clock(), port):
            mine.page.evaluate("dispatchEvent(new Event('online'))")
            mine.let_go()
        assert len(server.records) == 2
    finally:
        held.__exit__(None, None, None)


def test_a_reply_that_was_lost_doubles_nothing(tmp_path: Path, house: Served, server: Sent) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        mine.let_go()
        lost = 2

        def lose(route: Route) -> None:
            nonlocal lost
            lost -= 1
            route.fetch()  # the server has it
            if lost == 1:
                route.abort()
            else:
                route.fulfill(status=500, body="no")
                mine.page.unroute("**/api/records")

        mine.page.route("**/api/records", lose)
        mine.student(1)
        mine.answer(1, "yes")
        mine.answer(2, "unseen")
        mine.let_go()

        assert lost == 0
        assert sorted(server.records) == sorted(one["id"] for one in mine.records())
        assert len(server.records) == 3
        assert [one for one in mine.records() if "unsent" in one] == []


def test_one_bad_record_does_not_stop_the_others(
    tmp_path: Path, house: Served, server: Sent
) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        mine.let_go()

        def judge(route: Route) -> None:
            sent = json.loads(route.request.post_data or "{}")["records"]
            if any(one["body"].get("answer") == "no" for one in sent):
                route.fulfill(status=422, body="{}")
            else:
                route.continue_()

        mine.page.route("**/api/records", judge)
        mine.found.context.set_offline(offline=True)
        mine.student(1)
        mine.answer(1, "no")
        mine.answer(2, "yes")
        mine.student(2)
        mine.answer(1, "yes")
        mine.found.context.set_offline(offline=False)
        mine.let_go()

        there = mine.records()
        assert [one["n"] for one in there if "held" in one] == [2]
        assert len(server.records) == 3
        assert len(there) == 4


def test_two_assessors_of_one_lesson_make_two_sheets(
    tmp_path: Path, house: Served, server: Sent, playwright: Playwright
) -> None:
    with (
        mat(tmp_path / "one", house, playwright=playwright) as one,
        mat(tmp_path / "two", house, login="leilani", playwright=playwright) as two,
    ):
        for mine in (one, two):
            mine.begin()
            mine.found.context.set_offline(offline=True)
        for _ in range(5):
            for mine in (one, two):
                mine.student(1)
                mine.answer(1, "yes")
                mine.answer(2, "yes")
        for mine in (one, two):
            mine.found.context.set_offline(offline=False)
            mine.let_go()

        sheets = [record["sheet"] for record in server.records.values()]
        assert {sheets.count(mine.sheet) for mine in (one, two)} == {11}
        assert len(sheets) == 22


def test_a_second_tab_of_the_sheet_is_refused(tmp_path: Path, house: Served) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        for part in ("lesson", "review", "quick"):
            other = mine.found.page()
            other.goto(mine.address.replace("/lesson#", f"/{part}#"))
            until(other, "document.querySelector('h1').textContent === 'Open in another tab'")
            assert other.locator("#marks, #sign, #line").count() == 0
            assert other.get_by_text("Go on there, or close it first").is_visible()
            assert violations(other) == []
            other.close()
        mine.student(1)
        mine.answer(1, "yes")
        mine.page.wait_for_selector("#said[data-how=kept]")
        assert len(mine.records()) == 2


def test_a_full_device_says_so_and_keeps_it_when_there_is_room_again(
    tmp_path: Path, house: Served
) -> None:
    full = """() => {
      const put = IDBObjectStore.prototype.put;
      window.full = false;
      IDBObjectStore.prototype.put = function (...given) {
        if (window.full && this.name === "records")
          throw new DOMException("full", "QuotaExceededError");
        return put.apply(this, given);
      };
    }"""
    with mat(tmp_path / "profile", house) as mine:
        mine.page.add_init_script(f"({full})()")
        mine.begin()
        mine.page.evaluate("window.full = true")
        mine.student(1)
        mine.answer(1, "yes")
        until(
            mine.page,
            "document.getElementById('said').textContent.startsWith('NOT SAVED, use paper')",
        )
        assert len(mine.records()) == 1

        mine.answer(2, "no")
        until(mine.page, "document.getElementById('said').textContent.includes('2 not kept')")
        mine.page.evaluate("window.full = false")
        until(mine.page, "!document.body.classList.contains('not-saved')")
        there = mine.records()
        assert whole(there)
        assert len(there) == 3


def test_a_new_version_waits_while_a_lesson_runs(
    tmp_path: Path, house: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        mine.student(1)
        mine.answer(1, "yes")
        mine.page.wait_for_selector("#said[data-how=kept]")
        old = mat_pages.version()
        monkeypatch.setattr(mat_pages, "version", lambda: "another")
        mine.page.evaluate("navigator.serviceWorker.getRegistration('/mat').then(r => r.update())")
        until(
            mine.page,
            "navigator.serviceWorker.getRegistration('/mat').then(r => Boolean(r.waiting))",
        )
        mine.page.reload()
        ready(mine.page)
        mine.answer(2, "yes")
        mine.page.wait_for_selector("#said[data-how=kept]")

        assert sorted(mine.page.evaluate("caches.keys()")) == sorted([f"mat-{old}", "mat-another"])
        assert len(mine.records()) == 3

        mine.page.close()
        mine.page = mine.found.page()
        mine.page.goto(f"{house.address}/health")
        mine.page.wait_for_timeout(500)
        mine.page.goto(mine.address)
        ready(mine.page)
        until(mine.page, "caches.keys().then(k => k.length === 1 && k[0] === 'mat-another')")
        assert len(mine.records()) == 3


def test_an_expired_login_stops_only_the_sending(
    tmp_path: Path, house: Served, server: Sent
) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        mine.let_go()
        mine.page.route("**/api/records", lambda route: route.fulfill(status=401, body="{}"))
        mine.found.context.clear_cookies()
        mine.page.reload()
        ready(mine.page)
        mine.student(1)
        mine.answer(1, "yes")
        mine.answer(2, "yes")
        mine.sent("Sign in to send 2")

        assert len(mine.records()) == 3
        assert len(server.records) == 1
        kept = mine.page.evaluate(
            "caches.keys().then(async k => (await caches.open(k[0])))"
            ".then(async kept => (await kept.match('/mat/lesson')).text())"
        )
        assert "sign-in" not in kept


@pytest.mark.parametrize("years", [-3, 2])
def test_a_wrong_clock_does_not_move_the_lesson(tmp_path: Path, house: Served, years: int) -> None:
    wrong = f"""() => {{
      const real = Date.now;
      window.off = {years} * 365 * 86400000;
      Date.now = () => real() + window.off;
    }}"""
    with mat(tmp_path / "profile", house) as mine:
        mine.page.add_init_script(f"({wrong})()")
        mine.begin()
        mine.student(1)
        mine.answer(1, "yes")
        mine.page.evaluate("window.off += 7200000")  # the clock is set while the lesson runs
        mine.answer(2, "yes")
        mine.page.evaluate("window.off -= 14400000")
        mine.answer(1, "no")
        mine.page.wait_for_selector("#said[data-how=kept]")
        marks = [one for one in mine.records() if one["body"]["kind"] == "mark"]

        assert len(marks) == 3
        assert all(0 <= one["body"]["t"] < 20 for one in marks)
        assert [one["at"] for one in marks] == sorted(one["at"] for one in marks)


def no_names(page: Page) -> str:
    """The page as the server sends it."""
    return str(page.evaluate("fetch(location.pathname).then(a => a.text())"))


def test_the_kept_pages_hold_nobodys_name(tmp_path: Path, house: Served) -> None:
    with mat(tmp_path / "profile", house) as mine:
        for part in mat_pages.PAGES:
            text = mine.found.context.request.get(f"{house.address}{part}").text()

            assert "hana" not in text.lower()
            assert "ines" not in text.lower().replace("lines", "").replace("machines", "")
