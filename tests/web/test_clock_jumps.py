"""The server's clock is turned, back and forward: nothing is lost, doubled or locked for it."""

from __future__ import annotations

import json
from datetime import timedelta

import httpx
import pytest
from tests.counting import say
from tests.web.conftest import NOW, PASSWORD, Clock, Sent, Served, filled_in
from tests.web.records import SHEET, lesson, post, sign

from standfast.desk.access import FREE_TRIES, LONGEST_WAIT
from standfast.desk.opening import where_the_book_is
from standfast.engine.decide import decide
from standfast.store.connect import open_book

BACK, FORWARD = timedelta(hours=-1), timedelta(days=1)


def candidate_of(hana: httpx.Client) -> str:
    return str(hana.get("/api/kits").json()["candidates"][0]["id"])


@pytest.mark.parametrize("jump", [BACK, FORWARD], ids=["back an hour", "forward a day"])
def test_records_are_kept_once_and_in_order_across_a_jump(house: Served, jump: timedelta) -> None:
    hana = house.visitor("hana")
    taps = lesson(hana, candidate_of(hana))
    whole = [*taps, sign(taps)]
    assert set(post(hana, *whole[:5])) == {"stored"}
    house.clock.now += jump
    hana = house.visitor("hana")
    assert post(hana, *whole) == ["seen"] * 5 + ["stored"] * (len(whole) - 5)
    house.clock.now -= jump
    hana = house.visitor("hana")
    assert set(post(hana, *whole)) == {"seen"}
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"

    assert len(Sent(house.folder).records) == len(whole)
    with open_book(where_the_book_is(house.folder)) as book:
        assert [one.sheet.id for one in book.sheets()].count(SHEET) == 1


def test_entries_keep_the_order_in_which_they_came_and_an_audit_remarks_on_the_clock(
    house: Served,
) -> None:
    office = house.visitor("office")
    with open_book(where_the_book_is(house.folder)) as book:
        before = book.size()
    for jump, name in ((FORWARD, "Ada Berg"), (-FORWARD, "Bo Lind"), (BACK, "Cleo Roth")):
        house.clock.now += jump
        office = house.visitor("office")
        enter(office, name)
    with open_book(where_the_book_is(house.folder)) as book:
        events = book.history()[before:]
        audit = book.audit(decide)
    times = [event.at for event in events]

    assert [event.seq for event in events] == list(range(before + 1, before + 1 + len(events)))
    assert times != sorted(times)
    assert audit.faults == []
    assert any("its clock says" in one for one in audit.remarks)
    say(f"clock turned 3 times: {len(events)} entries in order, remarks: {len(audit.remarks)}")


def enter(office: httpx.Client, name: str) -> None:
    """Enters somebody from a file."""
    slug = name.lower().replace(" ", "-")
    people = f"people:\n  - {{person: {slug}, name: {name}}}\n"
    answer = filled_in(office, "/people/import", files={"file": ("people.yaml", people)})
    assert answer.status_code in {200, 303}, answer.text


def test_whoever_is_signed_in_stays_so_when_the_clock_goes_back_an_hour(house: Served) -> None:
    office = house.visitor("office")
    house.clock.now += BACK

    assert office.get("/people").status_code == 200


def test_after_a_day_forward_everybody_signs_in_again_and_that_session_ends_with_the_jump(
    house: Served,
) -> None:
    """A session that a wrong clock began would else end only when the right one has caught up."""
    early = house.visitor("office")
    house.clock.now += FORWARD
    assert early.get("/people").status_code == 303
    late = house.visitor("office")
    assert late.get("/people").status_code == 200
    house.clock.now -= FORWARD

    assert late.get("/people").status_code == 303
    assert house.visitor("office").get("/people").status_code == 200


def test_failures_that_a_wrong_clock_counted_keep_nobody_out_for_years(house: Served) -> None:
    stranger = house.visitor()
    house.clock.now += timedelta(days=3650)
    for _ in range(FREE_TRIES):
        stranger.post("/sign-in", data={"login": "hana", "password": "not this one at all"})
    form = {"login": "hana", "password": PASSWORD}
    assert stranger.post("/sign-in", data=form).status_code == 429
    house.clock.now = NOW
    assert stranger.post("/sign-in", data=form).status_code == 303


def test_failures_still_count_when_the_clock_goes_back_a_little(house: Served) -> None:
    stranger = house.visitor()
    for _ in range(FREE_TRIES):
        stranger.post("/sign-in", data={"login": "hana", "password": "not this one at all"})
    house.clock.now -= LONGEST_WAIT

    form = {"login": "hana", "password": PASSWORD}
    assert stranger.post("/sign-in", data=form).status_code == 429


@pytest.mark.parametrize(
    ("at", "day"),
    [
        pytest.param("22:59:59", "24 November 2026", id="the last second of the day there"),
        pytest.param("23:00:00", "25 November 2026", id="the first of the next"),
    ],
)
def test_today_is_the_day_where_the_school_is(house: Served, at: str, day: str) -> None:
    """The invented school is in central Europe, in November an hour ahead of UTC."""
    clock: Clock = house.clock
    clock.now = NOW.fromisoformat(f"2026-11-24T{at}+00:00")
    page = house.visitor("office").get("/").text

    assert json.dumps(f"Today, {day}")[1:-1] in page
