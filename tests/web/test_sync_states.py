"""What devices send, in any order and any number of times, against a model of what is kept.

The model is a few dozen lines of dictionaries; the server is the whole application on a real book.
A stop is a copy of the book's files as they lie on the disk, opened again: what a kill leaves.
"""

from __future__ import annotations

import asyncio
import json
import secrets
import tempfile
from collections.abc import Iterable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar, Literal

import httpx
import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from sqlalchemy import Select, select
from tests.schools import copied
from tests.web.conftest import PASSWORD, Clock, Served
from tests.web.records import RUBRIC, key

from standfast.cli.app import run
from standfast.desk.opening import where_the_book_is
from standfast.engine.replaying import digest
from standfast.store.connect import open_book
from standfast.store.tables import held, records, sheets
from standfast.web.app import create_app
from standfast.web.visitor import COOKIE

JSON = dict[str, Any]
Answer = Literal["stored", "seen", "held"]

ASSESSORS = {"hana": "hana-dvorakova", "leilani": "leilani-kahananui"}
COLUMNS = ("id", "sheet", "n", "at", "account")
LENGTH = 4
"""Records of each lesson before its signature."""


# --- the server ---------------------------------------------------------------------------------


class House:
    """The application on a copy of the school, in this thread, so that runs repeat exactly."""

    def __init__(self, school: Path, tokens: dict[str, str]) -> None:
        self.tokens = tokens
        self._runner = asyncio.Runner()
        self._olds: list[tempfile.TemporaryDirectory[str]] = []
        self._lives: list[AbstractAsyncContextManager[object]] = []
        self._open(school)

    def _open(self, school: Path) -> None:
        self._olds.append(tempfile.TemporaryDirectory(prefix="standfast-"))
        self.folder = copied(school, Path(self._olds[-1].name) / "school")
        guard = create_app(self.folder, Clock(), secrets.token_bytes)
        self._lives.append(guard.app.router.lifespan_context(guard.app))
        self._runner.run(self._lives[-1].__aenter__())
        transport = httpx.ASGITransport(guard)
        self._client = httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1")

    def kill(self) -> None:
        """Goes on with the files as they are now; the old server never gets to tidy them."""
        self._open(self.folder)

    def close(self) -> None:
        for life in self._lives:
            self._runner.run(life.__aexit__(None, None, None))
        self._runner.close()
        for old in self._olds:
            old.cleanup()

    def ask(self, who: str, method: str, path: str, content: bytes | None = None) -> httpx.Response:
        headers = {"cookie": f"{COOKIE}={self.tokens[who]}"}
        asked = self._client.request(method, path, content=content, headers=headers)
        return self._runner.run(asked)

    def rows(self, query: Select[Any]) -> list[Any]:
        with open_book(where_the_book_is(self.folder)) as book, book._reading() as reading:
            return [tuple(row) for row in reading.conn.execute(query)]


# --- the model ----------------------------------------------------------------------------------


@dataclass
class Model:
    """What must be kept: the rules of the brief, said once more, in other words."""

    owner: dict[str, str] = field(default_factory=dict)
    stored: dict[str, JSON] = field(default_factory=dict)
    held: set[str] = field(default_factory=set)

    def sheet(self, sheet: str) -> dict[int, JSON]:
        return {one["n"]: one for one in self.stored.values() if one["sheet"] == sheet}

    def signature(self, sheet: str) -> int | None:
        """The number of the first signature."""
        taps = self.sheet(sheet)
        return min((n for n, one in taps.items() if one["body"]["kind"] == "sign"), default=None)

    def take(self, who: str, sent: JSON, *, fits: bool) -> Answer:
        """`fits`: whether the record itself has nothing wrong."""
        known = self.stored.get(sent["id"])
        if known is not None and said(known) == said(sent):
            return "seen"
        if known is not None or not fits or not self._stands(who, sent):
            self.held.add(said(sent))
            return "held"
        self.stored[sent["id"]] = sent
        self.owner.setdefault(sent["sheet"], who)
        return "stored"

    def _stands(self, who: str, sent: JSON) -> bool:
        taps, signed = self.sheet(sent["sheet"]), self.signature(sent["sheet"])
        return (
            self.owner.get(sent["sheet"], who) == who
            and sent["n"] not in taps
            and (signed is None or sent["n"] < signed)
        )

    def state(self, sheet: str) -> str:
        taps, n = self.sheet(sheet), self.signature(sheet)
        if n is None:
            return "open"
        if set(range(1, n)) - set(taps):
            return "incomplete"
        body, before = taps[n]["body"], [taps[number] for number in range(1, n)]
        holds = body["count"] == n - 1 and body["sha256"] == digest(before)
        return "signed" if holds and taps[1]["body"]["kind"] == "begin" else "refused"


def said(record: JSON) -> str:
    """The record as text: to Python 1, 1.0 and True are the same, here they are not."""
    return json.dumps(record, sort_keys=True)


# --- what devices make --------------------------------------------------------------------------


@dataclass
class Lesson:
    """A lesson of one assessor: what her device would send, and what it should not."""

    number: int
    who: str
    candidate: str

    @property
    def sheet(self) -> str:
        return key(0xA000 + self.number)

    def record(self, n: int, body: JSON, *, other: int = 0) -> JSON:
        made = key((self.number * 100 + n) * 100 + other)
        at = f"2026-11-24T10:00:{n:02}.5+01:00"
        return {"id": made, "sheet": self.sheet, "n": n, "at": at, "body": body}

    def begin(self, **other: Any) -> JSON:  # noqa: ANN401 - any field
        return {
            "kind": "begin",
            "practical": f"mill-{self.number}",
            "rubric": RUBRIC,
            "rubric_version": 1,
            "candidate": self.candidate,
            "assessor": ASSESSORS[self.who],
            "began": "2026-11-24T10:00:00+01:00",
            "students": [{"student": "S1", "log": {"long-hang": 5}}],
            "site": None,
            "covers": [],
            **other,
        }

    def taps(self) -> list[JSON]:
        # The accent apart from its letter, and a space at the end: both stay as they were written.
        notes = [{"kind": "note", "t": n, "text": f"vue\u0301 {n} "} for n in range(1, LENGTH)]
        return [self.record(n, body) for n, body in enumerate([self.begin(), *notes], 1)]

    def sign(self, n: int, other: int = 0, **wrong: Any) -> JSON:  # noqa: ANN401 - any field
        before = self.taps()[: n - 1]
        body = {"kind": "sign", "count": len(before), "sha256": digest(before), **wrong}
        return self.record(n, body, other=other)


END = LENGTH + 1
GOOD = ("good", "sign", "early", "gap", "same-n", "changed", "not-me", "wrong-hash", "wrong-count")
UNFIT = (
    *("as-true", "as-float", "misfit", "no-body", "late-begin", "nobody", "large"),
    *("half-letter", "sheetless"),
)
"""What does not fit whoever sends it."""


def made(lesson: Lesson, kind: str, n: int) -> JSON:  # noqa: C901, PLR0911, PLR0912 - one of each
    """A record of that kind; `n` is one of the lesson's own numbers."""
    good = lesson.taps()[n - 1]
    note: JSON = {"kind": "note", "t": 1, "text": "other"}
    match kind:
        case "good":
            return good
        case "sign":
            return lesson.sign(END)
        case "early":
            return lesson.sign(n, other=1) if n > 1 else good
        case "wrong-hash":
            return lesson.sign(END, other=2, sha256="0" * 64)
        case "wrong-count":
            return lesson.sign(END, other=3, count=LENGTH + 1)
        case "gap":
            return lesson.record(END + n, note)
        case "same-n":
            return lesson.record(n, note, other=4)
        case "changed":
            return {**good, "at": "2026-11-24T11:00:00Z"}
        case "as-true" | "as-float":
            second = {**lesson.taps()[1]}
            one: object = True if kind == "as-true" else 1.0
            return {**second, "body": {**second["body"], "t": one}}
        case "misfit":
            look: JSON = {"kind": "look", "look": 1, "t": 60, "waiting": 3, "idle": 9}
            return lesson.record(n, look, other=5)
        case "no-body":
            return {"id": good["id"]}
        case "late-begin":
            return lesson.record(n + 1, lesson.begin(), other=6)
        case "not-me":
            other = next(one for login, one in ASSESSORS.items() if login != lesson.who)
            return lesson.record(1, lesson.begin(assessor=other), other=7)
        case "nobody":
            return lesson.record(1, lesson.begin(candidate="nobody-at-all"), other=8)
        case "large":
            return {**lesson.record(n, note, other=9), "n": 2**63 + n}
        case "half-letter":
            return lesson.record(n, {**note, "text": "cut \ud83e"}, other=10)
        case _:  # "sheetless"
            return {**good, "sheet": [good["sheet"]]}


NO_BATCH = {
    "cut off": b"{",
    "a list": b"[]",
    "no id": b'{"records": [{"id": 1}]}',
    "no UTF-8": b"\xff",
    "deep": b"[" * 99_999,
    "deep inside": b'{"records": [{"id": %s1%s}]}' % (b"[" * 700, b"]" * 700),
    "a number of 5,000 digits": b'{"records": [%s]}' % (b"9" * 5000),
}

# --- the machine --------------------------------------------------------------------------------

Picks = st.lists(
    st.tuples(
        st.integers(0, 7),
        st.one_of(st.sampled_from(GOOD[:3]), st.sampled_from(GOOD), st.sampled_from(UNFIT)),
        st.integers(1, LENGTH),
    ),
    min_size=1,
    max_size=12,
)
WHO = st.sampled_from(sorted(ASSESSORS))


class Devices(RuleBasedStateMachine):
    """Two assessors with a device each, a server that is killed now and then, and the model."""

    school: ClassVar[Path]
    tokens: ClassVar[dict[str, str]]
    candidate: ClassVar[str]

    @initialize(whose=st.lists(WHO, min_size=1, max_size=3))
    def begin(self, whose: list[str]) -> None:
        self.house = House(self.school, self.tokens)
        self.model = Model()
        self.lessons = [Lesson(k, who, self.candidate) for k, who in enumerate(whose)]

    def teardown(self) -> None:
        if hasattr(self, "house"):
            self.house.close()

    def send(self, who: str, batch: Iterable[tuple[JSON, bool]]) -> None:
        """Sends records, each with whether it fits, and compares the answers, in their order."""
        sent = list(batch)
        content = json.dumps({"records": [record for record, _ in sent]}).encode()
        answer = self.house.ask(who, "POST", "/api/records", content)
        assert answer.status_code == 200, answer.text
        told = [(one["id"], one["answer"]) for one in answer.json()["answers"]]
        wanted = [(one["id"], self.model.take(who, one, fits=fits)) for one, fits in sent]

        assert told == wanted, answer.text

    def lesson(self, which: int, who: str) -> Lesson:
        """One of hers most of the time."""
        own = [one for one in self.lessons if one.who == who] * 3
        return (own + self.lessons)[which % (len(own) + len(self.lessons))]

    @rule(who=WHO, picks=Picks)
    def anything(self, who: str, picks: list[tuple[int, str, int]]) -> None:
        batch = []
        for which, kind, n in picks:
            record = made(self.lesson(which, who), kind, n)
            batch.append((record, kind not in UNFIT and _names(who, record)))
        self.send(who, batch)

    @rule(
        which=st.integers(0, 3), order=st.permutations(range(LENGTH + 3)), count=st.integers(1, 7)
    )
    def part_of_a_lesson(self, which: int, order: list[int], count: int) -> None:
        lesson = self.lessons[which % len(self.lessons)]
        signatures = (lesson.sign(END), lesson.sign(3, other=1), lesson.sign(4, other=1))
        every = [*lesson.taps(), *signatures]
        self.send(lesson.who, [(every[place], True) for place in order[:count]])

    @rule(which=st.integers(0, 3), times=st.integers(1, 2))
    def whole_lesson(self, which: int, times: int) -> None:
        lesson = self.lessons[which % len(self.lessons)]
        for _ in range(times):
            self.send(lesson.who, [(one, True) for one in [*lesson.taps(), lesson.sign(END)]])

    @rule()
    def killed_and_started_again(self) -> None:
        self.house.kill()

    @rule(which=st.sampled_from(sorted(NO_BATCH)))
    def no_batch(self, which: str) -> None:
        answer = self.house.ask("hana", "POST", "/api/records", NO_BATCH[which])

        assert answer.status_code == 422

    @rule(who=WHO, which=st.integers(0, 3))
    def ask(self, who: str, which: int) -> None:
        sheet = self.lessons[which % len(self.lessons)].sheet
        answer = self.house.ask(who, "GET", f"/api/sheets/{sheet}")
        if self.model.owner.get(sheet) != who:
            assert answer.status_code == 404
            return
        told = answer.json()
        assert told["state"] == self.model.state(sheet), told
        assert told["records"] == len(self.model.sheet(sheet))
        assert (told["entry"] is not None) == (told["state"] == "signed")

    @invariant()
    def each_is_kept_once_as_it_was_sent(self) -> None:
        if not hasattr(self, "house"):
            return
        rows = self.house.rows(select(*(records.c[name] for name in COLUMNS)))

        assert {row[0]: row[1:4] for row in rows} == {
            one["id"]: (one["sheet"], one["n"], one["at"]) for one in self.model.stored.values()
        }
        assert len(rows) == len(self.model.stored)
        accounts = {sheet: {row[4] for row in rows if row[1] == sheet} for _, sheet, *_ in rows}
        assert all(len(of) == 1 for of in accounts.values())
        bodies = self.house.rows(select(held.c.body))
        assert sorted(said(json.loads(body)) for (body,) in bodies) == sorted(self.model.held)

    @invariant()
    def a_sheet_is_in_the_book_once_when_it_is_whole(self) -> None:
        if not hasattr(self, "house"):
            return
        whole = [one.sheet for one in self.lessons if self.model.state(one.sheet) == "signed"]
        new = select(sheets.c.id).where(sheets.c.practical.like("mill-_")).order_by(sheets.c.id)

        assert [row[0] for row in self.house.rows(new)] == sorted(whole)
        for who in ASSESSORS:
            told = self.house.ask(who, "GET", "/api/sheets").json()
            signed = {one["sheet"] for one in told if one["signed"]}
            assert signed == {one for one in whole if self.model.owner[one] == who}


def _names(who: str, record: JSON) -> bool:
    """Whether the record, if it is a begin, names the assessor whose account sends it."""
    return bool(record["body"].get("assessor", ASSESSORS[who]) == ASSESSORS[who])


@pytest.fixture
def devices(tmp_path: Path, accounts_made: Path) -> type[Devices]:
    """The machine, with a school to copy in which both assessors are signed in."""
    school = copied(accounts_made, tmp_path / "school")
    house = House(school, {"nobody": ""})
    for login in ASSESSORS:
        form = f"login={login}&password={PASSWORD.replace(' ', '+')}".encode()
        house._client.headers["content-type"] = "application/x-www-form-urlencoded"
        answer = house.ask("nobody", "POST", "/sign-in", form)
        house.tokens[login] = answer.headers["set-cookie"].split(";")[0].partition("=")[2]
    Devices.candidate = house.ask("hana", "GET", "/api/kits").json()["candidates"][0]["id"]
    Devices.tokens, Devices.school = house.tokens, tmp_path / "ready"
    copied(house.folder, Devices.school)
    house.close()
    return Devices


@pytest.mark.slow
def test_whatever_devices_send_is_kept_once_and_answered_one_by_one(
    devices: type[Devices],
) -> None:
    machine: Any = devices.TestCase()
    machine.settings = settings(
        max_examples=30,
        stateful_step_count=10,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],  # a failing run has 10 steps; making it smaller takes minutes
        suppress_health_check=list(HealthCheck),
    )
    machine.runTest()


# --- what was once answered with a fault of the server -------------------------------------------


def answers(visitor: httpx.Client, *records: JSON) -> list[str]:
    text = json.dumps({"records": records}).replace("Infinity", "1e999")
    answer = visitor.post("/api/records", content=text.encode())
    assert answer.status_code == 200, answer.text
    return [one["answer"] for one in answer.json()["answers"]]


@pytest.fixture
def lesson(house: Served) -> Lesson:
    """A lesson of hana's with somebody whom she may score."""
    candidates = house.visitor("hana").get("/api/kits").json()["candidates"]
    return Lesson(0, "hana", candidates[0]["id"])


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(
            {"body": {"kind": "note", "text": "cut \ud83e"}}, id="half a letter in a text"
        ),
        pytest.param({"sheet": "\ud83e"}, id="half a letter as the sheet"),
        pytest.param({"\ud83e": 1}, id="half a letter as a key"),
        pytest.param({"n": 2**63}, id="a number that no database holds"),
        pytest.param({"n": 2**53}, id="a number past those that are exact in a browser"),
        pytest.param(
            {"body": {"kind": "failed", "try": 2**53, "t": 1}}, id="a try past those likewise"
        ),
        pytest.param({"n": 1e999}, id="no end"),
        pytest.param({"at": {"a": [[[[{}]]]]}}, id="another shape"),
    ],
)
def test_one_record_that_no_device_writes_does_not_stop_the_others(
    house: Served, lesson: Lesson, other: JSON
) -> None:
    hana, taps = house.visitor("hana"), lesson.taps()
    odd = {**lesson.record(3, {"kind": "note", "text": "odd"}, other=1), **other}

    assert answers(hana, *taps[:2], odd, *taps[2:]) == ["stored"] * 2 + ["held"] + ["stored"] * 2
    assert answers(hana, odd, lesson.sign(END)) == ["held", "stored"]
    assert hana.get(f"/api/sheets/{lesson.sheet}").json()["state"] == "signed"


@pytest.mark.parametrize(
    "again",
    [
        pytest.param({"sheet": None}, id="without its sheet"),
        pytest.param({"sheet": ["a"]}, id="a list as its sheet"),
        pytest.param({"sheet": key(77)}, id="in another sheet"),
        pytest.param({"n": True}, id="true as its number"),
        pytest.param({"n": 1.0}, id="its number with a point"),
    ],
)
def test_an_id_twice_in_one_batch_with_other_content_is_held_once(
    house: Served, lesson: Lesson, again: JSON
) -> None:
    first = lesson.taps()[0]

    assert answers(house.visitor("hana"), first, {**first, **again}) == ["stored", "held"]


@pytest.mark.parametrize("which", sorted(NO_BATCH))
def test_what_is_no_batch_is_refused_and_the_server_goes_on(house: Served, which: str) -> None:
    hana = house.visitor("hana")
    answer = hana.post("/api/records", content=NO_BATCH[which])

    assert answer.status_code == 422
    assert answer.json()["error"]
    assert hana.get("/health").status_code == 200


def test_a_signed_sheet_stays_signed_when_the_candidate_is_erased(
    house: Served, lesson: Lesson
) -> None:
    hana = house.visitor("hana")
    answers(hana, *lesson.taps(), lesson.sign(END))
    before = hana.get(f"/api/sheets/{lesson.sheet}").json()
    assert run(["book", "forget", lesson.candidate, "--yes", "--school", str(house.folder)]) == 0

    assert before["state"] == "signed"
    assert hana.get(f"/api/sheets/{lesson.sheet}").json() == before
