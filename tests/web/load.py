"""Assessors who send lessons and never give up, to load a server to which something happens."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from threading import Event, Thread

import httpx
from tests.web.conftest import PASSWORD, PEOPLE, Sent
from tests.web.records import JSON, lesson, signed_lesson

from standfast.desk.opening import where_the_book_is
from standfast.engine.decide import decide
from standfast.store.connect import open_book

DAY = "2026-11-24"
PATIENCE = 30.0


@dataclass
class Assessor:
    """Sends lessons, each batch until it is acknowledged; signs each."""

    login: str
    first: int
    """Number of the first record's id."""
    session: str
    lesson: list[JSON]
    acknowledged: Counter[str] = field(default_factory=Counter)
    """How often each record was answered `stored`."""
    seen: set[str] = field(default_factory=set)
    signed: list[str] = field(default_factory=list)
    """Sheets of which the signature was acknowledged."""
    again: int = 0
    """How often there was no answer."""
    refused: int = 0
    """How often the answer was that the record book cannot be reached."""
    fault: BaseException | None = None

    def work(self, address: str, ended: Event, chance: Random) -> None:
        try:
            with httpx.Client(base_url=address, timeout=PATIENCE) as client:
                client.headers["cookie"] = self.session
                while not ended.is_set():
                    self._lesson(client, chance)
        except BaseException as error:  # noqa: BLE001 - told by whoever waits for the thread
            self.fault = error

    def _lesson(self, client: httpx.Client, chance: Random) -> None:
        taps = self._taps()
        sheet = taps[0]["sheet"]
        while taps:
            batch = taps[: chance.randrange(1, 8)]
            if self._sent(client, batch):
                taps = taps[len(batch) :]
        self.signed.append(sheet)

    def _taps(self) -> list[JSON]:
        """A lesson of its own, under a practical of its own, and its signature."""
        done = len(self.signed)
        return signed_lesson(
            self.lesson, self.first + 100 * done, f"mill-{DAY}-{self.login}-{done}"
        )

    def _sent(self, client: httpx.Client, batch: list[JSON]) -> bool:
        try:
            answer = client.post("/api/records", json={"records": batch})
        except httpx.TransportError:
            self.again += 1
            time.sleep(0.1)
            return False
        if answer.status_code == 503:
            self.refused += 1
            time.sleep(0.1)
            return False
        assert answer.status_code == 200, answer.text
        for told in answer.json()["answers"]:
            assert told["answer"] in {"stored", "seen"}, told
            self.acknowledged[told["id"]] += told["answer"] == "stored"
            self.seen.add(told["id"])
        return True


def come_in(address: str, login: str, first: int) -> Assessor:
    with httpx.Client(base_url=address, timeout=PATIENCE) as client:
        answer = client.post("/sign-in", data={"login": login, "password": PASSWORD})
        session = answer.headers["set-cookie"].partition(";")[0]
        client.headers["cookie"] = session
        kits = client.get("/api/kits").json()
        taps = lesson(client, str(kits["candidates"][0]["id"]))
        taps[0]["body"]["assessor"] = PEOPLE[login][0]
    return Assessor(login, first, session, taps)


def check_all_once(folder: Path, assessors: list[Assessor]) -> tuple[int, int]:
    """Each acknowledged record is stored, each signed sheet an entry, once; how many of each."""
    told = set[str]().union(*(one.seen for one in assessors))
    signed = {sheet for one in assessors for sheet in one.signed}
    stored = Sent(folder).records
    assert set(stored) == told
    for one in assessors:
        assert max(one.acknowledged.values()) == 1
    with open_book(where_the_book_is(folder)) as book:
        kept = [sheet.sheet.id for sheet in book.sheets() if sheet.sheet.source == "web"]
        assert sorted(kept) == sorted(signed)
        assert book.audit(decide).faults == []
    return len(told), len(signed)


def wait_until_each_sent(assessors: list[Assessor], threads: list[Thread]) -> None:
    """Until each has had something acknowledged that was not before."""
    before = [len(one.seen) for one in assessors]
    given_up = time.monotonic() + PATIENCE
    while any(len(one.seen) == was for one, was in zip(assessors, before, strict=True)):
        assert all(one.is_alive() for one in threads), [one.fault for one in assessors]
        assert time.monotonic() < given_up, "somebody's records are not taken any more"
        time.sleep(0.01)
