"""The database goes away while the server runs, and comes back: told, kept, and gone on with.

The server itself is never started again.  PostgreSQL is stopped at once (`immediate`), so that
every connection of the server is dead and the database recovers from its log.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from threading import Event, Thread

import pytest
from tests.conftest import or_left_out
from tests.counting import kills, say
from tests.store.cluster import Cluster, running
from tests.web.conftest import PASSWORD, Clock, Sent, Served, move_to, served
from tests.web.load import check_all_once, come_in, wait_until_each_sent
from tests.web.mat import mat
from tests.web.records import lesson, post, sign

pytestmark = pytest.mark.of_the_file(why="it takes the book to a server of its own")

OUTAGES = kills(2)
SEED = 20260305


@pytest.fixture(scope="module")
def database() -> Iterator[Cluster]:
    """One of our own, which may go away."""
    with or_left_out(), running(durable=True) as found:
        yield found


@pytest.fixture
def house(school: Path, database: Cluster) -> Iterator[Served]:
    move_to(database, school)
    with served(school, Clock()) as found:
        yield found


@contextmanager
def gone(database: Cluster) -> Iterator[None]:
    """While the block runs there is no database."""
    database.stop()
    try:
        yield
    finally:
        database.start()


def test_without_the_database_every_page_says_so_and_names_no_server(
    house: Served, database: Cluster, caplog: pytest.LogCaptureFixture
) -> None:
    office, stranger = house.visitor("office"), house.visitor()
    with gone(database):
        for asked in (
            office.get("/people"),
            office.get("/"),
            stranger.post("/sign-in", data={"login": "hana", "password": PASSWORD}),
        ):
            assert asked.status_code == 503
            assert "The record book cannot be reached" in asked.text
            assert "the database server does not answer; try again in a moment" in asked.text
            assert int(asked.headers["retry-after"]) > 0
            assert not [one for one in ("postgres", "keeper", "socket") if one in asked.text]
        assert "postgresql+psycopg://keeper@" in caplog.text
        assert stranger.get("/health").status_code == 200
    assert office.get("/people").status_code == 200
    assert house.visitor("hana").get("/api/kits").status_code == 200


def test_what_a_device_sends_meanwhile_is_refused_and_taken_afterwards(
    house: Served, database: Cluster
) -> None:
    hana = house.visitor("hana")
    taps = lesson(hana, str(hana.get("/api/kits").json()["candidates"][0]["id"]))
    whole = [*taps, sign(taps)]
    assert set(post(hana, *whole[:4])) == {"stored"}
    with gone(database):
        refused = hana.post("/api/records", json={"records": whole})
        assert refused.status_code == 503
        assert refused.json() == {
            "error": "the database server does not answer; try again in a moment"
        }

    assert post(hana, *whole) == ["seen"] * 4 + ["stored"] * (len(whole) - 4)
    assert hana.get(f"/api/sheets/{whole[0]['sheet']}").json()["state"] == "signed"


@pytest.mark.xdist_group("chromium")
def test_the_page_beside_the_mat_keeps_its_marks_and_sends_them_when_it_is_back(
    house: Served, database: Cluster, tmp_path: Path
) -> None:
    with mat(tmp_path / "profile", house) as mine:
        mine.begin()
        mine.student(1)
        mine.answer(1, "yes")
        mine.kept()
        mine.let_go()
        before = len(mine.records())
        with gone(database):
            for answer in ("no", "yes", "no"):
                mine.answer(1, answer)
                mine.kept()
            mine.page.evaluate("dispatchEvent(new Event('online'))")
            mine.page.wait_for_timeout(300)
            waiting = [one for one in mine.records() if "unsent" in one]
            assert len(waiting) == len(mine.records()) - before > 0
        mine.page.evaluate("dispatchEvent(new Event('online'))")
        mine.let_go()
        there = mine.records()
    assert set(Sent(house.folder).records) == {one["id"] for one in there}


@pytest.mark.slow
def test_under_load_what_was_acknowledged_around_outages_is_stored_once(
    house: Served, database: Cluster
) -> None:
    assessors = [
        come_in(house.address, "hana", 0x100000),
        come_in(house.address, "leilani", 0x900000),
    ]
    ended, chance = Event(), Random(SEED)
    threads = [
        Thread(target=one.work, args=(house.address, ended, Random(one.first))) for one in assessors
    ]
    for one in threads:
        one.start()
    try:
        for _ in range(OUTAGES):
            wait_until_each_sent(assessors, threads)
            time.sleep(chance.uniform(0, 0.3))
            with gone(database):
                time.sleep(chance.uniform(0, 0.2))
        wait_until_each_sent(assessors, threads)
    finally:
        ended.set()
        for one in threads:
            one.join()
    assert [one.fault for one in assessors] == [None, None], f"seed {SEED}"
    told, sheets = check_all_once(house.folder, assessors)
    say(
        f"database away {OUTAGES} times from a server that went on: {told} records and {sheets}"
        f" signed sheets acknowledged, 0 lost, 0 twice; answered 503:"
        f" {sum(one.refused for one in assessors)}"
    )

    assert [one.again for one in assessors] == [0, 0], "a request got no answer at all"
